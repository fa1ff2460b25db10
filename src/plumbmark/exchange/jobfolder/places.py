"""Places of rows: four ways to give one, all turned into easting and northing of the job's system."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.columns import Cells
from plumbmark.exchange.jobfolder.jobtoml import JobFile, listed, outside_words
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.table import Table
from plumbmark.inference.priors import FIX_SIGMA_M
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place
from plumbmark.survey.baselines import from_baseline
from plumbmark.survey.crs import from_longitude_latitude, outside_area, outside_area_deg

NOTABLE_SIGMA_M: Final = 0.01  # a rounding that adds less than this to a fix is not worth a word
COARSE_TRANSFORM_M: Final = 0.5

#: The ways to give a place, each with the columns it takes.
GRID: Final = ("easting_m", "northing_m")
GEODETIC: Final = ("longitude_deg", "latitude_deg")
TIED: Final = ("place",)
FORMS: Final = (
    "easting_m and northing_m; longitude_deg and latitude_deg; baseline, station_m and offset_m; or place"
)


@dataclass(frozen=True, slots=True)
class Spot:
    """A place as found so far: coordinates, and what its own digits add to the fix [m].

    Of a place from ties, `sigma_m` is that of the fit, which stands for the fix itself.
    """

    easting_m: float
    northing_m: float
    sigma_m: float = 0.0
    is_tied: bool = False


def read_places(
    table: Table,
    cells: Mapping[str, Cells],
    job: JobFile,
    tied: Mapping[str, Spot | None] | None,
    remarks: Remarks,
    *,
    offset: str = "offset_m",
    needed: Sequence[bool] | None = None,
) -> list[Place | None]:
    """Place of each row.

    Parameters
    ----------
    table : Table
    cells : mapping of str to Cells
        Columns of the table.
    job : JobFile
    tied : mapping of str to Spot or None, or None
        Places of `ties.csv`, None for one that was told of already; None where there is no such file.
    remarks : Remarks
    offset : str
        Name of the column with the offset from a baseline.
    needed : sequence of bool, optional
        Which rows have to have a place; all by default.

    Returns
    -------
    list of Place or None
        None where a row has none or a wrong one.
    """
    ways = (GRID, GEODETIC, ("baseline", "station_m", offset), TIED)
    chosen = _choose(table, cells, ways, remarks, needed)
    spots: list[Spot | None] = [None] * len(table.rows)
    convert: tuple[Callable[[list[int], list[list[Any]]], Iterable[Spot | None]], ...] = (
        lambda rows, values: _from_grid(table, cells, rows, values, job, remarks),
        lambda rows, values: _from_geodetic(table, cells, rows, values, job, remarks),
        lambda rows, values: _from_baselines(table, cells, rows, values, job, remarks),
        lambda rows, values: _from_ties(table, cells, rows, values, tied, remarks),
    )
    for number, (way, make) in enumerate(zip(ways, convert, strict=True)):
        rows = [i for i, form in enumerate(chosen) if form == number]
        if rows:
            values = [[cells[name].values[i] for i in rows] for name in way]
            good = [k for k in range(len(rows)) if all(column[k] is not None for column in values)]
            at = [rows[k] for k in good]
            for i, spot in zip(at, make(at, [[column[k] for k in good] for column in values]), strict=True):
                spots[i] = spot
    stated = cells["position_sigma_m"].values if "position_sigma_m" in cells else [None] * len(spots)
    return [_place(spot, sigma) for spot, sigma in zip(spots, stated, strict=True)]


def _choose(
    table: Table,
    cells: Mapping[str, Cells],
    ways: Sequence[tuple[str, ...]],
    remarks: Remarks,
    needed: Sequence[bool] | None,
) -> list[int]:
    """Number of the way that each row gives its place in, -1 for none."""
    if not any(name in cells for way in ways for name in way):
        if table.rows and (needed is None or any(needed)):
            remarks.error(f"{table.file} row 1", f"has no column that gives a place ({FORMS})")
        return [-1] * len(table.rows)
    blank = ("",) * len(table.rows)
    texts = [[cells[name].text if name in cells else blank for name in way] for way in ways]
    given = [[any(cell) for cell in zip(*columns, strict=True)] for columns in texts]
    whole = [[all(cell) for cell in zip(*columns, strict=True)] for columns in texts]
    chosen: list[int] = []
    for i, row in enumerate(table.rows):
        forms = [k for k in range(len(ways)) if given[k][i]]
        if len(forms) == 1 and whole[forms[0]][i]:
            chosen.append(forms[0])
            continue
        chosen.append(-1)
        if len(forms) > 1:
            first, second = (_first_given(ways[k], texts[k], i, cells) for k in forms[:2])
            remarks.error(
                table.where(row, second), f"gives a second place beside {first} (keep one of: {FORMS})"
            )
        elif forms:
            where, what = _lack(table, row, ways[forms[0]], texts[forms[0]], i, cells)
            remarks.error(where, what)
        elif needed is None or needed[i]:
            remarks.error(
                table.where(row, "place"), f"is missing: the row says nowhere where it is (give {FORMS})"
            )
    return chosen


def _lack(
    table: Table,
    row: int,
    way: tuple[str, ...],
    columns: Sequence[Sequence[str]],
    i: int,
    cells: Mapping[str, Cells],
) -> tuple[str, str]:
    """Say what a place that is given in part lacks."""
    missing = next(name for name, column in zip(way, columns, strict=True) if not column[i])
    if missing not in cells and missing.startswith("place_"):
        return f"{table.file} row 1 {missing.removeprefix('place_')}", (
            "is there once, and a walk across placed along a baseline needs two columns of this name: the "
            "first of its zero point from the baseline, the second of the points along the walk"
        )
    name = cells[missing].header if missing in cells else missing
    lack = "is blank" if missing in cells else "is not a column of the file"
    there = _first_given(way, columns, i, cells)
    return table.where(row, name), f"{lack}, and {there} is given (a place needs {' and '.join(way)})"


def _first_given(
    way: tuple[str, ...], columns: Sequence[Sequence[str]], row: int, cells: Mapping[str, Cells]
) -> str:
    return next(cells[name].header for name, column in zip(way, columns, strict=True) if column[row])


def _place(spot: Spot | None, stated: Measured | None) -> Place | None:
    if spot is None:
        return None
    sigma = None if stated is None else stated.value
    if spot.is_tied:
        sigma = max(FIX_SIGMA_M if sigma is None else sigma, spot.sigma_m)
    elif spot.sigma_m > NOTABLE_SIGMA_M:
        sigma = math.hypot(FIX_SIGMA_M if sigma is None else sigma, spot.sigma_m)
    return Place(spot.easting_m, spot.northing_m, sigma)


def _own_sigma(written: Sequence[Sequence[Measured]]) -> list[float]:
    """What rounding and ranges of both coordinates add to each fix: one sigma, both directions alike."""
    half = np.array([[cell.half_range for cell in column] for column in written])
    step = np.array([[cell.rounding for cell in column] for column in written])
    sigma: list[float] = np.sqrt((half**2 / 3.0 + step**2 / 12.0).mean(axis=0)).tolist()
    return sigma


def _arrays(columns: Sequence[Sequence[Measured]]) -> list[NDArray[np.float64]]:
    return [np.array([cell.value for cell in column]) for column in columns]


def _from_grid(
    table: Table,
    cells: Mapping[str, Cells],
    rows: list[int],
    values: list[list[Any]],
    job: JobFile,
    remarks: Remarks,
) -> Iterable[Spot | None]:
    easting, northing = _arrays(values)
    return _inside(table, cells["easting_m"].header, rows, easting, northing, values, job, remarks)


def _inside(
    table: Table,
    column: str,
    rows: list[int],
    easting: NDArray[np.float64],
    northing: NDArray[np.float64],
    written: list[list[Any]],
    job: JobFile,
    remarks: Remarks,
) -> list[Spot | None]:
    outside = np.zeros(len(rows), dtype=bool)
    if job.system is not None:
        outside = outside_area(job.system, easting, northing)
        for k in np.flatnonzero(outside):
            what = outside_words(job.system, float(easting[k]), float(northing[k]))
            remarks.error(table.where(table.rows[rows[k]], column), what)
    return [
        None if out else Spot(e, n, own)
        for e, n, out, own in zip(
            easting.tolist(), northing.tolist(), outside.tolist(), _own_sigma(written), strict=True
        )
    ]


def _from_geodetic(
    table: Table,
    cells: Mapping[str, Cells],
    rows: list[int],
    values: list[list[Any]],
    job: JobFile,
    remarks: Remarks,
) -> Iterable[Spot | None]:
    column = cells["longitude_deg"].header
    if job.system is None:
        if job.readable and job.crs == "local":
            what = 'longitude and latitude need crs = "EPSG:…" in job.toml, and it is "local"'
            remarks.error(f"{table.file} row {table.rows[rows[0]] if rows else 1} {column}", what)
        return [None] * len(rows)
    longitude, latitude = _arrays(values)
    outside = outside_area_deg(job.system, longitude, latitude)
    for k in np.flatnonzero(outside):
        swapped = not outside_area_deg(job.system, latitude[k : k + 1], longitude[k : k + 1])[0]
        what = (
            f"longitude {longitude[k]:.10g}, latitude {latitude[k]:.10g} lies outside the area of use of "
            f"{job.system.code}, {job.system.name}{' (they are swapped)' if swapped else ''}"
        )
        remarks.error(table.where(table.rows[rows[k]], column), what)
    inside = np.where(outside, np.nan, longitude)
    easting, northing, accuracy = from_longitude_latitude(job.system, inside, latitude)
    if accuracy > COARSE_TRANSFORM_M:
        what = (
            f"longitude and latitude reach {job.system.code} by a transformation good to {accuracy:g} m: "
            "all places may be off together by that much"
        )
        remarks.warn(f"{table.file} row {table.rows[rows[0]]} {column}", what)
    reached = np.isfinite(easting) & np.isfinite(northing)
    for k in np.flatnonzero(~reached & ~outside):
        what = (
            f"longitude {longitude[k]:.10g}, latitude {latitude[k]:.10g} has no transformation into {job.crs}"
        )
        remarks.error(table.where(table.rows[rows[k]], column), what)
    return [
        Spot(e, n) if fit else None
        for e, n, fit in zip(easting.tolist(), northing.tolist(), reached.tolist(), strict=True)
    ]


def _from_baselines(
    table: Table,
    cells: Mapping[str, Cells],
    rows: list[int],
    values: list[list[Any]],
    job: JobFile,
    remarks: Remarks,
) -> Iterable[Spot | None]:
    names, *written = values
    easting, northing = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    station, offset = _arrays(written)
    for name in dict.fromkeys(names):
        here = np.array([other == name for other in names])
        line = job.baselines.get(name)
        if line is not None:
            start, end = (
                (line.start_easting_m, line.start_northing_m),
                (line.end_easting_m, line.end_northing_m),
            )
            easting[here], northing[here] = from_baseline(station[here], offset[here], start=start, end=end)
        elif job.readable and name not in job.broken:
            for k in np.flatnonzero(here):
                what = f"{shown(name)} is no baseline of this job{listed(job.baselines)}"
                remarks.error(table.where(table.rows[rows[k]], cells["baseline"].header), what)
    known = np.flatnonzero(np.isfinite(easting)).tolist()
    found = _inside(
        table,
        cells["station_m"].header,
        [rows[k] for k in known],
        easting[known],
        northing[known],
        [[column[k] for k in known] for column in written],
        job,
        remarks,
    )
    spots: list[Spot | None] = [None] * len(rows)
    for at, spot in zip(known, found, strict=True):
        spots[at] = spot
    return spots


def _from_ties(
    table: Table,
    cells: Mapping[str, Cells],
    rows: list[int],
    values: list[list[Any]],
    tied: Mapping[str, Spot | None] | None,
    remarks: Remarks,
) -> Iterable[Spot | None]:
    column = cells["place"].header
    for i, name in zip(rows, values[0], strict=True):
        if tied is None:
            what = f"{shown(name)} is a place of ties.csv, and there is no such file"
            remarks.error(table.where(table.rows[i], column), what)
        elif name not in tied:
            remarks.error(
                table.where(table.rows[i], column), f"{shown(name)} is no place of ties.csv{listed(tied)}"
            )
    return [None if tied is None else tied.get(name) for name in values[0]]
