"""Taylor tests: what a first-order step leaves falls fourfold each time the step is halved, three times over.

Every closed derivative of the physics, compiled and as plain Python. A wrong slope would leave a remainder
that only halves.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from plumbmark.physics.halfspace import (
    HALFSPACE_IMAGES,
    halfspace_image_slopes,
    halfspace_images,
    line_over_ground_slopes,
)
from plumbmark.physics.images import across_upright, field_slopes

pytestmark = pytest.mark.kernel

FORMS = ["compiled", "plain"]
Vector = np.ndarray


def form_of(function: Callable[..., object], form: str) -> Callable[..., object]:
    """The compiled kernel or the Python it was made from (the same with the compiler switched off)."""
    return function if form == "compiled" else getattr(function, "py_func", function)


def taylor(value: Callable[[Vector], Vector], slope: Vector, at: Vector, way: Vector, step: float) -> None:
    """`slope` is the derivative of `value` at `at` along `way`."""
    here = value(at)
    noise = 4e-15 * float(np.linalg.norm(here))
    rest = [float(np.linalg.norm(value(at + t * way) - here - t * slope)) for t in step / 2.0 ** np.arange(4)]
    assert rest[0] < 0.05 * float(np.linalg.norm(here)) + step * float(np.linalg.norm(slope))
    for longer, shorter in pairwise(rest):
        assert shorter <= longer / 3.5 + noise


def test_a_slope_that_is_wrong_by_a_thousandth_is_caught() -> None:
    def square(q: Vector) -> Vector:
        return q * q

    taylor(square, np.array([2.0]), np.ones(1), np.ones(1), 2e-3)
    with pytest.raises(AssertionError):
        taylor(square, np.array([2.002]), np.ones(1), np.ones(1), 2e-3)


def images(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray, int]:
    """Eleven image lines, depths and currents complex."""
    n = 11
    deep = rng.uniform(0.4, 3.0, n) + 1j * rng.uniform(-1.0, 1.0, n)
    return rng.uniform(-2.0, 2.0, n), deep, rng.normal(size=n) + 1j * rng.normal(size=n), n


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("seed", range(12))
def test_field_of_image_lines(seed: int, form: str) -> None:
    """By place and by height: values, first and second slopes of both components."""
    rng = np.random.default_rng(seed)
    lines = images(rng)
    at = np.array([rng.uniform(-3.0, 3.0), rng.uniform(0.0, 1.0)])
    slopes = form_of(field_slopes, form)

    def all_of(q: Vector) -> Vector:
        return np.array(slopes(q[0], q[1], *lines))

    def field(q: Vector) -> Vector:
        return np.array(form_of(across_upright, form)(q[0], q[1], *lines))

    h, h1, h2, v, v1, v2 = all_of(at)
    assert field(at) == pytest.approx([h, v], rel=1e-12)
    along, up = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    taylor(field, np.array([h1, v1]), at, along, 2e-3)
    taylor(field, np.array([-v1, h1]), at, up, 2e-3)
    taylor(lambda q: all_of(q)[[1, 4]], np.array([h2, v2]), at, along, 2e-3)
    taylor(lambda q: all_of(q)[[1, 4]], np.array([-v2, h2]), at, up, 2e-3)


def cases(number: int) -> list[tuple[float, float, float, float]]:
    """Offset, height, depth in metres and depth over skin depth, over the domain of the images."""
    rng = np.random.default_rng(5)
    return [
        (
            rng.uniform(-7.0, 7.0),
            rng.uniform(0.0, 1.5),
            math.exp(rng.uniform(-2.3, 1.8)),
            10 ** rng.uniform(-3.3, -0.3),
        )
        for _ in range(number)
    ]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("variable", ["place", "height", "depth", "soil"])
def test_line_over_ground(variable: str, form: str) -> None:
    """By offset, height, depth and the logarithm of the skin depth."""
    which = ["place", "height", "depth", "soil"].index(variable)
    kernel = form_of(line_over_ground_slopes, form)

    def both(q: Vector) -> Vector:
        h, v = np.empty(5, complex), np.empty(5, complex)
        kernel(q[0], q[1], q[2], math.exp(-q[3]), h, v)
        return np.array([h, v])

    for x, a, d, k in cases(40):
        at = np.array([x, a, d, math.log(d / k)])
        way = np.zeros(4)
        way[which] = 1.0 if variable == "soil" else math.hypot(x, d) if variable in "place height" else d
        slope = both(at)[:, 1 + which] * way[which]
        taylor(lambda q: both(q)[:, 0], slope, at, way, 2e-3)


@pytest.mark.parametrize("form", FORMS)
def test_images_by_depth_over_skin_depth(form: str) -> None:
    """Complex depths and currents of the images, the depth of the line held."""
    value, slopes = form_of(halfspace_images, form), form_of(halfspace_image_slopes, form)

    def images_at(q: Vector) -> Vector:
        p, c = np.empty(HALFSPACE_IMAGES, complex), np.empty(HALFSPACE_IMAGES, complex)
        value(1.3, math.exp(q[0]) / 1.3, p, c)
        return np.concatenate([p, c])

    for k in [*(case[3] for case in cases(40)), 3e-5, 1e-4, 2.0]:  # the last three: past the table
        p1, c1 = np.empty(HALFSPACE_IMAGES, complex), np.empty(HALFSPACE_IMAGES, complex)
        slopes(1.3, k / 1.3, p1, c1)
        taylor(images_at, np.concatenate([p1, c1]), np.array([math.log(k)]), np.ones(1), 2e-3)
