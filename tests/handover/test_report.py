"""The report: who is told what, the same bytes again, drawings at their scale, words that stay words."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from plumbmark.handover import answer, words
from plumbmark.handover.report import Extras, make_report
from plumbmark.handover.report_blocks import (
    Audience,
    Drawing,
    Photograph,
    Report,
    Section,
    Signatures,
    Table,
    Words,
)
from plumbmark.handover.report_depth import Reader
from plumbmark.handover.report_html import report_html
from plumbmark.handover.report_pdf import report_pdf
from plumbmark.handover.report_plan import plan_drawings, scales
from plumbmark.model.clearance import (
    ClearanceAnswer,
    Demand,
    DigAnswer,
    Encounter,
    HoleAdvice,
    Met,
    StretchAnswer,
    Zone,
    ZoneRule,
)
from plumbmark.model.estimate import Interval, Solution
from plumbmark.model.job import Job

DIGEST = "ab" * 32


def said(report: Report) -> str:
    """Every word of a report, drawings and their captions with them."""
    return report_html(report)


def made(case: tuple[Job, Solution], **reader: Any) -> Report:
    return make_report(*case, digest=DIGEST, reader=Reader(**reader))


def owned(case: tuple[Job, Solution], *owners: str) -> tuple[Job, Solution]:
    job, solution = case
    lines = tuple(replace(line, owner=o) for line, o in zip(job.lines, owners, strict=False))
    return replace(job, lines=lines + job.lines[len(owners) :]), solution


def pdf_text(data: bytes, tmp_path: Path) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed (Debian: poppler-utils)")
    path = tmp_path / "report.pdf"
    path.write_bytes(data)
    found = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True)
    return found.stdout


def test_the_crew_has_everything(invented: Any) -> None:
    text = said(made(invented()))
    for heading in (
        "What was found",
        "Plan",
        "Along each line",
        "The places",
        "Readings",
        "Reasons",
        "Signatures",
    ):
        assert f"<h2>{heading}</h2>" in text, heading
    assert DIGEST in text
    assert "an estimate" in text
    assert "Test hole" in text
    assert "black cable, one inch" in text


def depths(case: tuple[Job, Solution]) -> list[str]:
    """Every way in which the depth of a place is told, and what was displayed."""
    job, solution = case
    units = job.display_units
    found = [words.depth(s.depth_m, units) for line in solution.lines for s in line.stations]
    found += [words.length(r.depth_m.value, units) for r in job.readings if r.depth_m]
    return found


def test_an_excavator_has_no_depth_of_any_line(three_lines: Any) -> None:
    for units in ("ft-in", "m"):
        case = (replace(three_lines[0], display_units=units), three_lines[1])
        text = said(made(case, audience=Audience.EXCAVATOR))
        # A bare length could as well be a distance in plan; in a cell of its own it would be a depth.
        told = [d for d in depths(case) if (d in text if "(" in d else f">{d}</td>" in text)]
        assert told == []
        assert "depth to the middle" not in text
        planned = re.sub(r"excavation dig-1, [^<]* deep", "", text)  # how deep will be dug is no secret
        assert " deep" not in planned
        assert "No depths are given here" in text
        for heading in ("Along each line", "Readings", "Reasons", "Hook-ups and settings"):
            assert f"<h2>{heading}</h2>" not in text


def test_the_search_for_depths_finds_them(three_lines: Any) -> None:
    text = said(made(three_lines))
    assert all(d in text for d in depths(three_lines))


def test_a_depth_that_is_allowed_is_the_shallow_end_of_the_top(invented: Any) -> None:
    job, solution = invented(3, units="m")
    text = said(made((job, solution), audience=Audience.EXCAVATOR, allowed=frozenset({"E1"})))
    station = solution.lines[0].stations[1]
    expected = int(100 * (station.depth_m.low - 0.015)) / 100
    assert f">{expected:.2f} m</td>" in text
    assert "top may be as shallow as" in text
    assert words.depth(station.depth_m, "m") not in text


@pytest.mark.parametrize(
    ("owner", "told", "kept"), [("North Power", "E1", "G1"), ("Gas Board", "G1", "E1"), (None, None, "E1")]
)
def test_an_owner_has_the_depths_of_its_own_lines(
    three_lines: Any, owner: str | None, told: str | None, kept: str
) -> None:
    case = owned(three_lines, "North Power", "Gas Board")
    text = said(made(case, audience=Audience.OWNER, owner=owner))
    by_line = {line.line: line for line in case[1].lines}

    def those(name: str) -> list[str]:
        return [words.depth(s.depth_m, "ft-in") for s in by_line[name].stations]

    only_kept = set(those(kept)) - set(those("G1" if kept == "E1" else "E1"))
    assert not any(d in text for d in only_kept)
    if told:
        assert all(d in text for d in those(told))
    assert f"No depths are given here for {kept}" in text


def test_a_lone_owner_need_not_be_named(invented: Any) -> None:
    case = owned(invented(4), "North Power")
    text = said(made(case, audience=Audience.OWNER))
    assert all(d in text for d in depths(case))


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("units", ["ft-in", "m"])
def test_the_same_report_is_the_same_bytes(invented: Any, paper: str, units: str) -> None:
    case = invented(6, units=units)
    first, second = (report_pdf(made(case), paper) for _ in range(2))
    assert first == second
    assert first.startswith(b"%PDF")
    assert b"pdfaid" in first  # it says of itself that it is made for keeping
    assert report_html(made(case)) == report_html(made(case))


def test_words_of_a_job_stay_words(invented: Any, tmp_path: Path) -> None:
    job, solution = invented(3)
    nasty = "#panic() $x$ *b* <script>alert(1)</script> & \\ @r `raw` ä ő Ж ế"
    job = replace(job, title=nasty, readings=(replace(job.readings[0], note=nasty), *job.readings[1:]))
    report = made((job, solution))
    html = report_html(report)
    assert "<script" not in html
    assert "&lt;script&gt;" in html
    text = pdf_text(report_pdf(report), tmp_path)
    assert "#panic() $x$ *b* <script>alert(1)</script> & \\ @r `raw` ä ő Ж ế" in " ".join(text.split())


def test_every_page_says_what_must_not_be_forgotten(invented: Any, tmp_path: Path) -> None:
    text = pdf_text(report_pdf(made(invented())), tmp_path)
    pages = text.split("\f")[:-1]
    assert len(pages) > 3
    for number, page in enumerate(pages, 1):
        assert "Depth is an estimate. Hand dig or vacuum in the tolerance zone." in page
        assert f"Page {number} of {len(pages)}" in page
        assert f"input {DIGEST[:12]}" in page


def test_the_plan_is_at_the_scale_it_says(invented: Any) -> None:
    """The test hole and the dig's corner, 10 m apart on the ground, on paper at the stated scale."""
    for units in ("m", "ft-in"):
        case = invented(units=units)
        (plan,) = plan_drawings(*case, None)
        ratio = float(re.search(r"1:([\d,]+)", plan.caption)[1].replace(",", ""))  # type: ignore[index]
        signs = re.findall(r'translate\(([\d.]+) ([\d.]+)\)"><path class="k mark', plan.svg)
        assert len(signs) == 14
        a, b = (tuple(map(float, signs[i])) for i in (0, 13))
        first, last = (case[1].lines[0].stations[i] for i in (0, 13))
        ground = (
            (last.mark_easting_m - first.mark_easting_m) ** 2
            + (last.mark_northing_m - first.mark_northing_m) ** 2
        ) ** 0.5
        units_wide = float(re.search(r'viewBox="0 0 ([\d.]+)', plan.svg)[1])  # type: ignore[index]
        paper_mm = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5 * plan.width_mm / units_wide
        assert paper_mm == pytest.approx(1000 * ground / ratio, abs=0.1)


def test_scales_are_round() -> None:
    assert [s.said for s in scales("m")[:4]] == ["1:20", "1:25", "1:50", "1:100"]
    assert scales("ft-in")[3].said == "1 in = 5 ft (1:60)"


def test_a_long_line_has_sheets_on_which_every_place_is(invented: Any) -> None:
    case = invented(200, 2.0)
    whole, *sheets = plan_drawings(*case, None)
    assert 2 <= len(sheets) <= 12
    assert "Sheet 1 of" in sheets[0].caption
    shown = 0
    for sheet in sheets:
        height = float(re.search(r'viewBox="0 0 [\d.]+ ([\d.]+)', sheet.svg)[1])  # type: ignore[index]
        for x, y in re.findall(r'translate\((-?[\d.]+) (-?[\d.]+)\)"><path class="k mark', sheet.svg):
            shown += 0 < float(x) < 880 and 0 < float(y) < height
    assert shown >= 200
    assert isinstance(whole, Drawing)


def test_a_job_with_nothing_to_solve_is_a_report(invented: Any) -> None:
    job, solution = invented(0)
    text = said(made((job, solution)))
    assert "no place to solve" in text
    assert report_pdf(made((job, solution)))


def test_photographs_are_shown_without_what_else_is_in_them(invented: Any, tmp_path: Path) -> None:
    from PIL import Image

    from plumbmark.exchange.photographs import read_photographs

    folder = tmp_path / "photos"
    folder.mkdir()
    exif = Image.Exif()
    exif[0x010F] = "maker-of-the-camera"
    exif[0x0112] = 6  # taken on its side
    Image.new("RGB", (2400, 1200), (200, 40, 40)).save(folder / "b.jpg", exif=exif)
    Image.new("RGBA", (10, 10)).save(folder / "a.png")
    (folder / "c.jpg").write_bytes(b"no picture")
    found, findings = read_photographs(tmp_path)
    assert [name for name, _ in found] == ["a.png", "b.jpg"]
    assert [f.where for f in findings] == ["photos/c.jpg"]
    picture = found[1][1]
    assert b"maker-of-the-camera" not in picture
    assert Image.open(io.BytesIO(picture)).size == (800, 1600)
    shown = tuple(Photograph(name, data, f"{name} <caption>") for name, data in found)
    report = make_report(*invented(3), digest=DIGEST, extras=Extras(photographs=shown))
    html = report_html(report)
    assert html.count('src="data:image/jpeg;base64,') == 2
    assert "b.jpg &lt;caption&gt;" in html
    assert report_pdf(report) == report_pdf(report)


def test_readings_are_told_as_written(invented: Any) -> None:
    job, solution = invented(3, units="m")
    taken = datetime.fromisoformat("2024-05-06T08:08:00-05:00")
    job = replace(job, readings=(replace(job.readings[0], taken_at=taken, by="crew-2"), *job.readings[1:]))
    report = made((job, solution))
    (section,) = [s for s in report.sections if s.heading == "Readings"]
    (table,) = [b for b in section.blocks if isinstance(b, Table)]
    row = dict(zip(table.head, table.rows[0], strict=True))
    assert row["taken"] == "2024-05-06 08:08-05:00"
    assert row["by"] == "crew-2"
    assert row["depth"] == f"{job.readings[0].depth_m.value:.2f} m"
    assert "half, left / right" not in row  # nobody took it
    assert report.dated == int(taken.timestamp())


def test_sections_are_drawn_where_they_are_needed(invented: Any) -> None:
    job, solution = invented()
    (along,) = [s for s in made((job, solution)).sections if s.heading == "Along each line"]
    sections = [b for b in along.blocks if isinstance(b, Drawing) and b.width_mm < 90]
    worst = answer.worst(solution.lines[0])
    assert worst is not None
    assert len(sections) == 4
    assert any(f"reading {worst.id}:" in s.caption for s in sections)
    plain = replace(solution.lines[0], neighbours=())
    held = tuple(s for s in plain.stations if s.trust == "holds")
    holding = replace(solution, lines=(replace(plain, stations=held),))
    (along,) = [s for s in made((job, holding)).sections if s.heading == "Along each line"]
    assert [b for b in along.blocks if isinstance(b, Drawing) and b.width_mm < 90] == []


def test_who_signs(invented: Any) -> None:
    for audience in Audience:
        section: Section = made(invented(3), audience=audience).sections[-1]
        (signatures,) = section.blocks
        assert isinstance(signatures, Signatures)
        assert signatures.roles[0] == "Locator"


def test_nobody_is_told_a_machine_may_go_in(three_lines: Any) -> None:
    for audience in Audience:
        text = said(made(three_lines, audience=audience))
        assert "permits a machine inside it" in text
        assert "Unmarked does not mean empty." in text
        assert "Energised lines" in text


def test_pictures_need_no_colour(invented: Any) -> None:
    """Kinds of strokes differ in their dashes, so that a black and white print tells them apart."""
    from plumbmark.handover.report_paper import STYLE

    rules = dict(re.findall(r"([^{}]+)\{([^{}]+)\}", STYLE))
    dashes = [
        rules[kind].partition("stroke-dasharray:")[2] for kind in (".second .rim", ".record .rim", ".base")
    ]
    assert len({d.partition(";")[0] for d in dashes}) == 3
    assert "Words" in {
        type(b).__name__ for s in made(invented(3)).sections for b in s.blocks if isinstance(b, Words)
    }


def checked() -> ClearanceAnswer:
    """A clearance check written by hand, every kind of remark in it."""
    rule = ZoneRule("default", "18 in each side", 0.457, 0.3, "CGA 5.19", "from memory")
    ring = ((10.0, 1.0), (14.0, 1.0), (14.0, 6.0), (10.0, 6.0), (10.0, 1.0))
    met = Encounter(
        "dig-1",
        Met.LINE,
        "E1",
        "crossing",
        8.0,
        12.0,
        11.0,
        4.0,
        10.0,
        Interval(-0.1, -0.2, 0.0),
        Interval(0.51, 0.42, 0.63),
        0.3,
        0.2,
        0.05,
        False,
        False,
        Demand.TEST_HOLE,
        ("the zone of E1 meets the dig",),
    )
    stretches = tuple(
        StretchAnswer("dig-1", demand, ("E1",), (ring,), None, None, 20.0)
        for demand in (Demand.HAND_DIG, Demand.TEST_HOLE, Demand.NOT_KNOWN)
    )
    hole = HoleAdvice(
        1,
        "E1",
        10.0,
        11.0,
        4.0,
        180.0,
        Interval(0, -0.1, 0.1),
        Interval(0.71, 0.66, 0.83),
        0.9,
        ("expect 0.71 m",),
    )
    notes = (
        "E1 at r01: the top is 0.21 m down at most, less than the 0.61 m of a rule",
        "Record rec-1 has E1 up to 1.20 m to the right of where it was solved",
        "Stop: test hole T1 found E1 shallower than it was to be: the top at 0.37 m. Rely on nothing there",
        "Stop: test hole T2 found E1 0.40 m right of where it was to be. Rely on no number for E1 there",
    )
    zone = Zone("E1", 0.03, "as the job says", 0.472, (ring,), (ring,), ((0.0, 5.0),))
    dig = DigAnswer("dig-1", Demand.TEST_HOLE, ("not swept",), (met,), stretches)
    return ClearanceAnswer("alder-17", rule, 0.3, (dig,), (zone,), (hole,), ("owners were not asked",), notes)


def test_a_clearance_check_stands_in_the_report(invented: Any, tmp_path: Path) -> None:
    report = make_report(*invented(), digest=DIGEST, extras=Extras(clearance=checked()))
    text = said(report)
    for words_said in (
        "Dig dig-1: test hole first.",
        "Owners were not asked.",
        "18 in each side",
        "on its south side",
        "The lawful zone is narrower than what is known of E1",
        "0.37 m",
    ):
        assert words_said in text, words_said
    for hatched in ("hatch hand", "hatch hole", "hatch unknown", 'class="zone"', 'class="honest"'):
        assert hatched in text
    assert "Dig dig-1: test hole first." in pdf_text(report_pdf(report), tmp_path)


@pytest.mark.parametrize("units", ["m", "ft-in"])
def test_an_excavator_has_no_depth_from_the_clearance_check(invented: Any, units: str) -> None:
    case = invented(units=units)
    reader = Reader(Audience.EXCAVATOR)
    text = said(make_report(*case, digest=DIGEST, reader=reader, extras=Extras(clearance=checked())))
    secret = [0.21, 0.37, 0.42, 0.51, 0.63, 0.66, 0.71, 0.83]
    assert [x for x in secret if f">{words.length(x, units)}<" in text or f"{x:.2f} m" in text] == []
    assert "Stop: test hole T1 found E1 not where it was to be. Rely on nothing" in text
    assert "Stop: test hole T2" in text
    assert "Record rec-1" in text
    assert "Dig dig-1: test hole first." in text
    assert "By hand or vacuum" in text
