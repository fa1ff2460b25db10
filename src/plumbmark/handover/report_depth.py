"""Who may be told a depth.

A depth is for the crew's own record. An owner has those of its own lines; an excavator has none unless the
owner of the line allows it, and then only how shallow its top may be.
"""

from __future__ import annotations

from dataclasses import dataclass

from plumbmark.handover import words
from plumbmark.handover.report_blocks import Audience
from plumbmark.model.estimate import LineEstimate, StationEstimate
from plumbmark.model.job import Job


@dataclass(frozen=True, slots=True)
class Reader:
    """For whom a report is made.

    Attributes
    ----------
    audience : Audience
    owner : str or None
        Name of the owner, where it is for one.
    allowed : frozenset of str
        Lines whose owners allow their depths to be given to an excavator.
    """

    audience: Audience = Audience.CREW
    owner: str | None = None
    allowed: frozenset[str] = frozenset()


def owners(job: Job) -> tuple[str, ...]:
    """Owners that the job names, each once."""
    return tuple(dict.fromkeys(line.owner for line in job.lines if line.owner))


def may_have_band(reader: Reader, job: Job, line: str) -> bool:
    """Whether the estimate of a line's depth and its band may be told."""
    if reader.audience is Audience.CREW:
        return True
    if reader.audience is Audience.EXCAVATOR:
        return False
    owner = next((x.owner for x in job.lines if x.id == line), None)
    if reader.owner is not None:
        return owner == reader.owner
    return len(owners(job)) <= 1


def may_have_top(reader: Reader, line: str) -> bool:
    """Whether an excavator may be told how shallow the top of a line may be."""
    return reader.audience is Audience.EXCAVATOR and line in reader.allowed


def shallow_top(station: StationEstimate, diameter_m: float | None, units: str) -> str:
    """How shallow the top of a line may be: the shallow end of its band, less half its width.

    Examples
    --------
    >>> from plumbmark.model.estimate import Interval, Trust
    >>> place = StationEstimate("reading", "1", 0, 0, 0, 0, 0, 0, Interval(0, 0, 0), Interval(0.9, 0.8, 1.1),
    ...     Interval(0.01, 0.01, 0.01), 1.0, 1.0, Trust.HOLDS, (), "")
    >>> shallow_top(place, 0.10, "m"), shallow_top(place, None, "m")
    ('0.75 m', 'not known: its size is not')
    """
    if diameter_m is None:
        return "not known: its size is not"
    top = station.depth_m.low - 0.5 * diameter_m
    step = words.step_m(0.0, units)
    return words.length(max(0.0, step * int(top / step + 1e-9)), units) if top > step else "at the ground"


def withheld(reader: Reader, job: Job, lines: tuple[LineEstimate, ...]) -> str:
    """Why depths are missing, in a sentence; empty where none are."""
    without = [line.line for line in lines if not may_have_band(reader, job, line.line)]
    if not without:
        return ""
    named = ", ".join(without)
    if reader.audience is Audience.EXCAVATOR:
        rest = [line for line in without if not may_have_top(reader, line)]
        if not rest:
            return (
                "Depths are the shallow end of what is possible, to the top of the line, as its owner allows."
            )
        return (
            f"No depths are given here for {', '.join(rest)}: they are the owner's to give. Expect any depth."
        )
    if reader.owner is None:
        return (
            f"No depths are given here for {named}: the job names several owners "
            f"({', '.join(owners(job))}), and each has those of its own lines. "
            "Name the owner that this report is for."
        )
    return f"No depths are given here for {named}: {reader.owner} is not its owner."
