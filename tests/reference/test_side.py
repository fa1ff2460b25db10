"""What a receiver shows from beside: its definition written out, and the worked examples there are."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from plumbmark.physics import side
from plumbmark.physics.halfspace import HALFSPACE_IMAGES, halfspace_images
from plumbmark.physics.side import NO_RANGE_M, side_shown
from plumbmark.physics.skin import skin_depth

pytestmark = pytest.mark.kernel

COILS = {"lower_coil_height": 0.05, "coil_spacing": 0.4}


@given(
    st.floats(0.2, 4.0),
    st.floats(-8.0, 8.0).filter(lambda x: abs(x) > 1e-3),
    st.floats(-0.1, 0.1),
    st.floats(0.0, 0.12),
    st.floats(0.3, 0.6),
)
def test_one_line_in_air_is_shown_where_it_is(
    d: float, x: float, tilt: float, lower: float, spacing: float
) -> None:
    """In the receiver's own axes: leaning, it shows the line turned about its foot by as much."""
    shown = side_shown([x], [d], [0.02], stand=0.0, lower_coil_height=lower, coil_spacing=spacing, tilt=tilt)
    aside = x * math.cos(tilt) + d * math.sin(tilt)
    below = d * math.cos(tilt) - x * math.sin(tilt)
    if below + lower > 0.02:
        assert shown == pytest.approx((abs(aside), below), rel=1e-6, abs=1e-6)


def test_a_degree_of_tilt_is_10_cm_of_depth_from_5_8_m() -> None:
    """Worked example of the project's notes on estimation (ESTIMATOR, "Why the display is not enough")."""
    shown = side_shown([5.8], [1.0], [1.0], stand=0.0, tilt=math.radians(-1.0), **COILS)
    assert shown[1] - 1.0 == pytest.approx(0.10, abs=0.005)


def test_conducting_ground_turns_the_direction() -> None:
    """The same notes: 33 kHz, 1 m deep, from 5.8 m: the direction of 0.66 m (100 ohm m) or 1.93 m (10)."""
    for rho, depth in ((100.0, 0.66), (10.0, 1.93)):
        p, c = np.empty(HALFSPACE_IMAGES, complex), np.empty(HALFSPACE_IMAGES, complex)
        halfspace_images(1.0, 1.0 / float(skin_depth(33e3, rho)), p, c)
        distance, shown = side_shown(np.full(HALFSPACE_IMAGES, 5.8), p, c, stand=0.0, **COILS)
        assert 5.8 * (shown + 0.05) / distance - 0.05 == pytest.approx(depth, abs=0.005)


@given(
    st.floats(0.4, 2.0),
    st.floats(2.0, 7.0),
    st.floats(-0.5, 0.5),
    st.floats(-1.5, 1.5),
    st.floats(-0.05, 0.05),
    st.floats(-0.01, 0.01),
)
def test_display_by_the_definition_written_out(
    d: float, x: float, ratio: float, phase: float, tilt: float, error: float
) -> None:
    """Fields by plain sums and rotations of vectors, the range by search: no formula of it shared."""
    at, deep = np.array([x, x - 0.8]), np.array([d, 1.1 * d])
    current = np.array([1.0, ratio * complex(math.cos(phase), math.sin(phase))])
    up, aside = np.array([math.sin(tilt), math.cos(tilt)]), np.array([math.cos(tilt), -math.sin(tilt)])

    def field(along: float) -> np.ndarray:
        """(right, up) at a place `along` the receiver's own axis."""
        r = along * up - np.stack([at, -deep], axis=1)
        return np.asarray(
            (current[:, None] * np.stack([r[:, 1], -r[:, 0]], axis=1) / (r**2).sum(1)[:, None]).sum(0)
        )

    low, high = field(0.05), field(0.45)
    angle = math.atan2(abs(low @ up), abs(low @ aside))
    q = np.linalg.norm(low) / np.linalg.norm(high) / (1.0 + error)

    def miss(reach: float) -> float:
        return math.hypot(reach * math.sin(angle), reach * math.cos(angle) + 0.4) / reach - q

    shown = side_shown(at, deep, current, stand=0.0, tilt=tilt, coil_error=error, **COILS)
    reach = brentq(miss, 1e-3, NO_RANGE_M) if miss(NO_RANGE_M) < 0.0 else NO_RANGE_M
    assert shown[0] == pytest.approx(reach * math.sin(angle), rel=1e-6)
    assert shown[1] == pytest.approx(reach * math.cos(angle) - 0.05, rel=1e-6, abs=1e-6)


def test_no_range_where_the_field_does_not_fall_upwards() -> None:
    distance, depth = side_shown([3.0], [0.2], [1.0], stand=0.0, coil_error=0.1, **COILS)
    assert math.hypot(distance, depth + 0.05) == pytest.approx(NO_RANGE_M)


@pytest.mark.skipif(not hasattr(side.side_at, "py_func"), reason="the compiler is switched off")
def test_compiled_and_plain_agree() -> None:
    lines = (np.array([3.0, 2.0]), np.array([1.0, 0.8 + 0.1j]), np.array([1.0, 0.2 - 0.3j]))
    args = (0.1, 0.05, 0.4, 0.02, 0.003, *lines, 2)
    assert side.side_at(*args) == pytest.approx(side.side_at.py_func(*args), rel=1e-12)
