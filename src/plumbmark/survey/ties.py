"""Swing ties: a place from taped distances to corners, by least squares.

Two distances fit two places, one on either side of the line through the corners, and so do more distances
from corners that stand in a row. `settle_sides` chooses between them and says where it had to guess.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from plumbmark.base.errors import TieError

Point = tuple[float, float]

TAPE_SIGMA_M: Final = 0.02  # a tape held to a corner by two hands; common practice, no source
SAME_PLACE_M: Final = 0.3
MISFIT_M: Final = 0.2  # misfit that no tape makes: this, and ...
MISFIT_SHARE: Final = 0.05  # ... this share of the longest distance (paced distances are allowed for)
_AS_GOOD: Final = 9.0  # of two places, one whose chi square is within three sigma of the other's


@dataclass(frozen=True, slots=True)
class Tie:
    """One taped distance; `sigma_m` is what its rounding or range adds to the tape's own error."""

    easting_m: float
    northing_m: float
    distance_m: float
    sigma_m: float = 0.0


@dataclass(frozen=True, slots=True)
class TiedPlace:
    """A place from ties.

    `sigma_m` is one standard deviation of the fit, `residuals_m` taped minus computed for each tie, and
    `other` the easting and northing of a second place that fits as well, None where there is none.
    """

    easting_m: float
    northing_m: float
    sigma_m: float
    residuals_m: tuple[float, ...]
    other: tuple[float, float] | None = None


def place_from_ties(ties: Sequence[Tie]) -> TiedPlace:
    r"""Least-squares place of two or more taped distances.

    Parameters
    ----------
    ties : sequence of Tie
        To two different points at least.

    Returns
    -------
    TiedPlace
        Of two places that fit alike, the one to the right of the way from the first corner to the second.

    Raises
    ------
    TieError
        If there are fewer than two corners, or the distances cannot belong together.

    Notes
    -----
    Gauss-Newton on :math:`d_i - |p - c_i|`, from where each pair of circles meets. The variance factor is
    :math:`(2 + \chi^2)/n`, never below 1: two ties say nothing of their own error, and the tape's stands.

    Examples
    --------
    >>> place = place_from_ties([Tie(0.0, 0.0, 5.0), Tie(0.0, 8.0, 5.0)])
    >>> round(place.easting_m, 6), round(place.northing_m, 6), [round(v, 6) for v in place.other]
    (3.0, 4.0, [-3.0, 4.0])
    """
    if len({(t.easting_m, t.northing_m) for t in ties}) < 2:
        raise TieError("needs taped distances to two different corners at least")
    # Grid coordinates are large, so the fit is done about the corners' middle.
    middle_e = sum(t.easting_m for t in ties) / len(ties)
    middle_n = sum(t.northing_m for t in ties) / len(ties)
    near = [
        Tie(
            t.easting_m - middle_e, t.northing_m - middle_n, t.distance_m, math.hypot(TAPE_SIGMA_M, t.sigma_m)
        )
        for t in ties
    ]
    fits = sorted((_fit(start, near) for start in _starts(near)), key=lambda fit: fit[1])
    point, chi2 = fits[0]
    worst = max(abs(r) for r in _residuals(point, near))
    if worst > MISFIT_M + MISFIT_SHARE * max(t.distance_m for t in ties):
        raise TieError(f"has taped distances that do not meet: the best point misses one by {worst:.2f} m")
    factor = max(1.0, (2.0 + chi2) / len(ties))
    spread = math.sqrt(factor) * _spread(point, near)
    rivals = [p for p, c in fits if (c - chi2) < _AS_GOOD * factor and math.dist(p, point) > SAME_PLACE_M]
    rival = rivals[0] if rivals else None
    if rival is not None and _is_right(rival, near) and not _is_right(point, near):
        point, rival = rival, point
    other = None if rival is None else (rival[0] + middle_e, rival[1] + middle_n)
    return TiedPlace(point[0] + middle_e, point[1] + middle_n, spread, tuple(_residuals(point, near)), other)


def settle_sides(
    places: Sequence[TiedPlace], known: Sequence[tuple[float, float]] = ()
) -> tuple[TiedPlace, ...]:
    """Choose between the two sides of each ambiguous place: the one nearer to what else is known.

    Parameters
    ----------
    places : sequence of TiedPlace
        In the order they were walked.
    known : sequence of tuple of float, [m]
        Easting and northing of places of the same job that are certain.

    Returns
    -------
    tuple of TiedPlace
        `other` is still set where a side was chosen: the choice is to be told.
    """
    certain = [*known, *((p.easting_m, p.northing_m) for p in places if p.other is None)]
    anchors = np.array(certain, float).reshape(-1, 2)
    settled: list[TiedPlace] = []
    for place in places:
        if place.other is not None and len(anchors):
            here = (place.easting_m, place.northing_m)
            near, far = (float(np.hypot(*(anchors - side).T).min()) for side in (here, place.other))
            if far < near:
                place = replace(place, easting_m=place.other[0], northing_m=place.other[1], other=here)
        settled.append(place)
        if not certain:  # nothing is: each place stays on the side of the one before
            anchors = np.array([(place.easting_m, place.northing_m)])
    return tuple(settled)


def _starts(ties: Sequence[Tie]) -> list[Point]:
    """Where circles meet, both ways, of the two pairs that cut best; a point between where they do not."""
    cuts: list[tuple[float, list[Point]]] = []
    for one, two in itertools.islice(itertools.combinations(ties, 2), 15):
        run_e, run_n = two.easting_m - one.easting_m, two.northing_m - one.northing_m
        apart = math.hypot(run_e, run_n)
        if apart == 0.0:
            continue
        along = 0.5 * (apart + (one.distance_m**2 - two.distance_m**2) / apart)
        across = math.sqrt(max(one.distance_m**2 - along**2, (0.01 * apart) ** 2))
        unit_e, unit_n = run_e / apart, run_n / apart
        foot_e, foot_n = one.easting_m + along * unit_e, one.northing_m + along * unit_n
        sine = across * apart / max(one.distance_m * two.distance_m, 1e-9)  # of the angle of the two tapes
        points = [(foot_e + side * across * unit_n, foot_n - side * across * unit_e) for side in (1.0, -1.0)]
        cuts.append((-min(sine, 1.0), points))
    cuts.sort(key=lambda cut: cut[0])
    return [point for _, points in cuts[:2] for point in points]


def _fit(start: Point, ties: Sequence[Tie]) -> tuple[Point, float]:
    """Damped Gauss-Newton; in plain numbers, since there are two unknowns and a handful of ties."""
    point, damping = start, 1e-3
    chi2 = _chi_square(point, ties)
    for _ in range(60):
        ee = en = nn = re = rn = 0.0
        for tie in ties:
            east, north = point[0] - tie.easting_m, point[1] - tie.northing_m
            length = max(math.hypot(east, north), 1e-9)
            slope_e, slope_n = east / length / tie.sigma_m, north / length / tie.sigma_m
            residual = (tie.distance_m - length) / tie.sigma_m
            ee, en, nn = ee + slope_e * slope_e, en + slope_e * slope_n, nn + slope_n * slope_n
            re, rn = re + slope_e * residual, rn + slope_n * residual
        add = damping * (ee + nn)
        determinant = (ee + add) * (nn + add) - en * en
        step_e = ((nn + add) * re - en * rn) / determinant
        step_n = ((ee + add) * rn - en * re) / determinant
        moved = (point[0] + step_e, point[1] + step_n)
        trial = _chi_square(moved, ties)
        if trial <= chi2:
            point, chi2, damping = moved, trial, damping * 0.1
            if math.hypot(step_e, step_n) < 1e-7:
                break
        else:
            damping *= 5.0
            if damping > 1e6:
                break
    return point, chi2


def _residuals(point: Point, ties: Sequence[Tie]) -> list[float]:
    return [t.distance_m - math.hypot(point[0] - t.easting_m, point[1] - t.northing_m) for t in ties]


def _chi_square(point: Point, ties: Sequence[Tie]) -> float:
    return sum((r / t.sigma_m) ** 2 for r, t in zip(_residuals(point, ties), ties, strict=True))


def _spread(point: Point, ties: Sequence[Tie]) -> float:
    """One sigma of a coordinate, root mean square of both directions.

    A place in line with its corners is not held across it to first order. To second order, a distance d
    that is short by s lets the place move sqrt(2 s d) across, which bounds what the first order says.
    """
    ee = en = nn = 0.0
    for tie in ties:
        east, north = point[0] - tie.easting_m, point[1] - tie.northing_m
        weight = 1.0 / (max(math.hypot(east, north), 1e-9) * tie.sigma_m) ** 2
        ee, en, nn = ee + weight * east * east, en + weight * east * north, nn + weight * north * north
    mean, half = 0.5 * (ee + nn), math.hypot(0.5 * (ee - nn), en)
    finest = min(t.sigma_m for t in ties)
    bound = max(2.0 * finest * max(t.distance_m for t in ties), finest**2)
    variances = [min(1.0 / max(held, 1e-12), bound) for held in (mean - half, mean + half)]
    return math.sqrt(0.5 * sum(variances))


def _is_right(point: Point, ties: Sequence[Tie]) -> bool:
    """Whether a point is to the right of the way from the first corner to the next that differs."""
    first = ties[0]
    here = (first.easting_m, first.northing_m)
    second = next(t for t in ties if (t.easting_m, t.northing_m) != here)
    run_e, run_n = second.easting_m - here[0], second.northing_m - here[1]
    return run_n * (point[0] - here[0]) - run_e * (point[1] - here[1]) > 0.0
