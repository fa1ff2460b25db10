"""The sections of a report that tell what to do on site: marks, the clearance check, quality."""

from __future__ import annotations

import re
from collections.abc import Sequence

from plumbmark.base.spoken import compass
from plumbmark.handover import words
from plumbmark.handover.quality_text import SUPPORTABLE
from plumbmark.handover.report_answer import CAUTION_EXCAVATOR
from plumbmark.handover.report_blocks import Audience, Block, Drawing, Facts, Section, Table, Tone, Words
from plumbmark.handover.report_depth import Reader, may_have_band
from plumbmark.model.clearance import ClearanceAnswer, DigAnswer, Encounter, HoleAdvice
from plumbmark.model.job import Job
from plumbmark.model.mark import Mark, MarkDifference, MarkPlan, PaintedMark
from plumbmark.model.quality import QualityClaim

_LISTED = 3000


def clearance_section(job: Job, check: ClearanceAnswer | None, reader: Reader) -> Section | None:
    """What each planned dig demands, and what is still unanswered."""
    if check is None:
        return None
    blocks: list[Block] = []
    if check.unanswered:
        blocks.append(Words("Still unanswered", Tone.STRONG))
        blocks += [Words(words.sentence(text)) for text in check.unanswered]
    for dig in check.digs:
        blocks.append(Words(f"Dig {dig.dig}: {dig.demand.value}.", Tone.LEAD))
        if dig.because:
            blocks.append(Words(" ".join(map(words.sentence, dig.because))))
        blocks += _encounters(job, dig, reader)
    rule = check.rule
    units = job.display_units
    blocks.append(
        Facts(
            (
                (
                    "Tolerance zone",
                    f"{rule.title}: the line's width and {words.length(rule.distance_m, units)} each side",
                ),
                ("Rule from", rule.source),
                ("Clearance asked for", f"{words.length(check.asked_m, units)} ({rule.clearance_source})"),
                *((("Note", rule.note),) if rule.note else ()),
            )
        )
    )
    narrow = [z.line for z in check.zones if z.narrow]
    if narrow:
        blocks.append(
            Words(
                f"The lawful zone is narrower than what is known of {', '.join(narrow)}: there the line can "
                "lie outside it. Go by the wider outline of the plan.",
                Tone.CAUTION,
            )
        )
    blocks.append(Words(CAUTION_EXCAVATOR, Tone.CAUTION))
    blocks += [Words(words.sentence(text), Tone.NOTE) for text in _notes(job, check, reader)]
    return Section("Clearance check", tuple(blocks), new_page=True)


_SURPRISE = re.compile(r"(Stop: test hole .+ found .+) (?:shallower|deeper) than it was to be: .*?(\. .*)")


def _notes(job: Job, check: ClearanceAnswer, reader: Reader) -> list[str]:
    """Remarks on plausibility, without those that hold a depth where one may not be told."""
    if all(may_have_band(reader, job, line.id) for line in job.lines):
        return list(check.notes)
    kept = []
    for text in check.notes:
        found = _SURPRISE.fullmatch(text)
        if found is not None:
            kept.append(f"{found[1]} not where it was to be{found[2]}")
        elif text.startswith(("Stop: ", "Record ")):
            kept.append(text)
    return kept


def _encounters(job: Job, dig: DigAnswer, reader: Reader) -> list[Block]:
    if not dig.encounters:
        return []
    units = job.display_units
    rows = [
        (
            met.name,
            met.shape,
            met.demand.value,
            _gap(met, units),
            _vertical(met, job, reader),
            " ".join(map(words.sentence, met.because)),
        )
        for met in dig.encounters
    ]
    head = ("line", "how", "demand", "beside it", "below the dig", "because")
    return [Table(head, tuple(rows), (0.9, 0.8, 1.1, 1.4, 1.4, 3.0))]


def _gap(met: Encounter, units: str) -> str:
    if met.horizontal_m.high <= 0:
        return "under or through it"
    return words.band(met.horizontal_m, units)


def _vertical(met: Encounter, job: Job, reader: Reader) -> str:
    if met.vertical_m is None:
        return "not known"
    if not may_have_band(reader, job, met.name):
        return "not given here"
    low, high = met.vertical_m.low, met.vertical_m.high
    if low <= 0.0:
        return "can be reached"
    return f"{words.length(low, job.display_units)} to {words.length(high, job.display_units)}"


def advised_holes_section(job: Job, check: ClearanceAnswer | None, reader: Reader) -> Section | None:
    """Test holes that would settle most, in order."""
    if check is None or not check.holes:
        return None
    rows = [_advice(job, hole, reader) for hole in check.holes]
    head = ("order", "line", "along", "easting, m", "northing, m", "begin", "top expected", "what to do")
    note = "The law and the owner set how many test holes there must be; these come on top."
    table = Table(head, tuple(rows), (0.6, 0.7, 0.8, 1.2, 1.3, 1.2, 1.5, 3.6))
    return Section("Test holes to dig", (table, Words(note, Tone.NOTE)))


def _advice(job: Job, hole: HoleAdvice, reader: Reader) -> tuple[str, ...]:
    units = job.display_units
    may = may_have_band(reader, job, hole.line)
    top = words.depth(hole.top_m, units) if may else "not given here"
    # The words tell the depth to expect; who may not have it is told to stop when the line is seen.
    todo = (
        " ".join(map(words.sentence, hole.words))
        if may
        else "By hand or vacuum, from the side, until the line is seen."
    )
    return (
        str(hole.number),
        hole.line,
        words.along(hole.chainage_m, units),
        f"{hole.easting_m:.2f}",
        f"{hole.northing_m:.2f}",
        f"on its {compass(hole.from_deg)} side",
        top,
        todo,
    )


def marks_section(job: Job, plan: MarkPlan | None, sketches: Sequence[Drawing]) -> Section | None:
    """Marks to paint, and marks as painted, which are kept apart."""
    blocks: list[Block] = list(sketches)
    if plan is not None and plan.marks:
        rows = tuple(_mark(m, job.display_units) for m in plan.marks[:_LISTED])
        head = ("mark", "kind", "colour", "along", "along the baseline", "two tapes", "write")
        blocks.append(Words("To paint", Tone.STRONG))
        blocks.append(Table(head, rows, (0.9, 0.9, 0.9, 0.8, 2.2, 2.6, 1.1)).filled())
    if job.marks:
        told = {d.mark: d for d in plan.differences} if plan is not None else {}
        as_painted = tuple(_painted(m, told.get(m.id), job.display_units) for m in job.marks[:_LISTED])
        names = ("mark", "line", "kind", "colour", "painted", "by", "state", "against the line now")
        blocks.append(Words("As painted", Tone.STRONG))
        blocks.append(Table(names, as_painted, (0.9, 0.8, 0.9, 0.9, 1.6, 1.0, 1.0, 2.4)).filled())
    if not blocks:
        return None
    if plan is not None:
        blocks += [Words(f"{r.where}: {r.what}.", Tone.NOTE) for r in plan.remarks]
    caution = Words(
        "Marks stand for the lines found, in plan. What is not marked may still be there. They serve "
        "until the ticket runs out, or until ground or lines change; ask for a re-mark where paint "
        "is gone.",
        Tone.CAUTION,
    )
    return Section("Marks", (caution, *blocks))


def _mark(mark: Mark, units: str) -> tuple[str, ...]:
    tape = mark.tape
    along = ""
    if tape.baseline is not None and tape.station_m is not None and tape.offset_m is not None:
        side = "right" if tape.offset_m >= 0 else "left"
        aside = words.length(tape.offset_m, units)
        along = f"{tape.baseline}: {words.length(tape.station_m, units)}, {aside} {side}"
    ties = ", ".join(f"{words.length(d, units)} from {corner}" for corner, d in tape.ties)
    if ties and tape.tie_side:
        ties += f", on the {tape.tie_side}"
    kind = mark.kind.value
    if mark.distance_m is not None and mark.toward_deg is not None:
        kind += f": line {words.length(mark.distance_m, units)} toward {mark.toward_deg % 360:.0f} degrees"
    name = f"{mark.line} {mark.number}"
    return name, kind, mark.colour, words.along(mark.chainage_m, units), along, ties, mark.text


def _painted(mark: PaintedMark, told: MarkDifference | None, units: str) -> tuple[str, ...]:
    against = ""
    if told is not None:
        side = "right" if told.beside_m > 0 else "left"
        against = f"{words.length(told.beside_m, units)} {side} of it"
        against += ", in its band" if told.in_band else ", outside its band: paint again or look again"
    return (
        mark.id,
        mark.line or "",
        mark.kind.value,
        mark.colour or "",
        mark.painted_at.isoformat(" ", "minutes") if mark.painted_at else "",
        mark.by,
        mark.state.value,
        against,
    )


def quality_section(job: Job, claims: Sequence[QualityClaim], reader: Reader) -> Section | None:
    """What each stretch may claim under published schemes, and why not more."""
    claims = [c for c in claims if may_have_band(reader, job, c.line)]
    if not claims or reader.audience is Audience.EXCAVATOR:
        return None
    rows = [
        (
            claim.line,
            f"{words.along(claim.from_chainage_m, job.display_units)} to "
            f"{words.along(claim.to_chainage_m, job.display_units)}",
            claim.supportable.scheme,
            (claim.supportable.level or "none")
            + (" (limits from memory)" if claim.supportable.from_memory else ""),
            " ".join(map(words.sentence, claim.supportable.why_not_more)),
        )
        for claim in claims[:_LISTED]
    ]
    head = ("line", "stretch", "scheme", "supportable", "why not more")
    table = Table(head, tuple(rows), (0.5, 1.1, 1.0, 1.1, 4.6))
    return Section("Quality", (Words(SUPPORTABLE), table))
