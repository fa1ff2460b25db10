"""Times as people say them, seen from now."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from plumbmark.base.spoken import MONTHS

_DAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def moment(at: datetime, now: datetime) -> str:
    """A time on the clock of the place that wrote it down.

    Parameters
    ----------
    at, now : datetime
        With their offsets.

    Returns
    -------
    str
        Without the day where it is today; by the name of the day within six days; else by date.

    Examples
    --------
    >>> now = datetime.fromisoformat("2026-11-25T14:03:00+01:00")
    >>> moment(datetime.fromisoformat("2026-11-26T07:00:00+01:00"), now)
    'tomorrow 07:00'
    >>> moment(datetime.fromisoformat("2026-11-28T07:00:00+01:00"), now)
    'Saturday 07:00'
    >>> moment(datetime.fromisoformat("2027-01-05T07:00:00+01:00"), now)
    '5 January 2027 07:00'
    """
    clock = f"{at:%H:%M}"
    here = now.astimezone(at.tzinfo).date()
    days = (at.date() - here).days
    near = {-1: "yesterday", 0: "today", 1: "tomorrow"}.get(days)
    if near is not None:
        return f"{near} {clock}"
    if 1 < days < 7:
        return f"{_DAYS[at.weekday()]} {clock}"
    year = "" if at.year == here.year else f" {at.year}"
    return f"{at.day} {MONTHS[at.month - 1]}{year} {clock}"
