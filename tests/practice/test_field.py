"""The simulator's field against closed forms, published ratios, another library and the laws of fields."""

from __future__ import annotations

import math

import magpylib
import numpy as np
import pytest

from plumbmark.practice.field import MU0, chain_field, ground_field, ground_weights

PER_AMPERE = MU0 / (2 * math.pi)


@pytest.mark.parametrize(
    ("length_over_depth", "ratio"),
    [(1, 0.44721), (2, 0.70711), (4, 0.89443), (5, 0.92848), (10, 0.98058), (20, 0.99504)],
)
def test_above_the_middle_of_a_piece(length_over_depth: float, ratio: float) -> None:
    # Biot and Savart, sin(t2) - sin(t1) over 2: REFERENCES 3.3, five digits
    nodes = np.array([[0.0, -length_over_depth / 2, -1.0], [0.0, length_over_depth / 2, -1.0]])
    field = chain_field(np.zeros((1, 3)), nodes, np.ones(1, dtype=complex))
    assert field[0, 0].real / PER_AMPERE == pytest.approx(ratio, abs=6e-6)


def test_above_the_end_of_half_a_line() -> None:
    # REFERENCES 3.3: half the field of the whole line
    nodes = np.array([[0.0, 0.0, -1.0], [0.0, 1e6, -1.0]])
    field = chain_field(np.zeros((1, 3)), nodes, np.ones(1, dtype=complex))
    assert field[0, 0].real / PER_AMPERE == pytest.approx(0.5, rel=1e-9)


def test_cut_into_pieces_a_line_is_the_same_line() -> None:
    y = np.linspace(-30, 40, 141)
    cut = np.column_stack([0 * y, y, 0 * y - 0.7])
    points = np.random.default_rng(1).uniform([-4, -4, 0.5], [4, 4, 8.5], (20, 3))
    whole = chain_field(points, cut[[0, -1]], np.ones(1, dtype=complex))
    pieces = chain_field(points, cut, np.ones(140, dtype=complex))
    assert np.allclose(pieces, whole, rtol=1e-9, atol=0)


def test_bent_line_agrees_with_another_library() -> None:
    # magpylib's Polyline is independent code for the same law
    rng = np.random.default_rng(5)
    nodes = np.cumsum(rng.uniform(-1, 2, (12, 3)), axis=0) * [1, 1, 0.05] - [0, 0, 1.0]
    points = rng.uniform(-5, 12, (30, 3)) * [1, 1, 0.1] + [0, 0, 1.5]
    ours = chain_field(points, nodes, np.full(11, 0.3, dtype=complex)).real
    theirs = magpylib.current.Polyline(current=0.3, vertices=nodes).getB(points)
    assert np.allclose(ours, theirs, rtol=1e-9, atol=1e-18)


@pytest.mark.parametrize(
    ("depth_over_skin", "ratio", "phase_deg"),
    [
        (0.001, 0.999333, -0.0384),
        (0.01, 0.993318, -0.3936),
        (0.02, 0.986610, -0.8028),
        (0.05, 0.966380, -2.0920),
        (0.1, 0.932534, -4.3778),
        (0.2, 0.865459, -9.2555),
        (0.5, 0.679743, -25.027),
        (1.0, 0.440190, -52.703),
    ],
)
def test_over_conducting_ground(depth_over_skin: float, ratio: float, phase_deg: float) -> None:
    # REFERENCES 3.5: two independent quadratures of the same integral, digits as printed there
    rho = 100.0
    frequency = 2 * rho / (2 * math.pi * MU0 * (1.0 / depth_over_skin) ** 2)
    right, _ = ground_field(np.zeros(1), 0.0, *ground_weights(1.0, frequency, rho))
    total = 1.0 + right[0] / PER_AMPERE
    assert abs(total) == pytest.approx(ratio, abs=1e-6)
    assert math.degrees(np.angle(total)) == pytest.approx(
        phase_deg, abs=6e-4 if depth_over_skin < 0.5 else 6e-3
    )


@pytest.mark.parametrize(
    ("rho", "frequency", "half_width", "slant_45"),
    [
        (1000, 1e3, 0.9987, 0.9974),
        (100, 1e3, 0.9958, 0.9917),
        (100, 1e4, 0.9870, 0.9745),
        (100, 1e5, 0.9603, 0.9258),
        (10, 1e5, 0.8889, 0.8111),
    ],
)
def test_shape_over_conducting_ground(
    rho: float, frequency: float, half_width: float, slant_45: float
) -> None:
    # REFERENCES 3.5: depth read from the shape of the field of a line 1 m deep, four digits
    x = np.linspace(0.0, 1.2, 24001)
    right, up = ground_field(x, 0.0, *ground_weights(1.0, frequency, rho))
    across = np.abs(right / PER_AMPERE + 1 / (1 + x * x))
    upright = np.abs(up / PER_AMPERE - x / (1 + x * x))
    assert x[np.argmax(across <= across[0] / 2)] == pytest.approx(half_width, abs=1.2e-4)
    assert x[np.argmax(upright >= across)] == pytest.approx(slant_45, abs=1.2e-4)


@pytest.mark.parametrize("depth", [0.2, 0.5, 2.2])
@pytest.mark.parametrize("height", [0.03, 0.4, 1.3])
@pytest.mark.parametrize(("frequency", "rho"), [(500.0, 1000.0), (33e3, 10.0), (80e3, 3.0)])
def test_field_in_air_has_no_sources(depth: float, height: float, frequency: float, rho: float) -> None:
    # in air: curl and divergence vanish; central differences at 1 mm, error of order h^2
    y, h = np.linspace(-6, 6, 13), 1e-3
    weights = ground_weights(depth, frequency, rho)
    r_yp, u_yp = ground_field(y + h, height, *weights)
    r_ym, u_ym = ground_field(y - h, height, *weights)
    r_zp, u_zp = ground_field(y, height + h, *weights)
    r_zm, u_zm = ground_field(y, height - h, *weights)
    largest = np.max(np.abs(r_zp - r_zm))
    assert np.max(np.abs((r_yp - r_ym) + (u_zp - u_zm))) < 1e-5 * largest
    assert np.max(np.abs((u_yp - u_ym) - (r_zp - r_zm))) < 1e-5 * largest


@pytest.mark.parametrize("depth", [0.2, 0.8, 2.2])
@pytest.mark.parametrize(("frequency", "rho"), [(500.0, 1000.0), (10e3, 60.0), (33e3, 10.0), (80e3, 3.0)])
def test_quadrature_is_fine_enough(depth: float, frequency: float, rho: float) -> None:
    # against 60,000 even steps and Simpson's rule on a grid in sqrt(wavenumber), which shares no nodes
    from scipy.integrate import simpson

    m2 = 2j * math.pi * frequency * MU0 / rho
    t = np.linspace(0.0, math.sqrt(60.0 / depth), 60001)
    k = t * t
    u = np.sqrt(k * k + m2)
    with np.errstate(invalid="ignore"):
        spectrum = 2 * k / (k + u) * np.exp(-u * depth) - np.exp(-k * depth)
    y = np.array([0.0, 0.5, 2.0, 6.0])
    right, up = ground_field(y, 0.05, *ground_weights(depth, frequency, rho))
    for i, offset in enumerate(y):
        free = 1 / math.hypot(depth + 0.05, offset)
        damped = spectrum * np.exp(-0.05 * k) * 2 * t
        assert abs(right[i] / PER_AMPERE - simpson(damped * np.cos(k * offset), x=t)) < 2e-6 * free
        assert abs(up[i] / PER_AMPERE + simpson(damped * np.sin(k * offset), x=t)) < 2e-6 * free
