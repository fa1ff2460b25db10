"""What the screens share: a button, a band in words, and what is known of a job beside its files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from plumbmark.model.folded import Conflict, SetAside


@dataclass(frozen=True, slots=True)
class Go:
    """A button: what it says, and the screen it opens, as what stands behind ``#/job/ID/`` of the page."""

    words: str
    route: str


@dataclass(frozen=True, slots=True)
class Band:
    """An estimate with the ends of its band, in metres to be drawn and in words to be read.

    `words` is the value, `low_words` and `high_words` the ends, rounded outward; the truth lies between them
    19 times in 20.
    """

    value_m: float
    low_m: float
    high_m: float
    words: str
    low_words: str
    high_words: str


@dataclass(frozen=True, slots=True)
class Told:
    """Who was told what, how and when."""

    who: str
    what: str
    how: str = ""
    at: datetime | None = None
    by: str = ""


@dataclass(frozen=True, slots=True)
class JobState:
    """What is known of a job beside the facts in its files.

    Attributes
    ----------
    now : datetime
        With its offset.
    answered_at : datetime or None
        When the answer that is shown was computed.
    cannot : frozenset of str
        Actions that the crew cannot do.
    settled : mapping of str to str
        Questions that were answered, by their id: "kept" or "corrected".
    ticks : mapping of str to bool
        What was ticked by hand.
    told : tuple of Told
    frozen : str or None
        Why the job was frozen; None where it is not.
    late : int
        Entries that came in after it was frozen and were not taken in.
    conflicts : tuple of Conflict
        Changes of one entry on two devices.
    set_aside : tuple of SetAside
        Entries that cannot be read and are not in the answer.
    places : mapping of (str, str) to str
        Table and key of entries whose place is known by words only, with the words: no map shows them, and
        how far along a line they lie is not known.
    """

    now: datetime
    answered_at: datetime | None = None
    cannot: frozenset[str] = frozenset()
    settled: Mapping[str, str] = field(default_factory=dict)
    ticks: Mapping[str, bool] = field(default_factory=dict)
    told: tuple[Told, ...] = ()
    frozen: str | None = None
    late: int = 0
    conflicts: tuple[Conflict, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    places: Mapping[tuple[str, str], str] = field(default_factory=dict)
