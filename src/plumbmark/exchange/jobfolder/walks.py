"""`profiles.csv`: rows gathered into walks across."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from plumbmark.base.units import LENGTH_UNITS, shown
from plumbmark.exchange.jobfolder.jobtoml import JobFile
from plumbmark.exchange.jobfolder.places import read_places
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.rows import Sheet, Tied, bearings, line_ids, setup_ids
from plumbmark.exchange.jobfolder.table import Table
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Profile, ProfilePoint, Scale

SAME_M: Final = 1e-6
_OFFSETS: Final = ("offset", *(f"offset_{unit}" for unit in LENGTH_UNITS))
#: What has to be the same on all rows of a walk across, by column.
_REPEATED: Final = (
    "line",
    "setup",
    "easting_m",
    "northing_m",
    "longitude_deg",
    "latitude_deg",
    "baseline",
    "station_m",
    "place_offset_m",
    "place",
    "position_sigma_m",
    "bearing_deg",
    "scale",
)


def with_two_offsets(table: Table) -> Table:
    """Tell the offset of a zero point from a baseline and the offset along the walk apart.

    Both are called `offset_m`. Where places are given along a baseline, the first such column is of the
    zero point and the second of the walk.
    """
    if "baseline" not in table.header:
        return table
    at = [i for i, name in enumerate(table.header) if name in _OFFSETS]
    if len(at) < 2:
        return table
    header = list(table.header)
    header[at[0]] = f"place_{header[at[0]]}"
    return Table(table.file, tuple(header), table.rows, table.cells)


def read_profiles(sheet: Sheet, job: JobFile, tied: Tied | None, remarks: Remarks) -> list[Profile]:
    """Walks across in the order of their first rows; wrong ones are told of and left out."""
    rows: dict[str, list[int]] = {}
    for i, ident in enumerate(sheet.column("profile")):
        if ident is not None:
            rows.setdefault(ident, []).append(i)
    first = {at[0] for at in rows.values()}
    needed = [i in first for i in range(len(sheet.table.rows))]
    lines = line_ids(sheet, job, remarks, needed)
    setups = setup_ids(sheet, lines, job, remarks)
    places = read_places(sheet.table, sheet.cells, job, tied, remarks, offset="place_offset_m", needed=needed)
    directions = bearings(sheet, "bearing_deg", remarks)
    scales = list(sheet.column("scale", Scale.LINEAR))
    points = _points(sheet)
    profiles: list[Profile] = []
    for ident, at in rows.items():
        _check_repeats(sheet, at, remarks)
        _check_amplitudes(sheet, at, scales[at[0]], remarks)
        place, start = places[at[0]], at[0]
        if place is None or not lines[start]:
            continue
        profiles.append(
            Profile(
                ident,
                lines[start],
                place,
                sheet.table.rows[start],
                directions[start],
                tuple(point for i in at if (point := points[i]) is not None),
                setups[start],
                scales[start],
            )
        )
    return profiles


def _points(sheet: Sheet) -> list[ProfilePoint | None]:
    return [
        None if offset is None else ProfilePoint(row, offset, height, horizontal, vertical)
        for row, offset, height, horizontal, vertical in zip(
            sheet.table.rows,
            sheet.column("offset_m"),
            sheet.column("height_m"),
            sheet.column("horizontal"),
            sheet.column("vertical"),
            strict=True,
        )
    ]


def _check_repeats(sheet: Sheet, at: Sequence[int], remarks: Remarks) -> None:
    """Rows of one walk say the same, or nothing, of where and what it is."""
    start = at[0]
    for name in _REPEATED:
        cells = sheet.cells.get(name)
        if cells is None:
            continue
        for i in at[1:]:
            text = cells.text[i]
            if text in ("", cells.text[start]) or _is_same(cells.values[start], cells.values[i]):
                continue
            what = (
                f"{shown(text)} differs from {shown(cells.text[start])} in row {sheet.table.rows[start]}, "
                "and both are rows of one walk across"
            )
            remarks.error(sheet.where(i, name), what)


def _is_same(one: Any, other: Any) -> bool:
    if one is None or other is None:
        return False
    if isinstance(one, Measured) and isinstance(other, Measured):
        return abs(one.value - other.value) <= SAME_M and abs(one.half_range - other.half_range) <= SAME_M
    return bool(one == other)


def _check_amplitudes(sheet: Sheet, at: Sequence[int], scale: Scale, remarks: Remarks) -> None:
    """Amplitudes are not negative, unless they are decibels or nothing but their order is trusted."""
    silent = 0
    columns = [sheet.cells[name] for name in ("horizontal", "vertical") if name in sheet.cells]
    for i in at:
        if not any(cells.text[i] for cells in columns):
            silent += 1
        for cells in columns:
            value = cells.values[i]
            if scale is Scale.LINEAR and value is not None and value.low < 0.0:
                what = (
                    f"{shown(cells.text[i])} is negative, and amplitudes are 0 or more (unless scale is db)"
                )
                remarks.error(sheet.table.where(sheet.table.rows[i], cells.header), what)
    if silent:
        more = f", and so have {silent - 1} other rows of this walk" if silent > 1 else ""
        i = next(i for i in at if not any(cells.text[i] for cells in columns))
        what = f"has neither a horizontal nor a vertical amplitude, so it says nothing{more}"
        remarks.warn(f"{sheet.table.file} row {sheet.table.rows[i]}", what)
