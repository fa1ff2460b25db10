"""Long lines against textbook values and printed profiles, the source beside each."""

from __future__ import annotations

import numpy as np
import pytest

from plumbmark.physics.line import coil_ratio, infinite_line_field, two_coil_depth
from plumbmark.physics.segment import segment_field

MICRO = 1e6


# --- one line: closed form -----------------------------------------------------------------------


def test_one_ampere_one_metre() -> None:
    """mu0 / 2 pi = 2e-7 T m / A: 0.2 uT at 1 m of 1 A, 2 nT of 10 mA."""
    b_e, b_u = infinite_line_field(0.0, 1.0, current=1.0)
    assert (b_e, b_u) == (pytest.approx(0.2e-6, rel=1e-12), 0.0)
    assert infinite_line_field(0.0, 1.0, current=0.010)[0] == pytest.approx(2.0e-9, rel=1e-12)


# offset in depths, field across and in all, relative to that straight above
PROFILE = [(0.5, 0.8, 0.8944), (1.0, 0.5, 0.7071), (2.0, 0.2, 0.4472)]


@pytest.mark.parametrize(("offset", "across", "total"), PROFILE)
def test_profile_over_one_line(offset: float, across: float, total: float) -> None:
    """d^2/r^2 across and d/r in all, at offsets of half, one and two depths."""
    for d in (0.3, 1.0, 2.7):
        b_e, b_u = infinite_line_field(offset * d, d, current=1.0)
        above = infinite_line_field(0.0, d, current=1.0)[0]
        assert b_e / above == pytest.approx(across, abs=1e-12)
        assert np.hypot(b_e, b_u) / above == pytest.approx(total, abs=5e-5)


def test_upright_field_is_largest_and_half_the_peak_one_depth_away() -> None:
    x = np.linspace(0.0, 5.0, 5001)
    b_e, b_u = infinite_line_field(x, 1.25, current=2.0)
    assert x[np.abs(b_u).argmax()] == pytest.approx(1.25, abs=1e-3)
    assert np.abs(b_u).max() / b_e[0] == pytest.approx(0.5, abs=1e-6)
    at_one_depth = np.searchsorted(x, 1.25)
    assert abs(b_u[at_one_depth]) == pytest.approx(b_e[at_one_depth], rel=1e-12)  # 45 degrees
    assert b_u[at_one_depth] < 0  # right of a current that goes away, the field points down


# --- two coils one above the other ---------------------------------------------------------------


# depth and spacing in metres, ratio of the coils, per cent of depth for one per cent of the ratio
TWO_COILS = [(0.5, 0.4, 1.8, 2.25), (1.0, 0.4, 1.4, 3.5), (2.0, 0.4, 1.2, 6.0), (3.0, 0.5, 1.1667, 7.0)]


@pytest.mark.parametrize(("depth", "spacing", "ratio", "sensitivity"), TWO_COILS)
def test_two_coil_depth(depth: float, spacing: float, ratio: float, sensitivity: float) -> None:
    """d = s / (R - 1), and its error in per cent for one per cent of R: (d + s) / s."""
    low = infinite_line_field(0.0, depth, current=1.0)[0]
    high = infinite_line_field(0.0, depth + spacing, current=1.0)[0]
    assert low / high == pytest.approx(ratio, abs=5e-5)
    assert coil_ratio(depth, spacing=spacing) == pytest.approx(float(low / high), rel=1e-12)
    assert two_coil_depth(low / high, spacing=spacing) == pytest.approx(depth, rel=1e-9)
    step = 1e-6
    moved = two_coil_depth(low / high * (1 + step), spacing=spacing)
    assert (depth - moved) / depth / step == pytest.approx(sensitivity, rel=1e-4)


# --- finite straight line: B = mu0 I / 4 pi d (sin t2 - sin t1) ------------------------------------


# length in depths, field above the middle relative to an endless line
LENGTHS = [(1, 0.44721), (2, 0.70711), (4, 0.89443), (5, 0.92848), (10, 0.98058), (20, 0.99504)]


@pytest.mark.parametrize(("length", "ratio"), LENGTHS)
def test_finite_line_above_its_middle(length: float, ratio: float) -> None:
    d = 0.8
    half = [0.0, 0.5 * length * d, 0.0]
    b = segment_field([0.0, 0.0, d], [-c for c in half], half, current=1.0)
    assert b[0].real / infinite_line_field(0.0, d, current=1.0)[0] == pytest.approx(ratio, abs=5e-6)
    assert np.abs(b[1:]).max() == 0.0


def test_above_the_end_of_a_long_line_half_is_left() -> None:
    b = segment_field([0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [0.0, 1e7, 0.0], current=1.0)
    assert b[0].real == pytest.approx(0.1e-6, rel=1e-9)


# --- printed profiles ------------------------------------------------------------------------------

# emfs.info (the UK network operators' site on electric and magnetic fields), "Fields from underground DC
# cables": two cores 0.5 m apart, 1 m deep, +-2000 A, 1 m above ground; printed to 0.01 uT and 0.1 degree.
HVDC_X = np.array([0.0, 5.0, 10.0, 20.0])
HVDC_CABLE = (49.23, 6.91, 1.92, 0.50)
HVDC_WITH_EARTH = (96.94, 45.77, 48.40, 49.56)
HVDC_COMPASS = (0.0, 12.7, 2.0, 0.3)


def hvdc_field() -> tuple[np.ndarray, np.ndarray]:
    left = infinite_line_field(HVDC_X, 1.0, line_easting=-0.25, line_up=-1.0, current=2000.0)
    right = infinite_line_field(HVDC_X, 1.0, line_easting=0.25, line_up=-1.0, current=-2000.0)
    return MICRO * (left[0] + right[0]), MICRO * (left[1] + right[1])


def with_earth() -> tuple[np.ndarray, np.ndarray]:
    """Cable north-south in 50 uT; the dip, not printed, is the one that gives the value at x = 0."""
    b_e, b_u = hvdc_field()
    down = (96.94**2 - 50.0**2 - b_u[0] ** 2) / (2 * abs(b_u[0]))
    north = np.sqrt(50.0**2 - down**2)
    return np.sqrt(north**2 + b_e**2 + (down - b_u) ** 2), np.degrees(np.arctan2(np.abs(b_e), north))


def test_hvdc_pair_to_every_printed_digit() -> None:
    assert np.round(np.hypot(*hvdc_field()), 2).tolist() == list(HVDC_CABLE)


@pytest.mark.parametrize("n", range(4))
def test_hvdc_pair_in_the_earths_field(n: int, request: pytest.FixtureRequest) -> None:
    if n == 1:
        reason = "printed 45.77 uT, ours 45.76: the dip behind the printed row is not stated"
        request.applymarker(pytest.mark.xfail(strict=True, reason=reason))
    assert round(float(with_earth()[0][n]), 2) == HVDC_WITH_EARTH[n]


@pytest.mark.parametrize("n", range(4))
def test_hvdc_pair_turns_a_compass(n: int, request: pytest.FixtureRequest) -> None:
    if n == 1:
        reason = "printed 12.7 degrees, ours 12.9: the horizontal Earth's field behind it is not stated"
        request.applymarker(pytest.mark.xfail(strict=True, reason=reason))
    assert round(float(with_earth()[1][n]), 1) == HVDC_COMPASS[n]


# emfs.info, "275 kV" and "132 kV" underground cables: balanced three-phase, flat, 1 m above ground; current
# not stated, so only the shape is held; "not accurate to better than a few percent": 5 %, and half a digit.
# Spacing and depth in metres, then uT at the same places as above.
THREE_PHASE = {
    "275 kV direct buried": (0.5, 0.9, (96.17, 13.05, 3.58, 0.92)),
    "132 kV separate cores": (0.3, 1.0, (9.62, 1.31, 0.36, 0.09)),
}


@pytest.mark.parametrize(("spacing", "depth", "printed"), THREE_PHASE.values(), ids=THREE_PHASE)
def test_three_phase_flat_formation_falls_off_as_printed(
    spacing: float, depth: float, printed: tuple[float, ...]
) -> None:
    across, upright = np.zeros(4, complex), np.zeros(4, complex)
    for n in (-1, 0, 1):
        b_e, b_u = infinite_line_field(
            HVDC_X, 1.0, line_easting=n * spacing, line_up=-depth, current=np.exp(2j * np.pi * n / 3)
        )
        across += b_e
        upright += b_u
    rms = np.sqrt(np.abs(across) ** 2 + np.abs(upright) ** 2)
    ours = rms / rms[0] * printed[0]
    assert np.all(np.abs(ours - printed) <= 0.05 * np.array(printed) + 0.005)
