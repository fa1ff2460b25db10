"""Impedances, attenuation and stakes against published figures."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbmark.physics.grounding import (
    rod_mutual,
    rod_resistance,
    rods_matrix,
    rods_resistance,
    step_share,
)
from plumbmark.physics.transmission import (
    closed_impedance,
    coating_admittance,
    ground_return_impedance,
    pollaczek_impedance,
    tube_impedance,
    wire_impedance,
)

MILE_M = 1609.344
FOOT_M = 0.3048
INCH_M = 0.0254

#: Pollaczek's self impedance, 1 m deep, radius 25 mm [ohm/km]: 25-digit quadrature of the formula, printed to
#: six digits; soil [ohm m], frequency [Hz].
POLLACZEK = [
    (10, 60, 0.0596941 + 0.699474j),
    (10, 1e3, 1.01741 + 9.86542j),
    (10, 1e4, 10.6976 + 83.5045j),
    (10, 1e5, 115.843 + 671.698j),
    (100, 60, 0.0593709 + 0.786612j),
    (100, 1e3, 0.997146 + 11.3346j),
    (100, 1e4, 10.1741 + 98.6542j),
    (100, 1e5, 106.976 + 835.045j),
    (1000, 1e4, 9.97146 + 113.346j),
    (1000, 1e5, 101.741 + 986.542j),
]


@pytest.mark.kernel
@pytest.mark.parametrize(("rho", "frequency", "published"), POLLACZEK)
def test_pollaczek(rho: float, frequency: float, published: complex) -> None:
    z = complex(pollaczek_impedance(frequency, rho, 1.0, 1.0, 0.025)) * 1e3
    assert abs(z - published) < 1e-5 * abs(published)


@pytest.mark.parametrize("frequency", [50.0, 60.0])
def test_low_frequency_limit_is_carson(frequency: float) -> None:
    # Carson 1926: resistance omega mu0 / 8, return at 658.87 sqrt(rho / f) m.
    z = complex(closed_impedance(frequency, 100.0, 1e-4, 1e-4, 0.01))
    omega = 2 * math.pi * frequency
    assert z.real == pytest.approx(omega * 4e-7 * math.pi / 8, rel=1e-3)
    deep = 0.01 * math.exp(z.imag / (omega * 2e-7))
    assert deep == pytest.approx(658.87 * math.sqrt(100.0 / frequency), rel=1e-3)
    if frequency == 60.0:
        assert z.real * MILE_M == pytest.approx(0.0953, abs=1e-4)


def reduced(distance_ft: np.ndarray, metal: np.ndarray, kept: int) -> np.ndarray:
    """Series impedance per mile of parallel conductors at 60 Hz, the neutrals eliminated."""
    earth = closed_impedance(60.0, 100.0, 1e-4, 1e-4, distance_ft * FOOT_M)
    z = earth * MILE_M + np.diag(metal)
    a, b, d = z[:kept, :kept], z[:kept, kept:], z[kept:, kept:]
    return np.asarray(a - b @ np.linalg.solve(d, b.T))


def test_ieee_13_node_configuration_606() -> None:
    # IEEE 13-node feeder, three buried concentric-neutral cables 6 in apart.
    radius = (1.29 - 0.0641) / 24.0
    neutral_gmr = (0.00208 * 13 * radius**12) ** (1 / 13)
    x = np.array([0.0, 0.5, 1.0])
    apart = np.abs(x[:, None] - x)
    distance = np.block([[apart, apart], [apart, apart]])
    for i in range(3):
        distance[i, i], distance[i + 3, i + 3] = 0.0171, neutral_gmr
        distance[i, i + 3] = distance[i + 3, i] = radius
    z = reduced(distance, np.array([0.410] * 3 + [14.87 / 13] * 3), 3)
    published = [0.7982 + 0.4463j, 0.3192 + 0.0328j, 0.2849 - 0.0143j, 0.7891 + 0.4041j]
    assert np.allclose([z[0, 0], z[0, 1], z[0, 2], z[1, 1]], published, atol=3e-4, rtol=0)


def test_ieee_13_node_configuration_601() -> None:
    # Overhead, phases B A C at 0, 2.5, 7 ft and the neutral at 4 ft, 4 ft lower (spacing from memory): at
    # 60 Hz the return is so deep that over or under the surface is all one.
    at = np.array([2.5, 0.0, 7.0, 4.0])
    up = np.array([4.0, 4.0, 4.0, 0.0])
    distance = np.hypot(at[:, None] - at, up[:, None] - up)
    np.fill_diagonal(distance, [0.0313, 0.0313, 0.0313, 0.00814])
    z = reduced(distance, np.array([0.1859] * 3 + [0.592]), 3)
    published = [0.3465 + 1.0179j, 0.1560 + 0.5017j, 0.1580 + 0.4236j]
    assert np.allclose([z[0, 0], z[0, 1], z[0, 2]], published, atol=5e-4, rtol=0)


#: Coated pipes [mm, mm, ohm m^2 -> ohm/m, S/m, 1/km, ohm]: formulas of a textbook of cathodic protection.
PIPES = [
    (219.1, 8.18, 1e4, 3.3209e-5, 6.8832e-5, 0.04781, 0.6946),
    (219.1, 8.18, 1e3, 3.3209e-5, 6.8832e-4, 0.15119, 0.2196),
    (508.0, 9.53, 1e4, 1.2061e-5, 1.5959e-4, 0.04387, 0.2749),
    (60.3, 3.91, 1e3, 2.5986e-4, 1.8944e-4, 0.22187, 1.1712),
]


@pytest.mark.parametrize("row", PIPES)
def test_coated_pipe_at_direct_current(row: tuple[float, ...]) -> None:
    diameter, wall, coating, r, g, alpha, impedance = row
    z = complex(tube_impedance(1e-3, diameter / 2e3, wall / 1e3, 1.8e-7, 100.0)).real
    y = complex(coating_admittance(0.0, diameter / 2e3, 2e-3, 2.3, coating)).real
    assert z == pytest.approx(r, rel=2e-4)
    assert y == pytest.approx(g, rel=1e-4)
    assert math.sqrt(z * y) * 1e3 == pytest.approx(alpha, rel=2e-4)
    assert math.sqrt(z / y) == pytest.approx(impedance, abs=5.1e-5)


def test_signal_dies_faster_at_a_kilohertz_than_at_direct_current() -> None:
    # The rough figure of the same source: about 14 times, with the impedance of a thin line.
    z = complex(ground_return_impedance(1e3, 100.0, 1.0, 1.0, 0.025))
    alpha = np.sqrt(abs(z) * 6.8832e-5) * math.cos(math.radians(85.0 / 2))
    assert alpha / 4.781e-5 == pytest.approx(14.0, abs=0.6)


#: R / R0 of a round wire against radius times |m|: Bureau of Standards Circular 74, from memory.
SKIN = [(1.0, 1.00519), (2.0, 1.07816), (3.0, 1.31809), (5.0, 2.04272), (10.0, 3.79857)]


@pytest.mark.parametrize(("x", "ratio"), SKIN)
def test_resistance_of_a_round_wire(x: float, ratio: float) -> None:
    rho, radius = 1.724e-8, 1e-3
    frequency = (x / radius) ** 2 * rho / (2 * math.pi * 4e-7 * math.pi)
    r0 = rho / (math.pi * radius**2)
    assert complex(wire_impedance(frequency, radius, rho)).real / r0 == pytest.approx(ratio, rel=2e-5)


#: Bureau of Standards Technologic Paper 108: average soil [ohm m] and a rod of 5/8 in x 5 ft in it [ohm].
SOILS = [(23.7, 14), (40.6, 24), (158.0, 93), (940.0, 554)]


@pytest.mark.parametrize(("rho", "ohms"), SOILS)
def test_rods_in_four_soils(rho: float, ohms: float) -> None:
    assert round(float(rod_resistance(rho, 5 * FOOT_M, 5 / 16 * INCH_M))) == ohms


#: Length and diameter of rods in 100 ohm m [in -> ohm], Dwight's formula worked out.
RODS = [(120, 0.625, 33.089), (96, 0.625, 39.905), (96, 0.5, 41.361), (60, 0.75, 57.035)]


@pytest.mark.parametrize(("length", "diameter", "ohms"), RODS)
def test_rods_of_four_sizes(length: float, diameter: float, ohms: float) -> None:
    r = float(rod_resistance(100.0, length * INCH_M, diameter / 2 * INCH_M))
    assert r == pytest.approx(ohms, abs=6e-4)


def test_military_handbook_rod() -> None:
    # MIL-HDBK-419A volume II, 1.2.2.2: a 10 ft rod of 3/4 in in 10,000 ohm cm, 32 ohm.
    assert round(float(rod_resistance(100.0, 10 * FOOT_M, 0.375 * INCH_M))) == 32


def test_military_handbook_row_of_rods() -> None:
    # The same: 26 of them, 20 ft apart, 5.5 % of one, 1.76 ohm, read off a chart.
    n = 26
    r = rods_resistance(
        100.0, 20 * FOOT_M * np.arange(n), np.zeros(n), [10 * FOOT_M] * n, [0.375 * INCH_M] * n
    )
    assert r == pytest.approx(1.76, rel=0.02)


def square_of_rods() -> tuple[np.ndarray, float]:
    """Volume I, figure 2-12: five by five, a length apart; the matrix of their potentials, and one alone."""
    side = 10 * FOOT_M * np.arange(5)
    e, n = (v.ravel() for v in np.meshgrid(side, side))
    matrix = rods_matrix(100.0, e, n, [10 * FOOT_M] * 25, [0.375 * INCH_M] * 25)
    return matrix, float(matrix[0, 0])


def times_one_in_n(matrix: np.ndarray) -> float:
    return len(matrix) / float(np.sum(np.linalg.solve(matrix, np.ones(len(matrix))))) / float(matrix[0, 0])


def test_military_handbook_square_of_rods_seen_as_points() -> None:
    # The figure's 2.8 comes out where each rod is a point to the others.
    _, one = square_of_rods()
    side = 10 * FOOT_M * np.arange(5)
    e, n = (v.ravel() for v in np.meshgrid(side, side))
    apart = np.hypot(e[:, None] - e, n[:, None] - n)
    np.fill_diagonal(apart, 1.0)
    points = 100.0 / (2 * math.pi * apart)
    np.fill_diagonal(points, one)
    assert times_one_in_n(points) == pytest.approx(2.8, abs=0.05)


@pytest.mark.xfail(strict=True, reason="rods are taken as long as they are, and then it is 2.64, 6 % lower")
def test_military_handbook_square_of_rods() -> None:
    assert times_one_in_n(square_of_rods()[0]) == pytest.approx(2.8, abs=0.05)


#: Two 10 ft rods of 3/4 in in 100 ohm m, Dwight's series [lengths apart -> ohm].
TWO_RODS = [
    pytest.param(
        1,
        18.853,
        marks=pytest.mark.xfail(
            strict=True, reason="the series is cut after three terms, which is 3.5 % too high at one length"
        ),
    ),
    (2, 17.298),
    (4, 16.709),
]


@pytest.mark.parametrize(("lengths", "ohms"), TWO_RODS)
def test_two_rods(lengths: float, ohms: float) -> None:
    long, radius = 10 * FOOT_M, 0.375 * INCH_M
    r = rods_resistance(100.0, [0.0, lengths * long], [0.0, 0.0], [long, long], [radius, radius])
    assert r == pytest.approx(ohms, rel=2e-3)


def test_mutual_of_rods_is_the_limit_of_dwights_series() -> None:
    s = 30.0
    series = 100.0 / (2 * math.pi * s) * (1 - 1 / (3 * s**2) + 2 / (5 * s**4))
    assert float(rod_mutual(100.0, 1.0, s)) == pytest.approx(series, rel=1e-8)


#: MIL-HDBK-419A volume I, table 2-7: share of the voltage in the first 3 ft, flush rod of 1 in [ft -> share].
STEPS = [(5, 0.75), (10, 0.68), (20, 0.61), (50, 0.53), (100, 0.48)]


@pytest.mark.parametrize(("length", "share"), STEPS)
def test_step_beside_a_rod(length: float, share: float) -> None:
    assert float(step_share(length * FOOT_M, 0.5 * INCH_M, 3 * FOOT_M)) == pytest.approx(share, abs=0.0085)
