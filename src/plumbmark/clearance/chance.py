r"""The chance that a dig comes closer to a line than it should, from joint samples of the line.

Counting samples gives no figure worth printing at one in a thousand. Here every sample gives a chance of its
own, in closed form, and these are averaged:

- Under one sample :math:`i`, ln depth is normal along the course, with standardised value :math:`u_i(s)`. It
  is split at an anchor :math:`a` into :math:`u_i(s) = \rho(s)\,u_i(a) + e_i(s)`, whose parts are independent
  (:math:`\rho` is estimated from all samples). Then :math:`e_i` is kept, and :math:`u(a)` is integrated over:
  the line is reached somewhere if :math:`u(a)` is below the greatest of :math:`(t_i(s) - e_i(s))/\rho(s)`,
  where :math:`t_i(s)` is the standardised depth at which the line would be reached.
- The edge of an open dig wanders by a normal amount, which is integrated over as well: places are taken in
  order of their distance from the edge, and each step outward adds those that a wander so large brings in.

- Where the dig strays more in depth than the line is uncertain, as a bore does, its stray is integrated over
  instead, and the depth taken as it was sampled.

All this is exact, if the correlation of the depth along the line is the same under every sample.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from plumbmark.clearance.shapes import Beside, Footprint, beside
from plumbmark.model.draws import LineDraws

FLOATS = NDArray[np.float64]

#: Below this correlation with the anchor a place keeps the depth it was sampled with.
LEAST_CORRELATION = 0.2
STEP_M = 0.1
MOST_STEPS = 600


@dataclass(frozen=True, slots=True)
class Course:
    """Samples of a piece of a line at close steps: chainage (k,), all else (n, k).

    `level` is ln depth as a standardised value.
    """

    chainage_m: FLOATS
    easting_m: FLOATS
    northing_m: FLOATS
    ln_depth_mean: FLOATS
    ln_depth_sd: FLOATS
    level: FLOATS

    @property
    def depth_m(self) -> FLOATS:
        """Depth to the centre as sampled."""
        return np.asarray(np.exp(self.ln_depth_mean + self.ln_depth_sd * self.level))


def course_of(draws: LineDraws, from_m: float, to_m: float) -> Course:
    """A piece of a line's samples, read off between them.

    Parameters
    ----------
    draws : LineDraws
    from_m, to_m : float, [m]
        Chainages; what lies outside the samples is left out.

    Returns
    -------
    Course
        Every 0.1 m, at coarser steps where that would be more than 600.
    """
    at = draws.chainage_m
    low, high = max(from_m, float(at[0])), min(to_m, float(at[-1]))
    count = max(1, min(MOST_STEPS, int(np.ceil((high - low) / STEP_M)) + 1))
    fine = np.linspace(low, high, count) if high > low else np.array([0.5 * (low + high)])
    right = np.clip(np.searchsorted(at, fine, side="right"), 1, max(len(at) - 1, 1))
    left = np.maximum(right - 1, 0)
    right = np.minimum(right, len(at) - 1)
    span = at[right] - at[left]
    share = np.where(span > 0.0, (fine - at[left]) / np.where(span > 0.0, span, 1.0), 0.0)

    def read(values: FLOATS) -> FLOATS:
        return np.asarray(values[:, left] * (1.0 - share) + values[:, right] * share)

    mean, sd = read(draws.ln_depth_mean), np.maximum(read(draws.ln_depth_sd), 1e-6)
    level = (read(np.log(draws.depth_m)) - mean) / sd
    return Course(fine, read(draws.easting_m), read(draws.northing_m), mean, sd, level)


@dataclass(frozen=True, slots=True)
class Wander:
    """What a dig strays from its drawing in each sample [m], shape (n, 1): sideways, and in depth."""

    side_m: FLOATS
    depth_m: FLOATS


def wander_of(shape: Footprint, count: int, rng: np.random.Generator) -> Wander:
    """Strays of a dig, one for each sample: even quantiles of the normal in random order."""
    even = ndtri((np.arange(count) + 0.5) / count)
    return Wander(
        shape.edge_sigma_m * rng.permutation(even)[:, None],
        shape.depth_sigma_m * rng.permutation(even)[:, None],
    )


def chance_of_less(
    shape: Footprint, course: Course, seen: Beside, radius_m: float, asked_m: float, stray: Wander
) -> FLOATS:
    """Chance under each sample that the dig leaves less than `asked_m` to the line.

    Parameters
    ----------
    shape : Footprint
    course : Course
        The piece of the line that counts.
    seen : Beside
        Of the course, from `beside`.
    radius_m : float, [m]
        Half the outside diameter of the line.
    asked_m : float, [m]
        0 for a strike. Of an open dig it counts in plan and in depth, each for itself; of a bore all round.
    stray : Wander

    Returns
    -------
    array, shape (n,)
        Their mean is the chance.
    """
    if shape.depths_m is None:
        reach = seen.gap_m - radius_m - asked_m
        return _open_chance(reach, np.full_like(reach, np.inf), shape.edge_sigma_m)
    depth = course.depth_m
    # Of the two normals in depth the wider one is integrated over, and the other as it was sampled.
    by_stray = shape.depth_sigma_m > float(np.median(course.ln_depth_sd * depth))
    if shape.is_bore:
        round_m = radius_m + asked_m + shape.half_width_m
        return _bore_chance(shape, course, seen, round_m, stray, by_stray)
    reach, limit = seen.gap_m - radius_m - asked_m, seen.depth_m + radius_m + asked_m
    if by_stray:
        needed = (limit - depth) / shape.depth_sigma_m
    else:
        standard = _standard(limit + stray.depth_m, course.ln_depth_mean, course.ln_depth_sd)
        near = ndtr(-reach / shape.edge_sigma_m)
        needed = _needed(standard, course.level, int((near * ndtr(standard)).mean(axis=0).argmax()))
    return _open_chance(reach, needed, shape.edge_sigma_m)


def _standard(depth_m: FLOATS, mean: FLOATS, sd: FLOATS) -> FLOATS:
    """A depth as a standardised value of the line's own ln depth."""
    with np.errstate(divide="ignore"):
        return np.asarray((np.log(np.maximum(depth_m, 0.0)) - mean) / sd)


def _split(level: FLOATS, anchor: int) -> tuple[FLOATS, FLOATS]:
    """Correlation of each place with the anchor, shape (k,), and what is left of its level, shape (n, k)."""
    at = level[:, anchor : anchor + 1]
    spread = np.sqrt((level**2).mean(axis=0) * (at**2).mean())
    share = (level * at).mean(axis=0) / np.maximum(spread, 1e-12)
    share[anchor] = 1.0
    share = np.where(share < LEAST_CORRELATION, 0.0, np.minimum(share, 1.0))
    return share, level - share * at


def _needed(limit: FLOATS, level: FLOATS, anchor: int) -> FLOATS:
    """Level of the anchor at which each place is just at `limit`; infinite where it does not matter."""
    share, rest = _split(level, anchor)
    free = share > 0.0
    needed = np.where(rest < limit, np.inf, -np.inf)
    needed[:, free] = (limit[:, free] - rest[:, free]) / share[free]
    return needed


def _open_chance(reach: FLOATS, needed: FLOATS, edge_sigma_m: float) -> FLOATS:
    """Chance under each sample, from how far off each place is, and what the normal in depth needs there."""
    near = ndtr(-reach / edge_sigma_m)
    order = np.argsort(reach, axis=1)
    near = np.take_along_axis(near, order, axis=1)
    deepest = np.maximum.accumulate(np.take_along_axis(needed, order, axis=1), axis=1)
    step = near - np.concatenate([near[:, 1:], np.zeros((len(near), 1))], axis=1)
    return np.asarray((step * ndtr(deepest)).sum(axis=1))


def plan_distance(seen: Beside, stray: FLOATS | float) -> FLOATS:
    """From the middle of a trench or bore to a line in plan: between two places each, 0 at a crossing."""
    side = seen.side_m + stray
    if side.shape[1] == 1:
        return np.abs(side)
    crossed = (side[:, 1:] * side[:, :-1] <= 0.0) & seen.on_path[:, 1:] & seen.on_path[:, :-1]
    return np.where(crossed, 0.0, np.minimum(np.abs(side[:, 1:]), np.abs(side[:, :-1])))


def between(values: FLOATS) -> FLOATS:
    """Values half way between each two places, shape (n, k-1); a lone place as it is."""
    return values if values.shape[1] == 1 else 0.5 * (values[:, 1:] + values[:, :-1])


def _bore_chance(
    shape: Footprint, course: Course, seen: Beside, round_m: float, stray: Wander, by_stray: bool
) -> FLOATS:
    beside_m = plan_distance(seen, stray.side_m)
    half = np.sqrt(np.maximum(round_m**2 - beside_m**2, 0.0))
    met = half > 0.0
    if by_stray:
        off = between(course.depth_m - seen.depth_m)
        start, end = (off - half) / shape.depth_sigma_m, (off + half) / shape.depth_sigma_m
    else:
        middle = between(seen.depth_m) + stray.depth_m
        mean, sd, level = (between(v) for v in (course.ln_depth_mean, course.ln_depth_sd, course.level))
        low, high = _standard(middle - half, mean, sd), _standard(middle + half, mean, sd)
        share, rest = _split(level, int(np.where(met, ndtr(high) - ndtr(low), 0.0).mean(axis=0).argmax()))
        # A place without correlation is either met, whatever the anchor, or not at all.
        free = share > 0.0
        inside = (rest >= low) & (rest <= high)
        start, end = np.where(inside, -np.inf, np.inf), np.full_like(low, np.inf)
        start[:, free] = (low[:, free] - rest[:, free]) / share[free]
        end[:, free] = (high[:, free] - rest[:, free]) / share[free]
    return _union(np.where(met, ndtr(start), 1.0), np.where(met, ndtr(end), 1.0))


def _union(start: FLOATS, end: FLOATS) -> FLOATS:
    """Length of the union of the intervals of each row."""
    order = np.argsort(start, axis=1)
    start, end = np.take_along_axis(start, order, axis=1), np.take_along_axis(end, order, axis=1)
    before = np.maximum.accumulate(end, axis=1)
    before = np.concatenate([np.zeros((len(end), 1)), before[:, :-1]], axis=1)
    return np.asarray(np.maximum(end - np.maximum(start, before), 0.0).sum(axis=1))


@dataclass(frozen=True, slots=True)
class Nearest:
    """Under each sample, shape (n,): least distance in plan of the outsides, and least separation in depth.

    `vertical_m` is NaN where the dig never comes over the line; `place` is the index in the course where the
    two come nearest.
    """

    horizontal_m: FLOATS
    vertical_m: FLOATS
    place: NDArray[np.intp]


def nearest(shape: Footprint, course: Course, seen: Beside, radius_m: float, stray: Wander) -> Nearest:
    """Least distances of one dig and one line, sample by sample, with the stray of the dig."""
    depth = course.depth_m
    if shape.is_bore:
        apart = plan_distance(seen, stray.side_m)
        over = apart < shape.half_width_m + radius_m
        gaps = apart - shape.half_width_m - radius_m
        between_m = np.abs(between(depth - seen.depth_m) - stray.depth_m) - radius_m - shape.half_width_m
    elif shape.is_area:
        gaps = seen.gap_m - radius_m - stray.side_m
        over, between_m = gaps < 0.0, depth - radius_m - seen.depth_m - stray.depth_m
    else:
        gaps = plan_distance(seen, 0.0) - shape.half_width_m - radius_m - stray.side_m
        over, between_m = gaps < 0.0, between(depth - seen.depth_m) - radius_m - stray.depth_m
    if shape.depths_m is None:
        vertical = np.full(len(gaps), np.nan)
    else:
        least = np.where(over, between_m, np.inf).min(axis=1)
        vertical = np.where(np.isfinite(least), least, np.nan)
    worst = gaps
    if shape.depths_m is not None:  # over the line the depth decides
        worst = np.where(over & np.isfinite(between_m), between_m - 1e3, gaps)
    return Nearest(gaps.min(axis=1), vertical, worst.argmin(axis=1))


def seen_by(shape: Footprint, course: Course) -> Beside:
    """A course as a dig sees it."""
    return beside(shape, course.easting_m, course.northing_m)
