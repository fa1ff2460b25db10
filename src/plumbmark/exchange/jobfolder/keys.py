"""Keys of TOML tables and GeoJSON properties: what each may hold, and reading them with their path."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum
from typing import Any, Final

from plumbmark.base.errors import UnitError
from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.columns import ID, ID_RULE, MAX_COORDINATE_M, parse_time
from plumbmark.exchange.jobfolder.remarks import Remarks


class Holds(Enum):
    """What a key holds."""

    ID = "an id in quotes"
    TEXT = "a text in quotes"
    NUMBER = "a number"
    FLAG = "true or false"
    TIME = "a time with its offset"
    CHOICE = "one of a few words"
    IDS = "a list of ids"
    CHOICES = "a list of words"
    NUMBERS = "a list of numbers"


@dataclass(frozen=True, slots=True)
class Key:
    """One key: `low` and `high` bound a number (`above`: low itself is not allowed)."""

    name: str
    holds: Holds
    low: float = -math.inf
    high: float = math.inf
    above: bool = False
    choices: dict[str, Any] = field(default_factory=dict)
    required: bool = False


def words(enum: type[Enum]) -> dict[str, Any]:
    """The words of an enum and what they stand for."""
    return {str(member.value): member for member in enum}


def coordinate(name: str, required: bool = True) -> Key:
    """A key that holds an easting or a northing."""
    return Key(name, Holds.NUMBER, low=-MAX_COORDINATE_M, high=MAX_COORDINATE_M, required=required)


def take(
    table: Mapping[str, Any], keys: Sequence[Key], path: str, remarks: Remarks, other: Sequence[str] = ()
) -> dict[str, Any]:
    """Read the keys of one table.

    Parameters
    ----------
    table : mapping
    keys : sequence of Key
    path : str
        Where the table stands, for findings (``job.toml [[lines]] 2``).
    remarks : Remarks
        Told of each key that is missing, wrong or unknown.
    other : sequence of str
        Names that something else reads.

    Returns
    -------
    dict
        Key to value, for keys that are there and right.
    """
    taken: dict[str, Any] = {}
    for key in keys:
        if table.get(key.name) is None:
            if key.required:
                remarks.error(f"{path} {key.name}", "is missing")
            continue
        problem, value = _check(table[key.name], key)
        if problem:
            remarks.error(f"{path} {key.name}", problem)
        else:
            taken[key.name] = value
    known = {key.name for key in keys} | set(other)
    for name in table:
        if name not in known:
            remarks.warn(f"{path} {name if name.isprintable() else shown(name)}", _unknown(name, known))
    return taken


def _unknown(name: str, known: set[str]) -> str:
    from difflib import get_close_matches

    close = get_close_matches(name[:64], sorted(known), n=1, cutoff=0.75)
    return "is not a key here, so it was not read" + (f" (is {close[0]} meant?)" if close else "")


def _check(value: Any, key: Key) -> tuple[str, Any]:
    """What is wrong with a value (nothing: empty), and what it means."""
    if key.holds in (Holds.IDS, Holds.CHOICES, Holds.NUMBERS):
        if not isinstance(value, list):
            return f"{_quoted(value)} is not {key.holds.value}, for example {_LIST_EXAMPLES[key.holds]}", None
        single = {Holds.IDS: Holds.ID, Holds.CHOICES: Holds.CHOICE, Holds.NUMBERS: Holds.NUMBER}[key.holds]
        found = [_check_one(item, key, single) for item in value]
        problem = next((problem for problem, _ in found if problem), "")
        return problem, tuple(item for _, item in found)
    return _check_one(value, key, key.holds)


_LIST_EXAMPLES: Final = {
    Holds.IDS: '["E1", "C1"]',
    Holds.CHOICES: '["connected"]',
    Holds.NUMBERS: "[0.9, 1.1]",
}


def _check_one(value: Any, key: Key, holds: Holds) -> tuple[str, Any]:
    if holds is Holds.NUMBER:
        return _check_number(value, key)
    if holds is Holds.FLAG:
        return ("", value) if isinstance(value, bool) else (f"{_quoted(value)} is not true or false", None)
    if holds is Holds.TIME:
        return _check_time(value)
    if not isinstance(value, str):
        return f"{_quoted(value)} is not a text in quotes", None
    if holds is Holds.CHOICE:
        if value not in key.choices:
            return f"{shown(value)} is not one of {', '.join(key.choices)}", None
        return "", key.choices[value]
    if holds is Holds.ID and ID.fullmatch(value) is None:
        return f"{shown(value)} is not an id ({ID_RULE})", None
    return "", value


def _check_time(value: Any) -> tuple[str, Any]:
    """A time as a text, or as TOML writes one without quotes."""
    try:
        return "", parse_time(value.isoformat() if isinstance(value, datetime) else _quoted_text(value))
    except UnitError as error:
        return str(error), None


def _quoted_text(value: Any) -> str:
    return value if isinstance(value, str) else _quoted(value)


def _check_number(value: Any, key: Key) -> tuple[str, Any]:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return f"{_quoted(value)} is not a number", None
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        return f"{_quoted(value)} is not a finite number", None
    if number < key.low or (key.above and number == key.low) or number > key.high:
        return f"{_quoted(value)} is not {_allowed(key)}", None
    return "", number


def _allowed(key: Key) -> str:
    least = f"more than {key.low:,.10g}" if key.above else f"{key.low:,.10g} or more"
    if math.isinf(key.high):
        return least
    most = f"at most {key.high:,.10g}"
    return most if math.isinf(key.low) else f"{least} and {most}"


def _quoted(value: Any) -> str:
    if isinstance(value, str):
        return shown(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    try:
        text = repr(value) if isinstance(value, (int, float, list)) or value is None else str(value)
    except ValueError:  # an integer of thousands of digits
        text = "a huge number"
    return text if len(text) <= 40 else text[:40] + "..."
