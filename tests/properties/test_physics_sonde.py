"""Sonde: a small loop of current by other means, Maxwell's equations, reciprocity, symmetry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbmark.base.errors import GeometryError
from plumbmark.physics.segment import polyline_field
from plumbmark.physics.sonde import shown_in_line_mode, shown_in_sonde_mode, sonde_field

offset = st.floats(-3.0, 3.0)


@given(offset, offset, st.floats(0.3, 3.0))
def test_sonde_is_the_limit_of_a_small_loop(s: float, x: float, z: float) -> None:
    """A square loop across the duct, 4 mm wide; axes: along = northing, right = easting."""
    a = 0.002
    corners = np.array([[-a, 0, -a], [-a, 0, a], [a, 0, a], [a, 0, -a], [-a, 0, -a]])
    moment = 4 * a * a
    loop = polyline_field([x, s, z], corners, current=1.0).real
    # right-handed about the duct: easting x up = -northing, so this loop's moment points ahead
    dipole = np.array(sonde_field(s, x, z, moment=moment))
    np.testing.assert_allclose(loop[[1, 0, 2]], dipole, rtol=0, atol=1e-4 * np.linalg.norm(dipole))


@given(offset, offset, st.floats(0.3, 3.0))
def test_no_curl_no_divergence(s: float, x: float, z: float) -> None:
    h = 1e-3 * z
    at = np.array([s, x, z])
    slopes = np.empty((3, 3))
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = h
        ahead, behind = sonde_field(*(at + step), moment=1.0), sonde_field(*(at - step), moment=1.0)
        slopes[axis] = (np.array(ahead) - np.array(behind)) / (2 * h)
    size = 3e-7 / np.linalg.norm(at) ** 4
    assert abs(np.trace(slopes)) < 3e-5 * size
    assert np.abs(slopes - slopes.T).max() < 3e-5 * size


@given(offset, offset, st.floats(0.3, 3.0), st.floats(0.1, 9.0))
def test_symmetry_and_scale(s: float, x: float, z: float, scale: float) -> None:
    b = np.array(sonde_field(s, x, z, moment=2.0))
    signs = np.array([1.0, -1.0, -1.0])
    np.testing.assert_array_equal(np.array(sonde_field(-s, x, z, moment=2.0)), signs * b)
    np.testing.assert_array_equal(np.array(sonde_field(s, x, z, moment=-2.0)), -b)
    larger = np.array(sonde_field(scale * s, scale * x, scale * z, moment=2.0))
    np.testing.assert_allclose(larger * scale**3, b, rtol=1e-9, atol=1e-22)


@given(offset, offset, st.floats(0.3, 3.0))
def test_receiver_and_sonde_may_change_places(s: float, x: float, z: float) -> None:
    """Two parallel small coils see the same of one another, whichever sends."""
    there, back = sonde_field(s, x, z, moment=1.0), sonde_field(-s, -x, -z, moment=1.0)
    assert there[0] == pytest.approx(float(back[0]), rel=1e-12)


@given(st.floats(0.3, 5.0), st.floats(0.3, 0.6), st.floats(0.0, 0.12))
def test_wrong_mode_errs_to_its_own_side(depth: float, spacing: float, height: float) -> None:
    shown = shown_in_sonde_mode(depth, spacing=spacing, lower_height=height)
    assert 3 * depth < shown < 3 * (depth + height) + spacing - height
    shown = shown_in_line_mode(depth, spacing=spacing, lower_height=height)
    assert shown < depth / 3


def test_in_the_sonde_itself_is_refused() -> None:
    with pytest.raises(GeometryError, match="in the sonde"):
        sonde_field([0.0, 1.0], 0.0, 0.0, moment=1.0)
