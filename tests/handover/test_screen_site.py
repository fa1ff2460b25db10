"""The plan as data: to scale, not by hue alone, nothing drawn without a place, numbers with their source."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from pydantic import TypeAdapter

from plumbmark.handover.marks import plan_marks
from plumbmark.handover.screen_drawn import ink_of, job_on_plan, solution_on_plan
from plumbmark.handover.screen_site import EMPTY, site_screen
from plumbmark.model.estimate import Interval, Solution
from plumbmark.model.job import Baseline, Job, Utility
from plumbmark.model.mark import MarkKind, PaintedMark
from plumbmark.model.reading import Place
from plumbmark.model.screen_site import SiteScreen
from plumbmark.model.sweep import Heard, Pass, PassPoint, SearchMethod
from plumbmark.model.ticket import Thing, ThingKind

FORM = TypeAdapter(SiteScreen)


def test_the_band_is_to_scale(invented) -> None:
    job, solution = invented(9)
    (drawn,) = site_screen(job, solution).lines
    stations = solution.lines[0].stations
    assert drawn.band[0] == drawn.band[-1]
    left, right = drawn.band[:9], drawn.band[9:18][::-1]
    for s, a, b in zip(stations, left, right, strict=True):
        shift = s.lateral_shift_m
        assert math.dist(a, b) == pytest.approx(shift.high - shift.low, abs=0.002)
        mark = (s.mark_easting_m, s.mark_northing_m)
        assert math.dist(mark, b) == pytest.approx(abs(shift.high), abs=0.002)
    assert drawn.path == tuple((round(s.easting_m, 3), round(s.northing_m, 3)) for s in stations)


def test_no_two_utilities_look_alike_without_hues() -> None:
    inks = [ink_of(utility.value) for utility in Utility]
    assert len({ink.letter for ink in inks}) == len(inks)
    assert {ink_of(word) for word in (None, "unknown", "no such thing")} == {ink_of("unknown")}


def test_a_mark_has_its_numbers_and_where_they_came_from(invented) -> None:
    job, solution = invented(5)
    mark = site_screen(job, solution).marks[2]
    told = {t.name: t for t in mark.told}
    assert told["depth displayed"].source == "readings.csv row 4 depth"
    assert told["current displayed"].source == "readings.csv row 4 current_ma"
    assert told["null, from the peak"].words.endswith("right")
    assert told["depth to the middle"].source == "computed from the readings of E1, an estimate"
    assert "95" not in "".join(t.name for t in mark.told)


def test_far_things_do_not_shrink_the_rest(invented) -> None:
    job, solution = invented(9)
    extent = site_screen(job, solution).extent
    assert extent is not None
    assert extent.east_m < 100.0
    for x, y in site_screen(job, solution).lines[0].band:
        assert extent.west_m <= x <= extent.east_m
        assert extent.south_m <= y <= extent.north_m


def test_before_anything_is_there_the_screen_teaches() -> None:
    screen = site_screen(Job("j"), None)
    assert (screen.extent, screen.empty) == (None, EMPTY)
    assert "does not mean that nothing is there" in screen.empty
    assert screen.says == "No reading is answered yet."


def by_words(job: Job, solution: Solution) -> tuple[Job, Solution, dict[tuple[str, str], str]]:
    """The same job with its third reading on a baseline of its own, far from everything."""
    far = Baseline("words-gate", 0.0, 1e5, 100.0, 1e5)
    place = Place(4.0, 1e5)
    readings = tuple(replace(r, place=place) if r.id == "r03" else r for r in job.readings)
    line = solution.lines[0]
    stations = tuple(
        replace(s, easting_m=4.0, northing_m=1e5, mark_easting_m=4.0, mark_northing_m=1e5)
        if s.id == "r03"
        else s
        for s in line.stations
    )
    words = {("readings", "r03"): "by the gate", ("things", "m1"): "by the door"}
    thing = Thing("m1", 2, Place(0.0, 1e5), ThingKind.METER)
    changed = replace(job, readings=readings, things=(thing,), baselines=(*job.baselines, far))
    return changed, replace(solution, lines=(replace(line, stations=stations),)), words


def test_what_is_known_by_words_only_is_listed_and_not_drawn(invented) -> None:
    job, solution, words = by_words(*invented(9))
    marks = plan_marks(job_on_plan(job, words), solution_on_plan(solution, words))
    screen = site_screen(job, solution, marks=marks, by_words=words)
    assert screen.extent is not None
    assert screen.extent.north_m < 1000.0
    assert [(q.table, q.id, q.place) for q in screen.unplaced] == [
        ("readings", "r03", "by the gate"),
        ("things", "m1", "by the door"),
    ]
    assert "r03" not in {m.id for m in screen.marks}
    assert screen.things == ()
    assert [b.id for b in screen.baselines] == ["B1"]
    drawn = FORM.dump_json(replace(screen, unplaced=())).decode()
    assert "100000" not in drawn
    assert "words-gate" not in drawn


def test_a_crews_own_baseline_stays(invented) -> None:
    job, _ = invented(4)
    assert job_on_plan(job, {("readings", "r02")}).baselines == job.baselines
    assert job_on_plan(job, ()) is job


def test_notes_say_what_to_do_the_swap_first(invented) -> None:
    job, solution = invented(9)
    line = replace(solution.lines[0], unsettled=(("r04", "r05"),))
    heard = Pass(
        "p1",
        2,
        SearchMethod.PASSIVE_POWER,
        (PassPoint(Place(0.0, 0.0), 2), PassPoint(Place(4.0, 2.0), 3)),
        signal=Heard.UNEXPLAINED,
    )
    screen = site_screen(
        replace(job, passes=(heard,)),
        replace(solution, lines=(line,)),
        still_open=("the ticket runs out on Friday",),
    )
    notes = screen.notes
    assert [n.number for n in notes] == list(range(1, len(notes) + 1))
    assert notes[0].title == "Ticket"
    assert notes[1].words.startswith("You may have swapped lines between readings r04 and r05.")
    a, b = line.stations[3], line.stations[4]
    assert notes[1].place == pytest.approx(
        (0.5 * (a.mark_easting_m + b.mark_easting_m), 0.5 * (a.mark_northing_m + b.mark_northing_m)), abs=1e-3
    )
    assert (notes[2].title, notes[2].opens) == ("Next step", "read/r01/raise")
    assert (notes[3].title, notes[3].place) == ("Pass p1", (2.0, 1.0))
    assert "r01" not in notes[4].title  # it is the next step already


def test_paint_tells_where_it_says_the_line_is(invented) -> None:
    job, solution = invented(9)
    painted = PaintedMark("m1", Place(3.0, 5.0), 2, "E1", MarkKind.OFFSET, toward_deg=180.0, distance_m=2.0)
    job = replace(job, marks=(painted,))
    screen = site_screen(job, solution, marks=plan_marks(job, solution))
    there = [p for p in screen.paint if p.painted]
    assert [(p.place, p.points_at) for p in there] == [((3.0, 5.0), (3.0, 3.0))]
    assert len(screen.paint) > len(there)
    off = [n for n in screen.notes if n.title == "Paint m1"]
    assert [n.place for n in off] == [(3.0, 3.0)]


def test_a_lone_reading_has_a_short_piece_of_line(invented) -> None:
    (line,) = site_screen(*invented(1)).lines
    assert math.dist(*line.path) == pytest.approx(0.8, abs=0.002)


def test_forty_places_stay_small_and_come_back_as_they_were(invented) -> None:
    job, solution = invented(40)
    screen = site_screen(job, solution, marks=plan_marks(job, solution))
    data = FORM.dump_json(screen)
    assert len(data) < 200_000
    assert FORM.validate_json(data) == screen


def test_a_huge_job_is_thinned_and_its_worst_place_kept(invented) -> None:
    job, solution = invented(1500)
    line = solution.lines[0]
    bad = replace(line.stations[777], within_10_probability=0.01, lateral_shift_m=Interval(0.0, -1.0, 1.0))
    stations = (*line.stations[:777], bad, *line.stations[778:])
    screen = site_screen(job, replace(solution, lines=(replace(line, stations=stations),)))
    assert bad.id in {m.id for m in screen.marks}
    assert len(FORM.dump_json(screen)) < 300_000
