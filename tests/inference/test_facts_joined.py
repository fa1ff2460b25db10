"""Facts of other kinds beside the readings of a line: holes, shots from the side, trenches, records."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from plumbmark.inference.solve import solve_job
from plumbmark.model.estimate import StationEstimate
from plumbmark.model.job import Hookup, Job, Setup, Trench
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, SideReading, TestHole
from plumbmark.model.record import Record
from plumbmark.physics.side import side_shown

Make = Callable[..., Job]


def told(job: Job, which: int = 0) -> tuple[StationEstimate, ...]:
    return solve_job(job).lines[which].stations


def place_beside(job: Job, row: int, right_m: float, bearing_deg: float = 20.0) -> Place:
    """A place so far to the right of a row's mark."""
    here, b = job.readings[row].place, math.radians(bearing_deg)
    return Place(here.easting_m + right_m * math.cos(b), here.northing_m - right_m * math.sin(b))


def test_hole_that_found_nothing_says_the_line_is_deeper(make_job: Make) -> None:
    job = make_job(stations=6, second=(0.5, 1.1, 0.4), noise=1.0)
    before = told(job)[2].depth_m
    hole = TestHole("h1", "E1", job.readings[2].place, 2, False, dug_to_m=Measured(before.value, 0.0, 0.01))
    after = told(replace(job, test_holes=(hole,)))[2].depth_m
    assert after.value > before.value + 0.02
    beside = replace(hole, place=place_beside(job, 2, 1.5))
    assert told(replace(job, test_holes=(beside,)))[2].depth_m.value < after.value - 0.02


def test_shot_from_the_side_gives_depth_where_none_could_be_read(make_job: Make) -> None:
    job = make_job(stations=6, depth=1.6)
    blind = replace(
        job,
        readings=tuple(replace(r, depth_m=None, half_left_m=None, half_right_m=None) for r in job.readings),
    )
    distance, depth = side_shown(
        [0.0], [1.6], [0.01], stand=3.0, lower_coil_height=0.05, coil_spacing=0.4, tilt=0.0
    )
    shots = tuple(
        SideReading(
            f"s{k}",
            "E1",
            place_beside(job, k, 3.0),
            k + 2,
            toward_deg=290.0,
            distance_m=Measured(distance, 0.0, 0.01),
            depth_m=Measured(depth, 0.0, 0.01),
        )
        for k in (1, 2, 3, 4)
    )
    without, with_shots = told(blind), told(replace(blind, side_readings=shots))
    assert [s.source for s in with_shots] == ["reading"] * 6
    for a, b in zip(without, with_shots, strict=True):
        assert b.depth_m.low < 1.6 < b.depth_m.high
        assert b.depth_m.high / b.depth_m.low < 0.6 * a.depth_m.high / a.depth_m.low


def test_line_of_a_joint_trench_may_lie_anywhere_across_it(make_job: Make) -> None:
    job = make_job(stations=5)
    shared = replace(job, trenches=(Trench("J1", ("E1", "C1"), 0.8),))
    before, after = told(job)[2], told(shared)[2]
    assert after.lateral_shift_m.high - after.lateral_shift_m.low > 0.8
    assert after.depth_m.high - after.depth_m.low > before.depth_m.high - before.depth_m.low
    assert after.trust != "holds"
    assert any("trench with C1" in b for b in after.because)


def test_line_on_record_is_looked_for_where_it_is_drawn(make_job: Make) -> None:
    job = make_job(stations=8, second=(1.2, 1.0, 0.3), noise=1.0)
    ends = [place_beside(job, k, 1.2) for k in (0, 7)]
    record = Record("old-1", tuple((p.easting_m, p.northing_m) for p in ends), position_sigma_m=0.3)
    (near,) = solve_job(replace(job, records=(record,))).lines[0].neighbours
    assert near.is_line is None
    assert near.offset_m.value == pytest.approx(1.2, abs=0.5)
    own = replace(record, line="E1")
    assert solve_job(replace(job, records=(own,))).lines == solve_job(job).lines


def test_second_hook_up_narrows_what_the_first_left_open(make_job: Make) -> None:
    """Two hook-ups with other currents on the second line, read in the same places by the same receiver."""
    one = make_job(stations=6, second=(0.9, 1.1, -0.35), noise=1.0)
    two = make_job(stations=6, second=(0.9, 1.1, 0.10), noise=1.0, seed=5)
    other = tuple(replace(r, id=f"x{r.id}", setup="S2", row=r.row + 20, place=r.place) for r in two.readings)
    first = tuple(replace(r, setup="S1") for r in one.readings)
    setups = (
        Setup("S1", "E1", Hookup.DIRECT, 512.0, "R1"),
        Setup("S2", "E1", Hookup.CLAMP, 8000.0, "R1"),
    )
    lines = (replace(one.lines[0], setups=setups),)
    both = told(replace(one, lines=lines, readings=first + other))
    alone = told(replace(one, lines=lines, readings=first))
    assert {s.id for s in both} == {r.id for r in first + other}
    width = [np.mean([s.depth_m.high / s.depth_m.low for s in rows]) for rows in (alone, both)]
    assert width[1] < width[0]
    held = [s.depth_m.low < 1.0 < s.depth_m.high for s in both]
    assert all(held)
