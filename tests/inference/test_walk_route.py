"""Walks across of which only the order is trusted, at the stations of a route."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from plumbmark.inference.prepare import prepare
from plumbmark.inference.scene import profile_pull, put_scene
from plumbmark.inference.solve import solve_job
from plumbmark.inference.stations import stations_of
from plumbmark.inference.stretch import FIRST_LINE, PER_LINE
from plumbmark.model.job import Job
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Profile, ProfilePoint, Scale
from plumbmark.physics.line import infinite_line_field

SECOND = (0.9, 1.0, -0.4)
OFFSETS = np.round(np.linspace(-2.0, 2.0, 13), 2)


def walked(job: Job, row: int, scale: Scale, power: float = 1.0) -> Profile:
    """A walk at a reading's place over the lines that `straight_job` has, its amplitudes to a power."""
    r = job.readings[row]
    lines = [(0.0, 1.0, 1.0), SECOND]
    parts = [infinite_line_field(OFFSETS, 0.05, line_easting=q, line_up=-d, current=c) for q, d, c in lines]
    h, v = np.sum(parts, axis=0)
    cells = [100.0 * (np.abs(part) / np.abs(h).max()) ** power for part in (h, v)]
    points = tuple(
        ProfilePoint(
            2 + k, Measured(o, 0.0, 0.0), Measured(0.05, 0.0, 0.0), Measured(a, 0, 0), Measured(u, 0, 0)
        )
        for k, (o, a, u) in enumerate(zip(OFFSETS, *cells, strict=True))
    )
    return Profile(r.id, "E1", r.place, 2, r.bearing_deg, points, scale=scale)


def misfit_at(job: Job, t: float, z: float, re: float) -> float:
    line = job.lines[0]
    d = prepare(job, line, stations_of(job, line, []), line.setups[0]).stretch
    s = int(np.flatnonzero(d.profile_count)[0])
    theta = np.zeros(FIRST_LINE + PER_LINE)
    theta[2], theta[3] = 10.0, 0.05
    theta[FIRST_LINE : FIRST_LINE + 5] = SECOND[0], 0.0, math.log(SECOND[1]), re, 0.0
    at, deep, current = np.empty(32), np.empty(32, complex), np.empty(32, complex)
    n = put_scene(theta, z, 0.0, 1e4, at, deep, current)
    count = int(d.profile_count[s])
    columns = (d.point_offset, d.point_height, d.point_across, d.point_across_sigma)
    columns = (*columns, d.point_upright, d.point_upright_sigma)
    return profile_pull(
        t, int(d.profile_start[s]), count, 1.0, *columns, 0.05, at, deep, current, n, np.empty((4, count))
    )[0]


def test_any_rising_function_of_the_amplitudes_says_the_same(make_job) -> None:  # type: ignore[no-untyped-def]
    job = make_job(second=SECOND, stations=3)
    plain = replace(job, profiles=(walked(job, 1, Scale.UNKNOWN),))
    bent = replace(job, profiles=(walked(job, 1, Scale.UNKNOWN, 0.4),))
    for t, z, re in ((0.0, 0.0, -0.4), (0.1, 0.2, -0.1)):
        assert misfit_at(plain, t, z, re) == pytest.approx(misfit_at(bent, t, z, re), abs=1e-9)


def test_the_true_scene_is_likelier_than_others(make_job) -> None:  # type: ignore[no-untyped-def]
    job = make_job(second=SECOND, stations=3)
    job = replace(job, profiles=(walked(job, 1, Scale.UNKNOWN),))
    best = misfit_at(job, 0.0, 0.0, SECOND[2])
    for t, z, re in (
        (0.15, 0.0, -0.4),
        (-0.15, 0.0, -0.4),
        (0.0, 0.3, -0.4),
        (0.0, -0.3, -0.4),
        (0.0, 0.0, 0.0),
    ):
        assert misfit_at(job, t, z, re) < best - 2.0


def test_an_order_is_used_and_draws_the_answer_in(make_job, quick) -> None:  # type: ignore[no-untyped-def]
    """Depths misread by a second line: the order of a walk at one of three stations tells of it."""
    job = make_job(second=SECOND, stations=3)
    rows = tuple(replace(r, null_offset_m=None, half_left_m=None, half_right_m=None) for r in job.readings)
    bare = replace(job, readings=rows)
    told = solve_job(replace(bare, profiles=(walked(job, 1, Scale.UNKNOWN),)))
    without = solve_job(bare)
    assert not [w for w in told.warnings if "not used" in w.what]
    widths = [s.lines[0].stations[1].depth_m for s in (told, without)]
    assert widths[0].high - widths[0].low < 0.9 * (widths[1].high - widths[1].low)
    assert widths[0].low < 1.0 < widths[0].high
