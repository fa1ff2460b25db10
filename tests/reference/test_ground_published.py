"""Line over conducting ground, skin depth, and limits of estimation, against tabulated values.

The table of the half-space was made twice for us by independent code (adaptive quadrature in double and
30-digit arithmetic), not from our functions; it follows the integral of Pollaczek 1926 and Wait & Spies,
Radio Science 6(8):781, 1971. The quadrature is held to the printed digits, the images to their stated 1e-4.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq, least_squares

from plumbmark.physics.display import displayed_depth
from plumbmark.physics.halfspace import (
    HALFSPACE_IMAGES,
    halfspace_images,
    line_over_ground_field,
    line_over_ground_field_quadrature,
    line_over_ground_slopes,
)
from plumbmark.physics.skin import inverse_skin_depth, skin_depth

pytestmark = pytest.mark.kernel

RATIO = (0.999333, 0.993318, 0.986610, 0.966380, 0.932534, 0.865459, 0.679743, 0.440190)
PHASE = (-0.0384, -0.3936, -0.8028, -2.0920, -4.3778, -9.2555, -25.027, -52.703)
DEPTHS = (0.001, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0)


@pytest.mark.parametrize(("k", "ratio"), list(zip(DEPTHS, RATIO, strict=True)))
@pytest.mark.parametrize("depth", [0.25, 1.0, 3.0])
def test_peak_over_conducting_ground(k: float, ratio: float, depth: float) -> None:
    """|H| straight above relative to I / 2 pi h depends on h / delta alone."""
    exact = line_over_ground_field_quadrature(0.0, 0.0, depth=depth, current=depth, skin_depth=depth / k)[0]
    assert abs(exact) / 2e-7 == pytest.approx(ratio, abs=5.1e-7)
    image = line_over_ground_field(0.0, 0.0, depth=depth, current=depth, skin_depth=depth / k)[0]
    assert abs(image - exact) <= (1e-4 if k <= 0.5 else 2e-4) * abs(exact)


@pytest.mark.parametrize(("k", "phase"), list(zip(DEPTHS, PHASE, strict=True)))
def test_phase_over_conducting_ground(k: float, phase: float, request: pytest.FixtureRequest) -> None:
    """In degrees against the current: the ground's field lags."""
    if k == 0.5:
        reason = "printed -25.027; ours and 30-digit arithmetic give -25.02646: the row was rounded twice"
        request.applymarker(pytest.mark.xfail(strict=True, reason=reason))
    exact = line_over_ground_field_quadrature(0.0, 0.0, depth=1.0, current=1.0, skin_depth=1.0 / k)[0]
    digits = 4 if k < 0.3 else 3
    assert round(float(np.degrees(np.angle(exact))), digits) == phase


# rho [ohm m], f [Hz], skin depth, amplitude, half-width, 45-degree point; depth 1 m
SHAPES = [
    (1000, 1e3, 503.3, 0.99867, 0.9987, 0.9974),
    (100, 1e3, 159.2, 0.99580, 0.9958, 0.9917),
    (100, 10e3, 50.33, 0.98670, 0.9870, 0.9745),
    (100, 100e3, 15.92, 0.95770, 0.9603, 0.9258),
    (10, 10e3, 15.92, 0.95770, 0.9603, 0.9258),
    (10, 100e3, 5.03, 0.86633, 0.8889, 0.8111),
]


@pytest.mark.parametrize(
    ("field", "slack"),
    [(line_over_ground_field_quadrature, 0.0), (line_over_ground_field, 5e-5)],
    ids=["quadrature", "images"],
)
@pytest.mark.parametrize(("rho", "f", "delta", "amplitude", "half", "diagonal"), SHAPES)
def test_depth_from_shape_reads_shallow(
    field: Callable[..., tuple[complex, complex]],
    slack: float,
    rho: float,
    f: float,
    delta: float,
    amplitude: float,
    half: float,
    diagonal: float,
) -> None:
    skin = float(skin_depth(f, rho))
    assert skin == pytest.approx(delta, abs=0.05 if delta > 100 else 0.005)

    def at(x: float) -> tuple[float, float]:
        b_e, b_u = field(x, 0.0, depth=1.0, current=1.0, skin_depth=skin)
        return abs(b_e) / 2e-7, abs(b_u) / 2e-7

    peak = at(0.0)[0]
    assert peak == pytest.approx(amplitude, abs=5.1e-6 + slack)
    assert brentq(lambda x: at(x)[0] - 0.5 * peak, 0.5, 2.0) == pytest.approx(half, abs=5.1e-5 + slack)
    assert brentq(lambda x: at(x)[0] - at(x)[1], 0.5, 2.0) == pytest.approx(diagonal, abs=5.1e-5 + slack)


# Worked examples of the project's notes on estimation, 33 kHz, a line 1 m deep: ohm m, the depth that the
# direction of the field tells 5.8 m beside it, and what a raised reading falls short by straight over it.
BESIDE = [(100.0, 0.66), (10.0, 1.93)]
RAISED = [(100.0, 0.03), (10.0, 0.09)]


def test_ground_turns_the_field_beside_a_line() -> None:
    """The lower coil 5 cm above the ground; |upright| / |across| = distance / (depth + coil height)."""
    for rho, shown in BESIDE:
        skin = float(skin_depth(33e3, rho))
        b_e, b_u = line_over_ground_field_quadrature(5.8, 0.05, depth=1.0, current=1.0, skin_depth=skin)
        assert 5.8 * abs(b_e) / abs(b_u) - 0.05 == pytest.approx(shown, abs=0.005)


def shown_depth(rho: float, raised: float) -> float:
    """Display over a line 1 m deep at 33 kHz, coils 5 cm and 45 cm above the foot."""
    p, c = np.empty(HALFSPACE_IMAGES, complex), np.empty(HALFSPACE_IMAGES, complex)
    halfspace_images(1.0, 1.0 / float(skin_depth(33e3, rho)), p, c)
    coils = {"lower_coil_height": 0.05, "coil_spacing": 0.4, "raised_by": raised}
    return displayed_depth(np.zeros(len(p)), p, c, mark=0.0, **coils)


@pytest.mark.parametrize(("rho", "short"), RAISED)
def test_a_raised_reading_falls_short_over_conducting_ground(rho: float, short: float) -> None:
    """The raise is not told there; half a metre gives both numbers."""
    missing = shown_depth(rho, 0.0) + 0.5 - shown_depth(rho, 0.5)
    assert missing == pytest.approx(short, abs=0.005)


# The project's notes on dependencies, 11: the horizontal amplitude over a line 1.2 m deep at nine points over
# two metres each way, fitted with the formula for air: Hz, ohm m, the depth that comes out. The height of the
# coil is not told: on the ground ours agree to one in the last digit.
AIR_FITTED = [
    (512.0, 100, 1.194),
    (8e3, 100, 1.176),
    (33e3, 100, 1.153),
    (33e3, 10, 1.067),
    (83e3, 10, 1.007),
]


def depth_by_air(frequency_hz: float, rho: float, reach: float = 2.0) -> float:
    x = np.linspace(-reach, reach, 9)
    ground = {"depth": 1.2, "current": 5e6, "skin_depth": float(skin_depth(frequency_hz, rho))}
    seen = np.abs(line_over_ground_field_quadrature(x, 0.0, **ground)[0])
    return float(least_squares(lambda q: q[0] * q[1] / (q[1] ** 2 + x**2) - seen, [1.0, 1.2]).x[1])


@pytest.mark.parametrize(("frequency_hz", "rho", "depth"), AIR_FITTED)
def test_a_fit_without_the_ground_comes_out_shallow(frequency_hz: float, rho: float, depth: float) -> None:
    assert depth_by_air(frequency_hz, rho) == pytest.approx(depth, abs=1e-3)


def test_a_wider_walk_across_is_no_cure() -> None:
    """The same notes: over four metres each way 1.138 m at 33 kHz and 100 ohm m."""
    assert depth_by_air(33e3, 100.0, 4.0) == pytest.approx(1.138, abs=1e-3)


SKIN_FREQUENCIES = (60.0, 1e3, 10e3, 100e3)
SKIN = {
    1: (64.975, 15.915, 5.0329, 1.5915),
    10: (205.47, 50.329, 15.915, 5.0329),
    100: (649.75, 159.15, 50.329, 15.915),
    1000: (2054.7, 503.29, 159.15, 50.329),
}


@pytest.mark.parametrize("rho", SKIN)
def test_skin_depth_table(rho: int) -> None:
    """503.292 sqrt(rho / f), five digits."""
    ours = np.asarray(skin_depth(SKIN_FREQUENCIES, float(rho)))
    assert [float(f"{v:.5g}") for v in ours] == list(SKIN[rho])
    assert 1.0 / inverse_skin_depth(1e3, float(rho)) == pytest.approx(ours[1], rel=1e-12)


def test_skin_depth_of_sea_water() -> None:
    """R. Severns, "Skin depth and wavelength in soil": about 0.16 m at 1.8 MHz; 5 S/m gives 0.168."""
    assert skin_depth(1.8e6, 0.2) == pytest.approx(0.168, abs=5e-4)


# Cramer-Rao limits, one line, 21 points over +-2 m, noise 1 % of the peak, unknown place, depth, current:
# s_x and s_d in metres, s_I in per cent; first the across coil alone, then both. Computed for us in
# independent code.
LIMITS = [
    (0.5, (0.00357, 0.00516, 0.73), (0.00253, 0.00392, 0.60)),
    (1.0, (0.00512, 0.00820, 0.58), (0.00363, 0.00635, 0.52)),
    (2.0, (0.00828, 0.01841, 0.69), (0.00553, 0.01263, 0.57)),
]


def cramer_rao(depth: float, components: int) -> tuple[float, float, float]:
    """s_x and s_d in metres and s_I in per cent, from the across coil alone (1) or both (2)."""
    rows = []
    for x in np.linspace(-2.0, 2.0, 21):
        h, v = np.empty(5, complex), np.empty(5, complex)
        line_over_ground_slopes(float(x), 0.0, depth, 0.0, h, v)
        for f in (h, v)[:components]:
            rows.append([-f[1].real, f[3].real, f[0].real])  # by place, by depth, by log of current
    jacobian = np.array(rows) / (0.01 / depth)
    s_x, s_d, s_i = np.sqrt(np.diag(np.linalg.inv(jacobian.T @ jacobian)))
    return float(s_x), float(s_d), float(100 * s_i)


@pytest.mark.parametrize(("depth", "across", "both"), LIMITS)
def test_cramer_rao_limits(depth: float, across: tuple[float, ...], both: tuple[float, ...]) -> None:
    for components, printed in ((1, across), (2, both)):
        s_x, s_d, s_i = cramer_rao(depth, components)
        assert (round(s_x, 5), round(s_d, 5), round(s_i, 2)) == printed
