"""Rows of facts as files take them: each with its line and its place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from plumbmark.base.errors import UnitError
from plumbmark.base.units import LENGTH_UNITS, parse_length, parse_number
from plumbmark.exchange.jobfolder.columns import ID
from plumbmark.exchange.journal.spots import PLACE, WORDS, Point, Spots, system_of
from plumbmark.model.folded import Cells
from plumbmark.survey.crs import GridSystem, from_longitude_latitude

#: Tables whose rows are of a line.
LINED: Final = ("readings", "profiles", "side_readings", "test_holes")
#: Tables whose rows need a place: one that says none gets a spot of its own.
_NEED_PLACE: Final = (*LINED, "marks")
_HAVE_NOTE: Final = ("readings", "marks", "things", "photos", "passes")
#: The order that tables are gone through: a walk across takes line and place of the reading it belongs to.
_ORDER: Final = (
    "things",
    "readings",
    "profiles",
    "side_readings",
    "test_holes",
    "ties",
    "passes",
    "marks",
    "owners",
    "photos",
)
FIRST_LINE: Final = "1"
_PLACE_CELLS: Final = (
    *PLACE,
    "position_sigma_m",
    *(f"offset{u}" for u in ("", "_m", "_ft", "_in", "_cm", "_mm")),
)

Tables = Mapping[str, Mapping[str, Sequence[Cells]]]


@dataclass(slots=True)
class Placed:
    """Rows with lines and places, and what the job file needs for them."""

    rows: dict[str, dict[str, list[Cells]]] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)
    baselines: dict[str, tuple[Point, Point, bool]] = field(default_factory=dict)
    unplaced: set[tuple[str, str]] = field(default_factory=set)


def placed_rows(
    entries: Tables, there: Tables, lines: Sequence[str], baselines: Sequence[str], crs: str
) -> Placed:
    """Give rows of facts what they leave out.

    Parameters
    ----------
    entries : mapping of table to key to rows
        From facts, as typed.
    there : mapping of table to key to rows
        From files.
    lines, baselines : sequence of str
        Ids that the job file has.
    crs : str
        Of the job.

    Returns
    -------
    Placed
        A row without a line is of the job's only one, else of line 1; a line that the job file lacks is to be
        added to it, bare. A place by words lies along a baseline that is to be added; a row of a kind that
        needs a place and says none has a spot of its own.
    """
    system = system_of(crs)

    def thing(name: str) -> Point | None:
        rows = entries.get("things", {}).get(name) or there.get("things", {}).get(name) or ()
        return _point(rows[0], system) if rows else None

    spots = Spots(crs, thing, set(baselines))
    placed = Placed(baselines=spots.baselines)
    only = lines[0] if len(lines) == 1 else FIRST_LINE
    known = dict.fromkeys(lines)
    for table in _ORDER:
        for key, rows in entries.get(table, {}).items():
            reading = placed.rows.get("readings", {}).get(key) or there.get("readings", {}).get(key) or ()
            of = reading[0] if table == "profiles" and reading else {}
            done = [
                _filled(dict(row), i, table, key, of, only, spots, placed.unplaced)
                for i, row in enumerate(rows)
            ]
            placed.rows.setdefault(table, {})[key] = done
            for row in done if table in (*LINED, "marks") else ():
                name = row.get("line", "")
                if name and name not in known and ID.fullmatch(name):
                    known[name] = None
                    placed.lines.append(name)
    return placed


def _filled(
    row: dict[str, str],
    number: int,
    table: str,
    key: str,
    reading: Cells,
    only: str,
    spots: Spots,
    unplaced: set[tuple[str, str]],
) -> Cells:
    """One row; further rows of a walk say nothing again."""
    words = {name: row.pop(name, "") for name in WORDS}
    again = number > 0 and table == "profiles"
    if table in LINED and not row.get("line") and not again:
        row["line"] = reading.get("line") or only
    has_place = any(row.get(name) for name in PLACE)
    if has_place or again or not (any(words.values()) or table in _NEED_PLACE):
        return row
    if reading and not any(words.values()):
        cells = {name: reading[name] for name in _PLACE_CELLS if reading.get(name)}
        said, lost = "", ("readings", key) in unplaced
    else:
        spot = spots.spot(words, key if table in LINED else f"{table} {key}")
        cells, said, lost = dict(spot.cells), spot.said, not spot.is_placed
    if lost:
        unplaced.add((table, key))
    if table == "profiles":  # a walk has an offset of its own
        cells = {f"place_{name}" if name.startswith("offset") else name: cell for name, cell in cells.items()}
    if said and table in _HAVE_NOTE:
        row["note"] = "; ".join(part for part in (row.get("note", ""), said) if part)
    return {**row, **cells}


def _point(cells: Cells, system: GridSystem | None) -> Point | None:
    """Coordinates of a thing in the job's grid, where it has them."""
    try:
        easting, northing = (_length(cells, name) for name in ("easting", "northing"))
        if easting is not None and northing is not None:
            return easting, northing
        longitude, latitude = cells.get("longitude_deg", ""), cells.get("latitude_deg", "")
        if system is None or not longitude or not latitude:
            return None
        east, north, _ = from_longitude_latitude(system, [parse_number(longitude)], [parse_number(latitude)])
    except UnitError:
        return None
    return float(east[0]), float(north[0])


def _length(cells: Cells, stem: str) -> float | None:
    for unit in (None, *LENGTH_UNITS):
        cell = cells.get(stem if unit is None else f"{stem}_{unit}", "")
        if cell:
            return parse_length(cell, unit, stem).low
    return None
