"""The columns of every table of a job folder: one line each.

A new column is one line here, one field in `plumbmark.model.reading` and one line where the row is built
(`exchange.jobfolder.rows`). Names are those of the model's fields; currents are written in mA.
"""

from __future__ import annotations

from typing import Any, Final

from plumbmark.base.datafile import read_data
from plumbmark.exchange.jobfolder.columns import MAX_AMPLITUDE, MAX_COORDINATE_M, MAX_CURRENT_A, Column, Kind
from plumbmark.model.job import Utility
from plumbmark.model.mark import MarkKind, MarkState
from plumbmark.model.reading import DepthMethod, MarkBy, Scale
from plumbmark.model.sweep import Antenna, Heard, SearchMethod
from plumbmark.model.ticket import OwnerSaid, ThingKind

YES_NO: Final[dict[str, Any]] = {"yes": True, "no": False}
SIGNS: Final[dict[str, Any]] = {"+": 1, "-": -1}
COLOURS: Final[dict[str, Any]] = {
    str(c): c for c in sorted({*read_data("colours")["colour"].values(), "white"})
}


def _id(name: str, required: bool = False) -> Column:
    return Column(name, Kind.ID, required=required)


def _text(name: str) -> Column:
    return Column(name, Kind.TEXT)


def _choice(name: str, choices: dict[str, Any]) -> Column:
    return Column(name, Kind.CHOICE, choices=choices)


def _length(name: str, required: bool = False) -> Column:
    return Column(name, Kind.LENGTH, required=required)


def _size(name: str, required: bool = False) -> Column:
    return Column(name, Kind.LENGTH, low=0.0, required=required)


def _coordinate(name: str) -> Column:
    return Column(name, Kind.LENGTH, low=-MAX_COORDINATE_M, high=MAX_COORDINATE_M)


def _angle(name: str, limit: float, ranges: bool = False) -> Column:
    return Column(name, Kind.ANGLE, low=-limit, high=limit, ranges=ranges)


def _amplitude(name: str) -> Column:
    return Column(name, Kind.AMPLITUDE, low=-MAX_AMPLITUDE, high=MAX_AMPLITUDE)


PLACE: Final = (
    _coordinate("easting_m"),
    _coordinate("northing_m"),
    _angle("longitude_deg", 180.0),
    _angle("latitude_deg", 90.0),
    _id("baseline"),
    _length("station_m"),
    _id("place"),
    Column("position_sigma_m", Kind.LENGTH, low=0.0, ranges=False),
)
PLACE_OFFSET: Final = _length("offset_m")
#: A walk across has an `offset_m` of its own; the reader renames the one of its zero point to this.
WALK_PLACE_OFFSET: Final = _length("place_offset_m")

READINGS: Final = (
    _id("reading", required=True),
    _id("line"),
    _id("setup"),
    Column("taken_at", Kind.TIME),
    _text("by"),
    _text("note"),
    *PLACE,
    PLACE_OFFSET,
    _choice("mark_by", {str(m): m for m in MarkBy}),
    _angle("bearing_deg", 360.0, ranges=True),
    _length("null_offset_m"),
    _size("half_left_m"),
    _size("half_right_m"),
    _size("depth_m"),
    _choice("depth_method", {str(m): m for m in DepthMethod}),
    _choice("depth_refused", YES_NO),
    Column("current_ma", Kind.CURRENT, low=0.0, high=MAX_CURRENT_A),
    _choice("current_sign", SIGNS),
    _size("raised_by_m"),
    _size("raised_depth_m"),
    _size("null_ahead_m"),
    _size("null_behind_m"),
)

PROFILES: Final = (
    _id("profile", required=True),
    _id("line"),
    _id("setup"),
    *PLACE,
    WALK_PLACE_OFFSET,
    _angle("bearing_deg", 360.0, ranges=True),
    _length("offset_m", required=True),
    _size("height_m"),
    _amplitude("horizontal"),
    _amplitude("vertical"),
    _choice("scale", {str(s): s for s in Scale}),
)

SIDE_READINGS: Final = (
    _id("side_reading", required=True),
    _id("line"),
    _id("setup"),
    *PLACE,
    PLACE_OFFSET,
    _angle("toward_deg", 360.0, ranges=True),
    _size("distance_m"),
    _size("depth_m"),
)

TEST_HOLES: Final = (
    _id("test_hole", required=True),
    _id("line"),
    *PLACE,
    PLACE_OFFSET,
    _choice("found", YES_NO),
    _size("depth_to_top_m"),
    _size("outside_diameter_m"),
    _size("dug_to_m"),
    _text("proved"),
)

MARKS: Final = (
    _id("mark", required=True),
    _id("line"),
    *PLACE,
    PLACE_OFFSET,
    _choice("kind", {str(k): k for k in MarkKind}),
    _choice("colour", COLOURS),
    Column("painted_at", Kind.TIME),
    _text("by"),
    _text("photo"),
    _choice("state", {str(s): s for s in MarkState}),
    Column("state_at", Kind.TIME),
    _angle("toward_deg", 360.0, ranges=True),
    _size("distance_m"),
    _text("note"),
)

OWNERS: Final = (
    Column("owner", Kind.TEXT, required=True),
    _choice("utility", {str(u): u for u in Utility}),
    _choice("answer", {str(a): a for a in OwnerSaid}),
    _text("why"),
    Column("answered_at", Kind.TIME),
    _text("by"),
    Column("until_at", Kind.TIME),
    _text("note"),
)

THINGS: Final = (
    _id("thing", required=True),
    _choice("kind", {str(k): k for k in ThingKind}),
    *PLACE,
    PLACE_OFFSET,
    _choice("colour", COLOURS),
    Column("seen_at", Kind.TIME),
    _text("by"),
    _text("note"),
)

PHOTOS: Final = (
    Column("photo", Kind.TEXT, required=True),
    _id("mark"),
    _id("thing"),
    *PLACE,
    PLACE_OFFSET,
    _angle("bearing_deg", 360.0, ranges=True),
    Column("taken_at", Kind.TIME),
    _text("by"),
    _text("note"),
)

TIES: Final = (
    _id("place", required=True),
    _id("corner", required=True),
    _size("distance_m", required=True),
)

#: All but time, place and heading belong to a pass as a whole: said once, on its first row.
PASSES: Final = (
    _id("pass", required=True),
    Column("taken_at", Kind.TIME),
    _text("by"),
    _text("note"),
    *PLACE,
    PLACE_OFFSET,
    _choice("method", {str(m): m for m in SearchMethod}),
    Column("frequency_hz", Kind.AMPLITUDE, low=0.0, high=1e9, ranges=False),
    _choice("antenna", {str(a): a for a in Antenna}),
    _angle("heading_deg", 360.0),
    _choice("signal", {str(h): h for h in Heard}),
)
