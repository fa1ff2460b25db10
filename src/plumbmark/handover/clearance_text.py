"""A clearance check as plain text, 79 columns wide: what the terminal shows."""

from __future__ import annotations

from collections.abc import Sequence

from plumbmark.handover import clearance_words as said
from plumbmark.handover import words
from plumbmark.handover.answer import is_invented
from plumbmark.handover.answer_text import wrapped
from plumbmark.model.clearance import ClearanceAnswer, DigAnswer
from plumbmark.model.job import Job


def clearance_text(job: Job, answer: ClearanceAnswer) -> str:
    """The whole answer: ticket and what is unanswered first, then each dig, then test holes.

    Parameters
    ----------
    job : Job
    answer : ClearanceAnswer
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
    if answer.about_ticket:
        blocks.append([wrapped(words.sentence(text)) for text in answer.unanswered[: answer.about_ticket]])
    blocks.append([wrapped(said.dig_headline(job, dig)) for dig in answer.digs])
    others = answer.unanswered[answer.about_ticket :]
    blocks.append(["Still unanswered, whatever stands below", *_items(others)])
    if answer.notes:
        blocks.append(["Notes", *_items(answer.notes)])
    for dig in answer.digs:
        blocks += _dig(job, dig)
    if answer.holes:
        blocks.append(["Test holes, in the order that settles most", wrapped(said.MINIMUM, "  ", "  ")])
        for hole in answer.holes:
            first, *rest = said.hole_lines(job, hole)
            blocks.append(
                [wrapped(first, "     ", "  "), *(wrapped(text, "     ", "     ") for text in rest)]
            )
    zones = [wrapped(said.zone_words(job, zone), "    ", "  ") for zone in answer.zones]
    blocks.append(["Zones", wrapped(said.rule_words(job, answer), "  ", "  "), *zones])
    blocks.append([wrapped(said.LEAST_SAID), wrapped(said.NO_MACHINE)])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _dig(job: Job, dig: DigAnswer) -> list[list[str]]:
    name = said.dig_name(job, dig.dig)
    blocks = [[wrapped(f"{name[0].upper()}{name[1:]}: {dig.demand.value}"), *_items(dig.because)]]
    blocks[0] += [wrapped(said.stretch_words(job, s), "    ", "  ") for s in said.listed(dig)]
    for encounter in dig.encounters:
        first, *rest = said.encounter_lines(job, encounter)
        blocks.append([wrapped(first, "    ", "  "), *(wrapped(text, "    ", "    ") for text in rest)])
    return blocks


def _items(lines: Sequence[str]) -> list[str]:
    return [wrapped(words.sentence(line), "    ", "  - ") for line in lines]
