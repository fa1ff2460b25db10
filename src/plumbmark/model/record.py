"""What others say is there, and what is planned to be dug."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class DigKind(StrEnum):
    """Shape of a planned dig."""

    EXCAVATION = "excavation"
    TRENCH = "trench"
    BORE = "bore"


@dataclass(frozen=True, slots=True)
class Record:
    """A line drawn from records; `path` is (easting, northing) in the job's system [m]."""

    id: str
    path: tuple[tuple[float, float], ...]
    line: str | None = None
    utility: str | None = None
    depth_m: float | None = None
    outside_diameter_m: float | None = None
    source: str | None = None
    date: str | None = None
    position_sigma_m: float | None = None


@dataclass(frozen=True, slots=True)
class Dig:
    """A planned dig; `rings` holds the outer ring of an excavation or the path of a trench or bore."""

    id: str
    kind: DigKind
    rings: tuple[tuple[tuple[float, float], ...], ...]
    depth_m: float | None = None
    depths_m: tuple[float, ...] | None = None
    width_m: float | None = None
    diameter_m: float | None = None
    position_sigma_m: float | None = None
