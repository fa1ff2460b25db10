"""Quality classes in plain text."""

from __future__ import annotations

from typing import Final

from plumbmark.base.datafile import read_data
from plumbmark.handover import words
from plumbmark.handover.answer import is_invented, line_name
from plumbmark.handover.answer_text import wrapped
from plumbmark.handover.quality import quality_claims
from plumbmark.model.estimate import Identity, Solution
from plumbmark.model.job import Job
from plumbmark.model.quality import QualityClaim

SUPPORTABLE: Final = (
    "These classes are supportable by what was read and written down. A qualified person judges and signs; "
    "this program claims none. Where a limit is from memory, check it against the text of the standard first."
)


def claim_words(job: Job, claim: QualityClaim) -> str:
    """A claim: stretch, class, why not more."""
    units = job.display_units
    a, b = words.along(claim.from_chainage_m, units), words.along(claim.to_chainage_m, units)
    where = f"at {a} along" if a == b else f"from {a} to {b} along"
    mine = claim.supportable
    level = mine.level if mine.level is not None else "no class"
    memory = " (limits from memory)" if mine.from_memory else ""
    why = " ".join(words.sentence(text) for text in mine.why_not_more)
    return f"{mine.scheme}: {level}{memory}, {where}. {why}".rstrip()


def quality_text(job: Job, solution: Solution) -> str:
    """What each stretch of a job may claim, and why not more.

    Parameters
    ----------
    job, solution : Job, Solution

    Returns
    -------
    str
        Lines of 79 columns at most, ending in a line feed.
    """
    head = [wrapped(f"{job.id}: {job.title}" if job.title else job.id)]
    if is_invented(job):
        head.append("Invented data: no such place.")
    blocks = [head, [wrapped(SUPPORTABLE)]]
    claims = quality_claims(job, solution)
    for estimate in solution.lines:
        block = [wrapped(f"{line_name(job, estimate.line)}:")]
        if not estimate.stations:
            block.append(wrapped("nothing was solved, so nothing can be claimed.", "  ", "  "))
        if estimate.identity is not Identity.PROVEN and estimate.stations:
            said = "likely" if estimate.identity is Identity.LIKELY else "not known"
            text = f"That it is {estimate.line} is {said}, not proven: a class holds for the line followed."
            block.append(wrapped(text, "  ", "  "))
        block += [wrapped(claim_words(job, c), "    ", "  ") for c in claims if c.line == estimate.line]
        blocks.append(block)
    sources = [f"{row['id']}: {row['title']}." for row in read_data("quality")["schemes"]]
    blocks.append(["Schemes", *(wrapped(text, "    ", "  ") for text in sources)])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"
