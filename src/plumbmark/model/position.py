"""Where a GNSS receiver beside the server says it is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


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
