"""Where a GNSS receiver says it is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

#: What GGA of NMEA 0183 says of a fix: kinds that were measured, and those that were not. 0 is none.
MEASURED: Final = {1: "single", 2: "corrected", 3: "precise service", 4: "fixed", 5: "float"}
NOT_MEASURED: Final = {6: "by dead reckoning", 7: "typed in", 8: "simulated"}


def sigma_of_axes(one: float, other: float) -> float:
    """One standard deviation of either coordinate where two axes have one each, in their unit.

    Examples
    --------
    >>> round(sigma_of_axes(0.03, 0.04), 4)
    0.0354
    """
    return math.sqrt(0.5 * (one**2 + other**2))


class PositionState(StrEnum):
    """Whether a receiver gives a place now."""

    PLACE = "place"
    NO_PLACE = "no place"
    SILENT = "silent"


@dataclass(frozen=True, slots=True)
class PositionBody:
    """The last place that a receiver gave, WGS 84, and how things stand with it.

    `state` is `place` where it was given within the last few seconds and measured; else the place, if there
    is one, is an old one and `words` say so. `position_sigma_m` is one standard deviation of either
    coordinate as the receiver tells it, None where it does not. `age_s` counts from when it came in.
    """

    state: PositionState
    words: str
    longitude_deg: float | None = None
    latitude_deg: float | None = None
    position_sigma_m: float | None = None
    fix: str | None = None
    received_at: str | None = None
    age_s: float | None = None
