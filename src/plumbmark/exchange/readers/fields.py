"""What a column of a log can hold, for each use of its rows: columns of the job folder, by plain names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache
from typing import Final

from plumbmark.exchange.jobfolder.columns import Column, Kind
from plumbmark.exchange.jobfolder.reader import SCHEMAS
from plumbmark.exchange.journal.sheet import TABLES

POSITIONS: Final = "positions"
#: Uses of rows, and what they become, in words.
USES: Final = {
    "readings": "readings over a line",
    "test_holes": "test holes",
    "things": "things seen",
    "passes": "a pass of the sweep",
    POSITIONS: "places of what was written down at the same time",
    "photos": "a photograph",
}
LENGTHS: Final = ("m", "ft", "in", "cm", "mm")
CURRENTS: Final = {"ma": 0, "a": 3, "ua": -3}  # powers of ten to mA
FREQUENCIES: Final = {"hz": 0, "khz": 3, "mhz": 6}
#: Numbers that state their unit themselves.
CELLS: Final = "cells"
ID: Final = "id"
TIME: Final = "time"
DAY: Final = "day"
CLOCK: Final = "clock"
FREQUENCY: Final = "frequency"
NOTE: Final = "note"

_WORDS: Final = {
    ID: "its number or name",
    TIME: "date and time",
    DAY: "date alone",
    CLOCK: "time of day alone",
    "by": "who",
    "line": "line",
    "setup": "hook-up",
    "depth": "depth as displayed, to the middle of the line",
    "current": "current",
    "null_offset": "from the peak mark to the null, to the right",
    "half_left": "from the mark to half signal, left",
    "half_right": "from the mark to half signal, right",
    "raised_by": "how far the receiver was raised",
    "raised_depth": "depth displayed when raised",
    "null_ahead": "from the mark to the null ahead (sonde)",
    "null_behind": "from the mark to the null behind (sonde)",
    "bearing_deg": "bearing",
    "heading_deg": "way the receiver faced",
    "position_sigma": "how good the place is, one sigma",
    "longitude_deg": "longitude",
    "latitude_deg": "latitude",
    "station": "along the baseline",
    "offset": "from the baseline, to the right",
    "place": "place taped from corners",
    "depth_to_top": "depth to the top of the line",
    FREQUENCY: "frequency",
    NOTE: "a remark",
}


class Holds(Enum):
    """How cells of a field are read."""

    ID = "id"
    TEXT = "text"
    CHOICE = "choice"
    MOMENT = "moment"
    LENGTH = "length"
    SCALED = "scaled"
    ANGLE = "angle"


@dataclass(frozen=True, slots=True)
class Field:
    """Something a column can hold.

    Attributes
    ----------
    name : str
        Without unit; the same in all uses for the same thing.
    holds : Holds
    column : Column or None
        Of the job folder; None for what is put together from several.
    units : tuple of str
        That its numbers can be in.
    """

    name: str
    holds: Holds
    column: Column | None = None
    units: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """For people."""
        return _WORDS.get(self.name, self.name.replace("_", " "))


def key_of(use: str) -> str:
    """The column that rows of a use are known by; empty for positions, which are no rows of their own."""
    return "" if use == POSITIONS else TABLES[use]


@cache
def fields_of(use: str) -> dict[str, Field]:
    """Fields by name, in the order they are offered."""
    if use == POSITIONS:
        wanted = (TIME, DAY, CLOCK, "longitude_deg", "latitude_deg", "easting", "northing", "position_sigma")
        return {name: fields_of("readings")[name] for name in wanted}
    found = list(_fields(SCHEMAS[f"{use}.csv"], TABLES[use]))
    if use == "readings":
        found.append(Field(FREQUENCY, Holds.SCALED, None, tuple(FREQUENCIES)))
    return {field.name: field for field in found}


def _fields(schema: Sequence[Column], key: str) -> Iterator[Field]:
    timed = False
    for column in schema:
        if column.name == key:
            yield Field(ID, Holds.TEXT if column.kind is Kind.TEXT else Holds.ID, column)
        elif column.kind is Kind.TIME:
            if not timed:  # later ones are about something else: when a mark was last looked at
                yield from (Field(name, Holds.MOMENT, column) for name in (TIME, DAY, CLOCK))
            timed = True
        elif column.kind is Kind.LENGTH:
            yield Field(column.stem, Holds.LENGTH, column, (*LENGTHS, CELLS))
        elif column.kind is Kind.CURRENT:
            yield Field("current", Holds.SCALED, column, tuple(CURRENTS))
        elif column.kind is Kind.AMPLITUDE:
            yield Field(FREQUENCY, Holds.SCALED, column, tuple(FREQUENCIES))
        elif column.kind is Kind.ANGLE:
            yield Field(column.name, Holds.ANGLE, column, ("deg",))
        else:
            holds = {Kind.ID: Holds.ID, Kind.CHOICE: Holds.CHOICE}.get(column.kind, Holds.TEXT)
            yield Field(column.name, holds, column)
