"""What stands in the payload of each kind of fact, or a FactError that says what is wrong with it."""

from __future__ import annotations

import re
from typing import Any, Final

from plumbmark.base.errors import FactError
from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.jobtoml import ENTRY_KEYS
from plumbmark.exchange.journal.drawing import FILES
from plumbmark.exchange.journal.sheet import TABLES
from plumbmark.model.fact import Fact
from plumbmark.model.folded import Cells

MAX_CELL: Final = 10_000  # characters
MAX_NAME: Final = 200
MAX_PATH: Final = 1200
_COLUMN: Final = re.compile(r"[A-Za-z][A-Za-z0-9_]{0,40}")
_SHA256: Final = re.compile(r"[0-9a-f]{64}")


def text(fact: Fact, name: str) -> str:
    """A text of the payload."""
    held = fact.payload.get(name)
    if not isinstance(held, str):
        raise FactError(f"has no text {name}")
    return held


def texts(fact: Fact, name: str) -> list[str]:
    """A list of texts of the payload."""
    held = fact.payload.get(name)
    if not isinstance(held, list) or not all(isinstance(each, str) for each in held):
        raise FactError(f"has no list of texts {name}")
    return held


def keys(fact: Fact) -> dict[str, Any]:
    """Keys of a table that comes once; the job's id is its own and is not set."""
    held = fact.payload.get("keys")
    if not isinstance(held, dict):
        raise FactError("has no keys")
    return {name: _value(name, value) for name, value in held.items() if name != "id"}


def item(fact: Fact) -> tuple[str, str, dict[str, Any] | None]:
    """Table, key and keys of an entry of a repeated table; keys null take the entry out."""
    table, key, held = _one_of(fact, "table", tuple(ENTRY_KEYS)), _key(fact), fact.payload.get("keys")
    return table, key, None if held is None and "keys" in fact.payload else keys(fact)


def entry(fact: Fact) -> tuple[str, str, list[Cells]]:
    """Table, key and rows."""
    table, key, rows = _one_of(fact, "table", tuple(TABLES)), _key(fact), fact.payload.get("rows")
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise FactError("has no list of rows")
    return table, key, [{_column(name): _cell(name, cell) for name, cell in row.items()} for row in rows]


def shape(fact: Fact) -> tuple[str, str, str]:
    """File, key and text of a drawn feature."""
    return _one_of(fact, "file", tuple(FILES)), _key(fact), text(fact, "feature")


def file(fact: Fact) -> tuple[str, str]:
    """Name inside the job folder, and SHA-256."""
    name, digest = text(fact, "name"), text(fact, "sha256")
    parts = name.split("/")
    if not 0 < len(name) <= MAX_PATH or "\\" in name or not name.isprintable() or {"", ".", ".."} & {*parts}:
        raise FactError(
            f"{shown(name)} is not the name of a file in a job folder (for example photos/12.jpg)"
        )
    if _SHA256.fullmatch(digest) is None:
        raise FactError(f"{shown(digest)} is not a SHA-256 (64 hexadecimal digits)")
    return name, digest


def _one_of(fact: Fact, name: str, allowed: tuple[str, ...]) -> str:
    held = text(fact, name)
    if held not in allowed:
        raise FactError(f"{shown(held)} is not one of {', '.join(allowed)}")
    return held


def _key(fact: Fact) -> str:
    held = text(fact, "key").strip()
    if not held or len(held) > MAX_NAME or not held.isprintable():
        raise FactError(f"{shown(held)} is not a key (a short text)")
    return held


def _column(name: str) -> str:
    if _COLUMN.fullmatch(name) is None:
        raise FactError(f"{shown(name)} is not the name of a column")
    return name


def _cell(name: str, held: Any) -> str:
    if held is None:
        return ""
    if isinstance(held, bool):
        return "yes" if held else "no"
    cell = str(held).strip() if isinstance(held, (str, int)) else None
    if cell is None or len(cell) > MAX_CELL or "\0" in cell:
        raise FactError(f"{name} is not a text of at most {MAX_CELL:,} characters")
    return cell


def _value(name: str, held: Any) -> Any:
    if isinstance(held, dict):
        raise FactError(f"{name} is a table, and one value or a list is needed")
    if isinstance(held, list) and any(isinstance(each, (dict, list)) or each is None for each in held):
        raise FactError(f"{name} is not a list of plain values")
    return held
