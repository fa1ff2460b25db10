"""Lines in air: symmetry, the laws of Ampere and Gauss, action and reaction, independent integration."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad_vec

from plumbmark.base.constants import MU_0
from plumbmark.base.errors import GeometryError
from plumbmark.physics.line import coil_ratio, infinite_line_field, straight_reach, two_coil_depth
from plumbmark.physics.segment import polyline_field, segment_factors, segment_field

pytestmark = pytest.mark.kernel

coordinate = st.floats(-5.0, 5.0)
place = st.tuples(coordinate, coordinate, coordinate).map(np.array)
depth = st.floats(0.1, 6.0)
amps = st.floats(-3.0, 3.0).filter(lambda i: abs(i) > 1e-3)


def nodes(a: np.ndarray, b: np.ndarray, n: int = 40) -> tuple[np.ndarray, np.ndarray]:
    """Gauss-Legendre points on the way from a to b, and steps along it."""
    t, w = np.polynomial.legendre.leggauss(n)
    return a + (b - a) * (0.5 + 0.5 * t[:, None]), 0.5 * w[:, None] * (b - a)


@given(depth, st.floats(-8.0, 8.0), amps)
def test_mirror_images_left_and_right(d: float, x: float, current: float) -> None:
    right, left = infinite_line_field(x, d, current=current), infinite_line_field(-x, d, current=current)
    assert right[0] == left[0]
    assert right[1] == -left[1]


@given(depth, st.floats(-8.0, 8.0), st.floats(0.2, 5.0))
def test_scale_of_lengths_divides_the_field(d: float, x: float, scale: float) -> None:
    near = np.array(infinite_line_field(x, d, current=1.0))
    far = np.array(infinite_line_field(scale * x, scale * d, current=1.0))
    np.testing.assert_allclose(far * scale, near, rtol=1e-12, atol=1e-22)


@given(depth, st.floats(-4.0, 4.0))
def test_no_curl_no_divergence_in_air(d: float, x: float) -> None:
    h = 1e-4 * d
    (e_right, u_right), (e_left, u_left) = (infinite_line_field(x + s * h, d, current=1.0) for s in (1, -1))
    (e_up, u_up), (e_down, u_down) = (infinite_line_field(x, d + s * h, current=1.0) for s in (1, -1))
    size = 2e-7 / (x * x + d * d) * 2 * h
    assert abs((e_right - e_left) + (u_up - u_down)) < 1e-6 * size
    assert abs((u_right - u_left) - (e_up - e_down)) < 1e-6 * size


@given(depth, st.floats(0.2, 0.8), st.floats(0.0, 0.15))
def test_two_coil_depth_takes_back_the_coil_ratio(d: float, spacing: float, height: float) -> None:
    ratio = coil_ratio(d, spacing=spacing, lower_height=height)
    assert two_coil_depth(ratio, spacing=spacing, lower_height=height) == pytest.approx(d, rel=1e-9)


@given(depth, st.floats(0.001, 0.5))
def test_straight_reach_gives_that_much_of_the_field(d: float, fraction: float) -> None:
    reach = straight_reach(d, fraction)
    b = segment_field([0.0, 0.0, d], [0.0, -reach, 0.0], [0.0, reach, 0.0], current=1.0)[0].real
    assert b / infinite_line_field(0.0, d, current=1.0)[0] == pytest.approx(1.0 - fraction, rel=1e-9)


def test_a_place_on_the_line_or_a_ratio_of_one_is_refused() -> None:
    with pytest.raises(GeometryError, match="lies on the line"):
        infinite_line_field([0.0, 1.0], [0.0, 0.0], current=1.0)
    with pytest.raises(GeometryError, match="no depth"):
        two_coil_depth([1.2, 1.0], spacing=0.4)
    for on_it in ([0.0, 0.0, 0.0], [0.0, 0.4, 0.0], [0.0, 1.0, 0.0], [0.6, 1.0, 0.0]):
        with pytest.raises(GeometryError, match="lies on the line"):
            polyline_field([on_it], [[0, 0, 0], [0, 1, 0], [1, 1, 0]], current=1.0)
    with pytest.raises(GeometryError, match="same place"):
        polyline_field([[1.0, 1.0, 1.0]], [[0, 0, 0], [0, 0, 0]], current=1.0)
    with pytest.raises(GeometryError, match="does not fit"):
        polyline_field([[1.0, 1.0, 1.0]], [[0, 0, 0], [0, 1, 0]], current=[1.0, 2.0, 3.0])
    with pytest.raises(GeometryError, match="shape"):
        polyline_field([[1.0, 1.0]], [[0, 0, 0], [0, 1, 0]], current=1.0)


# --- pieces ----------------------------------------------------------------------------------------


@given(place, place, place, amps, amps)
def test_piece_against_integration_of_biot_savart(
    p: np.ndarray, a: np.ndarray, b: np.ndarray, i_a: float, i_b: float
) -> None:
    """Adaptive quadrature of I dl x r / r^3, the current even from one end to the other."""
    assume(np.linalg.norm(b - a) > 0.05)
    along = np.clip((p - a) @ (b - a) / ((b - a) @ (b - a)), 0.0, 1.0)
    assume(np.linalg.norm(p - a - along * (b - a)) > 0.05)

    def element(t: float) -> np.ndarray:
        r = p - a - t * (b - a)
        return (i_a + t * (i_b - i_a)) * np.cross(b - a, r) / np.linalg.norm(r) ** 3

    exact = MU_0 / (4 * math.pi) * quad_vec(element, 0.0, 1.0, epsabs=1e-13, epsrel=1e-12, points=[along])[0]
    ours = segment_field(p, a, b, current=[i_a, i_b])
    np.testing.assert_allclose(ours.real, exact, rtol=1e-8, atol=1e-18)


@given(st.floats(1e-12, 1e-3), st.floats(0.05, 3.0), amps)
def test_no_digits_are_lost_near_the_axis_beyond_an_end(rho: float, beyond: float, current: float) -> None:
    """Next to the prolongation of a piece the field goes to 0 with the distance, as the series says."""
    b = segment_field([rho, 1.0 + beyond, 0.0], [0.0, 0.0, 0.0], [0.0, 1.0, 0.0], current=current)
    slope = MU_0 * current / (8 * math.pi) * (1 / beyond**2 - 1 / (1 + beyond) ** 2)
    assert b[2].real == pytest.approx(-slope * rho, rel=2e-3 if rho > 1e-4 else 1e-5)


@given(place, st.lists(place, min_size=2, max_size=5), st.floats(0.2, 0.8), amps, amps)
def test_cutting_a_piece_or_walking_it_backwards_changes_nothing(
    p: np.ndarray, route: list[np.ndarray], where: float, i_a: float, i_b: float
) -> None:
    v = np.array(route)
    assume(np.linalg.norm(np.diff(v, axis=0), axis=1).min() > 0.1)
    point = p + np.array([0.0, 0.0, 12.0])  # off the line
    current = np.linspace(i_a, i_b, len(v))
    whole = polyline_field(point, v, current=current)
    cut = np.insert(v, 1, v[0] + where * (v[1] - v[0]), axis=0)
    cut_current = np.insert(current, 1, current[0] + where * (current[1] - current[0]))
    np.testing.assert_allclose(polyline_field(point, cut, current=cut_current), whole, rtol=1e-9, atol=1e-20)
    back = polyline_field(point, v[::-1], current=-current[::-1])
    np.testing.assert_allclose(back, whole, rtol=1e-9, atol=1e-20)


def test_a_current_that_jumps_at_a_vertex_is_the_sum_of_its_branches() -> None:
    """A tee: 1 A comes, 0.4 A goes straight on, 0.6 A turns off."""
    point = [[0.3, 0.2, 1.0], [2.0, -1.0, 0.4]]
    west, tee, east, north = [-30, 0, -1], [0, 0, -1], [30, 0, -1], [0, 30, -1]
    main = polyline_field(point, [west, tee, east], current=[[1.0, 1.0], [0.4, 0.4]])
    turned_off = segment_field(point, tee, north, current=0.6)
    straight = polyline_field(point, [west, tee, east], current=0.4)
    bent = polyline_field(point, [west, tee, north], current=0.6)
    np.testing.assert_allclose(main + turned_off, straight + bent, rtol=1e-12)


LOOP = np.array([[0.0, 0, -1], [4, 0, -1], [4, 6, -1.5], [0, 6, -1], [0, 0, -1]])


def test_amperes_law_around_one_side_of_a_loop() -> None:
    """Once around the conductor: mu0 I. Around nothing: 0."""
    ring = np.array(
        [[1.0, -0.7, -1.6], [1.0, 0.8, -1.5], [1.0, 0.9, 0.4], [1.0, -0.8, 0.3], [1.0, -0.7, -1.6]]
    )
    for shift, enclosed in ((np.zeros(3), 1.0), (np.array([20.0, 0.0, 0.0]), 0.0)):
        total = 0.0
        for a, b in pairwise(ring):
            at, step = nodes(a + shift, b + shift)
            total += float((polyline_field(at, LOOP, current=2.0).real * step).sum())
        assert total == pytest.approx(MU_0 * 2.0 * enclosed, abs=1e-9 * MU_0)


def test_gauss_law_through_a_closed_box() -> None:
    """What comes in goes out, even of a piece with two loose ends inside and out."""
    t, w = np.polynomial.legendre.leggauss(60)
    u, v = np.meshgrid(t, t)
    ww = np.outer(w, w)
    low, high = np.array([-2.0, -2.0, 0.5]), np.array([2.0, 2.0, 3.0])
    centre, half = (low + high) / 2, (high - low) / 2
    net, gross = 0.0, 0.0
    for axis in range(3):
        first, second = [k for k in range(3) if k != axis]
        for side in (-1, 1):
            p = np.empty((*u.shape, 3))
            p[..., axis] = centre[axis] + side * half[axis]
            p[..., first] = centre[first] + half[first] * u
            p[..., second] = centre[second] + half[second] * v
            b = polyline_field(p, [[0, 0, -1], [3, 1, -1], [3, 5, -2]], current=1.0).real[..., axis]
            flux = (b * ww).sum() * half[first] * half[second]
            net += side * flux
            gross += abs(flux)
    assert abs(net) < 1e-10 * gross


def test_action_and_reaction_between_two_loops() -> None:
    """Reciprocity: the force of loop on loop is equal and opposite, for closed currents only."""
    other = np.array([[1.0, 1, 0.5], [2, 3, 1.0], [5, 2, 0.7], [1, 1, 0.5]])

    def force(on: np.ndarray, by: np.ndarray) -> np.ndarray:
        total = np.zeros(3)
        for a, b in pairwise(on):
            at, step = nodes(a, b, 80)
            total += np.cross(step, polyline_field(at, by, current=1.0).real).sum(axis=0)
        return total

    there, back = force(LOOP, other), force(other, LOOP)
    np.testing.assert_allclose(there, -back, rtol=0, atol=1e-9 * np.linalg.norm(there))


@pytest.mark.skipif(not hasattr(segment_factors, "py_func"), reason="the compiler is switched off")
@given(place, place, place)
def test_compiled_and_plain_agree(p: np.ndarray, a: np.ndarray, b: np.ndarray) -> None:
    assume(np.linalg.norm(b - a) > 0.1 and np.linalg.norm(np.cross(p - a, b - a)) > 1e-3)
    compiled, plain = segment_factors(*p, *a, *b), segment_factors.py_func(*p, *a, *b)
    np.testing.assert_allclose(compiled, plain, rtol=1e-12, atol=1e-12)
