"""A walk across as arrays: the signal written down point by point, and how good each number is."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference import priors as p
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Profile, ProfilePoint, Scale

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

FEWEST_POINTS = 3


class Walk(NamedTuple):
    """One walk, its points from left to right. NaN: not taken, or not written down.

    Amplitudes are over the largest. Where only their order is trusted, `order` lists them from the smallest:
    the place of each in (2, n) read row by row; `group` numbers those that are told apart.
    """

    offset: FLOATS  # shape (n,), right of the walk's zero [m]
    height: FLOATS  # shape (n,), of the lower coil [m]
    level: FLOATS  # shape (2, n): across, upright
    floor: FLOATS  # shape (2, n): variance of the rounding
    sigma: FLOATS  # shape (2, n): one standard deviation, as good as the numbers themselves tell it
    order: INTS  # shape (m,); empty where the amplitudes are trusted
    group: INTS  # shape (m,)
    frequency_hz: float


def _column(points: list[ProfilePoint], name: str) -> tuple[FLOATS, FLOATS]:
    """Values of one column, NaN where blank, and the variance of rounding and range."""
    cells: list[Measured | None] = [getattr(q, name) for q in points]
    value = np.array([math.nan if m is None else m.value for m in cells])
    floor = np.array([0.0 if m is None else m.rounding**2 / 12.0 + m.half_range**2 / 3.0 for m in cells])
    return value, floor


def walk_of(profile: Profile, frequency_hz: float, turn: float = 1.0) -> Walk | None:
    """Arrays of a profile; None where fewer than three of its points hold a number.

    Parameters
    ----------
    profile : Profile
    frequency_hz : float, [Hz]
    turn : float
        -1 where the row's right is the route's left, else 1.

    Returns
    -------
    Walk or None
    """
    points = sorted(profile.points, key=lambda q: turn * q.offset_m.value)
    columns = [_column(points, name) for name in ("horizontal", "vertical")]
    level = np.array([c[0] for c in columns])
    floor = np.array([c[1] for c in columns])
    if profile.scale is Scale.DB:
        level = 10.0 ** (level / 20.0)
        floor = floor * (level * math.log(10.0) / 20.0) ** 2
    use = ~np.all(np.isnan(level), axis=0)
    if int(use.sum()) < FEWEST_POINTS:
        return None
    offset = turn * np.array([q.offset_m.value for q in points])[use]
    height = np.array([math.nan if q.height_m is None else q.height_m.value for q in points])[use]
    return make_walk(
        offset, height, level[:, use], floor[:, use], frequency_hz, profile.scale is Scale.UNKNOWN
    )


def make_walk(
    offset: FLOATS, height: FLOATS, level: FLOATS, floor: FLOATS, frequency_hz: float, ordered: bool = False
) -> Walk:
    """A walk from plain arrays.

    Parameters
    ----------
    offset, height : shape (n,), [m]
        From left to right; NaN heights are the lower coil's.
    level : shape (2, n)
        Amplitudes across and upright in one unit; NaN where not taken.
    floor : shape (2, n)
        Variance of their rounding, in that unit squared.
    frequency_hz : float, [Hz]
    ordered : bool
        Only the order of the amplitudes is trusted.
    """
    top = float(np.nanmax(level))
    top = top if top > 0.0 else 1.0
    level, floor = level / top, floor / top**2
    sigma2 = (p.PROFILE_SIGMA * level) ** 2 + p.PROFILE_FLOOR**2 + floor
    if len(offset) > 2 and np.all(np.diff(offset) > 0.0):
        # the steeper of the two sides: at a null the middle slope would be none
        slope = np.abs(np.diff(level, axis=1) / np.diff(offset))
        slope = np.nan_to_num(slope)
        steep = np.maximum(np.pad(slope, ((0, 0), (1, 0))), np.pad(slope, ((0, 0), (0, 1))))
        sigma2 = sigma2 + (p.PROFILE_OFFSET_SIGMA_M * steep) ** 2
    order = np.empty(0, dtype=np.int64)
    group = np.empty(0, dtype=np.int64)
    if ordered:
        flat = level.ravel()
        order = np.argsort(flat, kind="stable")[: int((~np.isnan(flat)).sum())]
        group = np.concatenate([[0], np.cumsum(np.diff(flat[order]) > 0.0)])
    return Walk(
        np.ascontiguousarray(offset),
        np.ascontiguousarray(height),
        np.ascontiguousarray(level),
        np.ascontiguousarray(floor),
        np.ascontiguousarray(np.sqrt(sigma2)),
        order,
        group.astype(np.int64),
        float(frequency_hz),
    )
