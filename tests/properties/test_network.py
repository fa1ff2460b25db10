"""What must hold of any network: reciprocity, passivity, no matter how it is written down."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import kelvin

from plumbmark.model.conductors import conductor_kinds
from plumbmark.model.job import Hookup
from plumbmark.model.network import Bond, Conductor, Connection, End, EndKind, Network, Stake
from plumbmark.physics.coupling import pieces_mutual
from plumbmark.physics.grounding import rods_matrix
from plumbmark.physics.transmission import (
    CLOSED_UP_TO,
    closed_impedance,
    pollaczek_impedance,
    soil_wavenumber,
    tube_impedance,
    wire_impedance,
)
from plumbmark.planning.circuit import build_circuit, solve_circuit
from plumbmark.planning.hookup import try_connections
from plumbmark.planning.runs import Runs, attachment, cut_runs

KINDS = conductor_kinds()
DIRECT = Connection("d", Hookup.DIRECT, "A", 0.0, "S")
GROUND = End(EndKind.GROUNDED, 20.0)
PLACES = st.floats(-40.0, 40.0).map(lambda v: round(v, 2))
DEPTHS = st.floats(0.3, 2.0).map(lambda v: round(v, 2))


@st.composite
def networks(draw: st.DrawFn) -> Network:
    """Two or three conductors of one or two legs, grounded or open, perhaps bonded, with two stakes."""
    conductors = []
    for name in "ABC"[: draw(st.integers(2, 3))]:
        heading = draw(st.floats(0.0, 2 * math.pi))
        e, n = draw(PLACES), draw(PLACES)
        vertices = [(e, n, draw(DEPTHS))]
        for _ in range(draw(st.integers(1, 2))):
            length = draw(st.floats(5.0, 60.0))
            e, n = e + length * math.cos(heading), n + length * math.sin(heading)
            vertices.append((e, n, draw(DEPTHS)))
            heading += draw(st.floats(-1.5, 1.5))
        end = draw(st.sampled_from([End(), End(EndKind.GROUNDED, 20.0), End(EndKind.GROUNDED)]))
        kind = KINDS[draw(st.sampled_from(["copper-tracer-14", "copper-water-service", "steel-gas-main"]))]
        conductors.append(Conductor(name, kind, tuple(vertices), end=end))
    bonds = ()
    if draw(st.booleans()):
        bonds = (Bond("b", "A", conductors[0].length_m, "B", 0.0, draw(st.sampled_from([0.0, 0.1, 5.0]))),)
    return Network(
        "any", "A", tuple(conductors), bonds,
        stakes=(Stake("S", 200.0, 7.0), Stake("T", -9.0, 210.0)),
        connections=(
            Connection("a", Hookup.DIRECT, "A", 0.0, "S"),
            Connection("b", Hookup.DIRECT, "B", 0.0, "T"),
        ),
        resistivity_ohm_m=draw(st.sampled_from([10.0, 60.0, 500.0])),
        frequencies_hz=(draw(st.sampled_from([500.0, 5e3, 3e4])),),
    )  # fmt: skip


def ports(network: Network) -> tuple[np.ndarray, np.ndarray, Runs]:
    """Voltages between the terminals of each connection for an ampere in each, (2, 2); currents at ends."""
    runs = cut_runs(network)
    circuit = build_circuit(network, runs)
    terminals = [
        (
            attachment(network, runs, str(c.conductor), float(c.at_m or 0.0)),
            int(circuit.electrodes.node[circuit.electrodes.names[str(c.stake)]]),
        )
        for c in network.connections
    ]
    injected = np.zeros((1, circuit.nodes, 2), complex)
    for k, (here, there) in enumerate(terminals):
        injected[0, here, k] += 1.0
        injected[0, there, k] -= 1.0
    driven = np.zeros((1, len(circuit.from_node), 2), complex)
    voltage, _, at_ends = solve_circuit(circuit, injected, driven)
    return np.array([voltage[0, a] - voltage[0, b] for a, b in terminals]), at_ends[0], runs


@given(networks())
def test_reciprocal_and_passive(network: Network) -> None:
    z, _, _ = ports(network)
    scale = abs(z[0, 0]) + abs(z[1, 1])
    assert abs(z[0, 1] - z[1, 0]) < 1e-7 * scale
    assert np.all(np.linalg.eigvalsh((z + z.conj().T) / 2) > -1e-7 * scale)


@given(networks())
@settings(max_examples=25)
def test_place_and_direction_on_the_map_do_not_matter(network: Network) -> None:
    turn, east, north = 0.7, 1234.0, -567.0

    def moved(e: float, n: float) -> tuple[float, float]:
        return (
            east + e * math.cos(turn) - n * math.sin(turn),
            north + e * math.sin(turn) + n * math.cos(turn),
        )

    conductors = tuple(
        replace(c, vertices_m=tuple((*moved(v[0], v[1]), v[2]) for v in c.vertices_m))
        for c in network.conductors
    )
    places = [moved(s.easting_m, s.northing_m) for s in network.stakes]
    stakes = tuple(
        replace(s, easting_m=p[0], northing_m=p[1]) for s, p in zip(network.stakes, places, strict=True)
    )
    z, _, _ = ports(network)
    other, _, _ = ports(replace(network, conductors=conductors, stakes=stakes))
    assert np.allclose(z, other, rtol=1e-5, atol=1e-6 * abs(z).max())


def test_a_conductor_written_the_other_way_round_carries_the_same() -> None:
    a = Conductor("A", KINDS["copper-tracer-14"], ((0.0, 0.0, 0.9), (60.0, 0.0, 0.7)), end=GROUND)
    b = Conductor("B", KINDS["telephone-cable"], ((-5.0, 1.0, 0.5), (40.0, 1.0, 0.6)), start=GROUND)
    turned = replace(b, vertices_m=b.vertices_m[::-1], start=b.end, end=b.start)
    network = Network(
        "turn", "A", (a, b), stakes=(Stake("S", 0.0, -20.0),),
        connections=(DIRECT, Connection("c", Hookup.CLAMP, "A", 30.0)),
    )  # fmt: skip
    one, other = try_connections(network), try_connections(replace(network, conductors=(a, turned)))
    for p, q in zip(one, other, strict=True):
        assert p.other_currents_a[0][1] == pytest.approx(q.other_currents_a[0][1], rel=1e-6)
        assert [s.shift_m for s in p.stations] == pytest.approx([s.shift_m for s in q.stations], abs=1e-6)


def test_a_vertex_on_a_straight_line_changes_nothing() -> None:
    def network(vertices: tuple[tuple[float, float, float], ...]) -> Network:
        a = Conductor("A", KINDS["copper-water-service"], vertices, end=End(EndKind.GROUNDED, 20.0))
        return Network(
            "v", "A", (a,), stakes=(Stake("S", 0.0, -20.0),), connections=(DIRECT,)
        )  # fmt: skip

    whole = try_connections(network(((0.0, 0.0, 0.9), (48.0, 0.0, 0.9))))
    parts = try_connections(network(((0.0, 0.0, 0.9), (17.0, 0.0, 0.9), (48.0, 0.0, 0.9))))
    for p, q in zip(whole, parts, strict=True):
        assert p.given_a == pytest.approx(q.given_a, rel=4e-3)  # sums by Gauss points


def test_what_goes_in_comes_out_by_the_grounds() -> None:
    # A bare line: what it leaks, what its ground takes and what the stake returns add up to nothing.
    a = Conductor("A", KINDS["copper-water-service"], ((0.0, 0.0, 0.9), (80.0, 0.0, 0.9)), end=GROUND)
    network = Network(
        "sum", "A", (a,), stakes=(Stake("S", 0.0, -5.0),), connections=(DIRECT,),
        frequencies_hz=(1e4,),
    )  # fmt: skip
    runs = cut_runs(network)
    circuit = build_circuit(network, runs)
    injected = np.zeros((1, circuit.nodes, 1), complex)
    injected[0, attachment(network, runs, "A", 0.0)] = 1.0
    injected[0, circuit.electrodes.node[1]] = -1.0
    voltage, _, ends = solve_circuit(circuit, injected, np.zeros((1, len(circuit.from_node), 1), complex))
    order = np.argsort(runs.from_chainage_m)
    assert ends[0, order[0], 0, 0] == pytest.approx(1.0, abs=1e-9)
    # between sections nothing is lost
    assert np.allclose(ends[0, order[:-1], 1, 0], ends[0, order[1:], 0, 0], atol=1e-9)
    # and the last of it goes into the far ground
    far = ends[0, order[-1], 1, 0]
    end_voltage = voltage[0, attachment(network, runs, "A", 80.0), 0]
    assert end_voltage / 20.0 == pytest.approx(far, rel=1e-9)


@given(
    st.floats(1.0, 5.3).map(lambda v: 10.0**v),
    st.floats(0.0, 3.0).map(lambda v: 10.0**v),
    DEPTHS, DEPTHS,
    st.floats(-2.0, 1.2).map(lambda v: 10.0**v),
)  # fmt: skip
def test_closed_form_holds_where_it_is_used(f: float, rho: float, h1: float, h2: float, x: float) -> None:
    size = abs(complex(soil_wavenumber(f, rho))) * math.hypot(x, h1 + h2)
    if size > CLOSED_UP_TO:
        f *= (CLOSED_UP_TO / size) ** 2 * 0.999
    exact = complex(pollaczek_impedance(f, rho, h1, h2, x))
    assert abs(complex(closed_impedance(f, rho, h1, h2, x)) - exact) < 1e-3 * abs(exact)


@given(st.floats(0.5, 30.0), DEPTHS, DEPTHS, st.sampled_from([(1e3, 20.0), (1e4, 100.0), (3e4, 60.0)]))
@settings(max_examples=20)
def test_pieces_add_up_to_the_long_line(x: float, h1: float, h2: float, case: tuple[float, float]) -> None:
    f, rho = case
    m = complex(soil_wavenumber(f, rho))
    if abs(m) * math.hypot(x, h1 + h2) > 0.6:
        x = 0.4 / abs(m)
    far = 40.0 / abs(m)
    piece = pieces_mutual([[-0.5, 0.0, -h1]], [[0.5, 0.0, -h1]], [[-far, x, -h2]], [[far, x, -h2]], [m])[0, 0]
    exact = complex(pollaczek_impedance(f, rho, h1, h2, x))
    assert abs(2j * math.pi * f * piece - exact) < 0.02 * abs(exact)


@given(st.floats(-1.0, 2.0).map(lambda v: 10.0**v))
def test_round_wire_against_kelvin_functions(x: float) -> None:
    # R and X from ber and bei, which share nothing with the scaled Bessel functions of complex argument.
    rho, radius = 1.724e-8, 1e-3
    omega = (x / radius) ** 2 * rho / (4e-7 * math.pi)
    be, _, bep, _ = kelvin(x)
    z0 = rho / (math.pi * radius**2)
    want = 1j * x / 2 * be / bep * z0
    assert complex(wire_impedance(omega / (2 * math.pi), radius, rho)) == pytest.approx(want, rel=1e-7)


@given(st.floats(1.0, 5.0).map(lambda v: 10.0**v), st.floats(0.02, 0.98))
def test_tube_between_its_limits(f: float, part: float) -> None:
    radius, rho = 0.05, 1.8e-7
    tube = complex(tube_impedance(f, radius, part * radius, rho, 100.0))
    solid = complex(wire_impedance(f, radius, rho, 100.0))
    dc = rho / (math.pi * radius**2 * (1 - (1 - part) ** 2))
    assert tube.real >= dc * (1 - 1e-6)
    assert math.isfinite(tube.imag)
    skin = 503.292 * math.sqrt(rho / (100.0 * f))
    if part * radius > 8 * skin:  # the inside of a thick wall carries nothing
        assert tube == pytest.approx(solid, rel=1e-3)


@given(st.lists(st.tuples(PLACES, PLACES), min_size=2, max_size=6, unique=True))
def test_stakes_that_share_the_soil_are_passive(places: list[tuple[float, float]]) -> None:
    spread = [(e + 0.5 * k, n + 60.0 * k) for k, (e, n) in enumerate(places)]
    e, n = zip(*spread, strict=True)
    matrix = rods_matrix(100.0, e, n, [0.4] * len(e), [0.006] * len(e))
    assert np.allclose(matrix, matrix.T)
    assert np.linalg.eigvalsh(matrix).min() > 0
