"""A log that a crew brings along: what its columns mean, what has to be asked, what came of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from plumbmark.model.finding import Finding
from plumbmark.model.wire import QuestionChoice, Remark


@dataclass(frozen=True, slots=True)
class ColumnMeaning:
    """What one column of a log is taken for.

    Attributes
    ----------
    column : str
        Its name in the log.
    field : str
        What it holds, by the name of a `LogField`; empty: it is left out.
    unit : str
        What its numbers are in: one of the field's units, ``cells`` where every cell states its own, empty
        where nobody has said.
    """

    column: str
    field: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class LogMapping:
    """What a person confirms of a log; plain data, kept for the next log with the same columns.

    Attributes
    ----------
    use : str
        What its rows become: ``readings``, ``test_holes``, ``things``, ``passes``, ``photos``, or
        ``positions``, which gives places to what was written down at the same time.
    part : str
        The sheet, or part, of the log that is meant; empty: its first.
    columns : tuple of ColumnMeaning
        Of columns that are not named here what was guessed holds.
    answers : dict of str to str
        Answers to questions, by their ids.
    """

    use: str = ""
    part: str = ""
    columns: tuple[ColumnMeaning, ...] = ()
    answers: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class LogField:
    """Something that a column can hold, in words, and the units it can be in."""

    name: str
    words: str
    units: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LogColumn:
    """A column of a log: some of its cells, how many are filled, what it is taken for and why."""

    name: str
    samples: tuple[str, ...]
    filled: int
    field: str
    unit: str
    why: str


@dataclass(frozen=True, slots=True)
class LogQuestion:
    """Something that the log does not say; `answer` is empty while it is open.

    `choices` are answers to tap; where `example` is not empty another may be typed, as in the example.
    """

    id: str
    words: str
    choices: tuple[QuestionChoice, ...]
    answer: str = ""
    example: str = ""


@dataclass(frozen=True, slots=True)
class LogLook:
    """A log as it is understood so far; nothing of it is written down yet.

    Attributes
    ----------
    name, kind : str
        Of the file; what it is, in words.
    rows : int
        In the part that is looked at.
    parts : tuple of str
    uses : tuple of QuestionChoice
        What its rows can become.
    fields : tuple of LogField
        What a column can hold in this use.
    columns : tuple of LogColumn
    mapping : LogMapping
        What would be taken now, guesses included; to be confirmed or changed.
    questions : tuple of LogQuestion
        Those that have an answer too, so that it can be changed.
    remembered : bool
        Whether it was confirmed once before, for a log with the same columns.
    preview : tuple of dict
        The first rows as they would be written down.
    findings : tuple of Remark
    """

    name: str
    kind: str
    rows: int
    parts: tuple[str, ...]
    uses: tuple[QuestionChoice, ...]
    fields: tuple[LogField, ...]
    columns: tuple[LogColumn, ...]
    mapping: LogMapping
    questions: tuple[LogQuestion, ...]
    remembered: bool
    preview: tuple[dict[str, str], ...]
    findings: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class LogTaken:
    """What became of a log: how many entries were written down, and how many were there already."""

    job: str
    recorded: int
    already_there: int
    words: str
    findings: tuple[Remark, ...]


def remarks_of(findings: tuple[Finding, ...]) -> tuple[Remark, ...]:
    """Findings as they travel."""
    return tuple(Remark(f.where, f.what) for f in findings)
