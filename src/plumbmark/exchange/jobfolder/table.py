"""CSV text to a table of cells: rows as a spreadsheet counts them, everything still text."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.remarks import Remarks

MAX_ROWS: Final = 100_000
MAX_COLUMNS: Final = 256
MAX_LINE: Final = 1_000_000  # characters
_SEPARATOR: Final = re.compile(r'"?sep=(.)"?[\r\n]*', re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Table:
    """One CSV file.

    `header` holds the names of the columns, `rows` the number of each row (the header is row 1), and
    `cells` for each column its cells, stripped of blanks round them.
    """

    file: str
    header: tuple[str, ...]
    rows: tuple[int, ...]
    cells: tuple[tuple[str, ...], ...]

    def where(self, row: int, column: str) -> str:
        """The place of a cell as a finding names it."""
        return f"{self.file} row {row} {column}"


def read_table(text: str, file: str, remarks: Remarks) -> Table | None:
    """Split the text of a CSV file.

    Parameters
    ----------
    text : str
    file : str
        Its name, for findings.
    remarks : Remarks

    Returns
    -------
    Table or None
        None if the file cannot be split into rows; cells are not looked at.
    """
    body, separator = _without_separator_line(text)
    reader = csv.reader(_lines(io.StringIO(body, newline="")), delimiter=separator, strict=True)
    number = 0
    header: list[str] | None = None
    rows: list[int] = []
    records: list[list[str]] = []
    blank: list[int] = []  # the first blank row
    skipped, passed, total = 0, 0, 0
    short: list[int] = []
    try:
        for record in reader:
            number += 1
            if header is None:
                header = [cell.strip() for cell in record]
                if not _header_is_fit(header, file, remarks):
                    return None
                continue
            if not any(record) or not any(map(str.strip, record)):
                skipped += 1
                blank = blank or [number]
                continue
            passed, skipped = passed + skipped, 0
            total += 1
            if total > MAX_ROWS:
                continue
            row = _fitted(record, len(header), f"{file} row {number}", remarks)
            if len(record) < len(header):
                short.append(number)
            rows.append(number)
            records.append(row)
    except csv.Error as error:
        remarks.error(f"{file} row {number + 1}", _csv_reason(str(error)))
        return None
    except _LineTooLong:
        remarks.error(f"{file} row {number + 1}", f"is longer than {MAX_LINE:,} characters")
        return None
    if header is None:
        remarks.error(file, "is empty (row 1 has to name its columns)")
        return None
    if total > MAX_ROWS:
        remarks.error(file, f"has {total:,} rows, and at most {MAX_ROWS:,} are read")
        return None
    if passed:
        remarks.warn(f"{file} row {blank[0]}", _blank_rows(passed))
    if short:
        remarks.warn(f"{file} row {short[0]}", _short_rows(len(short)))
    columns = (
        tuple(tuple(map(str.strip, c)) for c in zip(*records, strict=True))
        if records
        else ((),) * len(header)
    )
    return _without_nameless(Table(file, tuple(header), tuple(rows), columns), remarks)


class _LineTooLong(Exception):
    pass


def _lines(stream: io.StringIO) -> Iterator[str]:
    for line in stream:
        if len(line) > MAX_LINE:
            raise _LineTooLong
        yield line


def _without_separator_line(text: str) -> tuple[str, str]:
    """Take off the line `sep=;` that spreadsheets write."""
    end = text.find("\n")
    first = text if end < 0 else text[: end + 1]
    match = _SEPARATOR.fullmatch(first) if len(first) < 20 else None
    if match is None or match[1] not in ",;\t|:":
        return text, ","
    return text[len(first) :], match[1]


def _header_is_fit(header: list[str], file: str, remarks: Remarks) -> bool:
    where = f"{file} row 1"
    if not any(header):
        remarks.error(where, "is blank (row 1 has to name the columns)")
        return False
    if len(header) > MAX_COLUMNS:
        remarks.error(where, f"has {len(header):,} columns, and at most {MAX_COLUMNS} are read")
        return False
    if len(header) == 1 and ";" in header[0]:
        remarks.error(where, "has semicolons between its columns (use commas, or put a line sep=; above it)")
        return False
    return True


def _fitted(record: list[str], width: int, where: str, remarks: Remarks) -> list[str]:
    """As many cells as the header has."""
    if len(record) <= width:
        return record + [""] * (width - len(record))
    extra = [cell for cell in record[width:] if cell.strip()]
    if extra:
        what = f"has {len(record)} cells, and the header names {width} columns"
        remarks.error(where, f"{what} (the first one too many is {shown(extra[0])})")
    return record[:width]


def _without_nameless(table: Table, remarks: Remarks) -> Table:
    """Drop blank columns without a name; a column with cells needs one."""
    keep = [i for i, name in enumerate(table.header) if name]
    for i in set(range(len(table.header))) - set(keep):
        row = next((r for r, cell in zip(table.rows, table.cells[i], strict=True) if cell), None)
        if row is not None:
            remarks.error(
                f"{table.file} row 1", f"column {i + 1} has no name, and row {row} has a cell in it"
            )
    header = tuple(table.header[i] for i in keep)
    return Table(table.file, header, table.rows, tuple(table.cells[i] for i in keep))


def _blank_rows(count: int) -> str:
    return "is blank and was passed over" + (f", as were {count - 1} after it" if count > 1 else "")


def _short_rows(count: int) -> str:
    more = f", as have {count - 1} other rows" if count > 1 else ""
    return f"has fewer cells than the header names columns{more}; the missing ones count as blank"


def _csv_reason(reason: str) -> str:
    if "unexpected end of data" in reason:
        return "has a quotation mark that opens a cell and is never closed"
    if "expected after" in reason:
        return "has text after the quotation mark that closes a cell (double it inside a quoted cell)"
    if "field larger" in reason:
        limit = f"{csv.field_size_limit():,}"
        return f"has a cell of more than {limit} characters (a quotation mark that is never closed?)"
    return f"cannot be split into cells ({reason})"
