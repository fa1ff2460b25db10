"""Posterior of the globals of a stretch: tempered particles moved by differential evolution.

Each number of second lines (none, one, two) gets its own population, started from the prior and brought
to the posterior by raising the likelihood to growing powers; the steps' mean weights give its evidence,
and the evidences weigh the populations against each other. Several explanations survive side by side,
which one Gaussian about a best fit cannot do.

Sources: Del Moral, Doucet & Jasra 2006 (sequential Monte Carlo samplers); ter Braak 2006 (differential
evolution moves). From memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.begin import begin_many, typical_of
from plumbmark.inference.evidence import log_evidence_many
from plumbmark.inference.priors import SHARED_ERROR, SHARED_ERROR_OF_WALK
from plumbmark.inference.second import Known, draw_prior, log_prior
from plumbmark.inference.stretch import DEPTH_MEAN, ROWS, Stretch
from plumbmark.inference.swap import log_ratio, swapped

FLOATS = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to look: prior draws, particles kept, moves a temperature, threads."""

    draws: int = 3000
    particles: int = 320
    moves: int = 4
    rounds: int = 4
    threads: int = 2


@dataclass(frozen=True, slots=True)
class States:
    """Smoothed states under each set of globals; `rows` in the order of `stretch`."""

    log_evidence: FLOATS  # shape (particles,)
    rows: FLOATS  # shape (particles, ROWS, stations)

    def take(self, which: NDArray[np.int64]) -> States:
        """The same for some of the particles."""
        return States(self.log_evidence[which], self.rows[which])

    def of(self, row: int) -> FLOATS:
        """One row of every state, shape (particles, stations)."""
        return self.rows[:, row]


@dataclass(frozen=True, slots=True)
class Population:
    """Equally weighted particles with `lines` second lines, and the evidence for that number."""

    lines: int
    thetas: FLOATS
    states: States
    log_evidence: float


@kernel
def log_prior_many(thetas: FLOATS, known: Known, out: FLOATS) -> None:
    """`log_prior` of each row."""
    for i in range(thetas.shape[0]):
        out[i] = log_prior(thetas[i], known)


def priors_of(thetas: FLOATS, known: Known) -> FLOATS:
    """Log prior of each row of `thetas`."""
    out = np.empty(len(thetas))
    log_prior_many(np.ascontiguousarray(thetas), known, out)
    return out


def states_of(thetas: FLOATS, stretch: Stretch, starts: FLOATS, effort: Effort) -> States:
    """Evidence and smoothed states of each row of `thetas`; `starts` (particles, stations) of ln depth."""
    thetas = np.ascontiguousarray(thetas)
    starts = np.ascontiguousarray(starts)
    count, n = starts.shape
    out = np.empty(count)
    states = np.empty((count, ROWS, n))

    def run(rows: slice) -> None:
        log_evidence_many(thetas[rows], stretch, starts[rows], effort.rounds, out[rows], states[rows])

    _share_out(run, count, effort)
    return States(out, states)


def _share_out(run: Callable[[slice], None], count: int, effort: Effort) -> None:
    """Rows divided among threads; the kernels let go of the interpreter."""
    if effort.threads < 2 or count < 32:
        run(slice(0, count))
        return
    cuts = np.linspace(0, count, effort.threads + 1).astype(int)
    with ThreadPoolExecutor(effort.threads) as pool:
        list(pool.map(run, [slice(a, b) for a, b in pairwise(cuts)]))


def _levels(thetas: FLOATS, stretch: Stretch, usual: float, effort: Effort) -> FLOATS:
    """Depth (ln) to begin from under each row of `thetas`; `usual` where no depth was read."""
    typical = typical_of(stretch)
    if math.isnan(typical):
        return np.full(len(thetas), usual)
    level = np.empty(len(thetas))
    _share_out(lambda rows: begin_many(thetas[rows], stretch, typical, level[rows]), len(thetas), effort)
    return level


def likelihood_power(stretch: Stretch) -> float:
    """Power that the likelihood of the globals is raised to: what the model leaves out is common to rows."""
    walks = int((stretch.profile_count > 0).sum())
    return 1.0 / (1.0 + SHARED_ERROR * (len(stretch.at) - 1) + SHARED_ERROR_OF_WALK * walks)


def _next_power(power: float, goal: float, values: FLOATS, least: float) -> float:
    """Largest power up to `goal` at which the weights' effective number is still `least`."""

    def effective(to: float) -> float:
        w = np.exp((to - power) * (values - values.max()))
        return float(w.sum() ** 2 / (w * w).sum())

    if effective(goal) >= least:
        return goal
    low, high = power, goal
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if effective(middle) >= least else (low, middle)
    return max(low, power + 1e-6)


def _resample(weights: FLOATS, n: int, rng: np.random.Generator) -> NDArray[np.int64]:
    edges = np.cumsum(weights) / weights.sum()
    return np.searchsorted(edges, (rng.random() + np.arange(n)) / n).clip(0, len(weights) - 1)


def _proposal(thetas: FLOATS, moved: NDArray[np.bool_], rng: np.random.Generator, turn: int) -> FLOATS:
    """Each particle plus a scaled difference of two others; now and then the whole difference."""
    n, g = thetas.shape
    a = rng.integers(0, n, n)
    b = rng.integers(0, n, n)
    free = int(moved.sum())
    gamma = np.where(rng.random(n) < 0.1, 1.0, 1.7 / np.sqrt(2.0 * max(free, 1)) * rng.uniform(0.4, 1.2, n))
    step = gamma[:, None] * (thetas[a] - thetas[b])
    # part of the moves touch a few globals only: with many dimensions a whole step is seldom taken
    if turn % 2:
        step = np.where(rng.random((n, g)) < 0.35, step, 0.0)
    jitter = 1e-3 * thetas.std(axis=0) * rng.normal(size=(n, g))
    return thetas + np.where(moved, step + jitter, 0.0)


def _chosen(accept: NDArray[np.bool_], tried: States, states: States) -> States:
    """The states of `tried` where accepted, shape (particles,), else those there were."""
    return States(
        np.where(accept, tried.log_evidence, states.log_evidence),
        np.where(accept[:, None, None], tried.rows, states.rows),
    )


def populate(
    lines: int, stretch: Stretch, known: Known, start: FLOATS, effort: Effort, rng: np.random.Generator
) -> Population:
    """Particles of the posterior with `lines` second lines.

    Parameters
    ----------
    start : shape (n,)
        ln depth at the stations to begin from, such as the displayed one.
    """
    n = effort.particles if lines else max(effort.particles // 4, 12)
    draws = effort.draws if lines else 4 * n
    thetas = draw_prior(draws, lines, known, rng)
    prior = priors_of(thetas, known)
    usual = float(np.median(start))
    starts = start - usual + _levels(thetas, stretch, usual, effort)[:, None]
    states = states_of(thetas, stretch, starts, effort)
    power = 0.0
    evidence = 0.0
    moved = thetas.std(axis=0) > 1e-12
    first = True
    goal = likelihood_power(stretch)
    sharp = bool((stretch.profile_count > 0).any())
    while power < goal:
        values = np.where(prior < -1e29, -1e30, states.log_evidence)
        after = _next_power(power, goal, values, 0.5 * n if not first else min(0.7 * n, 0.5 * draws))
        top = float(values.max())
        weights = np.exp((after - power) * (values - top))
        evidence += (after - power) * top + float(np.log(weights.mean()))
        rows = _resample(weights, n, rng)
        thetas, prior, states = thetas[rows], prior[rows], states.take(rows)
        power = after
        first = False
        # walks across make sharp posteriors, which few particles settle into only by many moves
        turns = effort.moves * (2 if power >= goal else 1) * (3 if sharp else 1)
        for turn in range(turns + (1 if lines else 0)):
            extra: FLOATS | float = 0.0
            if turn < turns:
                new = _proposal(thetas, moved, rng, turn)
                tried = states_of(new, stretch, states.of(DEPTH_MEAN), effort)
            else:
                swap = swapped(thetas, states.of(DEPTH_MEAN), stretch, rng)
                new = swap.thetas
                tried = states_of(new, stretch, swap.starts, effort)
                extra = log_ratio(swap, thetas, states.of(DEPTH_MEAN), tried.of(DEPTH_MEAN))
            new_prior = priors_of(new, known)
            ratio = power * (tried.log_evidence - states.log_evidence) + new_prior - prior + extra
            accept = (np.log(rng.random(n)) < ratio) & (new_prior > -1e29)
            thetas = np.where(accept[:, None], new, thetas)
            prior = np.where(accept, new_prior, prior)
            states = _chosen(accept, tried, states)
    return Population(lines, thetas, states, evidence)
