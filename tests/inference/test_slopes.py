"""Slopes with ln depth that the search for the depth uses: what a first-order step leaves falls fourfold.

Those of weighing a station are the search's own approximation (Gauss-Newton) and no derivatives; the cells
and the table they are made of are.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from plumbmark.inference.evidence import _cell, _dug
from plumbmark.inference.prepare import known_of, prepare
from plumbmark.inference.scene import profile_pull
from plumbmark.inference.second import draw_prior
from plumbmark.inference.stations import stations_of
from plumbmark.inference.table import NODES, STEP, make_table, read_off

pytestmark = pytest.mark.kernel


def halving(value: Callable[[float], np.ndarray | float], slope: np.ndarray | float, at: float) -> None:
    """`slope` is the derivative of `value` at `at`, over three halvings of a step of 0.004."""
    here = value(at)
    steps = 0.004 / 2.0 ** np.arange(4)
    left = [float(np.abs(value(at + h) - here - h * slope).max()) for h in steps]
    for longer, shorter in pairwise(left):
        assert shorter <= longer / 3.5 + 1e-14 * float(np.abs(here).max())


@pytest.mark.parametrize("lines", [0, 1, 2])
def test_displays_read_off_the_table(lines: int, make_job) -> None:  # type: ignore[no-untyped-def]
    job = make_job(stations=6, raised=0.3, second=(0.9, 1.1, -0.35))
    line = job.lines[0]
    d = prepare(job, line, stations_of(job, line, []), line.setups[0]).stretch
    known = known_of(job, line.setups[0], np.empty((0, 5)), 1.0)
    for theta in draw_prior(6, lines, known, np.random.default_rng(lines)):
        table = make_table(theta, d, 0.0)

        def shown(z: float, table=table) -> np.ndarray:  # type: ignore[no-untyped-def]
            read_off(table, d, np.full(len(d.at), z))
            return np.asarray(table.nodes.copy())

        for node in (-2, 0, 1):
            z = STEP * (node + 0.3)  # between where the nearest node changes
            assert abs(node) < NODES // 2
            halving(lambda q: shown(q)[:, 0], shown(z)[:, 1], z)


@pytest.mark.parametrize("off", [-0.4, 0.02, 0.3])
def test_cell_of_a_displayed_depth(off: float) -> None:
    def added(z: float, swing: float = 0.9) -> np.ndarray:
        into = np.zeros(3)
        _cell(off - swing * z, swing, 0.004, into)
        return into

    halving(lambda z: added(z)[0], added(0.0)[1], 0.0)


@pytest.mark.parametrize("deeper", [-0.2, 0.0, 0.1])
def test_a_hole_that_did_not_find_the_line(deeper: float) -> None:
    def added(z: float) -> np.ndarray:
        into = np.zeros(3)
        _dug(z, 0.05, into)
        return into

    halving(lambda z: added(z)[0], added(deeper)[1], deeper)


def test_walk_across_with_its_zero_moved() -> None:
    """Slope by Taylor; curvature positive."""
    rng = np.random.default_rng(3)
    at, deep, current = np.array([0.0, 0.8]), np.array([1.0, 0.7 + 0.1j]), np.array([1.0, 0.3 - 0.1j])
    offset, nothing = np.linspace(-2.0, 2.0, 15), np.full(15, np.nan)
    across = 3.0 / (1.0 + offset**2) * (1.0 + 0.02 * rng.normal(size=15))
    upright = 3.0 * np.abs(offset) / (1.0 + offset**2) + 0.05
    sigma = np.full(15, 0.05)
    walk = (0, 15, 1.2, offset, nothing, across, sigma, upright, sigma, 0.05, at, deep, current, 2)

    def pull(t: float) -> tuple[float, float, float]:
        return profile_pull(t, *walk, np.empty((4, 15)))  # type: ignore[no-any-return]

    for t in (-0.1, 0.0, 0.17):
        _value, slope, curve = pull(t)
        assert curve > 0.0
        halving(lambda x: pull(x)[0], slope, t)
