"""Straight and bent lines and the sonde against magpylib (BSD-3), which has code of its own for them."""

from __future__ import annotations

import magpylib
import numpy as np
import pytest

from plumbmark.physics.line import infinite_line_field
from plumbmark.physics.segment import polyline_field
from plumbmark.physics.sonde import sonde_field

pytestmark = pytest.mark.kernel

ROUTES = {
    "right angle": [[0, -50, -1], [0, 0, -1], [30, 0, -1]],
    "dog-leg, falling": [[0, -50, -0.6], [0, 0, -1], [3, 0, -1.2], [3, 40, -0.9]],
    "riser at the end": [[-20, 0, -1], [0, 0, -1], [0, 0, 1.5]],
    "closed loop": [[0, 0, -1], [4, 0, -1], [4, 6, -1], [0, 6, -1], [0, 0, -1]],
    "doubling back": [[0, -10, -1], [0, 5, -1], [0.2, -5, -1]],
}


@pytest.mark.parametrize("route", ROUTES.values(), ids=ROUTES)
def test_bent_lines(route: list[list[float]]) -> None:
    points = np.random.default_rng(20).uniform([-6, -6, 0], [6, 6, 2.5], (400, 3))
    theirs = magpylib.current.Polyline(current=1.7, vertices=route).getB(points)
    ours = polyline_field(points, route, current=1.7)
    assert np.abs(ours.imag).max() == 0.0
    error = np.linalg.norm(ours.real - theirs, axis=1) / np.linalg.norm(theirs, axis=1)
    assert error.max() < 2e-9  # their mu0 is the measured one, 1.3e-10 from ours; the rest is rounding


def test_long_straight_line() -> None:
    x = np.linspace(-4.0, 4.0, 81)
    points = np.stack([x, np.zeros_like(x), np.full_like(x, 0.05)], axis=1)
    line = magpylib.current.Polyline(current=0.4, vertices=[(0, -2e5, -1.1), (0, 2e5, -1.1)])
    b_e, b_u = infinite_line_field(x, 0.05, line_up=-1.1, current=0.4)
    theirs = line.getB(points)
    assert np.abs(theirs[:, 0] - b_e).max() / b_e.max() < 1e-8
    assert np.abs(theirs[:, 2] - b_u).max() / b_e.max() < 1e-8


def test_current_that_leaks_away_evenly() -> None:
    """Their pieces carry an even current: five hundred steps of it stand in for one slope."""
    start, end, steps = np.array([-3.0, 1.0, -0.8]), np.array([4.0, -1.0, -1.3]), 500
    points = np.random.default_rng(21).uniform([-6, -6, 0.1], [6, 6, 2.5], (60, 3))
    ends = start + np.linspace(0.0, 1.0, steps + 1)[:, None] * (end - start)
    current = np.interp((np.arange(steps) + 0.5) / steps, [0.0, 1.0], [1.0, 0.3])
    theirs = sum(
        magpylib.current.Polyline(current=float(i), vertices=[a, b]).getB(points)
        for i, a, b in zip(current, ends[:-1], ends[1:], strict=True)
    )
    ours = polyline_field(points, [start, end], current=[1.0, 0.3]).real
    error = np.linalg.norm(ours - theirs, axis=1) / np.linalg.norm(theirs, axis=1)
    assert error.max() < 1e-5


def test_sonde() -> None:
    """Along = northing, right = easting, up; the moment points along."""
    points = np.random.default_rng(22).uniform([-4, -4, 0.3], [4, 4, 3.0], (400, 3))
    theirs = magpylib.misc.Dipole(moment=(0.0, 2.5, 0.0)).getB(points)
    ours = np.stack(sonde_field(points[:, 1], points[:, 0], points[:, 2], moment=2.5), axis=1)
    error = np.linalg.norm(ours[:, [1, 0, 2]] - theirs, axis=1) / np.linalg.norm(theirs, axis=1)
    assert error.max() < 1e-9
