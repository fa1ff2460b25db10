"""Chances of a strike in closed form, against counting invented lines by formulas of its own."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from plumbmark.clearance.chance import chance_of_less, course_of, nearest, seen_by, wander_of
from plumbmark.clearance.shapes import footprints_of
from plumbmark.model.draws import LineDraws
from plumbmark.model.record import Dig, DigKind

FLOATS = NDArray[np.float64]
AT = np.arange(0.0, 12.01, 0.5)
COUNTED = 200_000  # bench/bench_clearance.py counts more, down to one in a thousand
BATCH = 50_000


def _invented(n: int, rng: np.random.Generator) -> LineDraws:
    """Lines along the east axis that shift, turn and vary in depth; two kinds of ground, mixed 3 to 1."""
    deep = rng.random((n, 1)) < 0.25
    mean = np.where(deep, np.log(1.05), np.log(0.85)) + 0.01 * AT
    sd = np.where(deep, 0.08, 0.12) * np.ones_like(AT)
    kinship = np.exp(-0.5 * ((AT[:, None] - AT) / 9.0) ** 2) + 1e-9 * np.eye(len(AT))
    level = rng.standard_normal((n, len(AT))) @ np.linalg.cholesky(kinship).T
    north = 0.12 * rng.standard_normal((n, 1)) + 0.02 * rng.standard_normal((n, 1)) * (AT - 6.0)
    return LineDraws("E1", AT, np.tile(AT, (n, 1)), north, np.exp(mean + sd * level), mean, sd)


def _ours(dig: Dig, radius: float, asked: float, n: int = 8000) -> float:
    rng = np.random.default_rng(1)
    (shape,) = footprints_of(dig)
    course = course_of(_invented(n, rng), 0.0, 12.0)
    each = chance_of_less(shape, course, seen_by(shape, course), radius, asked, wander_of(shape, n, rng))
    assert ((each >= 0.0) & (each <= 1.0 + 1e-12)).all()
    return float(each.mean())


def _fine(lines: LineDraws, at: FLOATS) -> tuple[FLOATS, FLOATS]:
    """North and depth at other places, straight between those given."""
    k = (at / 0.5).astype(int).clip(0, len(AT) - 2)
    share = at / 0.5 - k
    return tuple(v[:, k] * (1 - share) + v[:, k + 1] * share for v in (lines.northing_m, lines.depth_m))  # type: ignore[return-value]


def _counted(hit: Callable[[LineDraws, np.random.Generator], FLOATS]) -> float:
    rng = np.random.default_rng(2)
    return sum(int(hit(_invented(BATCH, rng), rng).sum()) for _ in range(COUNTED // BATCH)) / COUNTED


def _agree(ours: float, counted: float, least: float) -> None:
    """Within a tenth of the figure and three times the noise of counting."""
    assert counted > least
    assert abs(ours / counted - 1.0) < 0.10 + 3.0 / np.sqrt(counted * COUNTED), (ours, counted)


@pytest.mark.slow
@pytest.mark.parametrize(("depth", "asked"), [(0.80, 0.0), (0.62, 0.0), (0.40, 0.3)])
def test_trench_across(depth: float, asked: float) -> None:
    dig = Dig("t", DigKind.TRENCH, (((6.0, -5.0), (6.0, 5.0)),), depth_m=depth, width_m=0.6)

    def hit(lines: LineDraws, rng: np.random.Generator) -> FLOATS:
        edge = 0.3 + 0.03 + asked + 0.08 * rng.standard_normal((BATCH, 1))
        bottom = depth + 0.05 * rng.standard_normal((BATCH, 1))
        at = np.linspace(5.0, 7.0, 21)
        top = _fine(lines, at)[1] - 0.03
        return ((np.abs(at - 6.0) < edge) & (top < bottom + asked)).any(axis=1)

    _agree(_ours(dig, 0.03, asked), _counted(hit), 4e-3)


@pytest.mark.slow
@pytest.mark.parametrize(("off", "depth"), [(0.6, 0.9), (0.7, 1.2), (0.5, 0.7)])
def test_trench_beside(off: float, depth: float) -> None:
    dig = Dig("t", DigKind.TRENCH, (((3.0, off), (9.0, off)),), depth_m=depth, width_m=0.6)

    def hit(lines: LineDraws, rng: np.random.Generator) -> FLOATS:
        edge = off - 0.3 - 0.05 + 0.08 * rng.standard_normal((BATCH, 1))
        bottom = depth + 0.05 * rng.standard_normal((BATCH, 1))
        north, deep = _fine(lines, np.linspace(3.0, 9.0, 31))
        return ((north > edge) & (deep - 0.05 < bottom)).any(axis=1)

    _agree(_ours(dig, 0.05, 0.0), _counted(hit), 4e-3)


@pytest.mark.slow
@pytest.mark.parametrize("depth", [1.0, 1.4])
def test_bore_across(depth: float) -> None:
    dig = Dig("b", DigKind.BORE, (((6.0, -5.0), (6.0, 5.0)),), depth_m=depth, diameter_m=0.1)

    def hit(lines: LineDraws, rng: np.random.Generator) -> FLOATS:
        at = np.linspace(4.8, 7.2, 61)
        deep = _fine(lines, at)[1]
        side = at - 6.0 - 0.15 * rng.standard_normal((BATCH, 1))
        below = deep - depth - 0.12 * rng.standard_normal((BATCH, 1))
        return (np.hypot(side, below) < 0.05 + 0.03).any(axis=1)

    _agree(_ours(dig, 0.03, 0.0), _counted(hit), 4e-3)


@pytest.mark.slow
def test_bore_along() -> None:
    dig = Dig("b", DigKind.BORE, (((2.0, 0.5), (10.0, 0.5)),), depth_m=1.1, diameter_m=0.2)

    def hit(lines: LineDraws, rng: np.random.Generator) -> FLOATS:
        north, deep = _fine(lines, np.linspace(2.0, 10.0, 81))
        side = north - 0.5 - 0.15 * rng.standard_normal((BATCH, 1))
        below = deep - 1.1 - 0.12 * rng.standard_normal((BATCH, 1))
        return (np.hypot(side, below) < 0.1 + 0.05).any(axis=1)

    _agree(_ours(dig, 0.05, 0.0), _counted(hit), 4e-3)


def test_a_line_at_one_depth_has_the_tail_of_the_normal() -> None:
    """ln depth normal about 1 m with sd 0.1, certain in plan: P(depth < 0.8) = Phi(ln 0.8 / 0.1)."""
    n, at = 500, np.array([0.0, 1.0])
    rng = np.random.default_rng(3)
    level = rng.standard_normal((n, 1)) * np.ones(2)
    flat = np.zeros((n, 2))
    lines = LineDraws("E1", at, flat + at, flat, np.exp(0.1 * level), flat, flat + 0.1)
    (shape,) = footprints_of(Dig("t", DigKind.TRENCH, (((0.5, -5.0), (0.5, 5.0)),), depth_m=0.8, width_m=4.0))
    course = course_of(lines, 0.0, 1.0)
    still = wander_of(shape, n, rng)
    still.depth_m[:] = 0.0
    each = chance_of_less(shape, course, seen_by(shape, course), 0.0, 0.0, still)
    assert each == pytest.approx(np.full(n, 0.012826), rel=1e-3)


def test_no_depth_of_the_dig_counts_as_every_depth() -> None:
    dig = Dig("t", DigKind.TRENCH, (((6.0, -5.0), (6.0, 5.0)),), width_m=0.6)
    assert _ours(dig, 0.03, 0.0, n=200) == pytest.approx(1.0, abs=1e-3)


def test_nearest_of_a_line_square_under_a_trench() -> None:
    at = np.array([0.0, 10.0])
    flat = np.zeros((3, 2))
    lines = LineDraws("E1", at, flat + at, flat, flat + 1.0, flat, flat + 1e-9)
    (shape,) = footprints_of(Dig("t", DigKind.TRENCH, (((5.0, -5.0), (5.0, 5.0)),), depth_m=0.6, width_m=0.4))
    course = course_of(lines, 0.0, 10.0)
    stray = wander_of(shape, 3, np.random.default_rng(0))
    stray.side_m[:], stray.depth_m[:] = 0.0, 0.0
    found = nearest(shape, course, seen_by(shape, course), 0.05, stray)
    assert found.horizontal_m == pytest.approx(np.full(3, -0.25))
    assert found.vertical_m == pytest.approx(np.full(3, 0.35))  # 1.00 less 0.05 less 0.60


def test_nearest_of_a_bore_counts_all_round() -> None:
    at = np.array([0.0, 10.0])
    flat = np.zeros((3, 2))
    lines = LineDraws("E1", at, flat + at, flat, flat + 1.0, flat, flat + 1e-9)
    bore = Dig("b", DigKind.BORE, (((5.03, -5.0), (5.03, 5.0)),), depth_m=1.3, diameter_m=0.1)
    (shape,) = footprints_of(bore)
    course = course_of(lines, 0.0, 10.0)
    stray = wander_of(shape, 3, np.random.default_rng(0))
    stray.side_m[:], stray.depth_m[:] = 0.0, 0.0
    found = nearest(shape, course, seen_by(shape, course), 0.05, stray)
    assert found.vertical_m == pytest.approx(np.full(3, 0.20))  # 0.30 less both radii of 0.05
    assert found.horizontal_m == pytest.approx(np.full(3, -0.10))  # they cross in plan
