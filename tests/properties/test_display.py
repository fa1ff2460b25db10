"""Displays over one or two lines: symmetries, and each number is what its definition says."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from plumbmark.physics import display
from plumbmark.physics.display import (
    displayed_current,
    displayed_depth,
    half_distances,
    null_position,
    peak_position,
)
from plumbmark.physics.halfspace import halfspace_images, line_over_ground_field
from plumbmark.physics.images import across_upright, field_along

pytestmark = pytest.mark.kernel

Lines = tuple[np.ndarray, np.ndarray, np.ndarray]

LOWER, SPACING = 0.05, 0.4


@st.composite
def two_lines(draw: st.DrawFn, phase: float = 0.4) -> Lines:
    """A line at 0 and a weaker one beside it, its current out of phase by up to `phase` radians.

    Bounded to where the field keeps one peak near the line; beyond, a receiver has a choice of peaks.
    """
    deep = draw(st.floats(0.3, 2.5))
    beside = draw(st.floats(0.4, 2.0)) * deep * draw(st.sampled_from([-1.0, 1.0]))
    other = deep * draw(st.floats(0.8, 1.6))
    size = draw(st.floats(0.02, 0.35)) * draw(st.sampled_from([-1.0, 1.0]))
    angle = draw(st.floats(-phase, phase))
    current = np.array([1.0, size * complex(math.cos(angle), math.sin(angle))])
    return np.array([0.0, beside]), np.array([deep, other]), current


def strength(lines: Lines, x: float, h: float = LOWER) -> float:
    """Amplitude across the line, by a plain sum apart from the kernels."""
    at, deep, current = lines
    d = h + deep
    return float(abs(np.sum(current * d / (d * d + (x - at) ** 2))))


def upright(lines: Lines, x: float, h: float = LOWER) -> tuple[complex, complex]:
    at, deep, current = lines
    d = h + deep
    r = d * d + (x - at) ** 2
    return complex(np.sum(current * d / r)), complex(np.sum(current * (x - at) / r))


def numbers(lines: Lines, lower: float = LOWER, spacing: float = SPACING, raised: float = 0.0) -> np.ndarray:
    """Peak, null of both kinds, halves, depth, all in metres."""
    peak = peak_position(*lines, coil_height=lower)
    return np.array(
        [
            peak,
            null_position(*lines, coil_height=lower),
            null_position(*lines, coil_height=lower, least=True),
            *half_distances(*lines, coil_height=lower),
            displayed_depth(
                *lines, mark=peak, lower_coil_height=lower, coil_spacing=spacing, raised_by=raised
            ),
        ]
    )


@given(two_lines())
def test_mirror_images(lines: Lines) -> None:
    at, deep, current = lines
    here, there = numbers(lines), numbers((-at, deep, current))
    there[:3] *= -1.0
    there[[3, 4]] = there[[4, 3]]
    np.testing.assert_allclose(here, there, atol=2e-6)


@given(two_lines(), st.floats(0.25, 4.0))
def test_only_ratios_of_lengths_matter(lines: Lines, k: float) -> None:
    at, deep, current = lines
    here = numbers(lines, raised=0.2)
    there = numbers((k * at, k * deep, current), k * LOWER, k * SPACING, k * 0.2)
    np.testing.assert_allclose(there, k * here, atol=1e-5 * k)


@given(two_lines(), st.floats(0.01, 30.0), st.floats(-3.1, 3.1))
def test_only_ratios_of_currents_matter(lines: Lines, size: float, turn: float) -> None:
    at, deep, current = lines
    turned = current * size * complex(math.cos(turn), math.sin(turn))
    np.testing.assert_allclose(numbers((at, deep, turned)), numbers(lines), atol=2e-6)
    mark = numbers(lines)[0]
    keys = {"mark": mark, "shown_depth": 0.9, "lower_coil_height": LOWER}
    once = displayed_current(*lines, **keys)
    assert displayed_current(at, deep, turned, **keys) == pytest.approx(size * once, rel=1e-9)


@given(two_lines())
def test_peak_is_higher_than_all_around_it(lines: Lines) -> None:
    peak = peak_position(*lines, coil_height=LOWER)
    top = strength(lines, peak)
    scale = float(lines[1][0])
    assert all(
        strength(lines, peak + side * step * scale) < top for side in (-1, 1) for step in (0.01, 0.1, 0.2)
    )
    h = 1e-4 * scale
    slope = (strength(lines, peak + h) - strength(lines, peak - h)) / (2.0 * h)
    assert abs(slope) < 1e-5 * top / scale


@given(two_lines())
def test_null_in_phase_is_zero_there(lines: Lines) -> None:
    h, v = upright(lines, null_position(*lines, coil_height=LOWER))
    assert abs((v * h.conjugate()).real) < 1e-6 * abs(h) ** 2


@given(two_lines())
def test_least_null_is_the_least_around_it(lines: Lines) -> None:
    null = null_position(*lines, coil_height=LOWER, least=True)
    low = abs(upright(lines, null)[1])
    scale = float(lines[1][0])
    for side in (-1, 1):
        for step in (0.003, 0.03, 0.1):
            assert abs(upright(lines, null + side * step * scale)[1]) > low


@given(two_lines(phase=0.0))
def test_both_nulls_agree_for_currents_in_phase(lines: Lines) -> None:
    one = null_position(*lines, coil_height=LOWER)
    two = null_position(*lines, coil_height=LOWER, least=True)
    assert one == pytest.approx(two, abs=1e-6)
    assert abs(upright(lines, one)[1]) < 1e-6 * strength(lines, one)


@given(two_lines())
def test_half_points_are_half(lines: Lines) -> None:
    peak = peak_position(*lines, coil_height=LOWER)
    left, right = half_distances(*lines, coil_height=LOWER)
    assert min(left, right) > 0.0
    for x in (peak - left, peak + right):
        assert strength(lines, x) == pytest.approx(0.5 * strength(lines, peak), rel=1e-5)


def test_half_points_are_the_nearest_ones_also_beside_strong_lines() -> None:
    """The signal may dip between two peaks and rise again; who walks outwards stops at the first half."""
    rng = np.random.default_rng(4)
    dips = 0
    for _ in range(300):
        at = np.array([0.0, rng.uniform(0.3, 2.5) * rng.choice([-1.0, 1.0])])
        deep = rng.uniform(0.3, 2.0, 2)
        current = np.array(
            [1.0, rng.uniform(0.1, 0.7) * rng.choice([-1.0, 1.0]) * np.exp(0.2j * rng.normal())]
        )
        lines = (at, deep, current)
        peak = peak_position(*lines, coil_height=LOWER)
        away = np.arange(0.0, 10.0, 0.01)
        for side, half in zip((-1, 1), half_distances(*lines, coil_height=LOWER), strict=True):
            above, beside = LOWER + deep, peak + side * away[:, None] - at
            signal = np.abs(np.sum(current * above / (above**2 + beside**2), axis=1))
            first = away[np.flatnonzero(signal <= 0.5 * signal[0])[0]]
            assert half == pytest.approx(first, abs=0.011)
            dips += bool(np.any(signal[away > half + 0.02] > 0.5 * signal[0]))
    assert dips > 10  # else nothing was asked


@given(two_lines(), st.floats(-0.5, 0.5), st.floats(0.0, 0.6))
def test_depth_is_that_of_its_two_coils(lines: Lines, aside: float, raised: float) -> None:
    mark = aside * float(lines[1][0])
    low, high = (strength(lines, mark, LOWER + raised + s) for s in (0.0, SPACING))
    assume(low > high * 1.001)
    shown = displayed_depth(
        *lines, mark=mark, lower_coil_height=LOWER, coil_spacing=SPACING, raised_by=raised
    )
    assume(shown < display.NO_DEPTH_M)
    assert shown == pytest.approx(max(SPACING * high / (low - high) - LOWER, 1e-3), rel=1e-9, abs=1e-9)


@given(st.floats(0.2, 4.0), st.floats(0.005, 0.6), st.floats(-4.0, 4.0), st.floats(0.0, 1.0))
def test_field_of_image_lines_is_that_of_conducting_ground(d: float, k: float, x: float, a: float) -> None:
    """`k` = depth over skin depth. The images are good to 1e-4 of the field in air (see halfspace)."""
    images = 8
    depth, current = np.empty(images, dtype=complex), np.empty(images, dtype=complex)
    halfspace_images(d, k / d, depth, current)
    h, v = field_along(x, a, np.zeros(images), depth, current)
    b_e, b_u = line_over_ground_field(x, a, depth=d, current=1.0, skin_depth=d / k)
    size = 2e-7 / math.hypot(x, a + d)
    assert abs(2e-7 * h - b_e) < 2e-4 * size
    assert abs(2e-7 * v + b_u) < 2e-4 * size  # upright counts downwards in a display


@pytest.mark.skipif(not hasattr(display.peak_of, "py_func"), reason="the compiler is switched off")
@given(two_lines())
def test_compiled_and_plain_agree(lines: Lines) -> None:
    """The outer kernel plain over compiled ones; all of them plain is the run without the compiler."""
    at, deep, current = lines[0], lines[1].astype(complex), lines[2].astype(complex)
    rest = (LOWER, at, deep, current, 2)
    for f, args in (
        (display.peak_of, (0.0, *rest)),
        (display.null_of, (0.0, LOWER, 0, at, deep, current, 2)),
        (display.null_of, (0.0, LOWER, 1, at, deep, current, 2)),
        (display.half_of, (0.0, 1.0, *rest)),
        (display.depth_at, (0.1, LOWER, SPACING, 0.2, 0.003, at, deep, current, 2)),
        (display.current_at, (0.1, 0.8, *rest)),
        (across_upright, (0.2, *rest)),
    ):
        np.testing.assert_allclose(f(*args), f.py_func(*args), rtol=1e-9, atol=1e-9)
