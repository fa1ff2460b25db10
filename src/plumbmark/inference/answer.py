"""From the posterior of a stretch to the numbers told at each station."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference import priors as p
from plumbmark.inference.blend import Blend, chance_within, quantiles
from plumbmark.inference.currents import solve_currents
from plumbmark.inference.prepare import Prepared
from plumbmark.inference.second import Known
from plumbmark.inference.stretch import (
    ACROSS_MEAN,
    ACROSS_VAR,
    ALONE,
    DEPTH_MEAN,
    DEPTH_VAR,
    FIRST_LINE,
    MARK_MEAN,
    PER_LINE,
    SHOWN_CURRENT,
)
from plumbmark.model.estimate import CurrentEvent, Interval, Neighbour

FLOATS = NDArray[np.float64]
LEVELS = (0.025, 0.5, 0.975)
SMALL_M = 0.10
SMALL_LN = (math.log(1.0 / 1.1), math.log(1.0 / 0.9))


@dataclass(frozen=True, slots=True)
class Numbers:
    """Of each station: shift of the line from the mark to the route's right, depth, current; and chances.

    Arrays of shape (3, n) hold low, middle, high.
    """

    shift: FLOATS
    depth: FLOATS
    current: FLOATS
    single: FLOATS
    within: FLOATS
    doubted_current: NDArray[np.bool_]
    events: tuple[CurrentEvent, ...]
    neighbours: tuple[Neighbour, ...]
    depth_particles_var: FLOATS  # of ln depth under each particle: the next step is weighed on it


def numbers_of(
    ready: Prepared,
    blend: Blend,
    candidates: tuple[str | None, ...],
    known: Known,
    trench_m: float | None = None,
) -> Numbers:
    """Quantiles and chances at every station of a stretch.

    `trench_m`: width of the trench that the line shares with others; what is read is their common signal,
    and the line may lie anywhere across it.
    """
    d, s = ready.stretch, blend.states
    deep = np.exp(blend.weights @ s.of(DEPTH_MEAN))
    bent = np.exp(-ready.legs.to_bend / np.maximum(deep, 0.3))
    depth_var = s.of(DEPTH_VAR) + p.MODEL_DEPTH_SIGMA**2 + (p.BEND_DEPTH_SIGMA * bent) ** 2
    shift_mean = s.of(ACROSS_MEAN) - d.across
    shift_var = s.of(ACROSS_VAR) + p.MODEL_LATERAL_SIGMA_M**2 + (p.BEND_LATERAL_OF_DEPTH * deep * bent) ** 2
    shift_var = shift_var + (p.SHIFT_SIGMA * s.of(MARK_MEAN)) ** 2
    # fixes of a quarter of an hour are wrong together, and no smoothing takes that out
    shift_var = shift_var + p.FIX_SHARED * np.where(d.fix_var < 1e5, d.fix_var, 0.0)
    if trench_m is not None:
        shift_var = shift_var + trench_m**2 / 12.0
        depth_var = depth_var + (p.TRENCH_RISE_M / np.maximum(deep, 0.3)) ** 2
    currents = solve_currents(
        d.at,
        d.ln_current,
        d.ln_current_floor,
        s.of(SHOWN_CURRENT),
        blend.weights,
        ready.middle_m,
        d.setup,
        ready.setups,
    )
    shift = _band(shift_mean, shift_var, blend.band_weights)
    depth = _band(s.of(DEPTH_MEAN), depth_var, blend.band_weights)
    current = _band(currents.mean, currents.var + p.MODEL_CURRENT_SIGMA**2, blend.band_weights)
    near = np.empty_like(shift_mean)
    chance_within(shift_mean, shift_var, shift[1] - SMALL_M, shift[1] + SMALL_M, near)
    close = np.empty_like(shift_mean)
    chance_within(s.of(DEPTH_MEAN), depth_var, depth[1] + SMALL_LN[0], depth[1] + SMALL_LN[1], close)
    return Numbers(
        shift,
        np.exp(depth),
        np.exp(current),
        np.clip(blend.weights @ s.of(ALONE), 0.0, 1.0),
        np.clip(blend.weights @ (near * close), 0.0, 1.0),
        currents.doubted,
        currents.events,
        _neighbours(ready, blend, candidates, known),
        depth_var,
    )


def _band(mean: FLOATS, var: FLOATS, weights: FLOATS) -> FLOATS:
    """Low, middle and high of the band, shape (3, n)."""
    band = quantiles(mean, var, weights, LEVELS)
    return np.asarray(band[1] + p.BAND_STRETCH * (band - band[1]))


def _neighbours(
    ready: Prepared, blend: Blend, candidates: tuple[str | None, ...], known: Known
) -> tuple[Neighbour, ...]:
    """The second lines that the readings speak for: side by side, each told once."""
    rows = []
    for population, chance in zip(blend.populations, blend.chances, strict=True):
        for line in range(population.lines):
            k = FIRST_LINE + PER_LINE * line
            weight = np.full(len(population.thetas), chance / len(population.thetas))
            rows.append(np.column_stack([population.thetas[:, k : k + PER_LINE], weight]))
    if not rows:
        return ()
    every = np.concatenate(rows)
    moved = 1.0 - float(blend.weights @ blend.states.of(ALONE).mean(axis=1))
    at = ready.stretch.at
    found = []
    for side in (-1.0, 1.0):
        here = every[side * every[:, 0] > 0.0]
        total = float(here[:, PER_LINE].sum()) if len(here) else 0.0
        chance = min(total, 1.0 - float(blend.chances[0]), 1.0)
        if chance < 0.5 or moved < 0.3:
            continue
        w = here[:, PER_LINE] / total
        low, middle, high = (_quantile(here[:, 0], w, q) for q in LEVELS)
        ratio = _quantile(here[:, 3], w, 0.5)
        name = None
        if len(known.candidates):
            away = np.abs(known.candidates[:, 0] - middle)
            best = int(away.argmin())
            if away[best] < 0.5:
                name = candidates[best]
        found.append(
            Neighbour(
                ready.middle_m + float(at[0]),
                ready.middle_m + float(at[-1]),
                Interval(middle, low, high),
                math.exp(_quantile(here[:, 2], w, 0.5)),
                ratio,
                chance,
                name,
            )
        )
    return tuple(found)


def _quantile(values: FLOATS, weights: FLOATS, level: float) -> float:
    order = np.argsort(values)
    return float(np.interp(level, np.cumsum(weights[order]) - 0.5 * weights[order], values[order]))
