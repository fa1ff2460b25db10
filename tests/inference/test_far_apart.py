"""What was read far off along a line changes nothing here; its own band is that of what was read there."""

from __future__ import annotations

from dataclasses import replace

from plumbmark.inference.solve import FAR_APART_M, solve_job
from plumbmark.model.job import Job, Line
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading

INCH = 0.0254


def reading(number: int) -> Reading:
    return Reading(
        f"r{number}",
        "E1",
        Place(3.0 * number, 0.0),
        number + 2,
        null_offset_m=Measured(number % 3 * INCH, 0.0, INCH),
        depth_m=Measured((37 - number % 3) * INCH, 0.0, INCH),
        current_a=Measured(0.008 + 0.0001 * number, 0.0, 0.0001),
    )


def test_a_place_beyond_a_long_gap_is_answered_for_itself() -> None:
    """Even where its numbers are those of the place before the gap, so that it looks written down twice."""
    near = tuple(map(reading, range(4)))
    far = replace(near[3], id="far", place=Place(2.0 * FAR_APART_M, 0.0), row=6)
    alone = solve_job(Job("apart", lines=(Line("E1"),), readings=near))
    both = solve_job(Job("apart", lines=(Line("E1"),), readings=(*near, far)))
    bands = [s.depth_m for s in both.lines[0].stations]
    assert bands[:3] == [s.depth_m for s in alone.lines[0].stations[:3]]
    assert 0.2 < bands[4].low < bands[4].value < bands[4].high < 5.0
