"""The posterior of one place of a line, from whatever was taken there: weighted draws.

With none, one and two second lines each, draws come from the prior, with the depth and the mark aimed at what
was written. Where too few of them carry weight, more are drawn about those that do, and all are weighed by
the mixture of everything they were drawn from. No Gaussian stands for anything: what is left of error is
that of a finite number of draws, and the effective number is reported.

Sources: deterministic mixture weights, Owen & Zhou 2000 and Cornuet and others 2012; first weights tempered
to shape the next proposal, Koblents & Miguez 2015. From memory.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference import place_scene as c
from plumbmark.inference import place_weigh as w
from plumbmark.inference import priors as p
from plumbmark.inference.place_data import LABELS, SONDE_MODE, PlaceData
from plumbmark.inference.place_near import Nearby, flattened, nearby
from plumbmark.inference.second import Known
from plumbmark.inference.stretch import FIRST_LINE, PER_LINE

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

#: Share of the first draws that take the written depth for a slip, and that take the mark to be on another
#: line's peak: what the data speak for gets more later.
SLIPPED_FIRST = 0.15
OTHERS_FIRST = 0.4
#: Walkers that find where to look again, their steps, and the effective number of draws they begin from.
WALKERS = 200
STEPS = (1.0, 0.6, 0.4, 0.6, 0.25) * 4
FLATTENED_TO = 50.0
#: Walkers on the peak of each line at least, where any draw is: such places are few draws with much to say.
LEAST_SHARE = 0.2
THREADS = 2


@dataclass(frozen=True, slots=True)
class Looks:
    """How hard to look: draws of the first look and of each further one with none, one and two second lines.

    There are at most `times` further ones, until the effective number of draws with each number of second
    lines is `enough` times the chance of that number.
    """

    first: tuple[int, int, int] = (1500, 5000, 8000)
    more: tuple[int, int, int] = (1500, 4000, 6000)
    times: int = 6
    enough: float = 500.0


@dataclass(frozen=True, slots=True)
class Draws:
    """Weighted draws of the posterior, with none, one and two second lines one after another.

    Attributes
    ----------
    weights : shape (n,), sum 1
        With the odds of `priors.LINES_ODDS`.
    band_weights : shape (n,), sum 1
        With those of `priors.BAND_ODDS`.
    lines : shape (n,)
        Second lines of the draw.
    shift : shape (n,), [m]
        The line, right of the mark.
    ln_depth : shape (n,)
        Of metres, to the centre.
    ln_current : shape (n,)
        Of amperes.
    ln_shown_current : shape (n,)
        Of displayed over true current.
    fit : shape (n,)
        Log likelihood.
    alone : shape (n,)
        1 where the other currents move the mark by less than 5 cm and the depth by less than 5 %.
    offset, second_ln_depth, ratio : shape (n, 2), [m], ln [m], complex
        Of the second lines, right of the line; NaN where the draw has fewer.
    globals : shape (n, FIRST_LINE)
        Scatter, coil error, ln resistivity, lower coil, spacing, null kind, in the order of `stretch`.
    label : shape (n,)
        What the written depth is: right or a slip, as in `place_data`.
    flipped, gap_slipped, raised_slipped, current_slipped : shape (n,)
        Chance under the draw that the cell is a slip.
    chances : shape (3,)
        Of none, one and two second lines.
    log_evidence : shape (3,)
    effective : shape (3,)
        Effective number of draws with each number of second lines.
    """

    weights: FLOATS
    band_weights: FLOATS
    lines: INTS
    shift: FLOATS
    ln_depth: FLOATS
    ln_current: FLOATS
    ln_shown_current: FLOATS
    fit: FLOATS
    alone: FLOATS
    offset: FLOATS
    second_ln_depth: FLOATS
    ratio: NDArray[np.complex128]
    globals: FLOATS
    label: INTS
    flipped: FLOATS
    gap_slipped: FLOATS
    raised_slipped: FLOATS
    current_slipped: FLOATS
    chances: FLOATS
    log_evidence: FLOATS
    effective: FLOATS

    def slip_chances(self) -> FLOATS:
        """Chance of each label of the written depth, shape (LABELS,)."""
        return np.asarray(np.bincount(self.label, self.weights, minlength=LABELS), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """Draws with one number of second lines, and all that they were drawn from.

    `densities` are the log densities of each proposal at every draw, `counts` the draws that each gave.
    """

    lines: int
    u: FLOATS
    label: INTS
    whose: INTS  # peak the mark is on
    out: FLOATS
    target: FLOATS  # log of prior times likelihood
    proposals: tuple[Nearby, ...]
    densities: tuple[FLOATS, ...]
    counts: tuple[int, ...]

    def log_weight(self) -> FLOATS:
        """By the mixture of all proposals, so that no draw counts for more than the best one warrants."""
        share = np.log(np.array(self.counts) / sum(self.counts))
        mixture = np.logaddexp.reduce([q + s for q, s in zip(self.densities, share, strict=True)])
        found = self.target - mixture
        return np.where(np.isfinite(found), found, -1e300)

    def effective(self) -> float:
        """Effective number of draws."""
        log_weight = self.log_weight()
        v = np.exp(log_weight - log_weight.max())
        return float(v.sum() ** 2 / (v * v).sum())

    def log_evidence(self) -> float:
        """Log of the mean weight."""
        return float(np.logaddexp.reduce(self.log_weight()) - math.log(len(self.target)))


def solve_place(d: PlaceData, known: Known, seed: list[int], looks: Looks | None = None) -> Draws:
    """Posterior of one place.

    Parameters
    ----------
    d : PlaceData
        What was taken there.
    known : Known
        Soil, receiver and candidate second lines; offsets of candidates right of the row's bearing.
    seed : list of int
        The same seed and data give the same draws.
    looks : Looks, optional
        How hard to look.

    Returns
    -------
    Draws
    """
    looks = looks if looks is not None else Looks()
    rngs = [np.random.default_rng([*seed, lines]) for lines in range(c.MOST_LINES + 1)]
    parts = [_first(d, known, k, looks.first[k], rng) for k, rng in enumerate(rngs)]
    for _ in range(looks.times):
        evidence = np.array([q.log_evidence() for q in parts])
        share = np.maximum(_chances(evidence, p.LINES_ODDS), _chances(evidence, p.BAND_ODDS))
        few = [k for k, q in enumerate(parts) if q.effective() < looks.enough * share[k]]
        for k in few:
            parts[k] = _more(d, known, parts[k], looks.more[k], rngs[k])
        if not few:
            break
    return _joined(d, known, parts, rngs[0])


def _chances(log_evidence: FLOATS, odds: tuple[float, ...]) -> FLOATS:
    score = log_evidence + np.log(odds)
    chances = np.exp(score - score.max())
    return np.asarray(chances / chances.sum())


def _label_shares(d: PlaceData) -> FLOATS:
    """Labels of the first draws: mostly what is likely, some of everything that can be."""
    odds = d.label_odds.copy()
    if math.isnan(d.depth[0, 0]) or d.refused:
        odds[:] = 0.0
        odds[0] = 1.0
        return odds
    odds[1:SONDE_MODE][np.isnan(d.depth[1:, 0])] = 0.0
    even = np.where(odds > 0.0, np.sqrt(d.label_odds), 0.0)
    even[int(odds.argmax())] = 0.0
    shares = (1.0 - SLIPPED_FIRST) * odds / odds.sum() + SLIPPED_FIRST * even / max(even.sum(), 1e-12)
    return np.asarray(shares / shares.sum())


def _ln_odds(d: PlaceData, label: INTS) -> FLOATS:
    """Log prior odds of labels; without a written depth there is one label, and it is certain."""
    if math.isnan(d.depth[0, 0]) or d.refused:
        return np.zeros(len(label))
    return np.asarray(np.log(np.maximum(d.label_odds, 1e-300))[label])


def weighed(
    u: FLOATS, label: INTS, whose: INTS, given: FLOATS, d: PlaceData, known: Known, lines: int
) -> FLOATS:
    """Columns of `place_weigh` for each row, shared among threads; fills in depths that are given."""
    out = np.empty((len(u), w.COLUMNS))

    def run(rows: slice) -> None:
        w.weigh_many(u[rows], label[rows], whose[rows], given[rows], d, known, lines, out[rows])

    cuts = np.linspace(0, len(u), THREADS + 1).astype(int)
    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(run, [slice(a, b) for a, b in pairwise(cuts)]))
    return out


def _first_density(d: PlaceData, lines: int, out: FLOATS, label: INTS, whose: INTS) -> FLOATS:
    """Log density of the first look at draws."""
    chosen = np.log(np.maximum(_label_shares(d), 1e-300))[label] + np.log(_whose_shares(lines))[whose]
    return np.asarray(out[:, w.LOG_FIRST] + chosen)


def _first(d: PlaceData, known: Known, lines: int, n: int, rng: np.random.Generator) -> _Drawn:
    """The first look: draws from the prior, depth and mark aimed at what was written."""
    u = rng.normal(size=(n, c.OWN + c.PER_SECOND * lines))
    u[:, c.MARK] = rng.standard_t(6.0, size=n)
    label = np.searchsorted(np.cumsum(_label_shares(d)), (rng.random() + np.arange(n)) / n)
    label = rng.permutation(label.clip(0, LABELS - 1)).astype(np.int64)
    whose = rng.choice(lines + 1, n, p=_whose_shares(lines))
    aimed = np.where(whose == 0, c.DEPTH, c.OWN + c.PER_SECOND * (whose - 1) + c.Q_DEPTH)
    u[np.arange(n), aimed] = rng.standard_t(6.0, size=n)
    given = np.where(rng.random(n) < w.FROM_PRIOR, rng.normal(size=n), math.nan)
    out = weighed(u, label, whose, given, d, known, lines)
    target = out[:, w.LOG_TARGET] + _ln_odds(d, label)
    density = _first_density(d, lines, out, label, whose)
    return _Drawn(lines, u, label, whose, out, target, (), (density,), (n,))


def _whose_shares(lines: int) -> FLOATS:
    return np.array([1.0 - OTHERS_FIRST] + [OTHERS_FIRST / lines] * lines) if lines else np.ones(1)


def _settled(d: PlaceData, known: Known, q: _Drawn, rng: np.random.Generator) -> tuple[FLOATS, INTS, INTS]:
    """Walkers taken in proportion to weight and moved by Metropolis steps: coordinates, labels, peaks.

    They are not told as draws of the posterior, but say where to look for such.
    """
    weights = np.where(np.isfinite(q.target), flattened(q.log_weight(), FLATTENED_TO), 0.0)
    masses = np.bincount(q.whose, weights, minlength=q.lines + 1)
    share = np.where(masses > 0.0, np.maximum(masses, LEAST_SHARE), 0.0)
    weights = weights * (share / np.maximum(masses, 1e-300))[q.whose]
    weights /= weights.sum()
    pick = np.searchsorted(np.cumsum(weights), rng.random(WALKERS)).clip(0, len(weights) - 1)
    u, label, whose, target = q.u[pick], q.label[pick], q.whose[pick], q.target[pick]
    near = _near(q.lines, known)
    rest = np.setdiff1d(np.arange(u.shape[1]), near)
    root = np.linalg.cholesky(np.cov(u[:, near].T) + 1e-4 * np.eye(len(near)))
    none = np.full(WALKERS, math.nan)
    for step in STEPS:
        tried = u.copy()
        # of the coordinates that readings say little about, a move that leaves the prior as it is
        tried[:, rest] = math.sqrt(1.0 - step * step) * u[:, rest] + step * rng.normal(
            size=(WALKERS, len(rest))
        )
        tried[:, near] += step / math.sqrt(len(near)) * rng.normal(size=(WALKERS, len(near))) @ root.T
        found = weighed(tried, label, whose, none, d, known, q.lines)[:, w.LOG_TARGET] + _ln_odds(d, label)
        own = 0.5 * (tried[:, rest] ** 2 - u[:, rest] ** 2).sum(axis=1)
        better = np.log(rng.random(WALKERS)) < found - target + own
        u = np.where(better[:, None], tried, u)
        target = np.where(better, found, target)
    return u, label, whose


def _more(d: PlaceData, known: Known, q: _Drawn, n: int, rng: np.random.Generator) -> _Drawn:
    """One look more: half about where the weight is, half as the first, so that nothing is passed by."""
    centres, label, whose = _settled(d, known, q, rng)
    near = nearby(centres, label + LABELS * whose, _sides(centres), _near(q.lines, known))
    u, kind = near.draw(n // 2, rng)
    whose, label = np.divmod(kind, LABELS)
    out = weighed(u, label, whose, np.full(len(u), math.nan), d, known, q.lines)
    target = out[:, w.LOG_TARGET] + _ln_odds(d, label)
    first = _first_density(d, q.lines, out, label, whose)
    about = _Drawn(q.lines, u, label, whose, out, target, (), (first,), ())
    again = _first(d, known, q.lines, n - n // 2, rng)
    parts = (q, about, again)
    every = [np.concatenate([getattr(part, f) for part in parts]) for f in ("u", "label", "whose", "out")]
    kind = every[1] + LABELS * every[2]
    old = len(q.target)
    densities = [np.concatenate([part.densities[0] for part in parts])]
    for before, density in zip(q.proposals, q.densities[1:], strict=True):
        densities.append(np.concatenate([density, before.log_density(every[0][old:], kind[old:])]))
    densities.append(near.log_density(every[0], kind))
    return _Drawn(
        q.lines,
        every[0],
        every[1],
        every[2],
        every[3],
        np.concatenate([part.target for part in parts]),
        (*q.proposals, near),
        tuple(densities),
        (q.counts[0] + n - n // 2, *q.counts[1:], n // 2),
    )


def _near(lines: int, known: Known) -> list[int]:
    """Coordinates that readings say much about."""
    if lines == 0:
        return [c.MARK, c.DEPTH]
    per_line = [c.Q, c.Q_DEPTH, c.Q_RATIO, *([c.Q_WHICH] if len(known.candidates) else [])]
    return [c.OWN + c.PER_SECOND * k + j for k in range(lines) for j in per_line]


def _sides(u: FLOATS) -> INTS:
    """Side and sign of every second line, as one number."""
    sides = np.zeros(len(u), dtype=np.int64)
    for k in range(c.OWN, u.shape[1], c.PER_SECOND):
        sides = 4 * sides + 2 * (u[:, k + c.Q] > 0.0) + (u[:, k + c.Q_RATIO] > 0.0)
    return sides


def _joined(d: PlaceData, known: Known, parts: list[_Drawn], rng: np.random.Generator) -> Draws:
    evidence = np.array([q.log_evidence() for q in parts])
    chances, band = _chances(evidence, p.LINES_ODDS), _chances(evidence, p.BAND_ODDS)
    raw = [q.log_weight() for q in parts]
    scaled = [np.exp(v - np.logaddexp.reduce(v)) for v in raw]
    lines = np.concatenate([np.full(len(q.label), k) for k, q in enumerate(parts)])
    out = np.concatenate([q.out for q in parts])
    theta = np.full((len(lines), FIRST_LINE + c.MOST_LINES * PER_LINE), math.nan)
    for k, q in enumerate(parts):
        scenes = np.empty((len(q.label), FIRST_LINE + k * PER_LINE))
        c.scenes_of(q.u, known, scenes)
        theta[lines == k, : scenes.shape[1]] = scenes
    second = theta[:, FIRST_LINE:].reshape(len(lines), c.MOST_LINES, PER_LINE)
    ln_current, slipped = _currents(d, out, np.exp(theta[:, 0]), rng)
    return Draws(
        weights=np.concatenate([share * v for share, v in zip(chances, scaled, strict=True)]),
        band_weights=np.concatenate([share * v for share, v in zip(band, scaled, strict=True)]),
        lines=lines,
        shift=-out[:, w.AT],
        ln_depth=out[:, w.LN_DEPTH],
        ln_current=ln_current,
        ln_shown_current=out[:, w.LN_SHOWN_CURRENT],
        fit=out[:, w.FIT],
        alone=out[:, w.ALONE],
        offset=second[:, :, 0],
        second_ln_depth=np.where(np.isnan(second[:, :, 0]), math.nan, out[:, w.SECOND_DEPTHS :]),
        ratio=second[:, :, 3] + 1j * second[:, :, 4],
        globals=theta[:, :FIRST_LINE],
        label=np.concatenate([q.label for q in parts]),
        flipped=out[:, w.FLIPPED],
        gap_slipped=out[:, w.GAP_SLIPPED],
        raised_slipped=out[:, w.RAISED_SLIPPED],
        current_slipped=slipped,
        chances=chances,
        log_evidence=evidence,
        effective=np.array([q.effective() for q in parts]),
    )


def _currents(d: PlaceData, out: FLOATS, scatter: FLOATS, rng: np.random.Generator) -> tuple[FLOATS, FLOATS]:
    """True current (ln) under each draw, given what was written, and the chance that that is a slip."""
    n = len(out)
    factor = out[:, w.LN_SHOWN_CURRENT]
    if math.isnan(d.current[0]):
        return rng.normal(c.LN_CURRENT_0, p.CURRENT_LOG_SIGMA, n), np.zeros(n)
    noise = p.CURRENT_SIGMA * scatter
    written = d.current[0] + (d.current[1] - d.current[0]) * rng.random(n)
    total = np.hypot(p.CURRENT_LOG_SIGMA, noise)
    ten = math.log(10.0)
    shifts = np.array([0.0, ten, -ten])
    odds = np.array([1.0 - p.SLIP_ODDS, *(p.SLIP_ODDS * s for s in p.CURRENT_TEN_SHARE)])
    e = (written[:, None] - shifts - c.LN_CURRENT_0 - factor[:, None]) / total[:, None]
    density = odds * np.exp(-0.5 * e * e) / (c.ROOT_2PI * total[:, None])
    anything = p.SLIP_ODDS * (1.0 - sum(p.CURRENT_TEN_SHARE)) * p.ANYTHING_PER_LN
    density = np.column_stack([density, np.full(n, anything)])
    density /= density.sum(axis=1, keepdims=True)
    pick = (rng.random((n, 1)) > np.cumsum(density, axis=1)).sum(axis=1).clip(0, 3)
    shown = written - np.append(shifts, 0.0)[pick]
    share = p.CURRENT_LOG_SIGMA**2 / total**2
    mean = c.LN_CURRENT_0 + share * (shown - factor - c.LN_CURRENT_0)
    value = mean + np.sqrt(share) * noise * rng.normal(size=n)
    prior = rng.normal(c.LN_CURRENT_0, p.CURRENT_LOG_SIGMA, n)
    return np.where(pick == 3, prior, value), 1.0 - density[:, 0]
