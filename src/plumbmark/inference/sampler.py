"""Posterior of the globals of a stretch: tempered particles moved by differential evolution.

Each number of second lines (none, one, two) gets its own population, started from the prior and brought
to the posterior by raising the likelihood to growing powers; the steps' mean weights give its evidence,
and the evidences weigh the populations against each other. Several explanations survive side by side,
which one Gaussian about a best fit cannot do.

Sources: Del Moral, Doucet & Jasra 2006 (sequential Monte Carlo samplers); ter Braak 2006 (differential
evolution moves); Dau & Chopin 2022 (no state of the chains is wasted). From memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
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
from plumbmark.inference.stretch import DEPTH_MEAN, FIRST_LINE, ROWS, Stretch, picked
from plumbmark.inference.swap import log_ratio, ridden, swapped

FLOATS = NDArray[np.float64]


#: Draws of the prior looked at for each that is kept to begin from.
SIFTED = 4
SIFTED_AT = 4  # by so many stations


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to look: prior draws, chains at each temperature, moves of each, Newton steps, threads."""

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


def joined(parts: Sequence[States]) -> States:
    """States of one set of globals after another."""
    return States(np.concatenate([q.log_evidence for q in parts]), np.concatenate([q.rows for q in parts]))


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


def _next_power(
    power: float, goal: float, values: FLOATS, least: float, extra: FLOATS | float = 0.0
) -> float:
    """Largest power up to `goal` at which the weights' effective number is still `least`.

    `extra` is what stands in the log weights besides the likelihood.
    """

    def effective(to: float) -> float:
        w = (to - power) * values + extra
        w = np.exp(w - w.max())
        return float(w.sum() ** 2 / (w * w).sum())

    if effective(goal) >= least:
        return goal
    low, high = power, goal
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if effective(middle) >= least else (low, middle)
    return max(low, power + 1e-4 * goal)


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


@dataclass(frozen=True, slots=True)
class _Chains:
    """Particles on their way: globals, their log prior and states."""

    thetas: FLOATS
    prior: FLOATS
    states: States


def _moved(
    now: _Chains,
    stretch: Stretch,
    known: Known,
    power: float,
    free: NDArray[np.bool_],
    kind: int,
    effort: Effort,
    rng: np.random.Generator,
) -> _Chains:
    """One move of all particles at a power of the likelihood.

    `kind`: even a small step, odd one of a few globals or along a ridge, below 0 lines that change roles.
    """
    depth = now.states.of(DEPTH_MEAN)
    if kind < 0:
        swap = swapped(now.thetas, depth, stretch, rng)
        new = swap.thetas
        tried = states_of(new, stretch, swap.starts, effort)
        extra = log_ratio(swap, now.thetas, depth, tried.of(DEPTH_MEAN))
    else:
        new, extra = _proposal(now.thetas, free, rng, kind), np.zeros(len(now.thetas))
        if kind % 2 and now.thetas.shape[1] > FIRST_LINE:
            new, extra = ridden(now.thetas, new, stretch, rng)
        tried = states_of(new, stretch, depth, effort)
    prior = priors_of(new, known)
    ratio = power * (tried.log_evidence - now.states.log_evidence) + prior - now.prior + extra
    accept = (np.log(rng.random(len(new))) < ratio) & (prior > -1e29)
    return _Chains(
        np.where(accept[:, None], new, now.thetas),
        np.where(accept, prior, now.prior),
        _chosen(accept, tried, now.states),
    )


def _few(d: Stretch) -> tuple[Stretch, NDArray[np.int64]]:
    """A handful of the stations of a stretch, from end to end."""
    pick = np.unique(np.linspace(0, len(d.at) - 1, SIFTED_AT).round().astype(np.int64))
    return picked(d, pick)._replace(profile_count=np.zeros(len(pick), dtype=np.int64)), pick


def _begun(
    lines: int, stretch: Stretch, known: Known, start: FLOATS, effort: Effort, rng: np.random.Generator
) -> tuple[FLOATS, FLOATS, FLOATS, float]:
    """Globals to begin from: drawn from the prior, sifted by a few of the stations.

    Returns
    -------
    thetas : shape (n, globals)
    starts : shape (n, stations)
        ln depth to begin from.
    log_weights : shape (n,)
        ln of prior over the density they were sifted with, but for a constant.
    log_mass : float
        That constant: ln of the mean over the prior of what was sifted with.
    """
    count = effort.draws if lines else max(effort.draws // 4, 100)
    thetas = draw_prior(count * SIFTED, lines, known, rng)
    usual = float(np.median(start))
    starts = start - usual + _levels(thetas, stretch, usual, effort)[:, None]
    few, pick = _few(stretch)
    fit = states_of(thetas, few, starts[:, pick], effort).log_evidence
    fit = np.where(priors_of(thetas, known) < -1e29, -1e30, fit)
    power = _next_power(0.0, 1.0, fit, count / 2.0)
    top = float(fit.max())
    weights = np.exp(power * (fit - top))
    rows = _resample(weights, count, rng)
    mass = power * top + float(np.log(weights.mean()))
    return thetas[rows], starts[rows], -power * fit[rows], mass


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
    thetas, starts, sifted, evidence = _begun(lines, stretch, known, start, effort, rng)
    prior = priors_of(thetas, known)
    states = states_of(thetas, stretch, starts, effort)
    power = 0.0
    free = thetas.std(axis=0) > 1e-12
    goal = likelihood_power(stretch)
    # walks across make sharp posteriors, which few particles settle into only by many moves
    moves = effort.moves * (2 if (stretch.profile_count > 0).any() else 1)
    while power < goal:
        values = np.where(prior < -1e29, -1e30, states.log_evidence)
        after = _next_power(power, goal, values, 0.5 * len(thetas), sifted)
        weights = (after - power) * values + sifted
        top = float(weights.max())
        weights = np.exp(weights - top)
        evidence += top + float(np.log(weights.mean()))
        rows = _resample(weights, n, rng)
        power = after
        # every state of the chains is kept as a particle, the first as well as the last
        kept = [_Chains(thetas[rows], prior[rows], states.take(rows))]
        for turn in range(moves + (1 if lines else 0)):
            kind = turn if turn < moves else -1
            kept.append(_moved(kept[-1], stretch, known, power, free, kind, effort, rng))
        thetas = np.concatenate([c.thetas for c in kept])
        prior = np.concatenate([c.prior for c in kept])
        sifted = np.zeros(len(thetas))
        states = joined([c.states for c in kept])
    return Population(lines, thetas, states, evidence)
