"""Logs that are workbooks (XLSX): the sheets that have a table, their cells as they are shown."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from datetime import date, datetime, time, timedelta
from typing import Any, Final

from plumbmark.exchange.readers.delimited import above_header, header_row
from plumbmark.exchange.readers.log import MAX_COLUMNS, MAX_ROWS, Log, LogError, Part, Reader, clean, table
from plumbmark.exchange.safecell import as_written
from plumbmark.model.finding import Finding

_MAX_UNPACKED: Final = 256 * 1024 * 1024
_MAX_SHEETS: Final = 50
_DECIMALS: Final = re.compile(r"#?,?#*0\.(0{1,6})(?:_\))?")


def reads(name: str, data: bytes) -> bool:
    """Whether it is a workbook: a zip that lists one."""
    del name
    return data.startswith(b"PK\x03\x04") and b"xl/workbook.xml" in data


def read(name: str, data: bytes) -> Log:
    """Every sheet with a table; numbers with the decimals that the sheet shows, where those say all of it."""
    parts: list[Part] = []
    findings: list[Finding] = []
    for said, rows in _sheets(data):
        title = clean(said)
        at = header_row([row for _, row in rows])
        if at is None:
            continue
        where = f"{name} sheet {title}"
        findings += above_header(where, rows[:at])
        part, more = table(title, rows[at][1], rows[at + 1 :], where)
        parts.append(part)
        findings += more
    if not parts:
        raise LogError("has no sheet with a table in it: a row with names of columns and rows below it")
    sheets = "a workbook" if len(parts) == 1 else f"a workbook with {len(parts)} tables"
    return Log(sheets, tuple(parts), tuple(findings))


def _sheets(data: bytes) -> list[tuple[str, list[tuple[int, list[str]]]]]:
    import openpyxl

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            size = sum(part.file_size for part in packed.infolist())
        if size > _MAX_UNPACKED:
            raise LogError(f"unpacks to {size:,} bytes, and at most {_MAX_UNPACKED:,} are read")
        with warnings.catch_warnings():  # of styles and the like that are not read
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            found = [(sheet.title, _rows(sheet)) for sheet in book.worksheets[:_MAX_SHEETS]]
            book.close()
    except LogError:
        raise
    except Exception as error:  # openpyxl raises nearly anything on a workbook that is spoilt
        what = f"cannot be read as a workbook ({type(error).__name__}: {str(error)[:100]})"
        raise LogError(what) from error
    return found


def _rows(sheet: Any) -> list[tuple[int, list[str]]]:
    found = []
    sheet.reset_dimensions()  # what a workbook says of its size may be anything
    for number, row in enumerate(sheet.iter_rows(), 1):
        cells = [
            _text(cell.value, getattr(cell, "number_format", "") or "") for cell in row[: MAX_COLUMNS + 1]
        ]
        while cells and not cells[-1]:
            cells.pop()
        if any(cells):
            found.append((number, cells))
        if len(found) > MAX_ROWS + 100:
            raise LogError(f"has more than {MAX_ROWS:,} rows, and no more are read: split it")
    return found


def _text(value: Any, shown_as: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        decimals = _DECIMALS.fullmatch(shown_as)
        text = f"{value:.{len(decimals[1])}f}" if decimals else ""
        return text if text and float(text) == value else f"{value:.15g}"
    if isinstance(value, datetime):
        at_midnight = value.time() == time() and "h" not in shown_as.lower()
        return value.date().isoformat() if at_midnight else value.isoformat(sep=" ")
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, timedelta):
        return str(value)
    return as_written(str(value).strip())


READER: Final = Reader(reads, read)
