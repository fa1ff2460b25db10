"""Marks in words: what to paint in the order walked, and what was painted against it."""

from __future__ import annotations

from typing import Final

from plumbmark.handover import words
from plumbmark.handover.answer import is_invented, line_name
from plumbmark.handover.answer_text import wrapped
from plumbmark.handover.tape import place_words, tape_words
from plumbmark.model.finding import Finding
from plumbmark.model.job import Job
from plumbmark.model.mark import Mark, MarkDifference, MarkKind, MarkPlan

CAUTION: Final = (
    "Paint tells where a line is in plan, to within its band, and never how deep. Unmarked does not mean "
    "empty. Marks last as long as the ticket; what disturbs them calls for new ones."
)


def mark_words(job: Job, mark: Mark) -> str:
    """Where a mark stands, found again by tape."""
    return tape_words(job, mark.tape) or place_words(job, mark.easting_m, mark.northing_m)


def kind_words(job: Job, mark: Mark) -> str:
    """What kind of mark to paint."""
    units = job.display_units
    if mark.kind is MarkKind.OFFSET and mark.toward_deg is not None and mark.distance_m is not None:
        return (
            f"offset mark: arrow toward {mark.toward_deg:.0f} degrees, "
            f"{words.length(mark.distance_m, units)} to the middle of the line"
        )
    if mark.edges is not None:
        (e1, n1), (e2, n2) = mark.edges
        wide = words.length(((e1 - e2) ** 2 + (n1 - n2) ** 2) ** 0.5, units)
        name = "corridor mark" if mark.kind is MarkKind.CORRIDOR else "centre and both edges"
        return f"{name}, {wide} wide"
    if mark.kind is MarkKind.TEE:
        return "centre mark and tee"
    return f"{mark.kind.value} mark"


def difference_words(job: Job, difference: MarkDifference) -> str:
    """How a painted mark compares with the line as computed now."""
    units = job.display_units
    off = difference.beside_m
    where = "on the line as computed"
    if abs(off) >= 0.03:
        side = "right" if off > 0 else "left"
        where = f"{words.length(abs(off), units)} {side} of the line as computed, seen toward larger chainage"
    verdict = (
        "inside the band"
        if difference.in_band
        else "outside the band that holds the line 19 times in 20: paint anew, or read the line again"
    )
    along = words.along(difference.chainage_m, units)
    return f"{difference.mark} ({difference.line}, {along} along): {where}, {verdict}."


def marks_text(job: Job, plan: MarkPlan) -> str:
    """What to paint, and what was painted.

    Parameters
    ----------
    job : Job
    plan : MarkPlan
        Of this job.

    Returns
    -------
    str
        Lines of 79 columns at most, ending in a line feed.
    """
    head = [wrapped(f"{job.id}: {job.title}" if job.title else job.id)]
    if is_invented(job):
        head.append("Invented data: no such place.")
    blocks = [head]
    if plan.remarks:
        blocks.append([wrapped(remark_words(remark), "    ", "  - ") for remark in plan.remarks])
    for line in dict.fromkeys(mark.line for mark in plan.marks):
        mine = [mark for mark in plan.marks if mark.line == line]
        many = words.count(len(mine), "mark")
        colour, text = mine[0].colour, mine[0].text
        head_line = f"{line_name(job, line)}: {many} in {colour}, in the order walked."
        block = [wrapped(f'{head_line} Write beside them: "{text}".')]
        for mark in mine:
            along = words.along(mark.chainage_m, job.display_units)
            said = f"{mark.number}. {along}: {mark_words(job, mark)}."
            block.append(wrapped(said, "     ", "  "))
            more = f"{kind_words(job, mark)} ({mark.because})."
            if mark.text != mine[0].text:
                more += f' Write: "{mark.text}".'
            block.append(wrapped(more[0].upper() + more[1:], "     ", "     "))
        blocks.append(block)
    if plan.differences:
        block = ["As painted, against what is computed now"]
        block += [wrapped(difference_words(job, d), "    ", "  ") for d in plan.differences]
        blocks.append(block)
    blocks.append([wrapped(CAUTION)])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def remark_words(remark: Finding) -> str:
    """A remark as a sentence."""
    return words.sentence(f"{remark.where[0].upper()}{remark.where[1:]}: {remark.what}")
