"""One layer as CSV; every layer as a sheet of a workbook."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from typing import Any, Final

from plumbmark.exchange.safecell import harmless
from plumbmark.exchange.welltext import well_known_text
from plumbmark.model.layer import Cell, Feature, Layer, LayerSet, Shape

#: What a spreadsheet takes at most.
MAX_ROWS: Final = 1_048_576
_MAX_CELL: Final = 32_767


def csv_bytes(layers: LayerSet, name: str) -> bytes:
    """One layer as CSV, in UTF-8 with a byte-order mark, by which spreadsheets know it.

    Parameters
    ----------
    layers : LayerSet
    name : str
        Of the layer.

    Returns
    -------
    bytes
        Points have a column for each coordinate, lines and areas one with well-known text. Text that a
        spreadsheet would take for a formula has an apostrophe before it.
    """
    layer = next(layer for layer in layers.layers if layer.name == name)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(_head(layer, layers.crs))
    for feature in layer.features:
        writer.writerow([harmless(cell) for cell in _row(feature, layer, layers.crs)])
    return text.getvalue().encode("utf-8-sig")


def _head(layer: Layer, crs: str) -> list[str]:
    names = [column.name for column in layer.columns]
    if layer.shape is Shape.NONE:
        return names
    places = place_names(crs) if layer.shape is Shape.POINT else ("wkt",)
    return [*names, *places, "crs"]


def place_names(crs: str) -> tuple[str, str]:
    """Names of the columns of a place in a system, which end in its unit."""
    from plumbmark.survey.transform import system_words

    system = system_words(crs)
    if system.metres_per_unit is None:
        return "longitude_deg", "latitude_deg"
    if system.metres_per_unit == 1.0:
        return "easting_m", "northing_m"
    unit = "ftus" if system.unit.startswith("US survey foot") else "ft"
    return f"easting_{unit}", f"northing_{unit}"


def _row(feature: Feature, layer: Layer, crs: str) -> list[Cell]:
    cells = [_rounded(cell) for cell in feature.cells]
    if layer.shape is Shape.NONE:
        return cells
    if layer.shape is Shape.POINT:
        place: Any = feature.geometry
        decimals = 8 if place_names(crs)[0].endswith("_deg") else 4
        found: list[Cell] = [None, None] if place is None else [round(x, decimals) for x in place[:2]]
        return [*cells, *found, crs]
    text = None if feature.geometry is None else well_known_text(feature.geometry, layer.shape)
    return [*cells, text, crs]


def _rounded(cell: Cell) -> Cell:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return round(cell, 6) if isinstance(cell, float) else cell


def xlsx_bytes(layers: LayerSet) -> bytes:
    """A workbook with a sheet for every layer that has something in it, and one for the notes.

    Parameters
    ----------
    layers : LayerSet

    Returns
    -------
    bytes
        The same layers give the same file.
    """
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    about = book.create_sheet("about")
    about.column_dimensions["A"].width = 120
    for note in layers.notes:
        about.append([_cell(note)])
    for layer in layers.layers:
        if layer.features:
            _sheet(book, layer, layers.crs)
    data = io.BytesIO()
    book.save(data)
    return _timeless(data.getvalue(), layers.written_at)


def _sheet(book: Any, layer: Layer, crs: str) -> None:
    sheet = book.create_sheet(layer.name[:31])
    sheet.freeze_panes = "A2"
    head = _head(layer, crs)
    for i, name in enumerate(head):
        sheet.column_dimensions[_letter(i)].width = min(max(len(name) + 2, 10), 40)
    sheet.append(head)
    for feature in layer.features[: MAX_ROWS - 1]:
        sheet.append([_cell(cell) for cell in _row(feature, layer, crs)])


def _letter(number: int) -> str:
    from openpyxl.utils import get_column_letter

    return str(get_column_letter(number + 1))


def _cell(cell: Cell) -> Cell:
    """A cell that is no formula, holds no control character and is not too long."""
    if not isinstance(cell, str):
        return cell
    text = "".join(c if c.isprintable() or c == "\n" else " " for c in cell)
    return str(harmless(text))[:_MAX_CELL]


def _timeless(data: bytes, written_at: str) -> bytes:
    """The same workbook without the time it was made: every file in it as of 1980, its dates as given."""
    when = re.sub(r"\.\d+Z$", "Z", written_at).encode()
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in sorted(old.namelist(), key=lambda n: (n != "[Content_Types].xml", n)):
            content = old.read(name)
            if name == "docProps/core.xml":
                content = re.sub(
                    rb"(<dcterms:\w+[^>]*>)[^<]*(</dcterms)", rb"\g<1>" + when + rb"\g<2>", content
                )
            new.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()
