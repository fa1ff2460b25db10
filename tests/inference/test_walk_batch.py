"""Posteriors of a batch of walks: against those of one at a time, against the truth, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbmark.base.errors import PlumbmarkError
from plumbmark.inference.second import Known
from plumbmark.inference.walk import Walk, make_walk
from plumbmark.inference.walk_batch import LEAST_EFFECTIVE, Effort, solve_walks
from plumbmark.inference.walk_solve import Looks, solve_walk
from plumbmark.physics.line import infinite_line_field

KNOWN = Known(math.log(60.0), math.log(3.0), 0.05, 0.05, 0.4, 0.4, -1.0, 1.0, np.empty((0, 7)))
AIR = KNOWN._replace(soil_ln=10.5, soil_sigma=0.1)
OFFSET = np.linspace(-2.0, 2.0, 17)
LINES = {
    "alone": [(0.03, 1.2, 1.0)],
    "one beside": [(0.0, 1.0, 1.0), (1.1, 0.8, -0.4)],
    "same way": [(-0.05, 0.8, 1.0), (-1.4, 1.1, 0.5)],
}


def walk_over(lines: list[tuple[float, float, float]], seed: int = 3, ordered: bool = False) -> Walk:
    """Places, depths and currents to a walk 5 cm above ground that conducts next to nothing."""
    rng = np.random.default_rng(seed)
    parts = [infinite_line_field(OFFSET, 0.05, line_easting=x, line_up=-d, current=c) for x, d, c in lines]
    size = np.abs(np.sum(parts, axis=0))
    level = size * (1.0 + 0.02 * rng.normal(size=size.shape)) + 0.005 * size.max() * rng.normal(
        size=size.shape
    )
    return make_walk(OFFSET, np.full(17, 0.05), np.abs(level), np.zeros_like(level), 1000.0, ordered)


@pytest.mark.parametrize("case", LINES)
def test_bands_are_those_of_one_walk_at_a_time(case: str) -> None:
    """Ends within 1.5 and the median within 0.75 quarters of the band, by some 50 draws in effect."""
    walk = walk_over(LINES[case])
    (quick,) = solve_walks([walk], AIR, most_lines=1, threads=1)
    looks = Looks(first=1000, more=600, times=4, enough=300.0, threads=1)
    slow = solve_walk(walk, AIR, [1], looks=looks, most_lines=1)
    assert not quick.loose
    assert quick.chances[:2] == pytest.approx(slow.chances, abs=0.25)
    for found, values in ((quick.ln_depth, slow.ln_depth), (quick.shift, slow.shift)):
        order = np.argsort(values)
        edges = np.cumsum(slow.weights[order])
        ends = values[order][np.searchsorted(edges, (0.025, 0.5, 0.975))]
        quarter = (ends[2] - ends[0]) / 4.0
        assert np.all(np.abs(found - ends) < np.array([1.5, 0.75, 1.5]) * quarter)


def test_truth_is_in_the_band_as_often_as_said() -> None:
    """40 walks: fewer than 34 held has a chance below 1 in 500 if 19 in 20 hold; binomial."""
    rng = np.random.default_rng(8)
    truth, walks = [], []
    for k in range(40):
        depth, q = math.exp(0.4 * rng.normal()), rng.choice([-1.0, 1.0]) * rng.uniform(0.5, 2.5)
        lines = [(0.0, depth, 1.0), (q, math.exp(0.4 * rng.normal()), rng.choice([-1.0, 1.0]) * 0.4)]
        truth.append(math.log(depth))
        walks.append(walk_over(lines, 100 + k))
    found = solve_walks(walks, AIR, most_lines=1)
    held = [b.ln_depth[0] < z < b.ln_depth[2] for b, z in zip(found, truth, strict=True)]
    assert sum(held) >= 34
    assert np.mean([b.loose for b in found]) < 0.25


def test_threads_and_company_change_nothing() -> None:
    walks = [walk_over(lines) for lines in LINES.values()]
    one = solve_walks(walks, AIR, most_lines=1, threads=1)
    two = solve_walks(walks, AIR, most_lines=1, threads=2)
    (alone,) = solve_walks(walks[1:2], AIR, most_lines=1, threads=1)
    for a, b in zip(one, two, strict=True):
        assert np.array_equal(a.ln_depth, b.ln_depth)
    assert np.array_equal(alone.shift, one[1].shift)


def test_too_few_draws_are_said_to_be_loose() -> None:
    walk = walk_over(LINES["one beside"])
    (found,) = solve_walks([walk], AIR, most_lines=1, threads=1, effort=Effort(fits=6, prior=4, times=0))
    assert found.effective < LEAST_EFFECTIVE
    assert found.loose


def test_two_second_lines_are_weighed_too() -> None:
    lines = [(0.0, 1.0, 1.0), (1.3, 0.8, -0.5), (-1.2, 0.7, 0.4)]
    (found,) = solve_walks([walk_over(lines)], AIR, threads=1)
    assert found.chances.sum() == pytest.approx(1.0)
    assert found.chances[2] > 0.5
    assert found.ln_depth[0] < 0.0 < found.ln_depth[2]


def test_an_order_alone_is_refused_by_name() -> None:
    walks = [walk_over(LINES["alone"]), walk_over(LINES["alone"], ordered=True)]
    with pytest.raises(PlumbmarkError, match="walk 2 of 2: only the order"):
        solve_walks(walks, AIR)
