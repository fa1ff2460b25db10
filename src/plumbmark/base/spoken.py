"""Quantities as said on site: feet and inches to the inch, metres to the centimetre; times, lists."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import datetime
from typing import Final

from plumbmark.base.units import FOOT_M, INCH_M

MONTHS: Final = (
    *("January", "February", "March", "April", "May", "June", "July", "August", "September"),
    *("October", "November", "December"),
)


_COMPASS: Final = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def compass(bearing_deg: float) -> str:
    """A bearing as the nearest of eight points of the compass.

    Examples
    --------
    >>> compass(-3.0), compass(48.0), compass(270.0)
    ('north', 'north-east', 'west')
    """
    return _COMPASS[round(bearing_deg / 45.0) % 8]


def listed(names: Iterable[str]) -> str:
    """Names one after the other, "and" before the last.

    Examples
    --------
    >>> listed([]), listed(["E1"]), listed(["E1", "G1", "W1"])
    ('', 'E1', 'E1, G1 and W1')
    """
    *first, last = [*names] or [""]
    return f"{', '.join(first)} and {last}" if first else last


def spoken_time(moment: datetime) -> str:
    """A moment by date and clock with its offset, so that it reads the same wherever and whenever it is read.

    Examples
    --------
    >>> spoken_time(datetime.fromisoformat("2024-05-22T17:00:00-05:00"))
    '22 May 2024 17:00 (UTC-05:00)'
    >>> spoken_time(datetime.fromisoformat("2024-05-22T22:00:00Z"))
    '22 May 2024 22:00 (UTC)'
    """
    return f"{moment.day} {MONTHS[moment.month - 1]} {moment.year} {moment:%H:%M} ({moment.tzname()})"


def spoken_length(value_m: float, units: str) -> str:
    """`value_m` in words for ``"ft-in"`` or ``"m"``.

    Examples
    --------
    >>> spoken_length(0.889, "ft-in")
    '2 ft 11 in'
    >>> spoken_length(0.889, "m")
    '0.89 m'
    """
    if units != "ft-in":
        return f"{value_m:.2f} m"
    inches = round(value_m / INCH_M)
    if abs(inches) < 12:
        return f"{inches} in"
    feet, rest = divmod(abs(inches), 12)
    sign = "-" if inches < 0 else ""
    return f"{sign}{feet} ft {rest} in" if rest else f"{sign}{feet} ft"


def spoken_area(area_m2: float, units: str) -> str:
    """An area as people say it.

    Examples
    --------
    >>> spoken_area(9.0, "m"), spoken_area(9.0, "ft-in")
    ('9.0 square metres', '97 square feet')
    """
    if units != "ft-in":
        return f"{area_m2:,.1f} square metres" if area_m2 < 100.0 else f"{area_m2:,.0f} square metres"
    feet = area_m2 / FOOT_M**2
    return f"{feet:,.0f} square feet" if feet >= 2.0 else "under 2 square feet"


def spoken_current(current_a: float) -> str:
    """A current with two digits.

    Examples
    --------
    >>> spoken_current(0.0432), spoken_current(0.0000432), spoken_current(1.3)
    ('43 mA', '0.043 mA', '1.3 A')
    """
    milli = 1e3 * current_a
    if milli >= 1000.0:
        return f"{current_a:.2g} A" if current_a < 100.0 else f"{current_a:,.0f} A"
    if milli >= 10.0:
        return f"{milli:.0f} mA"
    decimals = 1 - math.floor(math.log10(milli))
    return f"{milli:.{min(decimals, 6)}f} mA"
