"""Populations with none, one and two second lines, weighed against each other and joined."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference import priors as p
from plumbmark.inference.prepare import Prepared
from plumbmark.inference.sampler import Effort, Population, States, joined, populate, states_of
from plumbmark.inference.second import Known
from plumbmark.inference.stretch import DEPTH_MEAN, Stretch, picked

FLOATS = NDArray[np.float64]


#: Stations above which the globals of a stretch are found from a part of them.
LONG = 80


@dataclass(frozen=True, slots=True)
class Blend:
    """The posterior of a stretch: populations, their probabilities, and all particles with weights."""

    populations: tuple[Population, ...]
    chances: FLOATS  # of none, one, two second lines
    states: States
    weights: FLOATS  # shape (particles,), sum 1
    band_weights: FLOATS  # the same with the odds that bands are made with


def solve_stretch(ready: Prepared, known: Known, effort: Effort, seed: int, most_lines: int = 2) -> Blend:
    """Posterior of one stretch; the same seed and data give the same answer."""
    few = _thinned(ready.stretch)
    populations = []
    for lines in range(most_lines + 1):
        rng = np.random.default_rng([seed, lines])
        if few is None:
            populations.append(populate(lines, ready.stretch, known, ready.start, effort, rng))
            continue
        found = populate(lines, few[0], known, ready.start[few[1]], effort, rng)
        states = states_of(found.thetas, ready.stretch, _spread(ready, few[1], found), effort)
        populations.append(Population(lines, found.thetas, states, found.log_evidence))
    chances = _chances(populations, p.LINES_ODDS)
    weights = _weights(populations, chances)
    band_weights = _weights(populations, _chances(populations, p.BAND_ODDS))
    states = joined([q.states for q in populations])
    return Blend(tuple(populations), chances, states, weights, band_weights)


def _thinned(d: Stretch) -> tuple[Stretch, NDArray[np.int64]] | None:
    """Stations of a long stretch, enough for its globals; the states of all come after. None if short."""
    n = len(d.at)
    if n <= LONG:
        return None
    pick = np.unique(np.linspace(0, n - 1, LONG // 2).astype(np.int64))
    taken = np.flatnonzero((d.raise_index >= 0) | ~np.isnan(d.seen_ln_depth) | (d.profile_count > 0))
    pick = np.unique(np.concatenate([pick, taken[:: max(1, len(taken) // (LONG // 2))]]))
    return picked(d, pick), pick


def _spread(ready: Prepared, pick: NDArray[np.int64], found: Population) -> FLOATS:
    """Depth (ln) to begin from at all stations, between those that were picked."""
    at = ready.stretch.at
    return np.array([np.interp(at, at[pick], row) for row in found.states.of(DEPTH_MEAN)])


def _chances(populations: list[Population], odds: tuple[float, ...]) -> FLOATS:
    """Probability of each population: its evidence times the prior odds of its number of lines."""
    score = np.log(np.array(odds[: len(populations)])) + np.array([q.log_evidence for q in populations])
    chances = np.exp(score - score.max())
    return np.asarray(chances / chances.sum())


def _weights(populations: list[Population], chances: FLOATS) -> FLOATS:
    parts = [np.full(len(q.thetas), c / len(q.thetas)) for q, c in zip(populations, chances, strict=True)]
    return np.concatenate(parts)


@kernel
def chance_within(mean: FLOATS, var: FLOATS, low: FLOATS, high: FLOATS, out: FLOATS) -> None:
    """Chance that a Gaussian lies between `low` and `high`; mean, var, out (particles, stations)."""
    for i in range(mean.shape[0]):
        for s in range(mean.shape[1]):
            sd = math.sqrt(2.0 * var[i, s])
            a = (low[s] - mean[i, s]) / sd
            b = (high[s] - mean[i, s]) / sd
            out[i, s] = 0.5 * (math.erf(b) - math.erf(a))


@kernel
def _quantile(mean: FLOATS, var: FLOATS, weights: FLOATS, level: float) -> float:
    """Where a mixture of Gaussians reaches `level`, by bisection; arrays of shape (particles,)."""
    spread = math.sqrt(var.max())
    low = mean.min() - 6.0 * spread
    high = mean.max() + 6.0 * spread
    for _ in range(18):
        x = 0.5 * (low + high)
        total = 0.0
        for i in range(mean.shape[0]):
            total += weights[i] * 0.5 * math.erfc((mean[i] - x) / math.sqrt(2.0 * var[i]))
        if total < level:
            low = x
        else:
            high = x
    return float(0.5 * (low + high))


@kernel
def _quantiles(mean: FLOATS, var: FLOATS, weights: FLOATS, levels: FLOATS, out: FLOATS) -> None:
    for s in range(mean.shape[1]):
        for k in range(levels.shape[0]):
            out[k, s] = _quantile(mean[:, s].copy(), var[:, s].copy(), weights, levels[k])


def quantiles(mean: FLOATS, var: FLOATS, weights: FLOATS, levels: tuple[float, ...]) -> FLOATS:
    """Quantiles of a mixture of Gaussians, station by station.

    Parameters
    ----------
    mean, var : shape (particles, stations)
    weights : shape (particles,), sum 1

    Returns
    -------
    array, shape (levels, stations)
    """
    out = np.empty((len(levels), mean.shape[1]))
    some = weights > 1e-7
    _quantiles(mean[some], var[some], weights[some] / weights[some].sum(), np.array(levels), out)
    return out
