"""Dates and times as logs write them, to moments with their offset."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from plumbmark.base.errors import UnitError
from plumbmark.base.units import shown

_CLOCK: Final = re.compile(
    r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s*([ap]\.?m\.?)?\s*(z|utc|gmt|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE | re.ASCII,
)
_YEAR_FIRST: Final = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})", re.ASCII)
_YEAR_LAST: Final = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|\d{2})", re.ASCII)
_NAMED: Final = re.compile(r"(\d{1,2})[-/. ]([a-z]{3})[a-z]*[-/., ]+(\d{4}|\d{2})", re.IGNORECASE | re.ASCII)
_SOLID: Final = re.compile(r"(\d{4})(\d{2})(\d{2})", re.ASCII)
_MONTHS: Final = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_OFFSET: Final = re.compile(r"([+-])(\d{2}):?(\d{2})", re.ASCII)


def moment_text(cell: str, order: str, zone: str, day: str = "") -> str:
    """A moment in ISO 8601 with its offset.

    Parameters
    ----------
    cell : str
        Date and time of day, or time of day alone.
    order : str
        ``dmy`` or ``mdy``: what comes first in a date whose year comes last.
    zone : str
        By whose clock, where the cell has no offset: ``+01:00`` or the name of a zone.
    day : str
        The date of a time of day alone, as ``2026-11-25``.

    Returns
    -------
    str

    Raises
    ------
    UnitError
        It is none, or something that it needs was not said.

    Examples
    --------
    >>> moment_text("25/11/2026 2:03:22 PM", "dmy", "+01:00")
    '2026-11-25T14:03:22+01:00'
    """
    said_date, clock = split_moment(cell)
    if clock is None:
        raise UnitError(f"{shown(cell)} has no time of day (for example 2026-11-25 14:03:22)")
    hour, minute, second, fraction, half, offset = clock.groups()
    hours = int(hour)
    if half:
        if not 1 <= hours <= 12:
            raise UnitError(f"{shown(cell)} is not a time of day")
        hours = hours % 12 + (12 if half[0].lower() == "p" else 0)
    micro = int(f"{(fraction or '0')[:6]:0<6}")
    try:
        at = datetime.combine(
            _date(said_date or day, order), time(hours, int(minute), int(second or 0), micro)
        )
        whole = at.replace(tzinfo=zone_of(offset or zone))
        if not 1900 <= whole.year <= 2200:
            raise ValueError
    except UnitError:
        raise
    except (ValueError, OverflowError):
        raise UnitError(f"{shown(cell)} is not a time (for example 2026-11-25 14:03:22)") from None
    return whole.isoformat()


def split_moment(cell: str) -> tuple[str, re.Match[str] | None]:
    """The date in a cell, as written, and the time of day."""
    text = cell.strip()
    found = _CLOCK.search(text)
    if found is None:
        return text, None
    before, after = text[: found.start()].strip().rstrip("Tt,").strip(), text[found.end() :].strip()
    return before or after, found


def dates_order(cells: Iterable[str]) -> str | None:
    """Which of day and month comes first: ``dmy``, ``mdy``, empty where it may be either, None without dates.

    Examples
    --------
    >>> dates_order(["25/11/2026"]), dates_order(["03/04/2026"]), dates_order(["2026-04-03"])
    ('dmy', '', None)
    """
    first = second = 0
    for cell in cells:
        found = _YEAR_LAST.fullmatch(split_moment(cell)[0])
        if found:
            first, second = max(first, int(found[1])), max(second, int(found[2]))
    if not first:
        return None
    return "dmy" if first > 12 >= second else "mdy" if second > 12 >= first else ""


def needs_zone(cell: str) -> bool:
    """Whether a cell has a time of day and no offset."""
    clock = split_moment(cell)[1]
    return clock is not None and not clock[6]


def zone_of(name: str) -> tzinfo:
    """A zone by its offset or its name.

    Raises
    ------
    UnitError
        There is none of that name, or none is named.
    """
    if name.lower() in ("z", "utc", "gmt"):
        return UTC
    found = _OFFSET.fullmatch(name)
    if found:
        ahead = timedelta(hours=int(found[2]), minutes=int(found[3]))
        if ahead < timedelta(hours=24):
            return timezone(-ahead if found[1] == "-" else ahead)
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        what = f"{shown(name)} is no offset and no zone known here" if name else "has no offset"
        raise UnitError(f"{what} (say by whose clock, for example +01:00)") from None


def _date(text: str, order: str) -> date:
    if found := _YEAR_FIRST.fullmatch(text) or _SOLID.fullmatch(text):
        return date(int(found[1]), int(found[2]), int(found[3]))
    if found := _NAMED.fullmatch(text):
        month = found[2].lower()
        if month in _MONTHS:
            return date(_year(found[3]), _MONTHS.index(month) + 1, int(found[1]))
    if found := _YEAR_LAST.fullmatch(text):
        first, second = int(found[1]), int(found[2])
        day, month_number = (first, second) if order == "dmy" else (second, first)
        if order not in ("dmy", "mdy") and first != second:
            raise UnitError(f"{shown(text)} does not say which is the day (say day or month first)")
        return date(_year(found[3]), month_number, day)
    raise UnitError(f"{shown(text)} is not a date (for example 2026-11-25)")


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)
