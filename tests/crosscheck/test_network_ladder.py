"""The circuit of a network against ladders of lumped cells, closed telegraph solutions, and other codes."""

from __future__ import annotations

import math

import empymod
import numpy as np
import pytest
from scipy.integrate import quad
from scipy.linalg import expm

from plumbmark.model.conductors import conductor_kinds
from plumbmark.model.job import Hookup
from plumbmark.model.network import Bond, Conductor, Connection, End, EndKind, Network, Stake
from plumbmark.physics.coupling import dipole_emf, pieces_mutual
from plumbmark.physics.grounding import rod_resistance
from plumbmark.physics.transmission import (
    coating_admittance,
    section_shunt,
    soil_wavenumber,
    spreading_coefficient,
    tube_impedance,
)
from plumbmark.planning.circuit import build_circuit
from plumbmark.planning.drive import Drive, drive_network
from plumbmark.planning.runs import Runs, cut_runs

KINDS = conductor_kinds()
MU_0 = 4e-7 * math.pi
RHO = 80.0
OPEN = End()


def grounded(ohms: float) -> End:
    return End(EndKind.GROUNDED, ohms)


def solved(network: Network) -> tuple[Runs, Drive]:
    runs = cut_runs(network)
    return runs, drive_network(network, build_circuit(network, runs))


def currents(runs: Runs, drive: Drive, conductor: int, case: int) -> tuple[np.ndarray, np.ndarray]:
    """Chainage and current (positive along it) at the nodes of a conductor of one leg, first frequency."""
    own = np.flatnonzero(runs.conductor == conductor)
    s = np.concatenate([runs.from_chainage_m[own], runs.to_chainage_m[own]])
    i = np.concatenate([drive.section_current_a[0, own, 0, case], drive.section_current_a[0, own, 1, case]])
    order = np.argsort(s)
    sign = np.sign(runs.to_chainage_m[own[0]] - runs.from_chainage_m[own[0]])
    return s[order], sign * i[order]


def parallel(frequency: float, length: float, apart: float, depths: float) -> complex:
    """Impedance for each metre of two lines of one length side by side: Foster's kernel, summed by QUADPACK.

    The first term of Wedepohl and Wilcox for their depths is added, as for long lines.
    """
    m = complex(soil_wavenumber(frequency, RHO))

    def kernel(u: float) -> complex:
        r = math.hypot(u, apart)
        z = m * r
        near = 1.0 - 2.0 * z / 3.0 + z * z / 4.0  # 2 [1 - (1 + z) exp(-z)] / z^2
        whole = near if abs(z) < 1e-3 else 2.0 * (1.0 - (1.0 + z) * np.exp(-z)) / (z * z)
        return complex((length - u) * whole / r)

    # in the logarithm of the distance, which is where the kernel changes
    low, high = math.asinh(0.0), math.asinh(length / apart)
    parts = [
        quad(
            lambda t, part=part: getattr(kernel(apart * math.sinh(t)) * apart * math.cosh(t), part),
            low,
            high,
            limit=200,
        )[0]
        for part in ("real", "imag")
    ]
    twice = 2.0 / length * complex(*parts)
    return 2j * math.pi * frequency * 1e-7 * (twice - 4.0 / 3.0 * m * depths)


def line_constants(
    kind: str, frequency: float, depth: float, length: float
) -> tuple[complex, complex, float]:
    """Impedance and admittance for each metre of one line, and how far its leakage spreads, by hand."""
    k = KINDS[kind]
    wall = k.wall_m or k.radius_m
    z = complex(tube_impedance(frequency, k.radius_m, wall, k.resistivity_ohm_m, k.relative_permeability))
    z += parallel(frequency, length, k.radius_m, 2 * depth)
    coat = 0.0j
    if k.coating_m is not None:
        coat = 1.0 / complex(
            coating_admittance(frequency, k.radius_m, k.coating_m, k.relative_permittivity, k.coating_ohm_m2)
        )
    reach = length
    for _ in range(2):
        spread = float(spreading_coefficient(RHO, depth, depth, k.radius_m, reach))
        reach = min(length, 1.52 / abs(np.sqrt(z / (spread + coat))))
    spread = float(spreading_coefficient(RHO, depth, depth, k.radius_m, reach))
    return z, 1.0 / (spread + coat), reach


def one_line(kind: str, length: float, end: End, frequency: float) -> Network:
    return Network(
        "one", "A",
        (Conductor("A", KINDS[kind], ((0.0, 0.0, 0.9), (length, 0.0, 0.9)), end=end),),
        stakes=(Stake("S", -3000.0, -4000.0),),  # so far off that its soil potential is nothing here
        connections=(Connection("d", Hookup.DIRECT, "A", 0.0, "S"),),
        resistivity_ohm_m=RHO,
        frequencies_hz=(frequency,),
    )  # fmt: skip


@pytest.mark.parametrize("kind", ["copper-tracer-14", "steel-gas-main"])
@pytest.mark.parametrize("frequency", [1e3, 3.3e4])
def test_open_line_follows_the_sinh_law(kind: str, frequency: float) -> None:
    # Cathodic-protection textbook, finite line: I = I0 sinh(g (L - x)) / sinh(g L), with complex g.
    length = 240.0
    z, y, _ = line_constants(kind, frequency, 0.9, length)
    g = np.sqrt(z * y)
    runs, drive = solved(one_line(kind, length, OPEN, frequency))
    s, i = currents(runs, drive, 0, 0)
    law = np.sinh(g * (length - s)) / np.sinh(g * length)
    assert np.allclose(i / i[0], law, atol=2e-2 if frequency > 1e4 else 1e-3)  # images are within 2 %


def test_line_ended_by_its_own_impedance_has_no_reflection() -> None:
    length = 300.0
    z, y, _ = line_constants("steel-gas-main", 500.0, 0.9, length)
    # A matched end is resistive only where Z0 is: take its magnitude from a very leaky line at low frequency.
    z0, g = np.sqrt(z / y), np.sqrt(z * y)
    runs, drive = solved(one_line("steel-gas-main", length, grounded(abs(z0)), 500.0))
    s, i = currents(runs, drive, 0, 0)
    gamma = (abs(z0) - z0) / (abs(z0) + z0)
    law = (np.exp(-g * s) - gamma * np.exp(-g * (2 * length - s))) / (1 - gamma * np.exp(-2 * g * length))
    assert np.allclose(i / i[0], law, atol=2e-3)


def test_lossless_sections_are_the_textbook_line() -> None:
    # Z = j w L, Y = j w C: admittance -j cot(b l) / Z0 and j / (Z0 sin(b l)).
    inductance, capacitance, omega, length = 1.2e-6, 60e-12, 2e6, 90.0
    z, y = np.array([[1j * omega * inductance]]), np.array([[1j * omega * capacitance]])
    own, across = section_shunt(z, y, np.array(length))
    z0, beta = math.sqrt(inductance / capacitance), omega * math.sqrt(inductance * capacitance)
    series = 1.0 / (z[0, 0] * length)
    assert own[0, 0] + series == pytest.approx(-1j / (z0 * math.tan(beta * length)), rel=1e-12)
    assert across[0, 0] - series == pytest.approx(1j / (z0 * math.sin(beta * length)), rel=1e-12)


def test_coupled_sections_are_the_matrix_exponential() -> None:
    rng = np.random.default_rng(4)
    for n in (2, 3, 5):
        a, b = rng.normal(size=(2, n, n))
        z = (a @ a.T + n * np.eye(n)) * (0.01 + 0.3j)
        y = (b @ b.T + n * np.eye(n)) * (1e-5 + 3e-4j)
        length = 37.0
        chain = expm(length * np.block([[np.zeros((n, n)), -z], [-y, np.zeros((n, n))]]))
        p, q, r, t = chain[:n, :n], chain[:n, n:], chain[n:, :n], chain[n:, n:]
        near = -np.linalg.solve(q, p)  # I1 = near V1 + far V2
        far = np.linalg.inv(q)
        own, across = section_shunt(z, y, np.array(length))
        series = np.linalg.inv(z * length)
        assert np.allclose(own + series, near, rtol=1e-9)
        assert np.allclose(across - series, far, rtol=1e-9, atol=1e-14)
        assert np.allclose(r + t @ near, -(across - series), rtol=1e-7, atol=1e-12)


def ladder(cells: int, length: float, z: np.ndarray, y: np.ndarray, ties: list, source: tuple) -> np.ndarray:
    """Currents of lumped cells of coupled lines, (n, cells): dense nodal analysis, nothing of the code's own.

    `ties` holds (node, node or -1 for ground, ohms); node = line * (cells + 1) + place; `source` is (node,).
    """
    n = len(z)
    h = length / cells
    size = n * (cells + 1)
    g = np.zeros((size, size), complex)
    series = np.linalg.inv(z * h)
    for k in range(cells):
        at = np.arange(n) * (cells + 1) + k
        g[np.ix_(at, at)] += series
        g[np.ix_(at + 1, at + 1)] += series
        g[np.ix_(at, at + 1)] -= series
        g[np.ix_(at + 1, at)] -= series
        for side in (at, at + 1):
            g[np.ix_(side, side)] += y * h / 2
    for a, b, ohms in ties:
        g[a, a] += 1 / ohms
        if b >= 0:
            g[b, b] += 1 / ohms
            g[a, b] -= 1 / ohms
            g[b, a] -= 1 / ohms
    right = np.zeros(size, complex)
    right[source[0]] = 1.0
    v = np.linalg.solve(g, right).reshape(n, cells + 1)
    return np.asarray(series @ (v[:, :-1] - v[:, 1:]))


@pytest.mark.parametrize("frequency", [1e3, 1e4, 8e4])
def test_two_bonded_lines_side_by_side_against_a_ladder(frequency: float) -> None:
    length, apart = 120.0, 0.8
    there, back = ((0.0, 0.0, 0.9), (length, 0.0, 0.9)), ((length, apart, 0.6), (0.0, apart, 0.6))
    network = Network(
        "two", "A",
        (
            Conductor("A", KINDS["copper-tracer-14"], there, end=grounded(30.0)),
            Conductor("B", KINDS["telephone-cable"], back, end=grounded(20.0)),
        ),
        bonds=(Bond("b", "A", length, "B", 0.0, 0.5),),
        stakes=(Stake("S", -3000.0, -4000.0),),
        connections=(Connection("d", Hookup.DIRECT, "A", 0.0, "S"),),
        resistivity_ohm_m=RHO,
        frequencies_hz=(frequency,),
    )  # fmt: skip
    runs, drive = solved(network)
    z1, y1, reach1 = line_constants("copper-tracer-14", frequency, 0.9, length)
    z2, y2, reach2 = line_constants("telephone-cable", frequency, 0.6, length)
    mutual = parallel(frequency, length, math.hypot(apart, 0.3), 1.5)
    shared = float(spreading_coefficient(RHO, 0.9, 0.6, apart, math.sqrt(reach1 * reach2)))
    z = np.array([[z1, mutual], [mutual, z2]])
    y = np.linalg.inv(np.array([[1 / y1, shared], [shared, 1 / y2]]))
    cells = 400
    ties = [(cells, -1, 30.0), (cells, 2 * cells + 1, 0.5), (cells + 1, -1, 20.0)]
    i = ladder(cells, length, z, y, ties, (0,))
    i = np.hstack([1.5 * i[:, :1] - 0.5 * i[:, 1:2], i, 1.5 * i[:, -1:] - 0.5 * i[:, -2:-1]])
    middle = np.concatenate([[0.0], (np.arange(cells) + 0.5) * length / cells, [length]])
    for conductor, falling in ((0, 1.0), (1, -1.0)):
        s, got = currents(runs, drive, conductor, 0)
        where = s if falling > 0 else length - s
        scale = currents(runs, drive, 0, 0)[1][0]
        want = falling * np.interp(where, middle, i[conductor]) / i[0, 0]
        assert np.allclose(got / scale, want, atol=1.5e-2 if frequency > 3e4 else 4e-3), frequency


def test_input_of_a_short_grounded_line_is_its_resistances() -> None:
    # At 10 Hz nothing but the ground at the far end and the stake are left.
    network = one_line("copper-tracer-14", 50.0, grounded(25.0), 10.0)
    _, drive = solved(network)
    stake = float(rod_resistance(RHO, 0.4, 0.006))
    wire = 50.0 * 1.724e-8 / (math.pi * 0.000814**2)
    assert drive.given_v[0, 0] / drive.given_a[0, 0] == pytest.approx(stake + 25.0 + wire, rel=2e-3)


@pytest.mark.parametrize("seed", range(4))
def test_coil_and_line_against_biot_savart_and_faraday(seed: int) -> None:
    # The voltage along a piece from a coil is j w m . B / I, with B of a current in the piece at the coil.
    rng = np.random.default_rng(seed)
    start, end, place = rng.normal(size=(3, 3)) * [8, 8, 1] + [[0, 0, -1.5], [3, 0, -1.5], [0, 0, 1.0]]
    moment = rng.normal(size=3)
    t = np.linspace(0, 1, 200001)
    points = start + t[:, None] * (end - start)
    r = place - points
    b = 1e-7 * np.trapezoid(np.cross(end - start, r) / np.linalg.norm(r, axis=1)[:, None] ** 3, t, axis=0)
    got = dipole_emf(1e4, moment, place, [start], [end])[0, 0]
    assert got == pytest.approx(-2j * math.pi * 1e4 * (moment @ b), rel=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("frequency", "degrees", "depth"), [(1e3, 0.0, 0.7), (1e3, 50.0, 0.05), (1e4, 30.0, 0.05)]
)
def test_angled_grounded_wires_against_empymod(frequency: float, degrees: float, depth: float) -> None:
    # Voltage along one grounded wire from a current in another: induced along both, and led through the soil
    # between their ends. Deep ends add a small induced part of their own, which counts as nothing beside what
    # is led: the wires near the surface show that the induced part itself is right.
    a, b = np.array([0.0, 0.0, -depth]), np.array([20.0, 0.0, -depth])
    along = np.array([math.cos(math.radians(degrees)), math.sin(math.radians(degrees)), 0.0])
    c = np.array([3.0, 4.0, -depth])
    d = c + 15.0 * along
    m = soil_wavenumber(frequency, RHO)
    induced = 2j * math.pi * frequency * pieces_mutual([a], [b], [c], [d], [m])[0, 0]

    def potential(p: np.ndarray, q: np.ndarray) -> float:
        image = q * [1, 1, -1]
        return float(RHO / (4 * math.pi) * (1 / np.linalg.norm(p - q) + 1 / np.linalg.norm(p - image)))

    led = (potential(c, a) - potential(c, b)) - (potential(d, a) - potential(d, b))
    volts = empymod.bipole(
        src=[a[0], b[0], a[1], b[1], depth, depth],
        rec=[c[0], d[0], c[1], d[1], depth, depth],
        depth=[0.0],
        res=[1e20, RHO],
        freqtime=frequency,
        srcpts=60,
        recpts=40,
        strength=1.0,
        epermH=[0.0, 0.0],
        epermV=[0.0, 0.0],
        htarg={"dlf": "key_401_2009"},
        xdirect=False,
        verb=0,
    )
    got = complex(np.asarray(volts).ravel()[0])
    assert abs(got + led + induced) < 2e-3 * abs(got)
    if depth < 0.1:
        assert got.imag == pytest.approx(-induced.imag, rel=0.01)
