"""A CSV file taken apart so that rows can be put in; a row nobody touched keeps its cells as they were."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

from plumbmark.base.units import LENGTH_UNITS
from plumbmark.exchange.jobfolder.columns import Column, Kind
from plumbmark.exchange.jobfolder.reader import SCHEMAS
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.schema import TIES
from plumbmark.exchange.jobfolder.table import Table, read_table
from plumbmark.exchange.jobfolder.walks import with_two_offsets
from plumbmark.model.folded import Cells

#: Name of each table in a fact, and the column that its rows are known by.
TABLES: Final = {
    "readings": "reading",
    "profiles": "profile",
    "side_readings": "side_reading",
    "test_holes": "test_hole",
    "ties": "place",
    "passes": "pass",
    "marks": "mark",
    "owners": "owner",
    "things": "thing",
    "photos": "photo",
}
_COLUMNS: Final[dict[str, Sequence[Column]]] = {**SCHEMAS, "ties.csv": TIES}
_BARE: Final = re.compile(r"[+-]?[0-9.]+(?:[eE][+-]?[0-9]+)?")
_SEPARATOR: Final = re.compile(r'"?sep=(.)"?\r?', re.IGNORECASE)
_MARK: Final = "\ufeff"


@dataclass(frozen=True, slots=True)
class Sheet:
    """A CSV file in its parts.

    Attributes
    ----------
    file : str
    columns : tuple of str
        Names of the columns as in row 1, empty for one without a name; the two offsets of a walk across are
        told apart, as the reader does.
    rows : tuple of (int, tuple of str)
        Number of each row that is not blank, as findings count them, and its cells, one for each column.
    head : str
        What stands before row 1: a byte-order mark, a line `sep=;`.
    raw : tuple of str
        Text of every row as it is in the file, blank ones too, from row 1.
    separator, newline : str
    """

    file: str
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[int, tuple[str, ...]], ...] = ()
    head: str = ""
    raw: tuple[str, ...] = ()
    separator: str = ","
    newline: str = "\n"

    @property
    def key(self) -> str:
        """The column that rows are known by."""
        return TABLES[self.file.removesuffix(".csv")]

    def keyed(self) -> dict[str, list[Cells]]:
        """Rows by the cell in the key column, in order."""
        found: dict[str, list[Cells]] = {}
        if self.key in self.columns:
            at = self.columns.index(self.key)
            for _, cells in self.rows:
                row = {name: cell for name, cell in zip(self.columns, cells, strict=True) if name}
                found.setdefault(cells[at], []).append(row)
        return found


def read_sheet(data: bytes, file: str) -> Sheet | None:
    """Take a file apart; None if it is none that the reader of job folders can split into rows."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return None
    table = None if "\0" in text else read_table(text, file, Remarks())
    if table is None:
        return None
    head = _MARK if data.startswith(b"\xef\xbb\xbf") else ""
    first = text.split("\n", 1)[0]
    separator = ","
    if told := _SEPARATOR.fullmatch(first):
        separator = told[1]
        head, text = head + first + "\n", text[len(first) + 1 :]
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(lines, delimiter=separator, strict=True)
    raw: list[str] = []
    parsed: list[list[str]] = []
    before = 0
    for record in reader:
        raw.append("".join(lines[before : reader.line_num]))
        before = reader.line_num
        parsed.append([cell.strip() for cell in record])
    width = len(parsed[0])
    rows = tuple(
        (number, tuple((record + [""] * width)[:width]))
        for number, record in enumerate(parsed[1:], start=2)
        if any(record)
    )
    header = Table(file, tuple(parsed[0]), (), ())
    columns = (with_two_offsets(header) if file == "profiles.csv" else header).header
    newline = "\r\n" if raw[0].endswith("\r\n") else "\n"
    return Sheet(file, columns, rows, head, tuple(raw), separator, newline)


def with_rows(sheet: Sheet, entries: Mapping[str, Sequence[Cells]]) -> bytes:
    """The file with rows put in.

    Parameters
    ----------
    sheet : Sheet
        With no columns for a file that is not there yet.
    entries : mapping of str to sequence of mapping
        For each key its rows, which take the place of those there under it; a key with no rows is left out.

    Returns
    -------
    bytes
        Rows of other keys as they were. A column that rows need and the file lacks comes last; a length that
        is written in several units stands in a column without one, each cell with its own.
    """
    filled = {k: [{**row, sheet.key: k} for row in rows] for k, rows in entries.items()}
    names, at = _plan(sheet, [row for rows in filled.values() for row in rows])
    out = [sheet.head, _header(sheet, names)]
    key = sheet.columns.index(sheet.key) if sheet.key in sheet.columns else None
    aliases = _aliases(sheet.file)

    def lines_of(rows: Sequence[Cells]) -> Iterator[str]:
        for row in rows:
            cells = [""] * len(names)
            for name, cell in row.items():
                place = at.get(_canonical(aliases, name))
                if place is not None and cell:
                    cells[place] = _turned(aliases, name, cell, names[place])
            yield _line(sheet, cells)

    put: set[str] = set()
    for number, old in sheet.rows:
        mine = None if key is None else old[key]
        if mine is None or mine not in filled:
            out.append(_kept(sheet, number, old, names))
        elif mine not in put:
            put.add(mine)
            out += lines_of(filled[mine])
    for k, rows in filled.items():
        if k not in put:
            out += lines_of(rows)
    return "".join(out).encode()


def _plan(sheet: Sheet, rows: Sequence[Cells]) -> tuple[list[str], dict[str, int]]:
    """Names of all columns, those of the file first, and where each quantity stands."""
    aliases = _aliases(sheet.file)
    names = list(sheet.columns)
    at: dict[str, int] = {}
    for i, name in enumerate(names):
        at.setdefault(_canonical(aliases, name), i)
    spelled: dict[str, set[str]] = {}
    for row in rows:
        for name, cell in row.items():
            if cell:
                spelled.setdefault(_canonical(aliases, name), set()).add(name)
    order = {column.name: i for i, column in enumerate(_COLUMNS.get(sheet.file, ()))}
    for quantity in sorted(spelled, key=lambda q: (q != sheet.key, order.get(q, len(order)), q)):
        if quantity not in at:
            at[quantity] = len(names)
            names.append(min(spelled[quantity]))
        place = at[quantity]
        if spelled[quantity] != {names[place]} and quantity in aliases:
            names[place] = aliases[quantity].stem
    return names, at


def _header(sheet: Sheet, names: Sequence[str]) -> str:
    return _ended(sheet, sheet.raw[0]) if sheet.raw and tuple(names) == sheet.columns else _line(sheet, names)


def _kept(sheet: Sheet, number: int, old: Sequence[str], names: Sequence[str]) -> str:
    """A row that was in the file: as it was, or with the units that its cells need now."""
    if tuple(names) == sheet.columns:
        return _ended(sheet, sheet.raw[number - 1])
    aliases = _aliases(sheet.file)
    cells = [
        _turned(aliases, name, cell, names[i])
        for i, (name, cell) in enumerate(zip(sheet.columns, old, strict=True))
    ]
    return _line(sheet, cells + [""] * (len(names) - len(cells)))


def _ended(sheet: Sheet, raw: str) -> str:
    return raw if raw.endswith(("\n", "\r")) else raw + sheet.newline


def _line(sheet: Sheet, cells: Sequence[str]) -> str:
    # Not the library's writer, which leaves a lone carriage return bare and so breaks the row there.
    return sheet.separator.join(_quoted(cell, sheet.separator) for cell in cells) + sheet.newline


def _quoted(cell: str, separator: str) -> str:
    if not any(c in cell for c in (separator, '"', "\n", "\r")):
        return cell
    return '"' + cell.replace('"', '""') + '"'


def _canonical(aliases: Mapping[str, Column], name: str) -> str:
    column = aliases.get(name)
    return name if column is None else column.name


@cache
def _aliases(file: str) -> dict[str, Column]:
    return {name: column for column in _COLUMNS.get(file, ()) for name in column.names()}


def _turned(aliases: Mapping[str, Column], name: str, cell: str, to: str) -> str:
    """A cell of one column as it stands in another of the same quantity: with its unit, if that has none."""
    column = aliases.get(name)
    if name == to or column is None or column.kind is not Kind.LENGTH:
        return cell
    unit = name.removeprefix(column.stem).removeprefix("_")
    if unit not in LENGTH_UNITS:
        return cell
    ends = [end.strip() for end in cell.split("..")]
    return "..".join(f"{end} {unit}" if _BARE.fullmatch(end) else end for end in ends)
