"""The posterior of one walk: known answers, what its diagnostic says, draws of its prior against density."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbmark.inference import walk_prior as w
from plumbmark.inference.second import Known
from plumbmark.inference.walk import Walk, make_walk, walk_of
from plumbmark.inference.walk_mixture import pareto_k
from plumbmark.inference.walk_solve import Looks, WalkPosterior, solve_walk
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Profile, ProfilePoint, Scale
from plumbmark.physics.line import infinite_line_field

NONE = np.empty((0, 7))
AIR = Known(10.5, 0.1, 0.05, 0.05, 0.4, 0.4, -1.0, 1.0, NONE)
OFFSET = np.linspace(-2.0, 2.0, 17)
LOOKS = Looks(first=600, more=400, times=3, enough=200.0, threads=1)


def walk_over(lines: list[tuple[float, float, float]], noise: float = 0.0, ordered: bool = False) -> Walk:
    """Places, depths and currents to a walk 5 cm above ground that conducts next to nothing."""
    rng = np.random.default_rng(3)
    parts = [infinite_line_field(OFFSET, 0.05, line_easting=x, line_up=-d, current=c) for x, d, c in lines]
    level = np.abs(np.sum(parts, axis=0))
    level = level * np.abs(1.0 + 0.02 * noise * rng.normal(size=level.shape))
    return make_walk(OFFSET, np.full(17, 0.05), level, np.zeros_like(level), 1000.0, ordered)


def band(found: WalkPosterior, values: np.ndarray) -> tuple[float, float, float]:
    order = np.argsort(values)
    edges = np.cumsum(found.weights[order])
    low, middle, high = (float(values[order][np.searchsorted(edges, q)]) for q in (0.025, 0.5, 0.975))
    return low, middle, high


def test_one_line_is_found_and_said_to_be_alone() -> None:
    found = solve_walk(walk_over([(0.03, 1.2, 1.0)], 1.0), AIR, [1], looks=LOOKS, most_lines=1)
    low, middle, high = band(found, np.exp(found.ln_depth))
    assert middle == pytest.approx(1.2, rel=0.03)
    assert 0.02 < (high - low) / middle < 0.2
    assert found.chances[0] > 0.8
    assert found.weights.sum() == pytest.approx(1.0)


def test_a_second_line_is_found_where_it_is() -> None:
    found = solve_walk(
        walk_over([(0.0, 1.0, 1.0), (1.1, 0.8, -0.4)], 1.0), AIR, [1], looks=LOOKS, most_lines=1
    )
    assert found.chances[1] > 0.95
    with_one = found.lines == 1
    weights = found.weights[with_one] / found.weights[with_one].sum()
    assert weights @ found.second[with_one, 0, 0] == pytest.approx(1.1, abs=0.15)
    assert weights @ found.second[with_one, 0, 2] == pytest.approx(-0.4, abs=0.15)
    assert weights @ np.exp(found.ln_depth[with_one]) == pytest.approx(1.0, rel=0.08)


def test_the_unit_of_the_amplitudes_does_not_matter() -> None:
    walk = walk_over([(0.0, 1.0, 1.0)], 1.0)
    other = make_walk(walk.offset, walk.height, 731.0 * walk.level, 731.0**2 * walk.floor, walk.frequency_hz)
    a, b = (solve_walk(q, AIR, [1], looks=LOOKS, most_lines=0) for q in (walk, other))
    assert band(a, a.ln_depth) == pytest.approx(band(b, b.ln_depth), abs=1e-9)


def test_one_bad_point_does_not_carry_the_answer() -> None:
    walk = walk_over([(0.0, 1.0, 1.0)], 1.0)
    level = walk.level.copy()
    level[0, 3] *= 2.5
    spoilt = make_walk(walk.offset, walk.height, level, walk.floor, walk.frequency_hz)
    found = solve_walk(spoilt, AIR, [1], looks=LOOKS, most_lines=0)
    assert band(found, np.exp(found.ln_depth))[1] == pytest.approx(1.0, rel=0.05)


def test_the_same_seed_gives_the_same_draws_and_decibels_are_read_as_such() -> None:
    walk = walk_over([(0.02, 0.9, 1.0)], 1.0)
    cells = 20.0 * np.log10(walk.level)
    points = tuple(
        ProfilePoint(k + 2, *(Measured(float(v), 0.0, 0.0) for v in (x, 0.05, a, u)))
        for k, (x, a, u) in enumerate(zip(OFFSET, *cells, strict=True))
    )
    read = walk_of(Profile("P1", "E1", Place(0.0, 0.0), 2, 0.0, points, scale=Scale.DB), 1000.0)
    assert read is not None
    assert read.level == pytest.approx(walk.level, abs=1e-9)
    one, two = (solve_walk(read, AIR, [5], looks=LOOKS, most_lines=0) for _ in range(2))
    assert np.array_equal(one.ln_depth, two.ln_depth)
    assert walk_of(Profile("P1", "E1", Place(0.0, 0.0), 2, 0.0, points[:2]), 1000.0) is None


def test_pareto_k_knows_tails() -> None:
    """Weights with a Pareto tail of index k have that k; bounded ones a small one."""
    rng = np.random.default_rng(0)
    for k in (0.3, 0.9):
        assert pareto_k(k * rng.exponential(size=20_000)) == pytest.approx(k, abs=0.12)
    assert pareto_k(np.log(rng.uniform(0.5, 1.0, 5000))) < 0.2
    assert pareto_k(np.array([0.0, *[-1e300] * 99])) == math.inf


@pytest.mark.parametrize("candidates", [NONE, np.array([[1.2, 0.3, 0.0, 0.1, -0.1, 0.4, 0.6]])])
def test_density_of_a_second_line_is_normalised_and_that_of_its_draws(candidates: np.ndarray) -> None:
    """The mean of known over drawn-from density is the area; over draws of a wide one, bound four deviations.

    And the share of draws to the right of 1 m is that of the density.
    """
    known = AIR._replace(candidates=candidates)
    rng = np.random.default_rng(2)
    n = 40_000
    size = np.exp(rng.uniform(math.log(w.LEAST_RATIO), math.log(w.MOST_RATIO), n))
    phase = rng.uniform(-math.pi, math.pi, n)
    q, z = rng.uniform(-6.5, 6.5, n), rng.uniform(w.LN_DEPTH_LOW, w.LN_DEPTH_HIGH, n)
    lines = np.column_stack([q, z, size * np.cos(phase), size * np.sin(phase)])
    span = math.log(w.MOST_RATIO / w.LEAST_RATIO)
    other = 1.0 / (13.0 * (w.LN_DEPTH_HIGH - w.LN_DEPTH_LOW) * span * 2.0 * math.pi * size**2)
    ratio = np.exp([w.log_prior_line(row, known) for row in lines]) / other
    assert ratio.mean() == pytest.approx(1.0, abs=4.0 * ratio.std() / math.sqrt(n))
    drawn = w.draw_lines(20_000, 1, known, rng)
    for inside, there in ((q > 1.0, drawn[:, 0] > 1.0), (size > 0.5, np.hypot(*drawn[:, 2:].T) > 0.5)):
        share, error = (ratio * inside).mean(), (ratio * inside).std() / math.sqrt(n)
        assert there.mean() == pytest.approx(share, abs=4.0 * (error + 0.5 / math.sqrt(20_000)))


def test_outer_unknowns_turn_into_ratios_and_back() -> None:
    lines = np.array([[0.5, 0.1, -0.3, 0.1, 1.0, 0.2, 0.4, -0.05]])
    there = lines.copy()
    w.to_outer(there)
    back = there.copy()
    w.to_ratios(back)
    assert back == pytest.approx(lines)
    assert there[0, w.OUT_SIZE] < 0.0 < there[0, 4 + w.OUT_SIZE]
