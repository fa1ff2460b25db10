"""Text that a spreadsheet would take for a formula, made harmless."""

from __future__ import annotations

from typing import Final

from plumbmark.model.layer import Cell

_FIRST: Final = frozenset("=+-@\t\r")


def harmless(cell: Cell) -> Cell:
    """A cell as it may stand in a spreadsheet: text that begins with ``= + - @`` gets an apostrophe.

    Numbers stay numbers. Spreadsheets show the apostrophe and compute nothing.

    Examples
    --------
    >>> harmless("=1+1"), harmless(-1.5), harmless("r07")
    ("'=1+1", -1.5, 'r07')
    """
    return f"'{cell}" if isinstance(cell, str) and cell.lstrip("'")[:1] in _FIRST else cell


def as_written(cell: str) -> str:
    """The text that `harmless` was given.

    Examples
    --------
    >>> as_written("'=1+1"), as_written("'tis")
    ('=1+1', "'tis")
    """
    return cell[1:] if cell[:1] == "'" and cell.lstrip("'")[:1] in _FIRST else cell
