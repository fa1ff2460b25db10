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
from numpy.typing import NDArray

from plumbmark.base.errors import TieError

FloatArray = NDArray[np.float64]

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
    corners = np.array([(t.easting_m, t.northing_m) for t in ties], float).reshape(-1, 2)
    if len(np.unique(corners, axis=0)) < 2:
        raise TieError("needs taped distances to two different corners at least")
    distance = np.array([t.distance_m for t in ties])
    sigma = np.array([math.hypot(TAPE_SIGMA_M, t.sigma_m) for t in ties])
    origin = corners.mean(axis=0)  # grid coordinates are large; the fit is done about the corners' middle
    fits = sorted(
        (_fit(start, corners - origin, distance, sigma) for start in _starts(corners - origin, distance)),
        key=lambda fit: fit[1],
    )
    point, chi2 = fits[0]
    residuals = distance - np.hypot(*(point - (corners - origin)).T)
    _check_possible(residuals, distance)
    factor = max(1.0, (2.0 + chi2) / len(ties))
    spread = math.sqrt(factor) * _spread(point, corners - origin, distance, sigma)
    rivals = [p for p, c in fits if (c - chi2) < _AS_GOOD * factor and math.dist(p, point) > SAME_PLACE_M]
    rival = rivals[0] if rivals else None
    if rival is not None and _is_right(rival, corners - origin) and not _is_right(point, corners - origin):
        point, rival = rival, point
        residuals = distance - np.hypot(*(point - (corners - origin)).T)
    at = point + origin
    other = None if rival is None else (float(rival[0] + origin[0]), float(rival[1] + origin[1]))
    return TiedPlace(float(at[0]), float(at[1]), spread, tuple(residuals.tolist()), other)


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
    anchors = list(known) + [(p.easting_m, p.northing_m) for p in places if p.other is None]
    settled: list[TiedPlace] = []
    for place in places:
        here = (place.easting_m, place.northing_m)
        if place.other is not None and anchors:
            near = min(math.dist(here, a) for a in anchors)
            far = min(math.dist(place.other, a) for a in anchors)
            if far < near:
                place = replace(place, easting_m=place.other[0], northing_m=place.other[1], other=here)
        if place.other is not None and not known:
            anchors.append((place.easting_m, place.northing_m))
        settled.append(place)
    return tuple(settled)


def _starts(corners: FloatArray, distance: FloatArray) -> list[FloatArray]:
    """Where pairs of circles meet, both ways; where they do not, the point between, nudged to each side."""
    starts: list[FloatArray] = []
    for i, j in itertools.islice(itertools.combinations(range(len(distance)), 2), 15):
        run = corners[j] - corners[i]
        apart = float(np.hypot(*run))
        if apart == 0.0:
            continue
        along = 0.5 * (apart + (distance[i] ** 2 - distance[j] ** 2) / apart)
        across = math.sqrt(max(distance[i] ** 2 - along**2, (0.01 * apart) ** 2))
        unit = run / apart
        right = np.array([unit[1], -unit[0]])
        starts += [corners[i] + along * unit + side * across * right for side in (1.0, -1.0)]
    return starts


def _fit(
    start: FloatArray, corners: FloatArray, distance: FloatArray, sigma: FloatArray
) -> tuple[FloatArray, float]:
    point, damping = start, 1e-3
    chi2 = _chi_square(point, corners, distance, sigma)
    for _ in range(60):
        offset = point - corners
        length = np.maximum(np.hypot(*offset.T), 1e-9)
        slope = offset / length[:, None] / sigma[:, None]
        normal = slope.T @ slope
        step = np.linalg.solve(
            normal + damping * np.trace(normal) * np.eye(2), slope.T @ ((distance - length) / sigma)
        )
        trial = _chi_square(point + step, corners, distance, sigma)
        if trial <= chi2:
            point, chi2, damping = point + step, trial, damping * 0.2
            if np.hypot(*step) < 1e-9:
                break
        else:
            damping = min(damping * 5.0, 1e6)
    return point, chi2


def _chi_square(point: FloatArray, corners: FloatArray, distance: FloatArray, sigma: FloatArray) -> float:
    return float((((distance - np.hypot(*(point - corners).T)) / sigma) ** 2).sum())


def _spread(point: FloatArray, corners: FloatArray, distance: FloatArray, sigma: FloatArray) -> float:
    """One sigma of a coordinate, root mean square of both directions.

    A place in line with its corners is not held across it to first order. To second order, a distance d
    that is short by s lets the place move sqrt(2 s d) across, which bounds what the first order says.
    """
    offset = point - corners
    length = np.maximum(np.hypot(*offset.T), 1e-9)
    slope = offset / length[:, None] / sigma[:, None]
    held = np.maximum(np.linalg.eigvalsh(slope.T @ slope), 1e-12)
    bound = math.sqrt(2.0 * float(sigma.min()) * float(distance.max()))
    each = np.minimum(1.0 / np.sqrt(held), max(bound, float(sigma.min())))
    return float(np.sqrt((each**2).mean()))


def _check_possible(residuals: FloatArray, distance: FloatArray) -> None:
    worst = float(abs(residuals).max())
    allowed = MISFIT_M + MISFIT_SHARE * float(distance.max())
    if worst > allowed:
        raise TieError(f"has taped distances that do not meet: the best point misses one by {worst:.2f} m")


def _is_right(point: FloatArray, corners: FloatArray) -> bool:
    first = corners[0]
    second = next(c for c in corners[1:] if not np.array_equal(c, first))
    run, to = second - first, point - first
    return bool(run[1] * to[0] - run[0] * to[1] > 0.0)
