"""Sections as data: the oval, what lies to which side, dimensions, and the place that is opened first."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from pydantic import TypeAdapter
from scipy.stats import chi2

from plumbmark.handover.answer import right_of_travel
from plumbmark.handover.screen_section import EMPTY, MOST, section_screen
from plumbmark.handover.section_shape import BOTH_AT_ONCE, oval
from plumbmark.model.estimate import Interval
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, TestHole
from plumbmark.model.screen_section import SectionScreen

FORM = TypeAdapter(SectionScreen)


def turned_back(line, k):
    """The same line with the bearing of one row the other way: right and left change places there."""
    s = line.stations[k]
    shift = s.lateral_shift_m
    other = replace(
        s,
        right_deg=(s.right_deg + 180.0) % 360.0,
        lateral_shift_m=Interval(-shift.value, -shift.high, -shift.low),
    )
    return replace(line, stations=(*line.stations[:k], other, *line.stations[k + 1 :]))


def test_how_far_the_oval_reaches() -> None:
    assert math.sqrt(chi2.ppf(0.95, 2) / chi2.ppf(0.95, 1)) == pytest.approx(BOTH_AT_ONCE, abs=5e-4)


def test_the_oval_holds_both_at_once_nineteen_times_in_twenty() -> None:
    rng = np.random.default_rng(5)
    x, y = 0.1 * rng.standard_normal(40_000), 1.0 + 0.05 * rng.standard_normal(40_000)
    half = 1.96 * 0.1, 1.96 * 0.05
    shift, depth = Interval(0.0, -half[0], half[0]), Interval(1.0, 1.0 - half[1], 1.0 + half[1])
    ring = np.array(oval(shift, depth, BOTH_AT_ONCE))
    # inside a convex ring: on the same side of every edge
    edge, to = np.roll(ring, -1, axis=0) - ring, np.stack([x, y], axis=1)[:, None, :] - ring
    inside = (edge[:, 0] * to[..., 1] - edge[:, 1] * to[..., 0] >= 0.0).all(axis=1)
    assert inside.mean() == pytest.approx(0.95, abs=0.006)


@pytest.mark.parametrize("back", [False, True])
def test_a_second_line_is_on_the_side_where_it_is(invented, back) -> None:
    job, solution = invented(9)
    line = turned_back(solution.lines[0], 1) if back else solution.lines[0]
    section = section_screen(job, replace(solution, lines=(line,))).lines[0].sections[1]
    s, n = line.stations[1], line.neighbours[0]
    right = math.radians(right_of_travel(line)[1])
    ground = (
        s.easting_m + n.offset_m.value * math.sin(right),
        s.northing_m + n.offset_m.value * math.cos(right),
    )
    own = math.radians(s.right_deg)
    aside = (ground[0] - s.mark_easting_m) * math.sin(own) + (ground[1] - s.mark_northing_m) * math.cos(own)
    (second,) = section.seconds
    assert second.aside_m.value == pytest.approx(aside, abs=0.03)  # the path bends a little between stations
    assert second.aside_m.low < second.aside_m.value < second.aside_m.high
    assert (second.aside_m.value < 0.0) is back


def test_dimensions_run_from_the_mark_and_down_from_the_ground(invented) -> None:
    job, solution = invented(9)
    section = section_screen(job, solution).lines[0].sections[0]
    s = solution.lines[0].stations[0]
    found = {d.told.name: d for d in section.dimensions}
    assert found["paint, from your mark"].to_m == pytest.approx(s.lateral_shift_m.value, abs=5e-4)
    assert found["depth, 19 times in 20"].from_m == pytest.approx(s.depth_m.low, abs=5e-4)
    assert found["depth, 19 times in 20"].to_m == pytest.approx(s.depth_m.high, abs=5e-4)
    assert found["null, from the peak"].told.source == "readings.csv row 2 null_offset"
    assert found["second line, beside the line"].told.words == "2 ft 8 in"
    assert section.paint == "Paint 9 in left of your mark."
    assert section.left_m < min(x for x, _ in section.oval)
    assert section.deepest_m > max(y for _, y in section.oval)


def test_no_paint_while_lines_may_have_been_swapped(invented) -> None:
    job, solution = invented(9)
    line = replace(solution.lines[0], unsettled=(("r04", "r05"),))
    sections = section_screen(job, replace(solution, lines=(line,))).lines[0].sections
    assert {s.id for s in sections if s.paint == "Settle the swap before any more paint."} == {"r04", "r05"}


def test_a_test_hole_is_drawn_where_it_was_dug(invented) -> None:
    job, solution = invented(9)
    s = solution.lines[0].stations[3]
    right = math.radians(s.right_deg)
    place = Place(s.mark_easting_m + 0.4 * math.sin(right), s.mark_northing_m + 0.4 * math.cos(right))
    hole = TestHole("T9", "E1", place, 5, found=False, dug_to_m=Measured(1.1))
    sections = section_screen(replace(job, test_holes=(hole,)), solution).lines[0].sections
    assert [len(q.holes) for q in sections] == [0, 0, 0, 1, 0, 0, 0, 0, 0]
    (drawn,) = sections[3].holes
    assert drawn.aside_m == pytest.approx(0.4, abs=1e-3)
    assert (drawn.top_m, drawn.dug_to_m) == (None, 1.1)
    assert drawn.told.words == "Test hole T9: dug to 3 ft 7 in, the line was not there"
    assert drawn.told.source == "test_holes.csv row 5"


def test_it_opens_where_one_can_lean_least_or_where_asked(invented) -> None:
    job, solution = invented(9)
    assert section_screen(job, solution).station == "r01"
    assert section_screen(job, solution, "E1", "r05").station == "r05"
    assert section_screen(job, solution, "E1", "no such place").station == "r01"


def test_of_many_places_those_near_the_one_asked_for(invented) -> None:
    job, solution = invented(300)
    screen = section_screen(job, solution, "E1", "r200")
    ids = [s.id for s in screen.lines[0].sections]
    assert len(ids) == MOST
    assert "r200" in ids
    assert screen.left_out == "40 of 300 places are here: those of E1 nearest to this one."
    assert "r300" in [s.id for s in section_screen(job, solution, "E1", "r300").lines[0].sections]


def test_before_the_first_answer_the_screen_teaches(invented) -> None:
    job, _ = invented(3)
    screen = section_screen(job, None)
    assert (screen.lines, screen.station, screen.empty) == ((), None, EMPTY)


def test_forty_places_stay_small_and_come_back_as_they_were(invented) -> None:
    screen = section_screen(*invented(40))
    data = FORM.dump_json(screen)
    assert len(data) < 200_000
    assert FORM.validate_json(data) == screen
