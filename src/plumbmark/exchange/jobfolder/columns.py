"""What a column of a file may hold, finding it in a header, and turning its cells into values.

A column is one `Column` in the tables of `exchange.jobfolder.schema`; everything else follows from it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum
from typing import Any, Final

from plumbmark.base.errors import UnitError
from plumbmark.base.units import LENGTH_UNITS, Quantity, parse_length_or_range, parse_number_or_range, shown
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.table import Table
from plumbmark.model.measured import Measured

ID: Final = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,63}")
ID_RULE: Final = "1 to 64 of A-Z a-z 0-9 . _ -, not starting with a dot"

MOSTLY: Final = 0.8
MAX_STEPS: Final = 1e15  # beyond it a float does not tell one step from the next
MAX_LENGTH_M: Final = 10_000.0
MAX_COORDINATE_M: Final = 1e8
MAX_CURRENT_A: Final = 1e6
MAX_AMPLITUDE: Final = 1e15


class Kind(Enum):
    """What the cells of a column are."""

    ID = "id"
    TEXT = "text"
    CHOICE = "choice"
    TIME = "time"
    LENGTH = "length"
    CURRENT = "current"
    ANGLE = "angle"
    AMPLITUDE = "amplitude"


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes
    ----------
    name : str
        As documented, with its unit. A length may come with any other unit of length, or none.
    kind : Kind
    low, high : float
        Least and greatest value, in SI, degrees for angles.
    choices : dict
        What may be written, and the value each stands for.
    required : bool
        Whether no cell may be blank.
    ranges : bool
        Whether a cell may hold a range.
    """

    name: str
    kind: Kind
    low: float = -MAX_LENGTH_M
    high: float = MAX_LENGTH_M
    choices: dict[str, Any] = field(default_factory=dict)
    required: bool = False
    ranges: bool = True

    @property
    def stem(self) -> str:
        """The name without its unit."""
        return self.name.removesuffix("_m") if self.kind is Kind.LENGTH else self.name

    def names(self) -> tuple[str, ...]:
        """Every name the column can have in a header."""
        if self.kind is not Kind.LENGTH:
            return (self.name,)
        return (self.name, self.stem, *(f"{self.stem}_{unit}" for unit in LENGTH_UNITS if unit != "m"))


@dataclass(frozen=True, slots=True)
class Cells:
    """A column of a file, converted.

    `header` is its name in the file; `text` holds the cells as written, `values` what they mean: None
    where a cell is blank or wrong.
    """

    header: str
    text: tuple[str, ...]
    values: list[Any]


def read_columns(table: Table, schema: Sequence[Column], remarks: Remarks) -> dict[str, Cells]:
    """Find the columns of a schema in a table and convert their cells.

    Parameters
    ----------
    table : Table
    schema : sequence of Column
    remarks : Remarks
        Told of unknown, missing and doubled columns, and of every cell that is wrong.

    Returns
    -------
    dict of str to Cells
        By documented name; a column that is not in the file is not in it.
    """
    found = _find(table, schema, remarks)
    cells: dict[str, Cells] = {}
    for column in schema:
        index = found.get(column.name)
        if index is None:
            if column.required:
                remarks.error(f"{table.file} row 1", f"has no column {column.name}, and every row needs one")
            continue
        header, text = table.header[index], table.cells[index]
        cells[column.name] = Cells(header, text, _convert(table, column, header, text, remarks))
    return cells


def _find(table: Table, schema: Sequence[Column], remarks: Remarks) -> dict[str, int]:
    by_name = {name: column for column in schema for name in column.names()}
    found: dict[str, int] = {}
    for index, header in enumerate(table.header):
        column = by_name.get(header)
        where = f"{table.file} row 1 {header if _is_plain(header) else shown(header)}"
        if column is None:
            remarks.warn(
                where, f"is not a column of {table.file}, so it was not read{_meant(header, by_name)}"
            )
        elif column.name not in found:
            found[column.name] = index
        elif table.header[found[column.name]] == header:
            remarks.error(where, "is the name of two columns (keep one)")
        else:
            other = table.header[found[column.name]]
            remarks.error(where, f"is the same quantity as {other} (keep one of the two)")
    return found


def _is_plain(name: str) -> bool:
    return name.isprintable() and len(name) <= 40


def _meant(header: str, names: dict[str, Column]) -> str:
    from difflib import get_close_matches

    close = get_close_matches(header[:64].lower(), names, n=1, cutoff=0.75)
    return f" (is {close[0]} meant?)" if close else ""


def _convert(table: Table, column: Column, header: str, text: tuple[str, ...], remarks: Remarks) -> list[Any]:
    parse = _parser(column, header)
    meaning: dict[str, Any] = {"": None}
    wrong: dict[str, str] = {}
    for cell in dict.fromkeys(text):
        if not cell:
            continue
        try:
            meaning[cell] = parse(cell)
        except UnitError as error:
            meaning[cell] = None
            wrong[cell] = str(error)
    if wrong or column.required:
        for row, cell in zip(table.rows, text, strict=True):
            if cell in wrong:
                remarks.error(table.where(row, header), wrong[cell])
            elif not cell and column.required:
                remarks.error(table.where(row, header), "is blank, and every row needs one")
    if column.kind in _NUMERIC:
        meaning = with_rounding(meaning, text)
    return [meaning[cell] for cell in text]


def _parser(column: Column, header: str) -> Callable[[str], Any]:
    if column.kind is Kind.TEXT:
        return str
    if column.kind is Kind.ID:
        return parse_id
    if column.kind is Kind.TIME:
        return parse_time
    if column.kind is Kind.CHOICE:
        return lambda cell: parse_choice(cell, column.choices)
    unit, stem = header.removeprefix(column.stem).removeprefix("_") or None, column.stem

    def parse(cell: str) -> Quantity:
        if not column.ranges and ".." in cell:
            raise UnitError(f"{shown(cell)} is a range, and a single number is needed here")
        if column.kind is Kind.LENGTH:
            return _bounded(cell, parse_length_or_range(cell, unit, stem), column)
        scale = (1e-3, "ma") if column.kind is Kind.CURRENT else (1.0, "")
        return _bounded(cell, parse_number_or_range(cell, *scale), column)

    return parse


_NUMERIC: Final = (Kind.LENGTH, Kind.CURRENT, Kind.ANGLE, Kind.AMPLITUDE)


def parse_id(cell: str) -> str:
    """An id, as written."""
    if ID.fullmatch(cell) is None:
        raise UnitError(f"{shown(cell)} is not an id ({ID_RULE})")
    return cell


def parse_choice(cell: str, choices: dict[str, Any]) -> Any:
    """What one of a few words stands for."""
    if cell not in choices:
        raise UnitError(f"{shown(cell)} is not one of {', '.join(choices)}")
    return choices[cell]


def parse_time(cell: str) -> datetime:
    """A moment: ISO 8601, offset included.

    Examples
    --------
    >>> parse_time("2024-05-06T08:03:00-05:00").hour
    8
    """
    example = "for example 2024-05-06T08:03:00-05:00"
    try:
        moment = datetime.fromisoformat(cell) if cell.isascii() else None
    except ValueError:
        moment = None
    if moment is None or not 1900 <= moment.year <= 2200:
        raise UnitError(f"{shown(cell)} is not a time in ISO 8601 ({example})")
    if moment.utcoffset() is None:
        raise UnitError(f"{shown(cell)} has no offset from universal time ({example})")
    return moment


def _bounded(cell: str, quantity: Quantity, column: Column) -> Quantity:
    if column.low <= quantity.low and quantity.high <= column.high:
        return quantity
    if column.low == 0.0 and quantity.low < 0.0:
        raise UnitError(f"{shown(cell)} is negative, and {column.name} is 0 or more")
    if column.kind is Kind.ANGLE:
        raise UnitError(f"{shown(cell)} is not within {column.low:g} to {column.high:g} degrees")
    scale, unit = {Kind.LENGTH: (1.0, " m"), Kind.CURRENT: (1e3, " mA")}.get(column.kind, (1.0, ""))
    least = "0" if column.low == 0.0 else f"{column.low * scale:,.0f}"
    raise UnitError(f"{shown(cell)} is not within {least} to {column.high * scale:,.0f}{unit}")


def with_rounding(meaning: dict[str, Quantity | None], text: Sequence[str]) -> dict[str, Measured | None]:
    """Give every cell of a column the step that the column was written in.

    Parameters
    ----------
    meaning : dict of str to Quantity or None
        For each distinct cell.
    text : sequence of str
        All cells.

    Returns
    -------
    dict of str to Measured or None

    Notes
    -----
    The step is that of the finest last digit, by unit, since a column without a unit may mix them. Six
    values or more, five of them different, that are all multiples of a coarser step of 2, 5 or 10 were
    written in that step; so were decimal feet that are nearly all whole inches (the rest are slips).
    """
    groups: dict[str, list[Quantity]] = {}
    for quantity in meaning.values():
        if quantity is not None and quantity.step:
            groups.setdefault(quantity.unit, []).append(quantity)
    steps = {unit: _step(unit, group, len(text)) for unit, group in groups.items()}
    if "in" in steps and steps.get("ft") == LENGTH_UNITS["ft"]:
        steps["ft"] = steps["in"]  # "3 ft" between "2 ft 11 in" and "3 ft 1 in" is 3 ft 0 in
    return {
        cell: None if quantity is None else _measured(quantity, steps) for cell, quantity in meaning.items()
    }


def _measured(quantity: Quantity, steps: dict[str, float]) -> Measured:
    if quantity.step:
        return Measured(quantity.low, 0.0, steps[quantity.unit])
    return Measured.between(quantity.low, quantity.high)


def _step(unit: str, group: list[Quantity], cells: int) -> float:
    finest = min(quantity.step for quantity in group)
    values = {quantity.low for quantity in group if quantity.low}
    if cells < 6 or len(values) < 5 or max(map(abs, values)) > MAX_STEPS * finest:
        return finest
    inch = LENGTH_UNITS["in"]
    if unit == "ft" and finest < inch:
        inches = sum(_is_multiple(value, inch, 0.5 * finest) for value in values)
        if inches >= MOSTLY * len(values):
            return inch
    counts = [round(value / finest) for value in values]
    for coarser in (100, 50, 20, 10, 5, 2):
        if not any(count % coarser for count in counts):
            return coarser * finest
    return finest


def _is_multiple(value: float, step: float, slack: float) -> bool:
    return abs(value - round(value / step) * step) <= slack * 1.0001
