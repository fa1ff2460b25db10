"""What the screen of a job's answer shows: can I mark here, how deep is it, and what next?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from plumbmark.model.estimate import Identity, Trust
from plumbmark.model.screen_parts import Band, Go
from plumbmark.model.wire import Remark


class QuestionKind(StrEnum):
    """What an open question is about."""

    SET_ASIDE = "set aside"
    CONFLICT = "two phones"
    SWAP = "swap"
    SLIP = "slip"


@dataclass(frozen=True, slots=True)
class Choice:
    """An answer to a question.

    `answer` goes into the fact `settled`; `route` opens what it needs, if anything; `take_back` are ids of
    facts that it takes back.
    """

    answer: str
    words: str
    route: str = ""
    take_back: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """A question that waits for an answer and never blocks: `id` as in ``slip:7:current_ma``."""

    id: str
    kind: QuestionKind
    words: str
    line: str | None
    table: str
    key: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class PlaceAnswer:
    """The answer at one place: the sentence first.

    Attributes
    ----------
    line, table, key : str
        Where it stands in the files; `table` is ``readings``, ``profiles`` or ``side_readings``.
    name : str
        As people say it: "reading 7".
    place : str
        In the crew's words, where it is known by words only.
    sentence : str
        Where to paint, how deep, what else is there.
    short : str
        The depth alone, for a list.
    depth : Band
        Ground to the middle of the line.
    beside : Band
        From the field mark, positive to the right.
    current : str
        With its band, empty where none was read.
    chance : str
        That the numbers hold, as a count.
    because : tuple of str
        Without what is asked: that is in `questions` of the screen.
    next_step : Go or None
        None where nothing more is asked for here.
    next_words : str
    """

    line: str
    table: str
    key: str
    name: str
    place: str
    sentence: str
    short: str
    trust: Trust
    depth: Band
    beside: Band
    current: str
    chance: str
    because: tuple[str, ...]
    next_step: Go | None
    next_words: str


@dataclass(frozen=True, slots=True)
class TrustCount:
    """How many places hold, are loose, are unproven."""

    holds: int = 0
    loose: int = 0
    unproven: int = 0


@dataclass(frozen=True, slots=True)
class LineAnswer:
    """The answer for one line, in the order it is read out.

    `beside` tells of second lines and of steps of the current; it is empty where places are known by words
    only, as nobody knows how far along the line they are.
    """

    line: str
    name: str
    headline: str
    paint: str
    depth: str
    which: str
    identity: Identity
    facing: str
    beside: tuple[str, ...]
    places: tuple[PlaceAnswer, ...]


@dataclass(frozen=True, slots=True)
class AnswerScreen:
    """The answer of a job; how it stands is told beside it (`model.standing`).

    Attributes
    ----------
    answered_at, expires_at : datetime or None
    expired : bool
    expiry : str
        When it was computed and what ends it.
    headline : str
        The answer of the whole job in one breath; empty where there is none.
    counts : TrustCount
        Over all places.
    next_step : Go
        The one thing to do.
    next_gain : str
        What it does to the band, empty where that is not known.
    warnings : tuple of Remark
    trust_meaning, caution : str
    """

    job: str
    title: str
    answered_at: datetime | None
    expires_at: datetime | None
    expired: bool
    expiry: str
    headline: str
    counts: TrustCount
    lines: tuple[LineAnswer, ...]
    questions: tuple[Question, ...]
    next_step: Go
    next_gain: str
    warnings: tuple[Remark, ...]
    trust_meaning: str
    caution: str
