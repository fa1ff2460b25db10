"""The sections of a report that tell what was written down: readings, hook-ups, test holes."""

from __future__ import annotations

from collections.abc import Sequence

from plumbmark import __version__
from plumbmark.handover import answer, words
from plumbmark.handover.report_blocks import Audience, Block, Facts, Section, Table, Tone, Words
from plumbmark.handover.report_depth import Reader, may_have_band
from plumbmark.model.estimate import Interval, Solution
from plumbmark.model.finding import Finding
from plumbmark.model.job import Job
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Reading, TestHole
from plumbmark.survey.transform import system_words

_LISTED = 3000
_WARNINGS = 100


def job_facts(job: Job, reader: Reader, digest: str) -> Facts:
    """What the report is about and what it was made from."""
    system = system_words(job.crs)
    foot = "; feet are 0.3048 m exactly" if job.display_units == "ft-in" else ""
    people = sorted({r.by for r in job.readings if r.by})
    rows = [
        ("Job", f"{job.id}: {job.title}" if job.title else job.id),
        ("For", {"crew": "the crew's own record"}.get(reader.audience.value, f"the {reader.audience.value}")),
        ("Read", answer.taken_on(job).removeprefix("Read ") or "not written down"),
        ("Read by", ", ".join(people) or "not written down"),
        ("Places", f"{system.code}: {system.name}, in metres{foot}"),
        ("Datum", system.datum),
        ("Input", f"SHA-256 {digest}"),
        ("Made by", f"plumbmark {__version__}"),
    ]
    if reader.owner:
        rows.insert(2, ("Owner", reader.owner))
    return Facts(tuple(rows))


def _written(value: Measured | None, units: str) -> str:
    return "" if value is None else answer.shown(value.value, value.half_range, units)


def _signed(value: Measured | None, units: str) -> str:
    """A gap with its side."""
    if value is None:
        return ""
    if value.half_range:
        return words.sideways(Interval(value.value, value.low, value.high), units, "same place")
    if abs(value.value) < 0.5 * words.step_m(0.0, units):
        return "same place"
    return f"{words.length(value.value, units)} {'right' if value.value > 0 else 'left'}"


def readings_section(job: Job, solution: Solution, reader: Reader) -> Section | None:
    """Readings as they were written down, whatever became of them."""
    if reader.audience is Audience.EXCAVATOR or not job.readings:
        return None
    blocks: list[Block] = []
    for line in job.lines:
        if not may_have_band(reader, job, line.id):
            continue
        rows = [r for r in job.readings if r.line == line.id]
        if not rows:
            continue
        blocks.append(Words(answer.line_name(job, line.id), Tone.STRONG))
        blocks.append(_readings(rows[:_LISTED], job.display_units))
        if len(rows) > _LISTED:
            blocks.append(Words(f"{_LISTED:,} of {len(rows):,} readings are listed.", Tone.NOTE))
    if not blocks:
        return None
    blocks.append(
        Words("As displayed and written down; none of these is an estimate. Blank: not taken.", Tone.NOTE)
    )
    return Section("Readings", tuple(blocks))


def _readings(rows: Sequence[Reading], units: str) -> Table:
    head = (
        "reading",
        "taken",
        "by",
        "mark by",
        "null",
        "half, left / right",
        "depth",
        "current, mA",
        "raised",
        "note",
    )
    body = []
    for r in rows:
        halves = [_written(x, units) for x in (r.half_left_m, r.half_right_m)]
        raised = (
            f"by {_written(r.raised_by_m, units)}: {_written(r.raised_depth_m, units)}"
            if r.raised_by_m
            else ""
        )
        depth = "refused" if r.depth_refused else _written(r.depth_m, units)
        body.append(
            (
                r.id,
                r.taken_at.isoformat(" ", "minutes") if r.taken_at else "",
                r.by,
                r.mark_by.value,
                _signed(r.null_offset_m, units),
                " / ".join(halves) if any(halves) else "",
                depth,
                "" if r.current_a is None else f"{1e3 * r.current_a.value:g}",
                raised,
                r.note,
            )
        )
    widths = (1.0, 1.8, 0.9, 0.9, 1.0, 1.4, 1.1, 1.0, 1.7, 1.6)
    return Table(head, tuple(body), widths).filled()


def hookup_section(job: Job, reader: Reader) -> Section | None:
    """How the signal was put on each line, and by what it was read."""
    if reader.audience is Audience.EXCAVATOR:
        return None
    rows = []
    for line in job.lines:
        for setup in line.setups:
            hz = setup.frequency_hz
            frequency = "" if hz is None else f"{hz / 1000:g} kHz" if hz >= 1000 else f"{hz:g} Hz"
            rows.append(
                (
                    line.id,
                    setup.id,
                    setup.hookup.value if setup.hookup else "not written down",
                    frequency or "not written down",
                    setup.receiver or "not written down",
                    line.material or "",
                    line.owner or "",
                )
            )
    table = Table(
        ("line", "setup", "hook-up", "frequency", "receiver", "material", "owner"),
        tuple(rows),
        (0.8, 0.8, 1.2, 1.2, 1.2, 1.2, 1.6),
    ).filled()
    soil = job.soil.resistivity_ohm_m
    said = (
        "Soil: not measured; its effect is in the bands."
        if soil is None
        else f"Soil: {soil:g} ohm metres as given."
    )
    coils = [
        f"Receiver {r.id}: lower coil {_or_unknown(r.lower_coil_height_m)} above its foot, coils "
        f"{_or_unknown(r.coil_spacing_m)} apart, null by {r.null_kind.value}."
        for r in job.receivers
    ]
    return Section("Hook-ups and settings", (table, Words(" ".join([said, *coils]))))


def _or_unknown(value: float | None) -> str:
    return "not known" if value is None else f"{value:.3g} m"


def holes_section(job: Job, reader: Reader) -> Section | None:
    """Test holes that were dug."""
    if not job.test_holes:
        return None
    rows = [
        (
            h.id,
            h.line,
            "seen" if h.found else "not there",
            _hole_depth(h, job, reader),
            h.proved,
            f"{h.place.easting_m:.2f}",
            f"{h.place.northing_m:.2f}",
        )
        for h in job.test_holes[:_LISTED]
    ]
    head = ("test hole", "line", "found", "top, or dug to", "proved", "easting, m", "northing, m")
    return Section("Test holes dug", (Table(head, tuple(rows), (1.0, 0.8, 1.0, 1.4, 2.2, 1.3, 1.4)),))


def _hole_depth(hole: TestHole, job: Job, reader: Reader) -> str:
    if not may_have_band(reader, job, hole.line):
        return "not given here"
    return _written(hole.depth_to_top_m if hole.found else hole.dug_to_m, job.display_units)


def warnings_section(warnings: Sequence[Finding]) -> Section | None:
    """What the files left open."""
    if not warnings:
        return None
    rows = tuple((w.where, words.sentence(w.what)) for w in warnings[:_WARNINGS])
    blocks: list[Block] = [Table(("where", "what"), rows, (1.0, 2.5))]
    if len(warnings) > _WARNINGS:
        blocks.append(Words(f"And {len(warnings) - _WARNINGS:,} more, on the terminal.", Tone.NOTE))
    return Section("What the files left open", tuple(blocks))
