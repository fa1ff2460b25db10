"""Logs that are text with a separator: comma, semicolon, tab or bar, found in the file itself."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Sequence
from typing import Final

from plumbmark.exchange.readers.log import Log, LogError, Reader, table, told
from plumbmark.exchange.safecell import as_written
from plumbmark.model.finding import Finding

_SEPARATORS: Final = ",;\t|"
_LOOKED_AT: Final = 30  # rows from which separator and header are told
_MAX_LINE: Final = 1_000_000


def reads(name: str, data: bytes) -> bool:
    """Whether it is text."""
    del name
    return data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" not in data[:4096]


def read(name: str, data: bytes) -> Log:
    """Split the text into rows; the header is the first row that has as many names as any near the top."""
    text, findings = _decoded(name, data)
    separator, text, skipped = _separator(text)
    csv.field_size_limit(_MAX_LINE)
    try:
        records = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    except csv.Error as error:
        raise LogError(f"cannot be split into rows: {error}") from None
    rows = [
        (k + skipped, [as_written(cell.strip()) for cell in record]) for k, record in enumerate(records, 1)
    ]
    at = header_row([row for _, row in rows])
    if at is None:
        raise LogError("has no table in it: a row with names of columns and rows below it are needed")
    findings += above_header(name, rows[:at])
    part, more = table("", rows[at][1], rows[at + 1 :], name)
    return Log(f"a table of {len(part.rows):,} rows", (part,), (*findings, *more))


def header_row(rows: Sequence[Sequence[str]]) -> int | None:
    """Which row names the columns; None where no row has two names and a row below it.

    A title above the table has fewer cells than it, and names are no numbers.

    Examples
    --------
    >>> header_row([["Survey of Elm Road"], [], ["No", "Depth"], ["1", "1.1"]])
    2
    """
    near = rows[:_LOOKED_AT]
    names = [sum(1 for cell in row if any(c.isalpha() for c in cell)) for row in near]
    widths = [sum(1 for cell in row if cell) for row in near]
    most = max(widths, default=0)
    for k, count in enumerate(names):
        enough = widths[k] > 0.5 * most and count >= max(1.0, 0.5 * widths[k])
        if enough and any(any(row) for row in rows[k + 1 :]):
            return k
    return None


def above_header(where: str, rows: Sequence[tuple[int, Sequence[str]]]) -> list[Finding]:
    """What stands above the table, told and left out."""
    said = "; ".join(" ".join(cell for cell in row if cell) for _, row in rows if any(row))
    return [told(where, f"what stands above the table was not taken: {said[:200]!r}")] if said else []


def _decoded(name: str, data: bytes) -> tuple[str, list[Finding]]:
    try:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            return data.decode("utf-16"), []
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        what = "is not UTF-8; it was read as Windows-1252, so letters with accents are worth a look"
        return data.decode("cp1252", errors="replace"), [told(name, what)]


def _separator(text: str) -> tuple[str, str, int]:
    """The separator, the text without a line that only tells it, and how many lines that took."""
    first, _, rest = text.partition("\n")
    said = first.strip().strip('"')
    if len(said) == 5 and said.lower().startswith("sep="):
        return said[4], rest, 1
    if len(said) == 4 and said.lower() == "sep=":  # a tab that was stripped
        return "\t", rest, 1
    lines = [line for line in text[:100_000].splitlines() if line.strip()][:_LOOKED_AT]
    best, score = ",", 0.0
    for mark in _SEPARATORS:
        counts = Counter(line.count(mark) for line in lines)
        counts.pop(0, None)
        for count, times in counts.items():
            worth = times * min(count, 20) ** 0.5
            if worth > score:
                best, score = mark, worth
    return best, text, 0


READER: Final = Reader(reads, read)
