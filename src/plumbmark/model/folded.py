"""What the facts of a job come to: the files of a job folder, and what is known besides."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from plumbmark.model.fact import Fact
from plumbmark.model.finding import Finding

#: Cells of one row, by column, as they were typed.
Cells = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Entry:
    """Rows under one key of a table, and the id of the fact that says so: of a file, for rows in it."""

    fact: str
    rows: tuple[Cells, ...]


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two devices changed one thing, neither knowing of the other.

    Attributes
    ----------
    question : str
        Its id; a fact `settled` that names it settles it.
    words : str
        The question, for people.
    shown, others : Fact, tuple of Fact
        The one that came in last and shows, and what it was preferred to. To have one of the others instead,
        take back the shown one and the rest.
    """

    question: str
    words: str
    shown: Fact
    others: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class SetAside:
    """Something that was written down and cannot be read; it is kept, and left out of what is solved.

    Attributes
    ----------
    question : str
        Its id.
    words : str
        What is wrong, for people: "Reading 7: depth 'abc' is not a length".
    table, key : str
        Where it would stand, for example ``readings`` and ``7``.
    rows : tuple of mapping
        The cells, as typed.
    findings : tuple of Finding
        What the reader says of it.
    """

    question: str
    words: str
    table: str
    key: str
    rows: tuple[Cells, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Folded:
    """What the facts of a job come to.

    Attributes
    ----------
    job : str
    files : dict of str to bytes
        Files that a job is read from. What cannot be read stands in them as it was typed.
    attached : dict of str to str
        SHA-256 of each other file, by name: photographs, plans, whatever came with an import.
    rows : mapping of table to key to Entry
        Rows of all tables, those of imported files too.
    cannot : frozenset of str
        Actions never to be asked for again.
    settled : mapping of str to str
        Answers to questions, by id.
    ticks : mapping of str to bool
        Steps of the guide that somebody ticked.
    told : tuple of Fact
        Who was told what.
    frozen : Fact or None
        The fact that froze the job, while it is frozen.
    late : tuple of Fact
        What came in for the frozen job; it waits until somebody reopens it.
    conflicts : tuple of Conflict
        Those not settled.
    set_aside : tuple of SetAside
        What could not even be put into a file.
    unplaced : frozenset of (str, str)
        Table and key of rows whose place is known by words only: no map shows them.
    missing : tuple of str
        Names of files whose content has not come in.
    """

    job: str
    files: dict[str, bytes]
    attached: dict[str, str]
    rows: Mapping[str, Mapping[str, Entry]]
    cannot: frozenset[str] = frozenset()
    settled: Mapping[str, str] = field(default_factory=dict)
    ticks: Mapping[str, bool] = field(default_factory=dict)
    told: tuple[Fact, ...] = ()
    frozen: Fact | None = None
    late: tuple[Fact, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    unplaced: frozenset[tuple[str, str]] = frozenset()
    missing: tuple[str, ...] = ()
