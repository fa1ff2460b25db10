"""What a display shows over two lines, against worked tables and a published pair; the source beside each."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from plumbmark.physics.display import (
    NO_DEPTH_M,
    displayed_current,
    displayed_depth,
    half_distances,
    null_position,
    peak_position,
)
from plumbmark.physics.images import field_along

pytestmark = pytest.mark.kernel

# Source: ../shared/REFERENCES.md 3.4, worked out there by separate code. Line 1 A at x = 0, 1 m deep; the
# other current as listed (A, m, m). Then peak, null, depth by half-width (mean of the two sides), depth by
# the two coils (lower one on the ground, 0.4 m apart, at the peak), and the rule of half the gap.
TWO_LINES = [
    (0.0, 0.6, 1.0, 0.0, 0.0, 1.0000, 1.0000, 0.0),
    (-0.2, 0.6, 1.0, -0.0645, -0.0945, 0.9068, 0.9139, -0.0495),
    (+0.2, 0.6, 1.0, +0.0652, +0.0822, 1.0653, 1.0672, +0.0567),
    (-0.3, 1.0, 1.0, -0.0704, -0.1519, 0.8439, 0.8306, -0.0296),
    (+0.3, 1.0, 1.0, +0.0822, +0.1514, 1.2024, 1.1707, +0.0476),
    (-0.5, 1.0, 1.0, -0.1138, -0.2599, 0.7812, 0.7188, -0.0407),
    (+0.5, 1.0, 1.0, +0.1497, +0.2551, 1.2840, 1.2845, +0.0970),
    (-0.3, 0.5, 0.6, -0.1906, -0.2596, 0.7716, 0.7916, -0.1561),
    (+0.3, 2.0, 1.0, +0.0247, +0.1266, 1.3632, 1.1434, -0.0263),
]
PRINTED = 5.1e-5  # half of the last printed digit
SUM_PRINTED = 1.01e-4  # of a number that the table worked out from two printed ones


@pytest.mark.parametrize(("current", "x", "depth", "peak", "null", "half", "two_coil", "rule"), TWO_LINES)
def test_peak_null_and_depths_beside_another_current(
    current: float,
    x: float,
    depth: float,
    peak: float,
    null: float,
    half: float,
    two_coil: float,
    rule: float,
) -> None:
    lines = ([0.0, x], [1.0, depth], [1.0, current])
    at_peak = peak_position(*lines)
    at_null = null_position(*lines)
    assert at_peak == pytest.approx(peak, abs=PRINTED)
    assert at_null == pytest.approx(null, abs=PRINTED)
    assert null_position(*lines, least=True) == pytest.approx(null, abs=PRINTED)
    assert np.mean(half_distances(*lines)) == pytest.approx(half, abs=PRINTED)
    shown = displayed_depth(*lines, mark=at_peak, lower_coil_height=0.0, coil_spacing=0.4)
    assert shown == pytest.approx(two_coil, abs=PRINTED)
    assert at_peak - 0.5 * (at_null - at_peak) == pytest.approx(rule, abs=SUM_PRINTED)


def test_what_the_table_teaches() -> None:
    """3.4: an opposite current pushes the peak away and reads shallow; one the same way does the opposite."""
    for current, x, depth, *_rest in TWO_LINES[1:]:
        lines = ([0.0, x], [1.0, depth], [1.0, current])
        peak = peak_position(*lines)
        shown = displayed_depth(*lines, mark=peak, lower_coil_height=0.0, coil_spacing=0.4)
        assert math.copysign(1.0, peak * x) == math.copysign(1.0, current)
        assert (shown > 1.0) == (current > 0.0)
        assert abs(null_position(*lines)) > abs(peak)


@pytest.mark.parametrize(
    ("depth", "spacing", "per_cent"), [(0.5, 0.4, 2.25), (1.0, 0.4, 3.5), (2.0, 0.4, 6.0), (3.0, 0.5, 7.0)]
)
def test_error_of_the_upper_coil(depth: float, spacing: float, per_cent: float) -> None:
    """3.2: one per cent of the coils' ratio moves the depth by (d + s) / s per cent."""

    def shown(error: float) -> float:
        return displayed_depth(
            [0.0],
            [depth],
            [1.0],
            mark=0.0,
            lower_coil_height=0.0,
            coil_spacing=spacing,
            coil_error=error,
        )

    step = 1e-6
    slope = (shown(step) - shown(-step)) / (2.0 * step) / depth
    assert slope == pytest.approx(per_cent, rel=1e-5)


# Source: ../shared/CONTRACT.md, "What the display shows, exactly".


@pytest.mark.parametrize("raised", [0.0, 0.15, 0.3, 0.6])
@pytest.mark.parametrize("height", [0.0, 0.05, 0.12])
def test_one_line_alone_shows_depth_and_raise(raised: float, height: float) -> None:
    """The two coils' formula takes back depth + raise for a single line in air."""
    for depth in (0.25, 0.9, 2.4):
        shown = displayed_depth(
            [0.3], [depth], [0.02], mark=0.3, lower_coil_height=height, coil_spacing=0.4, raised_by=raised
        )
        assert shown == pytest.approx(depth + raised, rel=1e-9)


def test_one_line_alone_shows_its_current() -> None:
    """Current = B_lower (depth + lower coil height) 2 pi / mu0, which is the current where depth is right."""
    shown = displayed_current([0.0], [0.8], [0.012], mark=0.0, shown_depth=0.8, lower_coil_height=0.05)
    assert shown == pytest.approx(0.012, rel=1e-12)
    shallow = displayed_current([0.0], [0.8], [0.012], mark=0.0, shown_depth=0.4, lower_coil_height=0.05)
    assert shallow == pytest.approx(0.012 * 0.45 / 0.85, rel=1e-12)


def test_display_by_the_definition_written_out() -> None:
    """Depth = spacing B_upper / (B_lower - B_upper) - lower height, with plain sums for the field."""
    at, deep, current = [0.0, 0.7], [0.9, 0.6], [1.0, -0.35]
    lower, spacing, mark, raised = 0.05, 0.4, -0.11, 0.3

    def across(h: float) -> float:
        return sum(
            c * (h + d) / ((h + d) ** 2 + (mark - x) ** 2) for x, d, c in zip(at, deep, current, strict=True)
        )

    low, high = across(lower + raised), across(lower + raised + spacing)
    shown = displayed_depth(
        at,
        deep,
        current,
        mark=mark,
        lower_coil_height=lower,
        coil_spacing=spacing,
        raised_by=raised,
    )
    assert shown == pytest.approx(spacing * high / (low - high) - lower, rel=1e-12)
    amps = displayed_current(at, deep, current, mark=mark, shown_depth=0.77, lower_coil_height=lower)
    assert amps == pytest.approx(across(lower) * (0.77 + lower), rel=1e-12)


def test_no_depth_where_the_upper_coil_sees_more() -> None:
    """Far beside a strong line the field grows upwards; the formula has no depth to give there."""
    shown = displayed_depth([0.0], [0.2], [1.0], mark=3.0, lower_coil_height=0.05, coil_spacing=0.4)
    assert shown == NO_DEPTH_M


# Source: REFERENCES 5.1, a public page of network operators on fields of underground d.c. cables: two cores
# 0.5 m apart, 1 m deep, 2000 A there and back, 1 m above ground.
PAIR_X = np.array([0.0, 5.0, 10.0, 20.0])
PAIR_UT = np.array([49.23, 6.91, 1.92, 0.50])


def pair_field(spacing: float, depth: float) -> np.ndarray:
    h, v = field_along(PAIR_X, 1.0, [-spacing / 2, spacing / 2], [depth, depth], [2000.0, -2000.0])
    return np.asarray(0.2 * np.hypot(np.abs(h), np.abs(v)))  # uT: mu0 / 2 pi = 0.2 uT m / A


def test_published_pair_to_the_printed_digits() -> None:
    np.testing.assert_allclose(pair_field(0.5, 1.0), PAIR_UT, atol=5.1e-3, rtol=0.0)


def test_depth_and_spacing_back_from_the_published_pair() -> None:
    """The inverse: rounding of the four values (0.005) leaves depth and spacing known to 0.5 per cent.

    Far off only spacing x current shows; depth comes from the fall between the first two points. The bands
    are three times what rounding propagates to at first order, both below 0.5 per cent.
    """

    def misfit(p: np.ndarray) -> np.ndarray:
        return (pair_field(p[0], p[1]) - PAIR_UT) / (0.01 / math.sqrt(12.0))

    fit = least_squares(misfit, [1.0, 2.0], x_scale=[0.1, 0.1])
    sigma = np.sqrt(np.diag(np.linalg.inv(fit.jac.T @ fit.jac)))
    assert fit.success
    assert np.all(3.0 * sigma < 0.005 * np.array([0.5, 1.0]))
    assert fit.x == pytest.approx([0.5, 1.0], abs=float(3.0 * sigma.max()))
    assert abs(fit.x[0] - 0.5) < 3.0 * sigma[0]
    assert abs(fit.x[1] - 1.0) < 3.0 * sigma[1]
