"""Lines of a table: well-known text in a column, or the places of a line row by row."""

from __future__ import annotations

import csv
import io
import math
import zipfile
from collections.abc import Iterable, Sequence
from typing import Any, Final

from plumbmark.exchange.geopackage.blob import paths_of
from plumbmark.exchange.lines_in import MAX_TEXT_BYTES, LineIn, LinesIn, UnreadableFileError, text_of
from plumbmark.exchange.safecell import as_written

_WKT: Final = ("wkt", "geometry", "geom")
_PLACES: Final = (("easting_m", "northing_m", None), ("longitude_deg", "latitude_deg", "EPSG:4326"))


def csv_lines(data: bytes, layers: tuple[str, ...] = ()) -> LinesIn:
    """The lines of a CSV file.

    Parameters
    ----------
    data : bytes
    layers : tuple of str
        A CSV file has one layer without a name, so none is ever left out.

    Returns
    -------
    LinesIn
        Each row with a line in its column `wkt`; or, without such a column, one line through the rows of each
        `id`, in their order, by `easting_m` and `northing_m`, or `longitude_deg` and `latitude_deg`.

    Raises
    ------
    UnreadableFileError
        If it has neither.
    """
    del layers
    text = text_of(data)
    if "\0" in text:
        raise UnreadableFileError("has a NUL byte (not a text file)")
    if text[:4].lower() == "sep=":
        separator, text = text[4:5], text.partition("\n")[2]
    else:
        separator = ","
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=separator))
    except csv.Error as error:
        raise UnreadableFileError(f"is not CSV: {error}") from None
    found = LinesIn()
    if not rows or not _sheet(found, "", rows):
        raise UnreadableFileError(
            "has no lines: a column wkt is needed, or id with easting_m and northing_m (or longitude_deg and "
            "latitude_deg)"
        )
    return found


def xlsx_lines(data: bytes, layers: tuple[str, ...] = ()) -> LinesIn:
    """The lines of a workbook, sheet by sheet as `csv_lines` reads them.

    Parameters
    ----------
    data : bytes
    layers : tuple of str
        Names of sheets to be read; all that have lines where none is named.

    Returns
    -------
    LinesIn

    Raises
    ------
    UnreadableFileError
        If it is no workbook, is larger than is read when unpacked, or has no sheet with lines.
    """
    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            size = sum(part.file_size for part in packed.infolist())
        if size > 4 * MAX_TEXT_BYTES:
            raise UnreadableFileError(
                f"unpacks to {size:,} bytes, and at most {4 * MAX_TEXT_BYTES:,} are read"
            )
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    except (zipfile.BadZipFile, InvalidFileException, KeyError, ValueError, OSError) as error:
        if isinstance(error, UnreadableFileError):
            raise
        raise UnreadableFileError(f"is not a workbook: {str(error)[:120]}") from None
    found = LinesIn()
    for sheet in book.worksheets:
        rows = [list(row) for row in sheet.iter_rows(values_only=True)]
        head = [_text(cell).lower() for cell in rows[0]] if rows else []
        if _columns(head) is not None and found.wanted(sheet.title, layers):
            _sheet(found, sheet.title, rows)
    if not found.layers:
        raise UnreadableFileError("has no sheet with a column wkt, or id with easting_m and northing_m")
    return found


def _columns(head: Sequence[str]) -> tuple[int, ...] | None:
    """Number of the column of well-known text, or of both coordinates."""
    for name in _WKT:
        if name in head:
            return (head.index(name),)
    for first, second, _ in _PLACES:
        if first in head and second in head and "id" in head:
            return head.index(first), head.index(second)
    return None


def _sheet(found: LinesIn, name: str, rows: Sequence[Sequence[object]]) -> bool:
    """Read the lines of a sheet; False where it has no columns for any."""
    head = [_text(cell).lower() for cell in rows[0]]
    columns = _columns(head)
    if columns is None:
        return False
    body = [
        (number, {h: _cell(c) for h, c in zip(head, row, strict=False)}, row)
        for number, row in enumerate(rows[1:], 2)
        if any(cell not in (None, "") for cell in row)
    ]
    before = f"sheet {name} " if name else ""
    if len(columns) == 1:
        for number, cells, row in body:
            text = _text(row[columns[0]]) if columns[0] < len(row) else ""
            _well_known(found, f"{before}row {number}", text, cells)
    else:
        _by_rows(found, before, head, body)
    return True


def _well_known(found: LinesIn, where: str, text: str, cells: dict[str, object]) -> None:
    import shapely

    try:
        shape: Any = shapely.from_wkt(text) if text else None
    except shapely.errors.GEOSException:
        raise UnreadableFileError(f"has in {where} no well-known text: {text[:40]!r}") from None
    paths = list(paths_of(shape)) if shape is not None else []
    if not paths:
        found.pass_over("points and areas")
    for path in paths:
        found.add(LineIn(where, path, cells, _system(cells)))


def _by_rows(
    found: LinesIn, before: str, head: Sequence[str], body: Iterable[tuple[int, dict[str, object], Any]]
) -> None:
    names = next(p for p in _PLACES if p[0] in head and p[1] in head)
    lines: dict[str, list[tuple[int, dict[str, object], tuple[float, float]]]] = {}
    for number, cells, _ in body:
        try:
            place = (float(str(cells.get(names[0]))), float(str(cells.get(names[1]))))
        except ValueError:
            place = (math.nan, math.nan)
        if not all(map(math.isfinite, place)):
            raise UnreadableFileError(f"has in {before}row {number} no {names[0]} and {names[1]}")
        lines.setdefault(_text(cells.get("id")), []).append((number, cells, place))
    for rows in lines.values():
        path = tuple(place for _, _, place in rows)
        if len(path) < 2:
            found.pass_over("lines of one point")
            continue
        number, cells, _ = rows[0]
        found.add(LineIn(f"{before}row {number}", path, cells, names[2] or _system(cells)))


def _system(cells: dict[str, object]) -> str | None:
    said = _text(cells.get("crs"))
    return said if said == "local" or said.upper().startswith("EPSG:") else None


def _text(cell: object) -> str:
    return "" if cell is None else str(cell).strip()


def _cell(cell: object) -> object:
    return as_written(cell.strip()) if isinstance(cell, str) else cell
