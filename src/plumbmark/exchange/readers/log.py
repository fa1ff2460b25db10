"""What a reader of a log gives back: tables of text, nothing of them changed, and what it has to say."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from plumbmark.base.errors import PlumbmarkError
from plumbmark.model.finding import Finding, Severity

MAX_BYTES: Final = 64 * 1024 * 1024
MAX_ROWS: Final = 100_000
MAX_COLUMNS: Final = 256
MAX_CELL: Final = 2_000  # characters; what is longer is cut, and told


class LogError(PlumbmarkError):
    """A log that cannot be read at all, and why: "is not GPX (…)"."""


@dataclass(frozen=True, slots=True)
class Known:
    """What a column holds where the kind of log says so: a field, and the unit of its numbers."""

    field: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """One table of a log.

    Attributes
    ----------
    name : str
        Of the sheet; empty where a log has one table.
    columns : tuple of str
        Names, none twice.
    rows : tuple of tuple of str
        Cells as text, one for each column, empty where nothing stands.
    numbers : tuple of int
        Number of each row as the person can count it in the file.
    known : mapping of str to Known
        What columns hold, where that needs no guess.
    uses : tuple of str
        What the rows can become, the likeliest first.
    answers : mapping of str to str
        Answers that the log itself gives to what would be asked otherwise.
    row_word : str
        What `numbers` count: ``row``, ``line`` …
    """

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...]
    known: Mapping[str, Known] = field(default_factory=dict)
    uses: tuple[str, ...] = ("readings", "test_holes", "things", "passes", "positions")
    answers: Mapping[str, str] = field(default_factory=dict)
    row_word: str = "row"


@dataclass(frozen=True, slots=True)
class Log:
    """A log that was read: its kind in words, its parts, pictures to keep by their names, findings."""

    kind: str
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...] = ()
    pictures: Mapping[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Reader:
    """A kind of log.

    Attributes
    ----------
    reads : function of a file's name and bytes
        Whether the file is of this kind; quick, and false for what it is not sure of.
    read : function of a file's name and bytes
        The log, or a LogError.
    """

    reads: Callable[[str, bytes], bool]
    read: Callable[[str, bytes], Log]


def told(where: str, what: str) -> Finding:
    """Something to be told that keeps nothing from being taken."""
    return Finding(Severity.WARNING, where, what)


def table(
    name: str, header: Sequence[str], body: Sequence[tuple[int, Sequence[str]]], where: str
) -> tuple[Part, list[Finding]]:
    """A part from rows of any width, with names for all of its columns.

    Parameters
    ----------
    name : str
        Of the part.
    header : sequence of str
        Names of columns; blank ones are called by their number, later ones of a name get it with a number.
    body : sequence of (int, sequence of str)
        Number and cells of each row; rows of nothing are left out.
    where : str
        What findings name: the file, or file and sheet.

    Returns
    -------
    part : Part
    findings : list of Finding

    Raises
    ------
    LogError
        Too many rows or columns.

    Examples
    --------
    >>> table("", ["Depth", ""], [(2, ["1.1", "x", "y"])], "log.csv")[0].columns
    ('Depth', 'column 2', 'column 3')
    """
    findings: list[Finding] = []
    filled = [(number, [clean(cell) for cell in row]) for number, row in body if any(map(str.strip, row))]
    if len(filled) > MAX_ROWS:
        raise LogError(f"has {len(filled):,} rows, and at most {MAX_ROWS:,} are read: split it")
    width = max([len(header), *(len(row) for _, row in filled)], default=0)
    if width > MAX_COLUMNS:
        raise LogError(f"has {width:,} columns, and at most {MAX_COLUMNS} are read")
    names: list[str] = []
    for place in range(width):
        said = " ".join(clean(header[place]).split())[:80] if place < len(header) else ""
        plain = said or f"column {place + 1}"
        unique, count = plain, 1
        while unique in names:
            count += 1
            unique = f"{plain} ({count})"
        names.append(unique)
    long = next((number for number, row in filled for cell in row if len(cell) > MAX_CELL), None)
    if long is not None:
        what = f"has a cell of more than {MAX_CELL:,} characters; such cells are cut there"
        findings.append(told(f"{where} row {long}", what))
    rows = tuple(tuple(cell[:MAX_CELL] for cell in [*row, *[""] * (width - len(row))]) for _, row in filled)
    return Part(name, tuple(names), rows, tuple(number for number, _ in filled)), findings


def clean(text: str) -> str:
    r"""A cell without what no text may hold, and without blanks round it.

    Examples
    --------
    >>> clean(" 1.1\0 ")
    '1.1'
    """
    if text.isprintable():
        return text.strip()
    kept = (c if c.isprintable() or c == "\n" else " " if c in "\t\r\u2028\u2029\xa0" else "" for c in text)
    return "".join(kept).strip()
