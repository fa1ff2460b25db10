"""Line over conducting ground: images against quadrature, derivatives, symmetries, limits, Maxwell in air."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import kv

from plumbmark.base.errors import GeometryError
from plumbmark.physics.halfspace import (
    HALFSPACE_IMAGES,
    halfspace_images,
    line_over_ground_field,
    line_over_ground_field_quadrature,
    line_over_ground_slopes,
)
from plumbmark.physics.line import infinite_line_field

pytestmark = pytest.mark.kernel

depths = st.floats(0.1, 6.0)
offsets = st.floats(-7.0, 7.0)
heights = st.floats(0.0, 1.5)
ratios = st.floats(math.log(5e-4), math.log(0.5)).map(math.exp)  # depth over skin depth

NODES, WEIGHTS = np.polynomial.legendre.leggauss(1000)

Fields = tuple[np.ndarray, np.ndarray]


def gap(one: Fields, other: Fields) -> np.ndarray:
    """Difference of two fields relative to the field at that point, both components together."""
    miss = np.abs(one[0] - other[0]) ** 2 + np.abs(one[1] - other[1]) ** 2
    return np.sqrt(miss / (np.abs(other[0]) ** 2 + np.abs(other[1]) ** 2))


# --- images against the integral ---------------------------------------------------------------------


@given(depths, ratios, offsets, heights)
def test_images_hold_to_1e_4_of_the_field(d: float, k: float, x: float, a: float) -> None:
    fields = [
        f(x, a, depth=d, current=1.0, skin_depth=d / k)
        for f in (line_over_ground_field, line_over_ground_field_quadrature)
    ]
    assert gap(*fields) <= 1e-4


@pytest.mark.parametrize(
    ("k", "bound"),
    [(5e-4, 2e-6), (0.005, 2e-6), (0.02, 1e-5), (0.05, 4e-5), (0.15, 6e-5), (0.5, 6e-5), (0.9, 6e-5)],
)
def test_images_hold_as_stated_over_the_whole_domain(k: float, bound: float) -> None:
    """Sampled; bench/bound_halfspace.py proves 1e-4 for every point of it, in minutes."""
    side = np.geomspace(0.02, 7.0, 20)
    x, a = np.meshgrid(np.concatenate([-side, [0.0], side]), [0.0, 0.05, 0.5, 1.5])
    for d in (0.1, 0.2, 0.5, 1.0, 6.0):
        fields = [
            f(x, a, depth=d, current=1.0, skin_depth=d / k)
            for f in (line_over_ground_field, line_over_ground_field_quadrature)
        ]
        assert gap(*fields).max() <= bound


@pytest.mark.parametrize(
    ("d", "x", "a", "skin"), [(1.0, 2.0, 0.3, 8.0), (0.4, -5.0, 0.0, 3.0), (2.5, 0.0, 1.0, 500.0)]
)
def test_quadrature_against_another(d: float, x: float, a: float, skin: float) -> None:
    """Adaptive QUADPACK of the textbook integral, part by part."""

    def part(wave: float, name: str, wave_in_x: float) -> float:
        u = np.sqrt(wave * wave + 2j / skin**2)
        return float(getattr(wave / (wave + u) * np.exp(-u * d - wave * a), name) * wave_in_x)

    def integral(trig: object) -> complex:
        parts = [
            quad(lambda w, n=n: part(w, n, trig(w * x)), 0, 40 / d, epsabs=1e-13, epsrel=1e-11, limit=400)[0]
            for n in ("real", "imag")
        ]
        return complex(*parts)

    b_e, b_u = line_over_ground_field_quadrature(x, a, depth=d, current=1.0, skin_depth=skin)
    assert abs(b_e - 4e-7 * integral(math.cos)) < 1e-9 * abs(b_e)
    assert abs(b_u + 4e-7 * integral(math.sin)) < 1e-9 * abs(b_e)


# --- laws and symmetries --------------------------------------------------------------------------------


@given(depths, ratios, offsets, heights)
def test_mirror_images_left_and_right(d: float, k: float, x: float, a: float) -> None:
    right = line_over_ground_field(x, a, depth=d, current=1.0, skin_depth=d / k)
    left = line_over_ground_field(-x, a, depth=d, current=1.0, skin_depth=d / k)
    assert right[0] == left[0]
    assert right[1] == -left[1]


@given(depths, ratios, offsets, heights, st.floats(0.3, 3.0))
def test_only_ratios_of_lengths_matter(d: float, k: float, x: float, a: float, s: float) -> None:
    """Twice the size in ground of twice the skin depth: the same shape, half the field."""
    small = line_over_ground_field_quadrature(x, a, depth=d, current=1.0, skin_depth=d / k)
    large = line_over_ground_field_quadrature(s * x, s * a, depth=s * d, current=s, skin_depth=s * d / k)
    assert gap(large, small) < 1e-9


@pytest.mark.parametrize("field", [line_over_ground_field, line_over_ground_field_quadrature])
@pytest.mark.parametrize("k", [0.003, 0.1, 0.45])
def test_no_curl_no_divergence_in_air(field: object, k: float) -> None:
    """Laplace in air, in phase and in quadrature, by central differences."""
    d = 1.1
    x, a = np.meshgrid(np.linspace(-4, 4, 9), [0.1, 0.5, 1.4])
    h = 1e-3

    def at(dx: float, da: float) -> Fields:
        return field(x + dx, a + da, depth=d, current=1.0, skin_depth=d / k)

    (e_r, u_r), (e_l, u_l), (e_t, u_t), (e_b, u_b) = at(h, 0), at(-h, 0), at(0, h), at(0, -h)
    size = 2 * h * 2e-7 / (x * x + (a + d) ** 2)
    assert np.all(np.abs(e_r - e_l + u_t - u_b) < 3e-6 * size)
    assert np.all(np.abs(u_r - u_l - (e_t - e_b)) < 3e-6 * size)


@given(offsets, st.floats(0.05, 3.0), st.floats(0.2, 4.0), st.floats(1.5, 50.0))
def test_line_in_the_ground_and_line_in_the_air_may_change_places(
    x: float, a: float, d: float, skin: float
) -> None:
    """Reciprocity: what a line at depth d induces per metre in one at height a is what that induces in it.

    From d to a: the flux across, ours, added up from height a to far above. From a to d: the field that the
    line in the air has inside the ground, from its own boundary-value problem: with the vector potential in
    air exp(-l |z - a|) / 2l + R exp(-l (z + a)) and in the ground T exp(u z - l a), continuity at z = 0 of
    it and of its slope gives T = 1 / (l + u).
    """
    top = 45.0 / (a + d)
    wave, weight = 0.5 * top * (NODES + 1.0), 0.5 * top * WEIGHTS
    u = np.sqrt(wave**2 + 2j / skin**2)
    # both conditions as a two by two system for each wave; unknown R and T, air above and ground below
    one = np.ones_like(u)
    system = np.stack([np.stack([one, -one], -1), np.stack([-wave, -u], -1)], -2)
    incident = np.exp(-wave * a) / (2 * wave)
    _, t = np.linalg.solve(system, np.stack([-incident, -wave * incident], -1)[..., None])[..., 0].T
    ours = np.sum(weight * wave * t * np.exp(-u * d) * np.cos(wave * x))
    b_e, _ = line_over_ground_field_quadrature(x, a, depth=d, current=1.0, skin_depth=skin)
    total = 2e-7 / math.hypot(x, a + d)
    assert abs(4e-7 * ours - b_e) < 1e-6 * total


# --- limits ---------------------------------------------------------------------------------------------


@given(depths, offsets, heights)
def test_in_air_it_is_the_long_straight_line_and_so_is_its_sign(d: float, x: float, a: float) -> None:
    air = infinite_line_field(x, a, line_up=-d, current=1.0)
    for field in (line_over_ground_field, line_over_ground_field_quadrature):
        assert gap(field(x, a, depth=d, current=1.0, skin_depth=math.inf), air) < 1e-11


@given(depths, offsets, heights)
def test_resistive_ground_goes_over_into_air(d: float, x: float, a: float) -> None:
    """Linearly in depth over skin depth: each tenth brings the field ten times closer to that of air."""
    air = infinite_line_field(x, a, line_up=-d, current=1.0)
    far = [
        float(gap(line_over_ground_field(x, a, depth=d, current=1.0, skin_depth=d / k), air))
        for k in (1e-5, 1e-6, 1e-7)
    ]
    assert far[0] < 1e-4 * (1 + abs(x) / d)
    assert far[1] == pytest.approx(far[0] / 10, rel=0.01)
    assert far[2] == pytest.approx(far[1] / 10, rel=0.01)


def test_far_away_the_ground_carries_the_return_current() -> None:
    """Many skin depths aside the field falls as 1 / x^2: G -> 2 exp(-m) / (m zeta^2), m = k (1 + j)."""
    d, k = 1.0, 0.5
    m = k * (1 + 1j)
    for x in (400.0, 800.0):
        b_e, _ = line_over_ground_field_quadrature(x, 0.0, depth=d, current=1.0, skin_depth=d / k)
        assert abs(b_e / (-4e-7 * np.exp(-m) / (m * x * x)) - 1) < 2e-3


@given(st.floats(0.3, 7.0), st.floats(0.5, 4.0))
def test_a_line_just_below_the_ground_goes_over_into_one_on_it(x: float, skins: float) -> None:
    """Closed form for a line on the ground (Wait's, by Bessel functions), approached linearly in depth.

    With the vector potential int 2 cos(l x) / (l + u) dl = 2 / m^2 (1 / x^2 - m K1(m x) / x), the upright
    field is its slope; m^2 = 2 j / skin^2.
    """
    skin = x / skins
    m = (1 + 1j) / skin
    on_it = 2 / m**2 * (2 / x**3 - 2 * m * kv(1, m * x) / x**2 - m**2 * kv(0, m * x) / x)
    miss = []
    for d in (4e-3 * x, 2e-3 * x):
        b_u = line_over_ground_field_quadrature(x, 0.0, depth=d, current=1.0, skin_depth=skin)[1]
        miss.append(abs(-b_u / 2e-7 - on_it) / abs(on_it))
    assert miss[0] < 0.05
    assert miss[1] == pytest.approx(miss[0] / 2, rel=0.05)


@given(depths, ratios)
def test_shallow_in_conducting_ground_by_every_reading_of_shape(d: float, k: float) -> None:
    def at(x: float) -> tuple[float, float]:
        b_e, b_u = line_over_ground_field(x, 0.0, depth=d, current=1.0, skin_depth=d / k)
        return abs(b_e), abs(b_u)

    peak = at(0.0)[0]
    assert peak < 2e-7 / d
    half = brentq(lambda x: at(x)[0] - 0.5 * peak, 0.3 * d, 1.5 * d)
    diagonal = brentq(lambda x: at(x)[0] - at(x)[1], 0.3 * d, 1.5 * d)
    assert diagonal < half < d


# --- derivatives (Taylor tests: tests/unit/test_derivatives.py) -----------------------------------------


def slopes(x: float, a: float, d: float, inverse_skin: float) -> np.ndarray:
    h, v = np.empty(5, complex), np.empty(5, complex)
    line_over_ground_slopes(x, a, d, inverse_skin, h, v)
    return np.array([h, v])


@given(depths, ratios, st.floats(-5.0, 5.0), heights)
def test_slopes_are_those_of_the_integral(d: float, k: float, x: float, a: float) -> None:
    """By depth and by log of skin depth, of the field itself: fitted images have fitted slopes."""
    ours = slopes(x, a, d, k / d)
    h = 1e-4

    def exact(depth: float, skin: float) -> np.ndarray:
        b_e, b_u = line_over_ground_field_quadrature(x, a, depth=depth, current=1.0, skin_depth=skin)
        return np.array([b_e, -b_u]) / 2e-7

    by_depth = (exact(d * (1 + h), d / k) - exact(d * (1 - h), d / k)) / (2 * h * d)
    by_skin = (exact(d, d / k * math.exp(h)) - exact(d, d / k * math.exp(-h))) / (2 * h)
    size = np.linalg.norm(ours[:, 0])
    assert np.linalg.norm(ours[:, 3] - by_depth) < 5e-4 * size / d
    assert np.linalg.norm(ours[:, 4] - by_skin) < 5e-4 * size


@given(depths, st.floats(0.0, 5.0))
def test_images_are_below_ground_and_the_line_itself_comes_first(d: float, k: float) -> None:
    p, c = np.empty(HALFSPACE_IMAGES, complex), np.empty(HALFSPACE_IMAGES, complex)
    halfspace_images(d, k / d, p, c)
    assert (p[0], c[0]) == (d, 1.0)
    assert np.all(p[1:].real > d)
    assert np.abs(c).max() < 1.5  # no large currents that cancel
    if k == 0.0:
        assert not c[1:].any()


def test_what_the_formulas_do_not_hold_for_is_refused() -> None:
    for bad, match in (
        ({"depth": 0.0}, "below the ground"),
        ({"depth": math.nan}, "below the ground"),
        ({"skin_depth": 0.0}, "skin depth"),
        ({"height": -0.1}, "for the air"),
    ):
        call = {"height": 0.0, "depth": 1.0, "current": 1.0, "skin_depth": 10.0} | bad
        for field in (line_over_ground_field, line_over_ground_field_quadrature):
            with pytest.raises(GeometryError, match=match):
                field(0.0, **call)
