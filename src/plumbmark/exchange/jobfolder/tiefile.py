"""`ties.csv`: taped distances to corners, and the places they make."""

from __future__ import annotations

import math
from collections.abc import Sequence

from plumbmark.base.errors import TieError
from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.columns import read_columns
from plumbmark.exchange.jobfolder.jobtoml import JobFile, listed
from plumbmark.exchange.jobfolder.places import Spot
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.schema import TIES
from plumbmark.exchange.jobfolder.table import Table
from plumbmark.survey.ties import Tie, TiedPlace, place_from_ties, settle_sides

TOLD_RESIDUAL_M = 0.10
TOLD_SHARE = 0.01


def read_ties(table: Table, job: JobFile, remarks: Remarks) -> dict[str, TiedPlace | None]:
    """Places of `ties.csv` by least squares.

    Parameters
    ----------
    table : Table
    job : JobFile
    remarks : Remarks
        Told of unknown corners, of places with too few or impossible distances, and of large residuals.

    Returns
    -------
    dict of str to TiedPlace or None
        By name, in order; None for a place that was told of as an error.
    """
    cells = read_columns(table, TIES, remarks)
    if len(cells) < len(TIES):
        return {}
    rows: dict[str, list[int]] = {}
    for i, place in enumerate(cells["place"].values):
        if place is not None:
            rows.setdefault(place, []).append(i)
    found: dict[str, TiedPlace | None] = {}
    for place, at in rows.items():
        ties: list[Tie] = []
        for i in at:
            name, distance = cells["corner"].values[i], cells["distance_m"].values[i]
            corner = job.corners.get(name)
            if corner is None and name is not None and job.readable and name not in job.broken:
                where = table.where(table.rows[i], "corner")
                remarks.error(where, f"{shown(name)} is no corner of this job{listed(job.corners)}")
            if corner is not None and distance is not None:
                own = math.sqrt(distance.half_range**2 / 3.0 + distance.rounding**2 / 12.0)
                ties.append(Tie(corner.easting_m, corner.northing_m, distance.value, own))
        whole = len(ties) == len(at)
        found[place] = _fit(table, place, [table.rows[i] for i in at], ties, remarks) if whole else None
    return found


def settle_ties(
    table: Table, tied: dict[str, TiedPlace | None], known: Sequence[tuple[float, float]], remarks: Remarks
) -> dict[str, Spot | None]:
    """Choose a side for places that their distances leave two of, and say so.

    Parameters
    ----------
    table : Table
    tied : dict of str to TiedPlace or None
    known : sequence of tuple of float
        Easting and northing of the places that the job gives otherwise.
    remarks : Remarks

    Returns
    -------
    dict of str to Spot or None
    """
    names = [name for name, place in tied.items() if place is not None]
    settled = settle_sides([place for place in tied.values() if place is not None], known)
    spots: dict[str, Spot | None] = dict.fromkeys(tied)
    certain = bool(known) or any(place is not None and place.other is None for place in tied.values())
    reason = (
        "nearer to the other places"
        if certain
        else "on the right going from its first corner to the second, or beside the place before"
    )
    rows: dict[str, int] = {}
    if names:
        for row, name in zip(table.rows, table.cells[table.header.index("place")], strict=True):
            rows.setdefault(name, row)
    for name, place in zip(names, settled, strict=True):
        spots[name] = Spot(place.easting_m, place.northing_m, place.sigma_m, is_tied=True)
        if place.other is None:
            continue
        what = (
            f"the distances of {name} fit two places; easting {place.easting_m:.2f}, northing "
            f"{place.northing_m:.2f} is taken, {reason}, not {place.other[0]:.2f}, {place.other[1]:.2f} "
            "(a distance to a third corner off their line would settle it)"
        )
        remarks.warn(table.where(rows[name], "place"), what)
    return spots


def _fit(
    table: Table, place: str, rows: Sequence[int], ties: Sequence[Tie], remarks: Remarks
) -> TiedPlace | None:
    where = table.where(rows[0], "place")
    try:
        found = place_from_ties(ties)
    except TieError as error:
        remarks.error(where, f"{shown(place)} {error}")
        return None
    worst = max(range(len(ties)), key=lambda i: abs(found.residuals_m[i]))
    residual = found.residuals_m[worst]
    if abs(residual) > TOLD_RESIDUAL_M + TOLD_SHARE * ties[worst].distance_m:
        what = (
            f"{ties[worst].distance_m:.2f} m is {abs(residual):.2f} m "
            f"{'longer' if residual > 0 else 'shorter'} than the other distances of {place} make it; "
            f"the place is taken as good to {found.sigma_m:.2f} m"
        )
        remarks.warn(table.where(rows[worst], "distance_m"), what)
    return found
