"""Joint samples of every line of a job, at its stations, between them and a little beyond.

A sample takes one particle of each stretch (second lines, ground, receiver) and, under it, one course and one
depth of the line, drawn from the same smooth chains that the particle was weighed with: a path drawn from
the prior is corrected by what the smoother makes of the difference to the data (Durbin & Koopman 2002, from
memory). What the model leaves out is common to a whole sample, as it is common to a whole line.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference import priors as p
from plumbmark.inference.across import ACROSS_SLOPE_VAR_0, ACROSS_VAR_0
from plumbmark.inference.blend import Blend
from plumbmark.inference.chain import chain_step, smooth_slope_chain
from plumbmark.inference.evidence import LN_DEPTH_0
from plumbmark.inference.prepare import Prepared
from plumbmark.inference.stretch import (
    ACROSS_DATUM,
    ACROSS_PRECISION,
    DEPTH_DATUM,
    DEPTH_PRECISION,
    MARK_MEAN,
)
from plumbmark.model.draws import LineDraws

FLOATS = NDArray[np.float64]

BEYOND_M = 1.5  # samples reach so far past the last station ...
BEYOND_ALONE_M = 3.0  # ... and so far to both sides of a place that stands alone
BEARING_SIGMA = math.radians(4.0)  # the file contract
FOREVER = 1e9  # a slope that keeps its sign for good: a random walk


@dataclass(frozen=True, slots=True)
class Path:
    """Where samples are taken: chainage, and the leg and place of the marks' own straight line there.

    Arrays of shape (m,); `station` is the index of the station, -1 between stations.
    """

    at: FLOATS  # from the stretch's middle [m]
    leg: NDArray[np.int64]
    easting: FLOATS
    northing: FLOATS
    direction: FLOATS
    station: NDArray[np.int64]
    at_leg: FLOATS  # the same along the leg's own straight line [m]


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of a line that has particles: what it was solved from, and the chainages it answers for."""

    ready: Prepared
    blend: Blend
    first: int
    last: int
    lone: bool


@dataclass(frozen=True, slots=True)
class Posterior:
    """The posterior of a job: `draw` gives joint samples of all its lines."""

    parts: dict[str, tuple[Part, ...]]
    others: dict[str, Callable[[int, np.random.Generator, float], LineDraws]]

    def draw(self, n: int, seed: int, spacing_m: float = 0.5) -> dict[str, LineDraws]:
        """`n` joint samples of every line that has an answer.

        Parameters
        ----------
        n : int, at least 1
        seed : int
            The same seed gives the same samples.
        spacing_m : float, [m]
            Farthest that two chainages of the samples lie apart.

        Returns
        -------
        dict of line id to LineDraws

        Raises
        ------
        ValueError
            If `n` is below 1 or the spacing is not positive.
        """
        if n < 1 or not spacing_m > 0.0:
            raise ValueError(f"{n} samples every {spacing_m} m: at least one, and a positive spacing")
        out = {}
        for number, (line, parts) in enumerate(self.parts.items()):
            drawn = [
                _draw_part(q, n, np.random.default_rng([seed, number, i]), spacing_m)
                for i, q in enumerate(parts)
            ]
            out[line] = replace(_joined(drawn), line=line)
        for number, (line, call) in enumerate(self.others.items()):
            out[line] = call(n, np.random.default_rng([seed, 1000 + number]), spacing_m)
        return out


def _joined(drawn: list[LineDraws]) -> LineDraws:
    """Stretches one after another, in the order of chainage."""
    if len(drawn) == 1:
        return drawn[0]
    chainage = np.concatenate([q.chainage_m for q in drawn])
    order = np.argsort(chainage, kind="stable")
    fields = ("easting_m", "northing_m", "depth_m", "ln_depth_mean", "ln_depth_sd")
    arrays = (np.concatenate([getattr(q, f) for q in drawn], axis=1)[:, order] for f in fields)
    return LineDraws("", chainage[order], *arrays)


def lay_path(part: Part, spacing_m: float) -> Path:
    """Chainages of a part's samples: its stations, and points between them no farther apart than asked."""
    ready = part.ready
    d, legs = ready.stretch, ready.legs
    n = len(d.at)
    unit = np.column_stack([np.sin(legs.direction), np.cos(legs.direction)])
    axis = ready.points - legs.across[:, None] * np.column_stack([unit[:, 1], -unit[:, 0]])
    rows: list[tuple[float, int, float, float, float, int, float]] = []

    def put(s: int, run: float, at: float, station: int) -> None:
        e, north = axis[s] + run * unit[s]
        rows.append(
            (
                at,
                int(legs.leg[s]),
                float(e),
                float(north),
                float(legs.direction[s]),
                station,
                float(d.at[s]) + run,
            )
        )

    beyond = BEYOND_ALONE_M if part.lone else BEYOND_M
    first, last = part.first, part.last
    if first == 0:
        for back in np.arange(math.ceil(beyond / spacing_m), 0, -1) * spacing_m:
            put(0, -float(min(back, beyond)), float(d.at[0] - min(back, beyond)), -1)
    for s in range(first, last):
        put(s, 0.0, float(d.at[s]), s)
        if s + 1 == n:
            continue
        gap = float(d.at[s + 1] - d.at[s])
        steps = max(math.ceil(gap / spacing_m), 1)
        turn = _to_corner(axis, unit, s, s + 1) if legs.leg[s] != legs.leg[s + 1] else (gap, 0.0)
        whole = turn[0] + turn[1]
        for k in range(1, steps):
            f = k / steps
            if f * whole <= turn[0]:
                put(s, f * whole, float(d.at[s]) + f * gap, -1)
            else:
                put(s + 1, -(1.0 - f) * whole, float(d.at[s]) + f * gap, -1)
    if last == n:
        for on in np.arange(1, math.ceil(beyond / spacing_m) + 1) * spacing_m:
            put(n - 1, float(min(on, beyond)), float(d.at[n - 1] + min(on, beyond)), -1)
    columns = list(zip(*rows, strict=True))
    return Path(
        np.array(columns[0]),
        np.array(columns[1], dtype=np.int64),
        np.array(columns[2]),
        np.array(columns[3]),
        np.array(columns[4]),
        np.array(columns[5], dtype=np.int64),
        np.array(columns[6]),
    )


def _to_corner(axis: FLOATS, unit: FLOATS, s: int, t: int) -> tuple[float, float]:
    """From station `s` along its leg to the corner, and on to station `t`; as the crow flies without."""
    gap = axis[t] - axis[s]
    crow = float(np.hypot(*gap))
    det = float(unit[s, 0] * unit[t, 1] - unit[s, 1] * unit[t, 0])
    if abs(det) < 0.05:
        return 0.5 * crow, 0.5 * crow
    a = float(gap[0] * unit[t, 1] - gap[1] * unit[t, 0]) / det
    b = float(gap[0] * unit[s, 1] - gap[1] * unit[s, 0]) / det
    if a < 0.0 or b > 0.0 or a - b > 3.0 * crow + 0.5:
        return 0.5 * crow, 0.5 * crow
    return a, -b


@kernel
def _sample_chain(
    at: FLOATS,
    value: FLOATS,
    precision: FLOATS,
    mean0: float,
    var0: float,
    slope0: float,
    slope_var: float,
    length: float,
    noise: FLOATS,
    sample: FLOATS,
    mean: FLOATS,
    var: FLOATS,
) -> None:
    """One path of the chain given its data, and its smoothed mean and variance; `noise` has shape (3, n)."""
    n = at.shape[0]
    work = np.empty((n, 12))
    smooth_slope_chain(at, value, precision, mean0, var0, slope0, slope_var, length, work, mean, var)
    free = np.empty(n)
    slope = math.sqrt(slope0) * noise[1, 0]
    free[0] = mean0 + math.sqrt(var0) * noise[0, 0]
    for s in range(1, n):
        f, a, q00, q01, q11 = chain_step(at[s] - at[s - 1], slope_var, length)
        free[s] = free[s - 1] + f * slope + math.sqrt(max(q00, 0.0)) * noise[0, s]
        tied = q01 / math.sqrt(q00) if q00 > 0.0 else 0.0
        slope = a * slope + tied * noise[0, s] + math.sqrt(max(q11 - tied * tied, 0.0)) * noise[1, s]
    short = np.empty(n)
    unused = np.empty(n)
    for s in range(n):
        short[s] = value[s] - free[s]
        if precision[s] > 0.0:
            short[s] -= noise[2, s] / math.sqrt(precision[s])
    smooth_slope_chain(at, short, precision, 0.0, var0, slope0, slope_var, length, work, sample, unused)
    for s in range(n):
        sample[s] += free[s]


@kernel
def _sample_many(
    at: FLOATS,
    value: FLOATS,
    precision: FLOATS,
    scales: FLOATS,
    noise: FLOATS,
    sample: FLOATS,
    mean: FLOATS,
    var: FLOATS,
) -> None:
    for i in range(value.shape[0]):
        _sample_chain(
            at,
            value[i],
            precision[i],
            scales[0],
            scales[1],
            scales[2],
            scales[3],
            scales[4],
            noise[i],
            sample[i],
            mean[i],
            var[i],
        )


_DEPTH_ROWS = (DEPTH_DATUM, DEPTH_PRECISION)
_ACROSS_ROWS = (ACROSS_DATUM, ACROSS_PRECISION)
_DEPTH_SCALES = np.array(
    [LN_DEPTH_0, p.DEPTH_LOG_SIGMA**2, p.DEPTH_SLOPE_SIGMA**2, p.DEPTH_SLOPE_SIGMA**2, p.DEPTH_SLOPE_LENGTH_M]
)


def _draw_part(part: Part, n: int, rng: np.random.Generator, spacing_m: float) -> LineDraws:
    """Samples of one stretch."""
    path = lay_path(part, spacing_m)
    weights = part.blend.weights
    pick = np.searchsorted(np.cumsum(weights), rng.random(n)).clip(0, len(weights) - 1)
    rows = part.blend.states.rows[pick]
    legs = part.ready.legs
    depth, mean, var = _sampled(path.at, path.station, part, rows, _DEPTH_ROWS, _DEPTH_SCALES, None, rng)
    first_slope = BEARING_SIGMA**2 if part.lone else ACROSS_SLOPE_VAR_0
    scales = np.array([0.0, ACROSS_VAR_0, first_slope, p.KINK_SIGMA**2, FOREVER])
    across = np.zeros_like(depth)
    for leg in np.unique(path.leg):
        here = np.flatnonzero(path.leg == leg)
        across[:, here], _m, _v = _sampled(
            path.at_leg[here], path.station[here], part, rows, _ACROSS_ROWS, scales, int(leg), rng
        )
    at = part.ready.stretch.at
    mark = np.array([np.interp(path.at, at, row) for row in rows[:, MARK_MEAN]])
    deep = np.exp(mean)
    bent = np.exp(-np.interp(path.at, at, np.minimum(legs.to_bend, 1e3)) / np.maximum(deep, 0.3))
    off = np.sqrt(p.MODEL_DEPTH_SIGMA**2 + (p.BEND_DEPTH_SIGMA * bent) ** 2)
    aside = np.sqrt(
        p.MODEL_LATERAL_SIGMA_M**2
        + (p.BEND_LATERAL_OF_DEPTH * deep * bent) ** 2
        + (p.SHIFT_SIGMA * mark) ** 2
    )
    depth += off * rng.normal(size=(n, 1))
    across += aside * rng.normal(size=(n, 1))
    right_e, right_n = np.cos(path.direction), -np.sin(path.direction)
    return LineDraws(
        "",
        part.ready.middle_m + path.at,
        path.easting + across * right_e,
        path.northing + across * right_n,
        np.exp(depth),
        mean,
        np.sqrt(var + off**2),
    )


def _sampled(
    at: FLOATS,
    station: NDArray[np.int64],
    part: Part,
    rows: FLOATS,
    which: tuple[int, int],
    scales: FLOATS,
    leg: int | None,
    rng: np.random.Generator,
) -> tuple[FLOATS, FLOATS, FLOATS]:
    """Samples, mean and variance at the chainages `at`; other stations of the stretch count as well."""
    d = part.ready.stretch
    outside = [s for s in range(len(d.at)) if not part.first <= s < part.last and leg in (None, d.leg[s])]
    every = np.concatenate([at, d.at[outside]])
    order = np.argsort(every, kind="stable")
    names = np.concatenate([station, np.array(outside, dtype=np.int64)])[order]
    n, m = len(rows), len(every)
    value = np.zeros((n, m))
    precision = np.zeros((n, m))
    real = names >= 0
    value[:, real] = rows[:, which[0]][:, names[real]]
    precision[:, real] = rows[:, which[1]][:, names[real]]
    out = np.empty((3, n, m))
    _sample_many(every[order], value, precision, scales, rng.normal(size=(n, 3, m)), out[0], out[1], out[2])
    back = np.argsort(order, kind="stable")[: len(at)]
    return out[0][:, back], out[1][:, back], out[2][:, back]
