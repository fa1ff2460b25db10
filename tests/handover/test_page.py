"""The picture page as a file: whole, self-contained, escaped, to scale, and small enough."""

from __future__ import annotations

import base64
import hashlib
import json
import math
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from plumbmark.handover.answer import faces_back
from plumbmark.handover.page import write_page
from plumbmark.handover.page_along import depth_and_current
from plumbmark.handover.page_plan import band_ends, beside, view_of
from plumbmark.handover.page_svg import colour_class, multiples, round_step
from plumbmark.model.estimate import Identity, Interval, LineEstimate, NextStep, Solution
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Job, Utility

EVIL = "<script>alert(1)</script>\"'>&\x1b[31m\x00</title></style><img src=x onerror=alert(2)>"
VOID = {"meta", "br", "img", "input", "link"}


class Outline(HTMLParser):
    """Elements in order, and whether every one that opens closes."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not {"script", "style"} & set(self.open):
            self.words.append(data)


def data_of(page: str) -> dict:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    return json.loads(found[1])


@pytest.mark.parametrize("count", [1, 2, 14])
@pytest.mark.parametrize("units", ["ft-in", "m"])
def test_well_formed_with_unique_ids(invented, count, units) -> None:
    outline = Outline(write_page(*invented(count, units=units)))
    assert outline.open == []
    ids = [attributes["id"] for _, attributes in outline.elements if "id" in attributes]
    assert len(ids) == len(set(ids))


def test_asks_for_nothing_from_anywhere(invented) -> None:
    page = write_page(*invented(14))
    outline = Outline(page)
    assert not [a for _, attributes in outline.elements for a in attributes if a in {"src", "href", "srcset"}]
    assert "url(" not in page
    assert "@import" not in page
    assert "default-src 'none'" in page


def test_only_our_own_script_may_run(invented) -> None:
    page = write_page(*invented(3))
    allowed = re.search(r"script-src 'sha256-([^']+)'", page)
    script = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    assert len(script) == 1
    assert allowed is not None
    assert base64.b64decode(allowed[1]) == hashlib.sha256(script[0].encode()).digest()


def test_what_people_wrote_stays_text(invented) -> None:
    job, solution = invented(12)
    line = solution.lines[0]
    stations = (replace(line.stations[0], because=(EVIL,), next_step=EVIL), *line.stations[1:])
    job = replace(
        job,
        title=EVIL,
        records=(replace(job.records[0], id=EVIL, utility=EVIL),),
        digs=(replace(job.digs[0], id=EVIL),),
        test_holes=(replace(job.test_holes[0], proved=EVIL),),
        findings=(Finding(Severity.WARNING, EVIL, EVIL),),
    )
    line = replace(line, identity_because=(EVIL,), stations=stations)
    page = write_page(job, replace(solution, lines=(line,), next_step=NextStep("x", EVIL)))
    outline = Outline(page)
    assert outline.open == []
    assert "img" not in {tag for tag, _ in outline.elements}
    assert [tag for tag, _ in outline.elements].count("script") == 2
    assert not any(key.startswith("on") for _, attributes in outline.elements for key in attributes)
    assert "\x1b" not in page
    assert "\x00" not in page
    assert any("alert(1)" in text for text in data_of(page)["texts"])


def test_every_number_is_on_the_page(invented) -> None:
    job, solution = invented(14)
    said = " ".join(" ".join(Outline(write_page(job, solution)).words).split())
    for station in solution.lines[0].stations:
        assert f"{station.easting_m:.2f}" in said
        assert f"{station.northing_m:.2f}" in said
    for text in (
        "2 ft 2 in to 4 ft 2 in",
        "9 in left",
        "8 to 16",
        "top at 2 ft 10 in; black cable, one inch.",
        "Peak and null agree within 1 in.",
        "column 'colour' is not known",
        "Next step. Set the receiver on a 12 in block",
        "Invented data: no such place.",
    ):
        assert text in said


def test_pictures_have_a_title_and_a_description(three_lines) -> None:
    outline = Outline(write_page(*three_lines))
    ids = {attributes.get("id") for _, attributes in outline.elements}
    pictures = [attributes for tag, attributes in outline.elements if tag == "svg"]
    assert len(pictures) == 5, "a plan, and two widths for each of two lines"
    for picture in pictures:
        assert picture["role"] == "img"
        assert set((picture["aria-labelledby"] or "").split()) <= ids


def test_the_band_is_drawn_to_scale(invented) -> None:
    """Twice the shift on the ground is twice the distance in the plan, square to the line."""
    job, solution = invented(14)
    view = view_of(job, solution)
    line = solution.lines[0]
    for station, back in zip(line.stations, faces_back(line), strict=True):
        left, right = band_ends(station, back=back)
        width = station.lateral_shift_m.high - station.lateral_shift_m.low
        assert math.dist(left, right) == pytest.approx(width, rel=1e-9)
        assert math.dist(view.at(*left), view.at(*right)) == pytest.approx(width * view.px_per_m, rel=1e-9)
        # The answer lies between them, as far along as its shift says.
        share = (station.lateral_shift_m.value - station.lateral_shift_m.low) / width
        if back:
            share = 1 - share
        for axis, value in enumerate((station.easting_m, station.northing_m)):
            assert left[axis] + share * (right[axis] - left[axis]) == pytest.approx(value, abs=1e-9)


def test_all_of_the_answer_is_in_the_picture(three_lines) -> None:
    job, solution = three_lines
    view = view_of(job, solution)
    for line in solution.lines:
        for s in line.stations:
            for east, north in ((s.easting_m, s.northing_m), (s.mark_easting_m, s.mark_northing_m)):
                x, y = view.at(east, north)
                assert 0 < x < 380
                assert 0 < y < view.height


def test_a_second_line_runs_on_its_side_at_its_distance(invented) -> None:
    _, solution = invented(14)
    line = solution.lines[0]
    neighbour = line.neighbours[0]
    points = beside(line, neighbour, neighbour.offset_m.value)
    first = line.stations[0]
    assert math.dist(points[0], (first.easting_m, first.northing_m)) == pytest.approx(0.82, abs=1e-9)
    # The line runs nearly east, so its right is south.
    assert points[0][1] < first.northing_m
    length = sum(math.dist(a, b) for a, b in pairwise(points))
    assert length == pytest.approx(neighbour.to_chainage_m - neighbour.from_chainage_m, rel=0.02)


def test_thinning_never_narrows_a_band(invented) -> None:
    _, solution = invented(5000, 0.5)
    line = solution.lines[0]
    depth, _ = depth_and_current(line)
    assert len(depth.chainage_m) == 300
    assert min(depth.low) == min(s.depth_m.low for s in line.stations)
    assert max(depth.high) == max(s.depth_m.high for s in line.stations)


def test_a_huge_job_stays_under_five_megabytes_and_says_what_is_left_out(invented) -> None:
    job, solution = invented(20_000, 0.5)
    page = write_page(job, solution)
    assert len(page.encode()) < 5_000_000
    assert "3,000 of 20,000 places are listed" in page
    data = data_of(page)
    assert sum(len(line["stations"]) for line in data["lines"]) == 3000


def test_opens_at_the_worst_reading(invented) -> None:
    job, solution = invented(14)
    stations = list(solution.lines[0].stations)
    stations[9] = replace(stations[9], within_10_probability=0.05)
    page = write_page(job, replace(solution, lines=(replace(solution.lines[0], stations=tuple(stations)),)))
    assert data_of(page)["worst"] == 9


def test_nothing_to_solve_still_gives_a_page(invented) -> None:
    job, _ = invented(2)
    empty = LineEstimate("E1", Identity.NOT_KNOWN, (), ())
    for solution in (Solution(job.id, (empty,), None), Solution(job.id, (), None)):
        outline = Outline(write_page(job, solution))
        assert outline.open == []
        assert "svg" not in {tag for tag, _ in outline.elements}
    Outline(write_page(Job("bare"), Solution("bare", (), None)))


def test_many_lines_of_one_reading(invented) -> None:
    made = [invented(1, name=f"G{k}", north_m=0.7 * k + 0.01) for k in range(40)]
    job, solution = invented(1)
    job = replace(job, lines=tuple(j.lines[0] for j, _ in made))
    page = write_page(job, replace(solution, lines=tuple(s.lines[0] for _, s in made)))
    assert Outline(page).open == []
    assert page.count("<details") >= 40


def test_hopeless_bands_are_drawn(invented) -> None:
    job, solution = invented(9)
    line = solution.lines[0]
    stations = list(line.stations)
    stations[4] = replace(
        stations[4],
        depth_m=Interval(1.2, 0.0, 50.0),
        lateral_shift_m=Interval(0.0, -20.0, 20.0),
        current_a=Interval(0.01, 0.0, 100.0),
    )
    page = write_page(job, replace(solution, lines=(replace(line, stations=tuple(stations)),)))
    assert "nan" not in page.lower().replace("nand", "")
    assert "0 to 165 ft" in page  # 50 m is 164.04 ft, and ends are rounded outward


@pytest.mark.parametrize("utility", list(Utility))
def test_every_utility_has_a_colour_but_the_unknown(utility: Utility) -> None:
    assert (colour_class(utility.value) == "u-none") == (utility is Utility.UNKNOWN)


def test_colour_code() -> None:
    """Uniform colour code, ANSI Z535.1 as one-call pages print it."""
    code = {"electric": "red", "gas": "yellow", "communications": "orange", "water": "blue", "sewer": "green"}
    assert {name: colour_class(name).removeprefix("u-") for name in code} == code
    assert colour_class("reclaimed") == colour_class("irrigation") == "u-purple"
    assert colour_class("treacle") == colour_class(None) == "u-none"


def test_round_steps() -> None:
    assert [round_step(span, 5) for span in (1.0, 4.0, 30.0, 0.07)] == pytest.approx([0.2, 1.0, 10.0, 0.02])
    assert multiples(0.3, 2.1, 0.5) == pytest.approx([0.5, 1.0, 1.5, 2.0])
