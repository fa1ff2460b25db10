"""A sweep as plain text, 79 columns wide: what the terminal shows."""

from __future__ import annotations

from collections.abc import Sequence

from plumbmark.handover import sweep_words as said
from plumbmark.handover.answer import is_invented
from plumbmark.handover.answer_text import wrapped
from plumbmark.model.job import Job
from plumbmark.model.sweep import MethodSweep, SweepAnswer


def sweep_text(job: Job, answer: SweepAnswer) -> str:
    """The whole answer: what to do, what was swept, gaps, further passes, what no signal means.

    Parameters
    ----------
    job : Job
    answer : SweepAnswer
        Of this job.

    Returns
    -------
    str
        Lines of 79 columns at most, ending in a line feed.
    """
    units = job.display_units
    rules, not_rules = said.RULES[answer.record is not None]
    head = [wrapped(f"{job.id}: {job.title}" if job.title else job.id)]
    if is_invented(job):
        head.append("Invented data: no such place.")
    blocks = [head, [wrapped(said.headline(answer, units))]]
    if answer.record is not None:
        blocks.append([wrapped(answer.record.says)])
        blocks.append(["Walked", *_table(answer.walked, units)])
    blocks.append(["As planned", *_table(answer.planned, units)])
    blocks.append([wrapped(said.SWEPT_MEANING), wrapped(said.NOTICED_MEANING)])
    for title, lines in (*said.gap_lists(answer, units), *said.further_lists(answer, units)):
        blocks.append([wrapped(title), *_items(lines)])
    blocks.append([wrapped(said.round_sentence(once, units)) for once in answer.rounds])
    blocks.append([f"No signal {rules}", *_items(answer.rules_out)])
    blocks.append([f"No signal {not_rules}", *_items(answer.cannot)])
    blocks.append([wrapped(said.NOT_NOTHING)])
    if answer.assumed:
        blocks.append(["Taken, as the job does not say it", *_items(answer.assumed)])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _items(lines: Sequence[str]) -> list[str]:
    return [wrapped(line, "    ", "  ") for line in lines]


def _table(sweeps: Sequence[MethodSweep], units: str) -> list[str]:
    rows = [said.HEAD, *(said.method_row(s, units) for s in sweeps)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return ["  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in rows]
