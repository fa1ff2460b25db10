"""The chance of an order against counting permutations and against drawing."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbmark.inference.walk_order import COUNT, NODES, log_order, point_sigma


def chance(
    size: list[float], order: list[int], group: list[int] | None = None, scatter: float = 1.0
) -> float:
    values = np.array(size)
    groups = np.arange(len(order)) if group is None else np.array(group)
    found = log_order(
        values, np.zeros(len(values)), 1.0, scatter, 0, np.array(order), groups, np.empty((3, COUNT))
    )
    return math.exp(found)


@pytest.mark.parametrize("level", [0.03, 0.3, 0.9])
@pytest.mark.parametrize("n", [2, 3, 5])
def test_alike_amplitudes_come_in_any_order_alike(n: int, level: float) -> None:
    assert chance([level] * n, list(range(n))) == pytest.approx(1.0 / math.factorial(n), rel=0.02)


def test_numbers_not_told_apart_may_come_either_way() -> None:
    assert chance([0.5] * 4, [0, 1, 2, 3], [0, 0, 0, 0]) == pytest.approx(1.0, abs=1e-4)
    assert chance([0.5] * 4, [0, 1, 2, 3], [0, 1, 1, 2]) == pytest.approx(2.0 / 24.0, rel=0.03)
    assert chance([0.5] * 4, [0, 1, 2, 3], [0, 0, 1, 1]) == pytest.approx(4.0 / 24.0, rel=0.03)


@pytest.mark.parametrize("scatter", [0.7, 1.5])
def test_chance_is_the_share_of_draws_in_that_order(scatter: float) -> None:
    """Drawn with Student's noise, folded at zero; bound: four standard deviations, and the grid's 1 %."""
    rng = np.random.default_rng(4)
    size = np.array([0.004, 0.43, 0.41, 0.45, 0.42, 0.9])
    sigma = scatter * np.array([point_sigma(s, 0.0, 1.0) for s in size])
    draws = np.abs(size + sigma * rng.standard_t(6.0, size=(400_000, 6)))
    for order in ([0, 2, 4, 1, 3, 5], [0, 2, 1, 4, 3, 5], [0, 1, 2, 3, 4, 5]):
        share = np.mean(np.all(np.diff(draws[:, order], axis=1) > 0.0, axis=1))
        found = chance(list(size), order, scatter=scatter)
        assert abs(found - share) < 4.0 * math.sqrt(share / len(draws)) + 0.01 * share


def test_every_order_together_is_certain() -> None:
    from itertools import permutations

    size = [0.2, 0.21, 0.215, 0.6]
    total = sum(chance(size, list(order)) for order in permutations(range(4)))
    assert total == pytest.approx(1.0, rel=0.01)


def test_grid_reaches_past_the_largest_and_is_as_fine_as_the_noise() -> None:
    sigma = np.array([point_sigma(x, 0.0, 1.0) for x in NODES])
    assert NODES[-1] > 1.15
    assert np.all(np.diff(NODES) < 0.6 * sigma[1:])
