"""The current along a line: corrected for what the display makes of other currents, with its steps."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference import priors as p
from plumbmark.inference.chain import random_walk_chain
from plumbmark.model.estimate import CurrentEvent

FLOATS = NDArray[np.float64]

STEP_LN = 0.30  # a step worth naming: 2.6 dB
FREE_M = 400.0  # walked over in thought at a step, so that the level may change


@dataclass(frozen=True, slots=True)
class Currents:
    """ln of the true current, arrays of shape (particles, stations), and the steps found."""

    mean: FLOATS
    var: FLOATS
    events: tuple[CurrentEvent, ...]
    doubted: NDArray[np.bool_]  # stations whose current does not fit its neighbours


@kernel
def _walk_many(
    at: FLOATS,
    value: FLOATS,
    precision: FLOATS,
    mean0: FLOATS,
    var0: float,
    rate: float,
    mean: FLOATS,
    var: FLOATS,
) -> None:
    for i in range(value.shape[0]):
        random_walk_chain(at, value[i], precision, mean0[i], var0, rate, mean[i], var[i])


def _steps(at: FLOATS, level: FLOATS, sigma: FLOATS) -> list[tuple[int, float, float]]:
    """(first station after, change of ln current, chance) of steps between stretches of like current."""
    taken = np.flatnonzero(~np.isnan(level))
    found: list[tuple[int, float, float]] = []
    for k in range(2, len(taken) - 1):
        before, after = taken[max(0, k - 3) : k], taken[k : k + 3]
        change = float(np.median(level[after]) - np.median(level[before]))
        noise = math.sqrt(
            float((sigma[before] ** 2).mean()) / len(before) + float((sigma[after] ** 2).mean()) / len(after)
        )
        noise = math.hypot(
            1.3 * noise, p.CURRENT_LOG_STEP * math.sqrt(max(at[after].mean() - at[before].mean(), 0.0))
        )
        own = float(level[taken[k]] - level[taken[k - 1]])
        if abs(change) > STEP_LN and abs(own) > 0.6 * abs(change) and own * change > 0:
            chance = 1.0 / (1.0 + 30.0 * math.exp(-0.5 * (change / noise) ** 2))
            found.append((int(taken[k]), change, chance))
    # of neighbouring candidates only the largest is a step
    found.sort(key=lambda f: -abs(f[1]))
    kept: list[tuple[int, float, float]] = []
    for f in found:
        if all(abs(f[0] - g[0]) > 2 for g in kept) and f[2] > 0.5:
            kept.append(f)
    return sorted(kept)


def solve_currents(
    at: FLOATS,
    ln_shown: FLOATS,
    floor: FLOATS,
    factor: FLOATS,
    weights: FLOATS,
    origin_m: float,
    setup: NDArray[np.int64],
    names: tuple[str, ...],
) -> Currents:
    """Current at every station under every particle; each hook-up puts a current of its own on the line.

    Parameters
    ----------
    at : shape (n,), [m]
    ln_shown, floor : shape (n,)
        ln of the displayed current [A], NaN where none; variance of its rounding.
    factor : shape (particles, n)
        ln of displayed over true current under each particle.
    weights : shape (particles,)
    origin_m : chainage of at = 0
    setup : shape (n,)
        Number of the hook-up; currents of one are smoothed along the line, and never into another's.
    names : tuple of str
        Ids of the hook-ups.
    """
    mean, var = np.empty_like(factor), np.empty_like(factor)
    doubted = np.zeros(len(at), dtype=bool)
    events: list[CurrentEvent] = []
    for one in np.unique(setup):
        own = np.flatnonzero(setup == one)
        told = _of_one_hookup(at[own], ln_shown[own], floor[own], factor[:, own], weights, origin_m)
        mean[:, own], var[:, own], doubted[own] = told.mean, told.var, told.doubted
        events += [replace(e, setup=names[one]) for e in told.events] if len(names) > 1 else told.events
    return Currents(mean, var, tuple(sorted(events, key=lambda e: e.chainage_m)), doubted)


def _of_one_hookup(
    at: FLOATS, ln_shown: FLOATS, floor: FLOATS, factor: FLOATS, weights: FLOATS, origin_m: float
) -> Currents:
    count, n = factor.shape
    taken = ~np.isnan(ln_shown)
    if not np.any(taken):
        mean = np.full((count, n), math.log(p.CURRENT_MEDIAN_A))
        return Currents(mean, np.full((count, n), p.CURRENT_LOG_SIGMA**2), (), np.zeros(n, dtype=bool))
    typical = weights @ factor
    sigma = np.sqrt((1.15 * p.CURRENT_SIGMA) ** 2 + floor)
    level = ln_shown - typical
    steps = _steps(at, level, sigma)
    stretched = at.copy()
    for first, _change, _chance in steps:
        stretched[first:] += FREE_M
    rate = p.CURRENT_LOG_STEP**2
    precision = np.where(taken, 1.0 / sigma**2, 0.0)
    value = np.where(taken, ln_shown - factor, 0.0)
    start = np.full(count, float(np.nanmedian(level)))
    middle = np.empty((1, n))
    spread = np.empty((1, n))
    doubted = np.zeros(n, dtype=bool)
    for _turn in range(2):
        _walk_many(
            stretched, np.where(taken, level, 0.0)[None], precision, start[:1], 4.0, rate, middle, spread
        )
        w = np.minimum(precision * spread[0], 0.999)
        away = (level - middle[0]) / (1.0 - w)
        limit = 3.8 * np.sqrt(spread[0] / (1.0 - w) + sigma**2)
        doubted = taken & (np.abs(away) > np.maximum(limit, 0.25)) & (n > 3)
        precision = np.where(taken, np.where(doubted, 1e-3, 1.0) / sigma**2, 0.0)
    mean = np.empty((count, n))
    var = np.empty((count, n))
    _walk_many(stretched, np.ascontiguousarray(value), precision, start, 4.0, rate, mean, var)
    events = tuple(
        CurrentEvent(
            origin_m + 0.5 * float(at[f] + at[f - 1]),
            "drop" if change < 0 else "rise",
            round(20.0 / math.log(10.0) * change, 1),
            round(chance, 3),
        )
        for f, change, chance in steps
    )
    return Currents(mean, var, events, doubted)
