"""What the screen Today shows: what is due, and what is left on each?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from plumbmark.model.screen_answer import TrustCount
from plumbmark.model.screen_parts import Go


@dataclass(frozen=True, slots=True)
class TodayJob:
    """One job in a sentence or a few.

    Attributes
    ----------
    job, title : str
    sentence : str
        All that is to be said, the title first.
    due_at : datetime or None
        What it is ordered by; None where nobody wrote it down.
    due : str
        That time in words, empty without one.
    emergency, expired, frozen : bool
    late : int
        Entries that came in after it was frozen.
    questions : int
        Open ones.
    owners_open : int
        Owners that have no answer yet.
    counts : TrustCount
    go : Go
        The one thing to do in it.
    """

    job: str
    title: str
    sentence: str
    due_at: datetime | None
    due: str
    emergency: bool
    expired: bool
    frozen: bool
    late: int
    questions: int
    owners_open: int
    counts: TrustCount
    go: Go


@dataclass(frozen=True, slots=True)
class TodayScreen:
    """All jobs in order of due time; `teaches` says how to begin where there is none."""

    headline: str
    jobs: tuple[TodayJob, ...]
    teaches: tuple[str, ...]
    danger: str
