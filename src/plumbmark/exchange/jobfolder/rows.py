"""Rows of the tables to readings, profiles, side readings and test holes."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.columns import Cells, Column, read_columns
from plumbmark.exchange.jobfolder.jobtoml import JobFile, listed
from plumbmark.exchange.jobfolder.places import Spot, read_places
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.table import Table
from plumbmark.model.job import Setup
from plumbmark.model.measured import Measured
from plumbmark.model.reading import DepthMethod, MarkBy, Place, Reading, SideReading, TestHole

Tied = Mapping[str, Spot | None]
WIDE_DEG: Final = 45.0  # a range of bearings this wide on either side gives no direction


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table with its columns converted."""

    table: Table
    cells: dict[str, Cells]

    def column(self, name: str, default: Any = None) -> Iterable[Any]:
        """Values of a column, the default where it is absent or blank."""
        cells = self.cells.get(name)
        if cells is None:
            return itertools.repeat(default, len(self.table.rows))
        if default is None:
            return cells.values
        return [default if value is None else value for value in cells.values]

    def where(self, i: int, column: str) -> str:
        """Place of a cell, by the number of its row in the table and the documented name of its column."""
        cells = self.cells.get(column)
        return self.table.where(self.table.rows[i], column if cells is None else cells.header)


def open_sheet(table: Table, schema: Sequence[Column], remarks: Remarks) -> Sheet:
    """Convert the columns of a table."""
    return Sheet(table, read_columns(table, schema, remarks))


def read_readings(sheet: Sheet, job: JobFile, tied: Tied | None, remarks: Remarks) -> list[Reading]:
    """Rows of `readings.csv`; wrong ones are told of and left out."""
    ids, lines, setups, places = _heads(sheet, "reading", job, tied, remarks)
    readings = [
        Reading(*row)
        for row in zip(
            ids,
            lines,
            places,
            sheet.table.rows,
            setups,
            sheet.column("taken_at"),
            sheet.column("by", ""),
            sheet.column("note", ""),
            sheet.column("mark_by", MarkBy.PEAK),
            bearings(sheet, "bearing_deg", remarks),
            sheet.column("null_offset_m"),
            sheet.column("half_left_m"),
            sheet.column("half_right_m"),
            sheet.column("depth_m"),
            sheet.column("depth_method", DepthMethod.TWO_COIL),
            sheet.column("depth_refused", False),
            sheet.column("current_ma"),
            sheet.column("current_sign"),
            sheet.column("raised_by_m"),
            sheet.column("raised_depth_m"),
            sheet.column("null_ahead_m"),
            sheet.column("null_behind_m"),
            strict=True,
        )
    ]
    return [r for r in readings if _is_whole(r.id, r.line, r.place)]


def read_side_readings(sheet: Sheet, job: JobFile, tied: Tied | None, remarks: Remarks) -> list[SideReading]:
    """Rows of `side_readings.csv`; wrong ones are told of and left out."""
    ids, lines, setups, places = _heads(sheet, "side_reading", job, tied, remarks)
    found = [
        SideReading(*row)
        for row in zip(
            ids,
            lines,
            places,
            sheet.table.rows,
            bearings(sheet, "toward_deg", remarks),
            sheet.column("distance_m"),
            sheet.column("depth_m"),
            setups,
            strict=True,
        )
    ]
    return [s for s in found if _is_whole(s.id, s.line, s.place)]


def read_test_holes(sheet: Sheet, job: JobFile, tied: Tied | None, remarks: Remarks) -> list[TestHole]:
    """Rows of `test_holes.csv`; wrong ones are told of and left out."""
    ids, lines, _, places = _heads(sheet, "test_hole", job, tied, remarks)
    found = [
        TestHole(*row)
        for row in zip(
            ids,
            lines,
            places,
            sheet.table.rows,
            sheet.column("found", True),
            sheet.column("depth_to_top_m"),
            sheet.column("outside_diameter_m"),
            sheet.column("dug_to_m"),
            sheet.column("proved", ""),
            strict=True,
        )
    ]
    return [h for h in found if _is_whole(h.id, h.line, h.place)]


def _is_whole(ident: str | None, line: str, place: Place | None) -> bool:
    return ident is not None and bool(line) and place is not None


def _heads(
    sheet: Sheet, id_column: str, job: JobFile, tied: Tied | None, remarks: Remarks
) -> tuple[list[Any], list[str], list[str], list[Any]]:
    """Ids, lines, setups and places of all rows."""
    ids = unique_ids(sheet, id_column, remarks)
    lines = line_ids(sheet, job, remarks)
    setups = setup_ids(sheet, lines, job, remarks)
    return ids, lines, setups, list(read_places(sheet.table, sheet.cells, job, tied, remarks))


def unique_ids(sheet: Sheet, name: str, remarks: Remarks) -> list[str | None]:
    """Ids of the rows; one that another row has already is told of."""
    ids: list[str | None] = list(sheet.column(name))
    first: dict[str, int] = {}
    for i, ident in enumerate(ids):
        if ident is not None and first.setdefault(ident, i) != i:
            what = f"{shown(ident)} is the id of row {sheet.table.rows[first[ident]]} already"
            remarks.error(sheet.where(i, name), what)
    return ids


def line_ids(sheet: Sheet, job: JobFile, remarks: Remarks, needed: Sequence[bool] | None = None) -> list[str]:
    """Line of each row, empty where it is none.

    A row that names none belongs to the job's only line, with a warning; where there are several lines
    that is an error.
    """
    rows = sheet.table.rows
    only = next(iter(job.lines)) if len(job.lines) == 1 else ""
    cells = sheet.cells.get("line")
    if cells is None:
        if rows and only:
            what = f"has no column line, so every row is taken to be of {only}, the only one of the job"
            remarks.warn(f"{sheet.table.file} row 1", what)
        elif rows and job.readable:
            remarks.error(f"{sheet.table.file} row 1", f"has no column line{listed(job.lines)}")
        return [only] * len(rows)
    lines: list[str] = []
    filled: list[int] = []
    for i, (name, text) in enumerate(zip(cells.values, cells.text, strict=True)):
        if name is not None:
            if name not in job.lines and job.readable and name not in job.broken:
                remarks.error(
                    sheet.where(i, "line"), f"{shown(name)} is no line of this job{listed(job.lines)}"
                )
            lines.append(name)
            continue
        lines.append("" if text else only)
        if not text and (needed is None or needed[i]):
            if only:
                filled.append(i)
            elif job.readable:
                remarks.error(
                    sheet.where(i, "line"), f"is blank, and the job has several lines{listed(job.lines)}"
                )
    if filled:
        more = f", and so are {len(filled) - 1} other rows" if len(filled) > 1 else ""
        what = f"is blank, so the row is taken to be of {only}, the only line of the job{more}"
        remarks.warn(sheet.where(filled[0], "line"), what)
    return lines


def setup_ids(sheet: Sheet, lines: Sequence[str], job: JobFile, remarks: Remarks) -> list[str]:
    """Setup of each row: as named, the line's only one, or the unnamed one with the line's own keys."""
    named = list(sheet.column("setup"))
    default = {line: setups[0].id for line, setups in job.setups.items() if _only(line, job)}
    known = {line: dict.fromkeys(setup.id for setup in setups) for line, setups in job.setups.items()}
    found: list[str] = []
    for i, (line, setup) in enumerate(zip(lines, named, strict=True)):
        mine = known.get(line, {})
        if setup is not None and line in job.lines and setup not in mine and setup not in job.broken:
            what = f"{shown(setup)} is no setup of line {line}{listed(mine)}"
            remarks.error(sheet.where(i, "setup"), what)
        found.append(default.get(line, "") if setup is None else setup)
    return found


def _only(line: str, job: JobFile) -> bool:
    return len(job.setups[line]) == 1 and line not in job.own_setups


def bearings(sheet: Sheet, name: str, remarks: Remarks) -> list[float | None]:
    """Directions of a column [degrees]; the middle of a range, nothing where it is very wide."""
    found: list[float | None] = []
    told = False
    value: Measured | None
    for i, value in enumerate(sheet.column(name)):
        if value is None or not value.half_range:
            found.append(None if value is None else value.value)
            continue
        wide = value.half_range > WIDE_DEG
        found.append(None if wide else value.value)
        if not told:
            told = True
            taken = "too wide to give a direction" if wide else "taken as its middle"
            remarks.warn(sheet.where(i, name), f"a range of directions is {taken}")
    return found


def with_blank_setups(job: JobFile, used: Iterable[tuple[str, str]], remarks: Remarks) -> None:
    """Give each line its setups, and one without a name where rows need it.

    Parameters
    ----------
    job : JobFile
        Its lines are given their setups here.
    used : iterable of (line, setup)
        As the rows have them.
    remarks : Remarks
        Told of rows that leave open which of several setups they are of: what these differ in counts as
        not known.
    """
    blank = {line for line, setup in used if not setup}
    for line in list(job.lines.values()):
        setups = list(job.setups.get(line.id, ()))
        own = job.own_setups.get(line.id)
        if not setups:
            setups = [own or Setup("", line.id)]
        elif line.id in blank:
            setups.insert(0, own or _shared(line.id, job, remarks))
        job.lines[line.id] = replace(line, setups=tuple(setups))


def _shared(line: str, job: JobFile, remarks: Remarks) -> Setup:
    setups = job.setups[line]
    what = f"has rows that do not say of which setup they are{listed({s.id: None for s in setups})}"
    remarks.warn(f"job.toml line {line}", f"{what}; what these differ in counts as not known")
    first = setups[0]
    same: dict[str, Any] = {
        name: getattr(first, name)
        for name in ("hookup", "frequency_hz", "receiver")
        if all(getattr(s, name) == getattr(first, name) for s in setups)
    }
    return Setup("", line, **same)
