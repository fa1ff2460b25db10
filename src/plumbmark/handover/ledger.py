"""The ledger: every facility that was expected at a job, and what became of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from plumbmark.base.spoken import spoken_time
from plumbmark.handover.answer import line_name
from plumbmark.model.estimate import Identity, LineEstimate, Solution
from plumbmark.model.job import Job
from plumbmark.model.ticket import OwnerAnswer

NO_ANSWER = "no answer yet"


@dataclass(frozen=True, slots=True)
class Entry:
    """One facility: who or what says that it is there, and what became of it.

    `expected_by` is "ticket", "job" or "record". Words are empty where nothing was written down; times are in
    words, with their dates. `is_open`: something is still to come.
    """

    name: str
    expected_by: str
    became: str
    why: str = ""
    by: str = ""
    at: str = ""
    until: str = ""
    is_open: bool = True


def ledger(job: Job, solution: Solution | None) -> tuple[Entry, ...]:
    """Every owner that was asked, every line that was to be located, every record that nobody located.

    Parameters
    ----------
    job : Job
    solution : Solution or None
        None before there is one: then no line counts as followed.

    Returns
    -------
    tuple of Entry
        In that order. Dates are told and not compared with a clock.

    Examples
    --------
    >>> from plumbmark.model.job import Line, Utility
    >>> job = Job("j", lines=(Line("E1", Utility.ELECTRIC),), owners=(OwnerAnswer("Harbor Gas", 2, "gas"),))
    >>> [(entry.name, entry.became) for entry in ledger(job, None)]
    [('Harbor Gas, gas', 'no answer yet'), ('E1, electric', 'nothing was read of it')]
    """
    owners = tuple(map(_owner, job.owners))
    return (*owners, *_lines(job, solution), *_records(job, solution))


def _owner(owner: OwnerAnswer) -> Entry:
    return Entry(
        f"{owner.owner}, {owner.utility}" if owner.utility else owner.owner,
        "ticket",
        NO_ANSWER if owner.answer is None else owner.answer.value,
        "; ".join(text for text in (owner.why, owner.note) if text),
        owner.by,
        "" if owner.answered_at is None else spoken_time(owner.answered_at),
        "" if owner.until_at is None else spoken_time(owner.until_at),
        owner.is_open(),
    )


def _lines(job: Job, solution: Solution | None) -> Iterator[Entry]:
    solved = {estimate.line: estimate for estimate in solution.lines} if solution else {}
    for line in job.lines:
        estimate = solved.get(line.id)
        read = [r for r in job.readings if r.line == line.id]
        times = [r.taken_at for r in read if r.taken_at is not None]
        became, is_open = _followed(estimate)
        yield Entry(
            line_name(job, line.id),
            "job",
            became,
            f"of {line.owner}" if line.owner else "",
            ", ".join(sorted({r.by for r in read if r.by})),
            spoken_time(max(times)) if times else "",
            is_open=is_open,
        )


def _followed(estimate: LineEstimate | None) -> tuple[str, bool]:
    """What became of a line of the job, and whether that leaves something open."""
    if estimate is None or not estimate.stations:
        return "nothing was read of it", True
    count = len(estimate.stations)
    places = "1 place" if count == 1 else f"{count} places"
    is_open = estimate.identity is Identity.NOT_KNOWN
    return f"read at {places}; which line it is: {estimate.identity.value}", is_open


def _records(job: Job, solution: Solution | None) -> Iterator[Entry]:
    solved = {estimate.line for estimate in solution.lines if estimate.stations} if solution else set()
    for record in job.records:
        if record.line in solved:
            continue
        name = f"record {record.id}" + (f", {record.utility}" if record.utility else "")
        yield Entry(name, "record", "drawn and not located", record.source or "", at=record.date or "")
