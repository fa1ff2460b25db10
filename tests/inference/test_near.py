"""The quick answer for one place of a line: near the full one, from few places, none where it has none."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from plumbmark.inference.solve import NEAR, solve_job, solve_near
from plumbmark.model.job import Job, Line, Signal
from plumbmark.model.reading import Place

Make = Callable[..., Job]
DEPTH = 1.0


@pytest.mark.parametrize("which", [0, 5, 9])
def test_the_quick_answer_is_near_the_full_one_and_holds_the_truth(which: int, make_job: Make) -> None:
    job = make_job(depth=DEPTH, noise=0.3)
    reading = job.readings[which]
    quick = solve_near(job, "E1", reading.id)
    full = next(s for s in solve_job(job).lines[0].stations if s.id == reading.id)
    assert quick is not None
    assert quick.depth_m.low < DEPTH < quick.depth_m.high
    assert quick.depth_m.value == pytest.approx(full.depth_m.value, rel=0.05)
    width = math.log((quick.depth_m.high - quick.depth_m.low) / (full.depth_m.high - full.depth_m.low))
    assert abs(width) < math.log(2.5)


def test_it_looks_at_the_nearest_places_only(make_job: Make) -> None:
    job = make_job(depth=DEPTH, noise=0.3)
    first, last = job.readings[0], job.readings[-1]
    moved = replace(last, place=Place(last.place.easting_m + 0.4, last.place.northing_m))
    changed = replace(job, readings=(*job.readings[:-1], moved))
    assert len(job.readings) > NEAR
    assert solve_near(changed, "E1", first.id) == solve_near(job, "E1", first.id)
    assert solve_near(changed, "E1", last.id) != solve_near(job, "E1", last.id)


def test_nothing_where_nothing_was_read(make_job: Make) -> None:
    job = make_job()
    assert solve_near(job, "E1", "no such reading") is None
    assert solve_near(job, "no such line", job.readings[0].id) is None
    sonde = replace(job, lines=(Line("E1", signal=Signal.SONDE),))
    assert solve_near(sonde, "E1", job.readings[0].id) is None
