"""Calibration of a stretch: several places along a line, second lines that drift and run at an angle.

Truth and readings come from the prior of `inference.second` and the smooth chains, displays from
`inference.scene` at every station itself (not from the table that the solver reads them off).
"""

from __future__ import annotations

import math

import numpy as np

from calibration import FLOATS, Kind, resampled
from plumbmark.inference import priors as p
from plumbmark.inference import sampler
from plumbmark.inference.across import BROAD_M
from plumbmark.inference.blend import solve_stretch
from plumbmark.inference.evidence import BROAD_LN, LN_DEPTH_0
from plumbmark.inference.legs import Legs
from plumbmark.inference.prepare import Prepared
from plumbmark.inference.sampler import Effort
from plumbmark.inference.scene import (
    FIRST_RAISED,
    LEFT,
    LN_SHOWN,
    LN_SHOWN_ALONE,
    NULL,
    PEAK,
    RIGHT,
    fill_node,
)
from plumbmark.inference.second import Known, draw_prior
from plumbmark.inference.stretch import ACROSS_MEAN, ACROSS_VAR, DEPTH_MEAN, DEPTH_VAR, Stretch
from plumbmark.inference.table import MOST_IMAGES

KNOWN = Known(
    math.log(p.SOIL_MEDIAN_OHM_M), math.log(p.SOIL_FACTOR), 0.05, 0.05, 0.4, 0.4, 0.25, 1.0, np.empty((0, 7))
)
FREQUENCY_HZ = 33000.0
RAISE_M = 0.3
EFFORT = Effort(draws=800, particles=160, moves=3, rounds=3, threads=1)  # as `solve` has it
# the likelihood whole: what it is tempered for is not in data that come from the model itself
sampler.SHARED_ERROR = 0.0


def _chain(at: FLOATS, start: float, slope: float, slope_sigma: float, length: float, rng) -> FLOATS:  # type: ignore[no-untyped-def]
    """A value whose slope is an Ornstein-Uhlenbeck process, in small steps of its own."""
    fine = np.arange(at[0], at[-1] + 0.01, 0.01)
    decay = math.exp(-0.01 / length)
    kick = slope_sigma * math.sqrt(1.0 - decay**2) if length < 1e6 else slope_sigma * math.sqrt(0.01)
    value = np.empty(len(fine))
    for i in range(len(fine)):
        value[i] = start
        start += slope * 0.01
        slope = (decay if length < 1e6 else 1.0) * slope + kick * rng.normal()
    return np.interp(at, fine, value)


def _stretch(at: FLOATS, sigma: FLOATS, across: FLOATS, cells: dict[str, FLOATS]) -> Stretch:
    """The arrays of a stretch of one setup with nothing taken but `cells`."""
    n = len(at)
    arrays: dict[str, object] = {}
    for name in Stretch._fields:
        if name.startswith("point_"):
            arrays[name] = np.empty(0)
        elif name.endswith(("_floor", "_var", "beside")):
            arrays[name] = np.zeros(n)
        elif name in ("mark_kind", "leg", "profile_start", "profile_count", "setup"):
            arrays[name] = np.zeros(n, dtype=np.int64)
        else:
            arrays[name] = np.full(n, math.nan)
    arrays |= cells | {
        "at": at,
        "peak_sigma": sigma,
        "across": across,
        "fix_var": np.full(n, p.FIX_SIGMA_M**2),
        "raise_index": np.where(np.isnan(cells["ln_raised"]), -1, 0),
        "raises": np.array([RAISE_M]),
        "side_cells": np.full((n, 4), math.nan),
        "receiver_of": np.zeros(1, dtype=np.int64),
        "frequency_hz": np.array([FREQUENCY_HZ]),
        "has_halves": True,
        "has_null_marks": False,
    }
    return Stretch(**arrays)  # type: ignore[arg-type]


def draw(
    rng: np.random.Generator, n: int, chance: dict[str, float]
) -> tuple[Prepared, Known, FLOATS, FLOATS]:
    """A stretch of `n` stations, each kind of reading taken with its chance; truth of the middle; globals."""
    at = np.cumsum(rng.uniform(1.5, 4.0, n))
    at -= 0.5 * (at[0] + at[-1])
    known = KNOWN._replace(length_m=max(float(at[-1] - at[0]), 1.0))
    lines = int(rng.choice(3, p=p.LINES_ODDS))
    theta = draw_prior(1, lines, known, rng)[0]
    scatter = math.exp(theta[0])
    z = LN_DEPTH_0 + p.DEPTH_LOG_SIGMA * rng.normal()
    z = _chain(at, z, p.DEPTH_SLOPE_SIGMA * rng.normal(), p.DEPTH_SLOPE_SIGMA, p.DEPTH_SLOPE_LENGTH_M, rng)
    z = np.clip(z, math.log(0.15), math.log(4.0))
    y = _chain(at, rng.normal(0.0, 0.3), rng.normal(0.0, 0.02), p.KINK_SIGMA, 1e9, rng)
    images = np.empty(MOST_IMAGES), np.empty(MOST_IMAGES, complex), np.empty(MOST_IMAGES, complex)
    cells = {k: np.full(n, math.nan) for k in ("gap", "half_left", "half_right", "ln_depth", "ln_raised")}
    mark = np.empty(n)
    sigma = p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * np.exp(z)
    node = np.empty(FIRST_RAISED + 1)

    def slipped(value: float, spread: float, where: float, wide: float) -> float:
        if rng.random() < p.SLIP_ODDS:
            return where + rng.uniform(-0.5, 0.5) / wide
        return value + spread * rng.normal()

    for s in range(n):
        fill_node(
            theta, float(z[s]), float(at[s]), FREQUENCY_HZ, np.array([RAISE_M]), True, False, *images, node
        )
        mark[s] = node[PEAK] + scatter * sigma[s] * rng.normal()
        aside = p.SECOND_WANDER * (node[NULL] - node[PEAK])
        off = p.SECOND_WANDER * (node[LN_SHOWN] - node[LN_SHOWN_ALONE])
        if rng.random() < chance["gap"]:
            gap = slipped(node[NULL] - mark[s], math.hypot(scatter * sigma[s], aside), 0.0, BROAD_M)
            cells["gap"][s] = -gap if rng.random() < p.FLIP_ODDS else gap
        if rng.random() < chance["half"]:
            wide = math.hypot(scatter * p.HALF_SIGMA_M, aside)
            cells["half_left"][s] = slipped(mark[s] - node[LEFT], wide, 1.0, BROAD_M)
            cells["half_right"][s] = slipped(node[RIGHT] - mark[s], wide, 1.0, BROAD_M)
        wide = math.hypot(scatter * p.DEPTH_SIGMA, off)
        cells["ln_depth"][s] = slipped(node[LN_SHOWN], wide, 0.0, BROAD_LN)
        if rng.random() < chance["raise"]:
            cells["ln_raised"][s] = slipped(node[FIRST_RAISED], wide, 0.0, BROAD_LN)
    across = y + mark + p.FIX_SIGMA_M * rng.normal(size=n)
    stretch = _stretch(at, sigma, across, cells)
    whole = stretch.leg
    legs = Legs(whole, across, np.zeros(n), np.full(n, np.inf))
    points = np.column_stack([across, at])
    start = np.clip(cells["ln_depth"], math.log(0.2), math.log(3.5))
    start[:] = np.median(start)
    ready = Prepared(stretch, legs, np.ones(n), start, 0.0, points)
    k = n // 2
    return ready, known, np.array([z[k], y[k]]), theta


def simulate(rng: np.random.Generator) -> tuple[tuple[Prepared, Known], FLOATS]:
    chance = {"gap": 0.9, "half": float(rng.choice([0.0, 0.5])), "raise": float(rng.choice([0.0, 0.3]))}
    ready, known, truth, _theta = draw(rng, int(rng.integers(3, 15)), chance)
    return (ready, known), truth


def posterior(data: tuple[Prepared, Known], rng: np.random.Generator) -> FLOATS:
    ready, known = data
    blend = solve_stretch(ready, known, EFFORT, int(rng.integers(1 << 30)))
    k = len(ready.stretch.at) // 2
    rows = blend.states.rows[:, :, k]
    pick = resampled(np.arange(len(rows))[None].astype(float), blend.weights, 2000, rng)[0].astype(int)
    rows = rows[pick]
    noise = rng.normal(size=(2, len(rows)))
    depth = rows[:, DEPTH_MEAN] + np.sqrt(rows[:, DEPTH_VAR]) * noise[0]
    across = rows[:, ACROSS_MEAN] + np.sqrt(rows[:, ACROSS_VAR]) * noise[1]
    return np.array([depth, across])


KIND = Kind(
    ("ln depth", "place across"),
    simulate,
    posterior,
    "3 to 14 places along a line; second lines that drift or run at an angle; the middle place",
)
