"""Posterior of one walk across: weighted draws with none, one and two second lines.

With each number of second lines, draws of soil and second lines come from the prior and from the best fits;
further draws come from where the weight is. All are weighed by the mixture of everything that they were drawn
from, so that a proposal which misses a part costs draws and not truth. The shape of the largest weights
(Pareto's k) tells where that is not so: above 0.7 the answer is called loose.

Sources: deterministic mixture weights, Owen & Zhou 2000 and Cornuet and others 2012; the diagnostic, Vehtari,
Simpson, Gelman, Yao & Gabry 2024 with the fit of Zhang & Stephens 2009. From memory.
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
from plumbmark.inference import priors as p
from plumbmark.inference.second import Known
from plumbmark.inference.walk import Walk
from plumbmark.inference.walk_field import PER
from plumbmark.inference.walk_mixture import Proposal, flattened, log_mixture, pareto_k
from plumbmark.inference.walk_modes import MOST_LINES, Modes, Search, empty_modes, find_modes
from plumbmark.inference.walk_prior import (
    draw_lines,
    log_prior_outer,
    log_prior_outer_line,
    to_outer,
    to_ratios,
)
from plumbmark.inference.walk_weigh import (
    INNER,
    INNER_LN_DEPTH,
    INNER_LN_SCATTER,
    INNER_SHIFT,
    LN_DEPTH_0,
    ORDERED,
    TAIL,
    outer_size,
    weigh,
)

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

CENTRES = 30
NEAREST = 50
SETTLED = 400  # walkers by which further proposals are shaped ...
MOVES = 10  # ... and moves of each, where few draws carry weight
FIRST_SHIFTS = ((0.6, 0.08), (0.4, 0.4))  # shares and widths [m] of first draws where only the order counts
OTHERS_FIRST = 0.25  # first draws that take the walk's zero to be nearer another line
UNSTEADY = 0.7  # Pareto's k above which weights are not to be leaned on


SEARCH = Search()


@dataclass(frozen=True, slots=True)
class Looks:
    """How hard to look: draws of the first look and of each further one, at most so many, until enough.

    `enough` is the effective number of draws that ends the search, times the probability of that number of
    second lines.
    """

    first: int = 1500
    more: int = 800
    times: int = 6
    enough: float = 400.0
    threads: int = 2
    search: Search = SEARCH


ORDER_LOOKS = Looks(first=4000, more=1500, times=8)


@dataclass(frozen=True, slots=True)
class WalkPosterior:
    """Weighted draws, those with none, one and two second lines one after another.

    Attributes
    ----------
    weights, band_weights : shape (n,), sum 1
        With the odds of `priors.LINES_ODDS`, and of `priors.BAND_ODDS`.
    lines : shape (n,)
        Second lines of the draw.
    shift : shape (n,), [m]
        The line right of the walk's zero.
    ln_depth : shape (n,)
        Of metres, to the centre.
    ln_soil, lower, ln_scatter : shape (n,)
        ln [ohm m], [m], 1.
    second : shape (n, 2, 4)
        Offset right of the line [m], ln depth, real and imaginary part of the current over the line's; NaN
        where the draw has fewer.
    chances, log_evidence, effective, tail : shape (3,)
        For none, one and two second lines: probability, log evidence up to a constant, effective number of
        draws, Pareto's k of the weights.
    """

    weights: FLOATS
    band_weights: FLOATS
    lines: INTS
    shift: FLOATS
    ln_depth: FLOATS
    ln_soil: FLOATS
    lower: FLOATS
    ln_scatter: FLOATS
    second: FLOATS
    chances: FLOATS
    log_evidence: FLOATS
    effective: FLOATS
    tail: FLOATS

    @property
    def steady(self) -> bool:
        """Whether the weights can be leaned on, for the numbers of second lines that count."""
        return bool(np.all((self.tail < UNSTEADY) | (self.chances < 0.05)))


@kernel
def log_priors(outer: FLOATS, lines: int, known: Known, out: FLOATS) -> None:
    """Log prior density of each row's soil and second lines."""
    for r in range(outer.shape[0]):
        out[r] = log_prior_outer(outer[r], lines, known)


@kernel
def log_lines(line: FLOATS, known: Known, out: FLOATS) -> None:
    """Log prior density of each row's second line."""
    for r in range(line.shape[0]):
        out[r] = log_prior_outer_line(line[r], known)


class _Population:
    """Draws with one number of second lines and the walk's zero nearest one of them, and what they are from.

    `whose` is 0 where the zero is nearest the line itself, 1 where it is nearest a second one, which then is
    called the first; where only the order is trusted it is 0 and says nothing.
    """

    def __init__(
        self,
        walk: Walk,
        known: Known,
        lines: int,
        whose: int,
        power: float,
        marked: bool,
        modes: tuple[FLOATS, INTS, FLOATS, FLOATS],
        threads: int,
        rng: np.random.Generator,
    ) -> None:
        self.walk, self.known, self.power, self.marked = walk, known, power, marked
        self.lines, self.whose = lines, whose
        self.both_ways = lines == MOST_LINES and whose == 0  # two second lines of which neither comes first
        self.ordered = len(walk.order) > 0
        self.modes, self.threads, self.rng = modes, threads, rng
        size = outer_size(lines, self.ordered)
        self.outer, self.lower = np.empty((0, size)), np.empty(0)
        self.inner, self.target = np.empty((0, INNER)), np.empty(0)
        self.counts: list[int] = []
        self.densities: list[FLOATS] = []
        self.proposals: list[Proposal] = []

    def look(self, proposal: Proposal, n: int) -> None:
        """Add `n` draws from a proposal."""
        rng = self.rng
        few = rng.binomial(n, proposal.from_prior) if len(proposal.share) else n
        new = self._from_prior(n)
        if few < n:
            new[few:, : proposal.centre.shape[1]] = proposal.draw(n - few, rng)
        new = np.ascontiguousarray(new)
        lower, inner, target = self._weighed(new)
        for k, old in enumerate(self.proposals):
            self.densities[k] = np.concatenate([self.densities[k], self._log_density(old, new)])
        self.outer = np.concatenate([self.outer, new])
        self.lower = np.concatenate([self.lower, lower])
        self.inner = np.concatenate([self.inner, inner])
        self.target = np.concatenate([self.target, target])
        self.densities.append(self._log_density(proposal, self.outer))
        self.proposals.append(proposal)
        self.counts.append(n)

    def _weighed(self, outer: FLOATS) -> tuple[FLOATS, FLOATS, FLOATS]:
        """Lower coils and inner unknowns drawn for each row, and its log weight before its own density."""
        n = len(outer)
        lower = self.rng.uniform(self.known.lower_low, self.known.lower_high, n)
        inner, target = np.zeros((n, INNER)), np.empty(n)
        students = self.rng.standard_t(TAIL, size=(n, INNER))
        whose = np.full(n, self.whose)

        def run(rows: slice) -> None:
            weigh(
                outer[rows],
                whose[rows],
                lower[rows],
                students[rows],
                self.walk,
                self.known,
                self.power,
                self.marked,
                *self.modes,
                inner[rows],
                target[rows],
            )

        _share_out(run, n, self.threads)
        return lower, inner, target

    def _from_prior(self, n: int) -> FLOATS:
        rng, known = self.rng, self.known
        soil = rng.normal(known.soil_ln, known.soil_sigma, n)
        lines = draw_lines(n, self.lines, known, rng)
        to_outer(lines)
        parts = [soil[:, None], lines]
        if self.ordered:
            whose = rng.choice(self.lines + 1, n, p=self._whose_shares())
            width = rng.choice([s for _w, s in FIRST_SHIFTS], n, p=[w for w, _s in FIRST_SHIFTS])
            inner = np.empty((n, ORDERED))
            inner[:, INNER_SHIFT] = rng.normal(self._places(lines)[whose, np.arange(n)], width)
            inner[:, INNER_LN_DEPTH] = rng.normal(LN_DEPTH_0, p.DEPTH_LOG_SIGMA, n)
            inner[:, INNER_LN_SCATTER] = rng.normal(0.0, p.SCATTER_LOG_SIGMA, n)
            parts.append(inner)
        return np.concatenate(parts, axis=1)

    def _whose_shares(self) -> FLOATS:
        """Shares of first draws that take the walk's zero to be near the line, and near each other one."""
        others = np.full(self.lines, OTHERS_FIRST / max(self.lines, 1))
        return np.concatenate([[1.0 - others.sum()], others])

    def _places(self, lines: FLOATS) -> FLOATS:
        """Where the line is with the walk's zero on itself and on each other one, shape (lines + 1, n)."""
        return np.stack([np.zeros(len(lines)), *(-lines[:, PER * k] for k in range(self.lines))])

    def _log_first(self, outer: FLOATS) -> FLOATS:
        """Log density of the draws of `_from_prior`."""
        out = np.empty(len(outer))
        log_priors(outer, self.lines, self.known, out)
        if self.ordered:
            inner = outer[:, 1 + PER * self.lines :]
            away = inner[:, INNER_SHIFT] - self._places(outer[:, 1:])
            shifts = np.sum([w * _bell(away, s) for w, s in FIRST_SHIFTS], axis=0)
            out += np.log(self._whose_shares() @ shifts + 1e-300)
            out += np.log(_bell(inner[:, INNER_LN_DEPTH] - LN_DEPTH_0, p.DEPTH_LOG_SIGMA) + 1e-300)
            out += np.log(_bell(inner[:, INNER_LN_SCATTER], p.SCATTER_LOG_SIGMA) + 1e-300)
        return out

    def _swapped(self, outer: FLOATS) -> FLOATS:
        out = outer.copy()
        out[:, 1 : 1 + PER], out[:, 1 + PER : 1 + 2 * PER] = (
            outer[:, 1 + PER : 1 + 2 * PER],
            outer[:, 1 : 1 + PER],
        )
        return out

    def _log_density(self, proposal: Proposal, outer: FLOATS) -> FLOATS:
        # which of two second lines is called the first is nobody's: the density counts both ways
        first = self._log_first(outer)
        if not len(proposal.share):
            return first
        ways = [outer, self._swapped(outer)] if self.both_ways else [outer]
        parts = [first + math.log(proposal.from_prior)]
        for way in ways:
            size = proposal.centre.shape[1]
            out = np.empty(len(outer))
            log_mixture(
                np.ascontiguousarray(way[:, :size]), proposal.centre, proposal.inverse, proposal.share, out
            )
            if size < outer.shape[1]:
                last = np.empty(len(outer))
                log_lines(np.ascontiguousarray(way[:, size:]), self.known, last)
                out += last
            parts.append(out + math.log((1.0 - proposal.from_prior) / len(ways)))
        return np.asarray(np.logaddexp.reduce(parts))

    def log_weight(self) -> FLOATS:
        """By the mixture of all proposals."""
        share = np.log(np.array(self.counts) / sum(self.counts))
        mixture = np.logaddexp.reduce([q + s for q, s in zip(self.densities, share, strict=True)])
        # the zero may as well be nearest the other of two second lines
        twice = math.log(2.0) if self.whose and self.lines == MOST_LINES else 0.0
        return np.where(self.target > -1e29, self.target - mixture + twice, -1e300)

    def effective(self) -> float:
        """Effective number of draws."""
        v = self.log_weight()
        w = np.exp(v - v.max())
        return float(w.sum() ** 2 / (w * w).sum())

    def log_evidence(self) -> float:
        """Log of the mean weight."""
        v = self.log_weight()
        return float(np.logaddexp.reduce(v) - math.log(len(v)))

    def _settled(self) -> FLOATS:
        """Walkers taken in proportion to weight; where few carry it, moved by differences of one another.

        They are not told as draws of the posterior, but say where to look for such.
        """
        least = 8.0 * self.outer.shape[1]
        weights = flattened(self.log_weight(), least)
        edges = np.cumsum(weights) / weights.sum()
        pick = np.searchsorted(edges, (self.rng.random() + np.arange(SETTLED)) / SETTLED)
        pick = pick.clip(0, len(edges) - 1)
        walkers, target = self.outer[pick], self.target[pick]
        if self.effective() > least:
            return walkers
        n, size = walkers.shape
        for turn in range(MOVES):
            one, other = walkers[self.rng.integers(0, n, n)], walkers[self.rng.integers(0, n, n)]
            reach = self.rng.uniform(0.3, 1.2, (n, 1)) * 1.7 / math.sqrt(2.0 * size)
            step = reach * (one - other)
            step += 1e-3 * walkers.std(axis=0) * self.rng.normal(size=(n, size))
            if turn % 2:
                step *= self.rng.random((n, size)) < 0.4
            tried = walkers + step
            found = self._weighed(tried)[2]
            better = np.log(self.rng.random(n)) < found - target
            walkers = np.where(better[:, None], tried, walkers)
            target = np.where(better, found, target)
        return walkers

    def next_proposal(self) -> Proposal:
        """Student's distributions about draws taken in proportion to weight, shaped by their neighbours."""
        cloud = self._settled()
        scale = cloud.std(axis=0) + 1e-6
        centre = cloud[self.rng.choice(SETTLED, CENTRES, replace=False)]
        away = (((cloud[None, :, :] - centre[:, None, :]) / scale) ** 2).sum(axis=2)
        near = np.argpartition(away, NEAREST, axis=1)[:, :NEAREST]
        shapes = np.empty((CENTRES, len(scale), len(scale)))
        ridge = np.diag((0.03 * scale) ** 2)
        for k in range(CENTRES):
            spread = np.atleast_2d(np.cov(cloud[near[k]].T)) + ridge
            shapes[k] = np.linalg.cholesky(np.linalg.inv(spread))
        return Proposal(0.1, np.ascontiguousarray(centre), shapes, np.full(CENTRES, 1.0 / CENTRES))


def _bell(e: FLOATS, sigma: float) -> FLOATS:
    return np.asarray(np.exp(-0.5 * (e / sigma) ** 2) / (sigma * math.sqrt(2.0 * math.pi)))


def _share_out(run: Callable[[slice], None], count: int, threads: int) -> None:
    """Rows divided among threads; the kernels let go of the interpreter."""
    if threads < 2 or count < 64:
        run(slice(0, count))
        return
    cuts = np.linspace(0, count, threads + 1).astype(int)
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(run, [slice(a, b) for a, b in pairwise(cuts)]))


def solve_walk(
    walk: Walk,
    known: Known,
    seed: list[int],
    *,
    power: float = 1.0,
    marked: bool = True,
    looks: Looks | None = None,
    most_lines: int = MOST_LINES,
) -> WalkPosterior:
    """Posterior of one walk; the same seed and data give the same draws.

    Parameters
    ----------
    walk : Walk
    known : Known
        Soil, lower coil and candidate second lines; offsets of candidates right of the walk's zero.
    seed : list of int
    power : float, above 0 up to 1
        The likelihood of the walk is raised to it: what the model leaves out is common to its points.
    marked : bool
        The walk's zero was set on the peak by hand.
    looks : Looks, optional
        How hard to look.
    most_lines : int

    Returns
    -------
    WalkPosterior
    """
    ordered = len(walk.order) > 0
    looks = looks or (ORDER_LOOKS if ordered else Looks())
    modes = empty_modes(looks.search)
    if not ordered:
        find_modes(walk, known, power, most_lines, looks.search, modes)
    parts: list[_Population] = []
    for lines in range(most_lines + 1):
        told = _told(modes, lines)
        for whose in range(2 if lines and not ordered else 1):
            rng = np.random.default_rng([*seed, lines, whose])
            part = _Population(walk, known, lines, whose, power, marked, told, looks.threads, rng)
            part.look(_first_proposal(modes, lines, whose, ordered), looks.first)
            if lines == MOST_LINES and not ordered:
                # where the weight is with one of them, and another one anywhere
                one = next(q for q in parts if q.lines == 1 and q.whose == whose)
                part.look(one.next_proposal(), looks.more)
            parts.append(part)
            _look_on(parts, looks)
    return _joined(parts)


def _look_on(parts: list[_Population], looks: Looks) -> None:
    """Further looks at the last population, until enough for what it counts."""
    part = parts[-1]
    for _ in range(looks.times):
        share = max(shares_of(parts, odds)[-1] for odds in (p.LINES_ODDS, p.BAND_ODDS))
        if part.effective() >= max(looks.enough * share, 20.0):
            break
        part.look(part.next_proposal(), looks.more)


def shares_of(parts: list[_Population], odds: tuple[float, ...]) -> FLOATS:
    """Probability of each population."""
    score = np.array([q.log_evidence() + math.log(odds[q.lines]) for q in parts])
    chances = np.exp(score - score.max())
    return np.asarray(chances / chances.sum())


def _told(modes: Modes, lines: int) -> tuple[FLOATS, INTS, FLOATS, FLOATS]:
    """Best fits by which inner unknowns are begun; with two second lines also those with the first alone."""
    size = 1 + PER * lines
    rows = slice(0, int(modes.found[lines]) + 1)
    place = modes.place[lines, rows, : 2 + size]
    whose = modes.whose[lines, rows]
    spread = modes.spread[lines, rows, :size, :size]
    slope = modes.slope[lines, rows, :, :size]
    if lines == MOST_LINES:
        one = slice(1, int(modes.found[1]) + 1)
        place = np.concatenate([place, modes.place[1, one, : 2 + size]])
        whose = np.concatenate([whose, modes.whose[1, one]])
        spread = np.concatenate([spread, modes.spread[1, one, :size, :size]])
        slope = np.concatenate([slope, modes.slope[1, one, :, :size]])
    arrays = (place, whose, spread, slope)
    return tuple(np.ascontiguousarray(a) for a in arrays)  # type: ignore[return-value]


def _first_proposal(modes: Modes, lines: int, whose: int, ordered: bool) -> Proposal:
    """Half from the prior, half from about the best fits."""
    rows = np.arange(1, int(modes.found[lines]) + 1)
    # of two second lines the one nearest the zero is called the first
    rows = rows[modes.whose[lines, rows] == whose]
    if ordered or len(rows) == 0:
        return Proposal(1.0, np.empty((0, 1)), np.empty((0, 1, 1)), np.empty(0))
    size = 1 + PER * lines
    cost = modes.cost[lines, rows]
    share = np.exp(-0.5 * (cost - cost.min())) + 0.05
    spread = modes.spread[lines, rows][:, :size, :size]
    inverse = np.asarray(np.linalg.cholesky(spread), dtype=np.float64)
    centre = np.ascontiguousarray(modes.place[lines, rows, 2 : 2 + size])
    return Proposal(0.5, centre, inverse, share / share.sum())


def _joined(parts: list[_Population]) -> WalkPosterior:
    raw = [q.log_weight() for q in parts]
    scaled = [np.exp(v - np.logaddexp.reduce(v)) for v in raw]
    shares, band = shares_of(parts, p.LINES_ODDS), shares_of(parts, p.BAND_ODDS)
    most = parts[-1].lines + 1
    groups = [[i for i, q in enumerate(parts) if q.lines == k] for k in range(most)]
    weights = [c * w for c, w in zip(shares, scaled, strict=True)]
    joint = [np.concatenate([weights[i] for i in group]) for group in groups]
    inner = np.concatenate([q.inner for q in parts])
    second = [np.full((len(q.outer), MOST_LINES, PER), math.nan) for q in parts]
    for q, rows in zip(parts, second, strict=True):
        lines = q.outer[:, 1 : 1 + PER * q.lines].copy()
        to_ratios(lines)
        rows[:, : q.lines] = lines.reshape(len(lines), q.lines, PER)
    return WalkPosterior(
        np.concatenate(weights),
        np.concatenate([c * w for c, w in zip(band, scaled, strict=True)]),
        np.concatenate([np.full(len(q.outer), q.lines) for q in parts]),
        inner[:, INNER_SHIFT],
        inner[:, INNER_LN_DEPTH],
        np.concatenate([q.outer[:, 0] for q in parts]),
        np.concatenate([q.lower for q in parts]),
        inner[:, INNER_LN_SCATTER],
        np.concatenate(second),
        np.array([sum(shares[i] for i in group) for group in groups]),
        np.array([np.logaddexp.reduce([parts[i].log_evidence() for i in group]) for group in groups]),
        np.array([w.sum() ** 2 / max((w * w).sum(), 1e-300) for w in joint]),
        np.array(
            [
                max(pareto_k(raw[i]) for i in group if shares[i] >= 0.1 * max(shares[group]))
                for group in groups
            ]
        ),
    )
