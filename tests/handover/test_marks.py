"""What is painted, where, of which kind; and how that compares with what was painted."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from itertools import pairwise

import pytest

from plumbmark.handover.mark_course import bends_of, course_of
from plumbmark.handover.marks import NoPaint, plan_marks
from plumbmark.handover.marks_data import marks_bytes
from plumbmark.handover.marks_text import marks_text
from plumbmark.handover.sketch import sketch_svg
from plumbmark.handover.tape import tape_of
from plumbmark.model.estimate import (
    Identity,
    Interval,
    LineEstimate,
    Neighbour,
    Solution,
    StationEstimate,
    Trust,
)
from plumbmark.model.job import Baseline, Corner, Job, Line, LineState, Trench, Utility
from plumbmark.model.mark import MarkKind, MarkPlan, MarkState, PaintedMark
from plumbmark.model.reading import Place
from plumbmark.model.record import Dig, DigKind
from plumbmark.survey.baselines import from_baseline
from plumbmark.survey.ties import Tie, place_from_ties

BASE = Baseline("B1", 0.0, -2.0, 30.0, -2.0)
CORNERS = (Corner("house-NE", 3.0, 8.0), Corner("house-NW", 12.0, 9.0), Corner("pole", 25.0, -6.0))
JOB = Job(
    "j",
    lines=(Line("E1", Utility.ELECTRIC, 0.05, "copper", owner="village"), Line("C1", Utility.COMMUNICATIONS)),
    baselines=(BASE,),
    corners=CORNERS,
)


def line(name: str, points: list[tuple[float, float]], half: float = 0.08) -> LineEstimate:
    """A line through places with the same band everywhere, marked where it is."""
    stations, chainage = [], 0.0
    for k, (east, north) in enumerate(points):
        chainage += math.dist(points[k - 1], points[k]) if k else 0.0
        ahead = points[min(k + 1, len(points) - 1)], points[max(k - 1, 0)]
        bearing = math.degrees(math.atan2(ahead[0][0] - ahead[1][0], ahead[0][1] - ahead[1][1]))
        stations.append(
            StationEstimate(
                "reading", f"r{k}", chainage, east, north, east, north, (bearing + 90.0) % 360.0,
                Interval(0.0, -half, half), Interval(0.9, 0.75, 1.1), Interval(0.01, 0.009, 0.011),
                0.9, 0.98, Trust.HOLDS, (), "",
            )
        )  # fmt: skip
    return LineEstimate(name, Identity.LIKELY, (), tuple(stations))


STRAIGHT = line("E1", [(1.5 * k, 0.03 * (-1) ** k) for k in range(15)])
BENT = line("E1", [(2.0 * k, 0.0) for k in range(6)] + [(10.0, 2.0 * k) for k in range(1, 5)])


def plan(*lines: LineEstimate, job: Job = JOB, **more: object) -> MarkPlan:
    return plan_marks(job, Solution("j", lines, None), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("spacing", [3.0, 1.0, 7.0])
def test_marks_follow_the_line_at_most_so_far_apart(spacing: float) -> None:
    marks = plan(STRAIGHT, spacing_m=spacing).marks
    places = [(m.easting_m, m.northing_m) for m in marks]
    assert places[0] == pytest.approx((0.0, 0.03))
    assert places[-1] == pytest.approx((21.0, 0.03))
    gaps = [math.dist(a, b) for a, b in pairwise(places)]
    assert max(gaps) <= spacing + 1e-9
    assert [m.number for m in marks] == list(range(1, len(marks) + 1))
    assert {m.colour for m in marks} == {"red"}


def test_a_bend_has_its_own_mark_and_scatter_has_none() -> None:
    assert bends_of(course_of(STRAIGHT)) == []
    assert bends_of(course_of(BENT)) == [5]
    corner = [m for m in plan(BENT).marks if "changes direction" in m.because]
    assert [(m.easting_m, m.northing_m) for m in corner] == [(10.0, 0.0)]


def test_what_to_write_has_no_depth_unless_it_is_allowed() -> None:
    assert {m.text for m in plan(STRAIGHT).marks} == {"electric, village, 0.05 m copper"}
    allowed = {m.text for m in plan(STRAIGHT, with_depth=True).marks}
    # shallow end of the band, to the top: 0.75 m less half of 0.05 m, rounded toward the ground
    assert allowed == {"electric, village, 0.05 m copper, top 0.72 m or deeper, estimate"}
    gone = replace(JOB, lines=(replace(JOB.lines[0], state=LineState.ABANDONED), JOB.lines[1]))
    assert "abandoned" in plan(STRAIGHT, job=gone).marks[0].text


def test_every_mark_is_found_again_with_a_tape() -> None:
    for mark in plan(BENT).marks:
        assert mark.tape.station_m is not None
        assert mark.tape.offset_m is not None
        there = from_baseline(mark.tape.station_m, mark.tape.offset_m, start=(0.0, -2.0), end=(30.0, -2.0))
        assert [float(v) for v in there] == pytest.approx([mark.easting_m, mark.northing_m], abs=1e-9)
        at = {c.id: (c.easting_m, c.northing_m) for c in CORNERS}
        swung = place_from_ties([Tie(*at[corner], away) for corner, away in mark.tape.ties])
        sides = [(swung.easting_m, swung.northing_m), swung.other]
        place = sides[0] if mark.tape.tie_side == "right" else sides[1]
        assert place == pytest.approx((mark.easting_m, mark.northing_m), abs=1e-6)


def test_tapes_that_meet_too_flat_are_not_given() -> None:
    row = Job("j", corners=(Corner("a", 0.0, 0.0), Corner("b", 10.0, 0.0)))
    assert tape_of(row, 5.0, 0.05).ties == ()
    assert len(tape_of(row, 5.0, 4.0).ties) == 2
    assert tape_of(Job("j"), 1.0, 1.0).baseline is None


def test_ends_say_that_the_line_may_go_on_unless_its_end_was_seen() -> None:
    first, *_, last = plan(STRAIGHT).marks
    assert first.kind is last.kind is MarkKind.CENTRE
    assert "followed to here" in last.because
    seen = PaintedMark("m9", Place(21.0, 0.0), 2, "E1", MarkKind.END)
    first, *_, last = plan(STRAIGHT, job=replace(JOB, marks=(seen,))).marks
    assert (first.kind, last.kind) == (MarkKind.CENTRE, MarkKind.END)


def test_a_wide_band_is_a_corridor_as_wide_as_the_band() -> None:
    mark = plan(line("E1", [(2.0 * k, 0.0) for k in range(6)], half=0.7)).marks[2]
    assert mark.kind is MarkKind.CORRIDOR
    assert mark.edges is not None
    left, right = mark.edges  # the line runs east: left is north
    assert (left[1], right[1]) == pytest.approx((0.725, -0.725))
    assert mark.text.endswith("corridor")


def test_a_wide_structure_has_both_edges() -> None:
    duct = replace(JOB, lines=(replace(JOB.lines[0], outside_diameter_m=0.6),))
    mark = plan(STRAIGHT, job=duct).marks[3]
    assert mark.kind is MarkKind.EDGES
    assert mark.edges is not None
    assert math.dist(*mark.edges) == pytest.approx(0.6)


def test_a_shared_trench_is_a_corridor_over_its_lines() -> None:
    trench = replace(JOB, trenches=(Trench("J1", ("E1", "C1"), 0.5),))
    other = line("C1", [(1.5 * k, -0.9) for k in range(15)])
    mark = plan(STRAIGHT, other, job=trench).marks[3]
    assert mark.kind is MarkKind.CORRIDOR
    assert mark.edges is not None
    assert mark.edges[1][1] == pytest.approx(-0.9, abs=0.05)  # right, as far as the other line
    assert mark.edges[0][1] == pytest.approx(0.25, abs=0.05)  # left, half the trench
    assert "C1" in mark.because


@pytest.mark.parametrize(
    ("offset", "chance", "is_line", "kind"),
    [
        (0.2, 0.9, None, MarkKind.CORRIDOR),
        (0.2, 0.1, None, MarkKind.CENTRE),
        (1.2, 0.9, None, MarkKind.CENTRE),
        (0.2, 0.9, "C1", MarkKind.CENTRE),
    ],
)
def test_how_many_lines_is_not_known(
    offset: float, chance: float, is_line: str | None, kind: MarkKind
) -> None:
    band = Interval(offset, offset - 0.1, offset + 0.1)
    near = replace(STRAIGHT, neighbours=(Neighbour(0.0, 21.0, band, 0.7, -0.3, chance, is_line),))
    assert plan(near).marks[3].kind is kind


def test_a_tee_where_another_line_of_the_kind_ends() -> None:
    both = replace(JOB, lines=(*JOB.lines, Line("E2", Utility.ELECTRIC)))
    branch = line("E2", [(10.0, 0.1), (10.0, 3.0), (10.0, 6.0)])
    tees = [m for m in plan(STRAIGHT, branch, job=both).marks if m.kind is MarkKind.TEE]
    assert [(m.line, round(m.easting_m)) for m in tees] == [("E1", 10)]


def test_an_offset_mark_points_back_at_the_line() -> None:
    marks = plan(STRAIGHT, no_paint=[NoPaint("E1", 4.0, 8.0, 1.5)]).marks
    moved = [m for m in marks if m.kind is MarkKind.OFFSET]
    assert [m.chainage_m for m in moved] == [c for c in (m.chainage_m for m in marks) if 4.0 <= c <= 8.0]
    for mark in moved:
        shown = PaintedMark(
            "x",
            Place(mark.easting_m, mark.northing_m),
            1,
            toward_deg=mark.toward_deg,
            distance_m=mark.distance_m,
        ).shows
        assert mark.northing_m < -1.3  # right of a line that runs east
        assert shown[1] == pytest.approx(0.0, abs=0.05)


def test_painted_marks_are_compared_and_left_as_they_are() -> None:
    marks = (
        PaintedMark("m1", Place(6.0, 0.05), 2, "E1"),
        PaintedMark("m2", Place(6.0, -0.40), 3, "E1"),
        PaintedMark("m3", Place(6.0, 2.0), 4, "E1", MarkKind.OFFSET, toward_deg=180.0, distance_m=2.0),
        PaintedMark("m4", Place(6.0, 5.0), 5, "E1", state=MarkState.GONE),
        PaintedMark("m5", Place(6.0, 5.0), 6, None, colour="white"),
    )
    job = replace(JOB, marks=marks)
    found = {d.mark: d for d in plan(line("E1", [(2.0 * k, 0.0) for k in range(8)]), job=job).differences}
    assert set(found) == {"m1", "m2", "m3"}
    assert found["m1"].beside_m == pytest.approx(-0.05)  # north of a line that runs east is left
    assert found["m1"].in_band
    assert found["m2"].beside_m == pytest.approx(0.40)
    assert not found["m2"].in_band
    assert found["m3"].beside_m == pytest.approx(0.0)
    assert job.marks == marks


def test_nothing_to_mark_is_said() -> None:
    said = plan(LineEstimate("E1", Identity.NOT_KNOWN, (), ()))
    assert said.marks == ()
    assert "could not locate" in said.remarks[0].what


def test_one_place_alone() -> None:
    (mark,) = plan(line("E1", [(4.0, 1.0)])).marks
    assert (mark.easting_m, mark.northing_m) == (4.0, 1.0)
    with pytest.raises(ValueError, match="positive"):
        plan(STRAIGHT, spacing_m=0.0)


def test_a_thousand_marks_in_a_moment() -> None:
    long = line("E1", [(2.0 * k, 0.0) for k in range(1500)])
    assert len(plan(long).marks) == 1001


# -- told and drawn ----------------------------------------------------------------------------------------


def test_words_and_numbers_name_every_mark() -> None:
    job = replace(JOB, marks=(PaintedMark("m2", Place(6.0, -0.40), 3, "E1"),))
    found = plan(BENT, job=job)
    said = marks_text(job, found)
    assert all(len(row) < 80 for row in said.splitlines())
    for mark in found.marks:
        assert f"\n  {mark.number}. " in said
    assert "m2 (E1, 6.0 m along): 0.40 m right of the line as computed" in " ".join(said.split())
    assert said.count("Unmarked does not mean empty") == 1
    assert b'"format":"plumbmark-marks/1"' in marks_bytes(job, found)


def test_the_sketch_is_to_scale() -> None:
    job = replace(JOB, digs=(Dig("d", DigKind.TRENCH, (((4.0, -3.0), (4.0, 3.0)),), 0.6, width_m=0.3),))
    solution = Solution("j", (BENT,), None)
    found = plan_marks(job, solution)
    drawn = sketch_svg(job, solution, found)
    assert drawn == sketch_svg(job, solution, found)
    root = ElementTree.fromstring(drawn)
    space = "{http://www.w3.org/2000/svg}"
    assert root.get("width") == "190mm"
    scale = int(root.get("aria-label", "").split("1:")[1].replace(",", ""))
    (path,) = [p.get("d", "") for p in root.iter(f"{space}path") if p.get("class") == "core"]
    points = [tuple(map(float, pair.split())) for pair in path[1:].split("L")]
    assert math.dist(points[0], points[5]) == pytest.approx(10_000 / scale, abs=0.02)  # 10 m on the ground
    texts = [t.text or "" for t in root.iter(f"{space}text")]
    assert "trench d, planned" in texts
    assert {"house-NE", "house-NW", "N", "grid north"} <= set(texts)
    for mark in found.marks:
        assert f"E1-{mark.number}" in texts
    assert not any("0.90" in text or "0.75" in text for text in texts)  # no depth on it


def test_the_table_tells_the_side_of_the_baseline() -> None:
    line_of_two = line(
        "E1", [(3.0, -2.0 + 0.9), (6.0, -2.0 - 0.9)]
    )  # left, then right, of a baseline going east
    solution = Solution("j", (line_of_two,), None)
    drawn = sketch_svg(JOB, solution, plan_marks(JOB, solution, spacing_m=10.0))
    texts = [t.text or "" for t in ElementTree.fromstring(drawn).iter("{http://www.w3.org/2000/svg}text")]
    assert texts.index("0.90 m left") < texts.index("0.90 m right")


def test_a_sketch_of_nothing_is_still_a_sketch() -> None:
    empty = Solution("j", (), None)
    drawn = sketch_svg(Job("j<&>"), empty, plan_marks(Job("j<&>"), empty))
    ElementTree.fromstring(drawn)
