"""Posteriors of many walks across: as `walk_solve` has them, from hundreds of draws instead of thousands.

Every number of second lines is drawn from its best fits and from the prior, and again from where the weight
turned out to be while too few draws carry it. Where they still are too few the answer is called loose.

For looking through many walks, not for a crew: medians agree with `walk_solve.solve_walk`, but what few draws
miss makes bands too narrow, most of all where there may be two second lines (bench/RESULTS.md has the count).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.errors import PlumbmarkError
from plumbmark.inference.priors import LINES_ODDS
from plumbmark.inference.second import Known
from plumbmark.inference.walk import Walk
from plumbmark.inference.walk_cloud import (
    Cloud,
    Numbers,
    Starts,
    draw_on,
    empty_cloud,
    evidence_of,
    first_parts,
    loose_parts,
    next_parts,
    starts_of,
)
from plumbmark.inference.walk_field import PER
from plumbmark.inference.walk_mixture import HEAVY
from plumbmark.inference.walk_modes import MOST_LINES, OUTER, Modes, Search, empty_modes, find_modes
from plumbmark.inference.walk_prior import draw_lines, to_outer
from plumbmark.inference.walk_weigh import INNER, INNER_LN_DEPTH, INNER_LN_SCATTER, INNER_SHIFT, TAIL

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

LEVELS = np.array([0.025, 0.5, 0.975])
ROOM = 480  # most draws with one number of second lines
PARTS = 96
FEWEST = 8.0  # draws in effect below which a number of second lines that counts is looked at again
LEAST_SHARE = 0.002
PLAIN_PRIOR = 64  # draws from the prior where it says more of the last second line than the fit does ...
IDLE = 8.0  # ... as where the misfit falls by less than this
LEAST_EFFECTIVE = 25.0  # fewer draws in effect: loose


class Effort(NamedTuple):
    """Draws about the best fits, from the prior, and of each of at most `times` further looks."""

    fits: int = 96
    prior: int = 12
    more: int = 60
    times: int = 4
    enough: float = 40.0
    search: Search = Search(3, 12, 3, 12)


EFFORT = Effort()


@dataclass(frozen=True, slots=True)
class WalkBands:
    """Posterior of one walk in short.

    Attributes
    ----------
    shift : shape (3,), [m]
        Ends of the band that holds 19 times in 20 and the median between them; the line right of the walk's
        zero.
    ln_depth : shape (3,)
        The same of ln depth, metres to the centre.
    chances : shape (3,)
        Of none, one and two second lines.
    effective : float
        Draws in effect.
    loose : bool
        Fewer than `LEAST_EFFECTIVE`: the band is not to be leaned on.
    """

    shift: FLOATS
    ln_depth: FLOATS
    chances: FLOATS
    effective: float
    loose: bool


def shared_numbers(known: Known, seed: int) -> Numbers:
    """Random numbers for all walks over the same ground.

    Parameters
    ----------
    known : Known
        Second lines are drawn from its prior.
    seed : int

    Returns
    -------
    Numbers
    """
    rng = np.random.default_rng(seed)
    n = ROOM * (1 + 2 * MOST_LINES)
    lines = draw_lines(n, MOST_LINES, known, rng)
    to_outer(lines)
    student = rng.normal(size=(n, OUTER)) * np.sqrt(HEAVY / rng.chisquare(HEAVY, n))[:, None]
    return Numbers(student, rng.standard_t(TAIL, (n, INNER)), rng.random(n), rng.normal(size=n), lines)


@dataclass(frozen=True, slots=True)
class WalkDraws:
    """Weighted draws of one walk.

    Attributes
    ----------
    weights : shape (n,), sum 1
    lines : shape (n,)
        Second lines of each draw.
    shift, ln_depth, ln_soil, ln_scatter : shape (n,)
        As `walk_solve.WalkPosterior` has them.
    """

    weights: FLOATS
    lines: INTS
    shift: FLOATS
    ln_depth: FLOATS
    ln_soil: FLOATS
    ln_scatter: FLOATS


def weighted_draws(
    walk: Walk,
    known: Known,
    numbers: Numbers,
    *,
    power: float = 1.0,
    marked: bool = True,
    most_lines: int = MOST_LINES,
    effort: Effort = EFFORT,
) -> WalkDraws:
    """Weighted draws of one walk's posterior, from hundreds of draws.

    Parameters
    ----------
    walk, known, power, marked, most_lines
        As `walk_solve.solve_walk` has them; amplitudes, not their order alone.
    numbers : Numbers
        Of `shared_numbers`.
    effort : Effort

    Returns
    -------
    WalkDraws
    """
    modes = empty_modes(effort.search)
    find_modes(walk, known, power, most_lines, effort.search, modes)
    parts: list[_Part] = []
    for lines in range(most_lines + 1):
        for whose in range(2 if lines else 1):
            cloud = empty_cloud(lines, ROOM, PARTS)
            # the zero nearest another line, and no line but one: rare, so a short first look
            fits = effort.fits if lines and not whose else effort.fits // 2
            told = first_parts(cloud, modes, lines, whose, fits)
            if lines == MOST_LINES:
                loose_parts(cloud, parts[1 + whose].cloud, fits)
            part = _Part(cloud, lines, whose, starts_of(modes, lines), len(parts) * ROOM)
            parts.append(part)
            plain = told == 0 or (lines > 0 and _idle(modes, lines))
            draws = PLAIN_PRIOR if plain and not whose else effort.prior
            draw_on(cloud, draws, 0, part.begin, whose, walk, known, power, marked, part.starts, numbers)
        if lines > 0 or most_lines == 0:
            _look_on(parts, effort, walk, known, power, marked, numbers)
    return _joined([part.cloud for part in parts])


class _Part(NamedTuple):
    """Draws with one number of second lines, the zero nearest one of them; where its random numbers begin."""

    cloud: Cloud
    lines: int
    whose: int
    starts: Starts
    begin: int


def _idle(modes: Modes, lines: int) -> bool:
    """Whether the last second line does next to nothing for the fit, so that its prior says where it is."""
    if modes.found[lines] == 0 or modes.found[lines - 1] == 0:
        return True
    return bool(modes.cost[lines - 1, 1] < modes.cost[lines, 1] + IDLE)


def _look_on(
    parts: list[_Part],
    effort: Effort,
    walk: Walk,
    known: Known,
    power: float,
    marked: bool,
    numbers: Numbers,
) -> None:
    """Further looks where too few draws carry what a part counts for."""
    for _ in range(effort.times):
        told = [evidence_of(part.cloud) for part in parts]
        score = np.array([t[0] + math.log(LINES_ODDS[q.lines]) for t, q in zip(told, parts, strict=True)])
        share = np.exp(score - np.logaddexp.reduce(score))
        for (_e, effective), part, s in zip(told, parts, share, strict=True):
            if s < LEAST_SHARE or effective >= max(effort.enough * s, FEWEST):
                continue
            before = int(part.cloud.have[2])
            next_parts(part.cloud, effort.more)
            options = (part.begin, part.whose, walk, known, power, marked, part.starts, numbers)
            draw_on(part.cloud, 0, before, *options)


def _joined(clouds: list[Cloud]) -> WalkDraws:
    count = [int(c.have[0]) for c in clouds]
    lines = [(c.outer.shape[1] - 1) // PER for c in clouds]
    # every cloud's weights come to its evidence times the odds
    raw = np.concatenate(
        [c.weight[:n] - math.log(n / LINES_ODDS[k]) for c, n, k in zip(clouds, count, lines, strict=True)]
    )
    weights = np.exp(raw - raw.max())
    inner = np.concatenate([c.inner[:n] for c, n in zip(clouds, count, strict=True)])
    soil = np.concatenate([c.outer[:n, 0] for c, n in zip(clouds, count, strict=True)])
    return WalkDraws(
        weights / weights.sum(),
        np.repeat(lines, count),
        inner[:, INNER_SHIFT],
        inner[:, INNER_LN_DEPTH],
        soil,
        inner[:, INNER_LN_SCATTER],
    )


def _quantiles(values: FLOATS, weights: FLOATS) -> FLOATS:
    """At `LEVELS`, between the middles of neighbouring draws' weights."""
    order = np.argsort(values)
    w = weights[order]
    return np.asarray(np.interp(LEVELS, np.cumsum(w) - 0.5 * w, values[order]))


def _bands(draws: WalkDraws) -> WalkBands:
    w = draws.weights
    effective = float(1.0 / (w @ w))
    chances = np.bincount(draws.lines, w, MOST_LINES + 1).astype(np.float64)
    # what carries no weight is of no account for the quantiles
    use = w > 1e-9
    place, depth = (_quantiles(v[use], w[use]) for v in (draws.shift, draws.ln_depth))
    return WalkBands(place, depth, chances, effective, effective < LEAST_EFFECTIVE)


def solve_walks(
    walks: Sequence[Walk],
    known: Known,
    *,
    seed: int = 1,
    power: float = 1.0,
    marked: bool = True,
    most_lines: int = MOST_LINES,
    threads: int = 2,
    effort: Effort = EFFORT,
) -> list[WalkBands]:
    """Posteriors of many walks over the same ground; the same seed and data give the same answers.

    Parameters
    ----------
    walks : sequence of Walk
        With amplitudes that are trusted, not their order alone.
    known : Known
        Soil, lower coil and candidate second lines, the same for all.
    power : float, above 0 up to 1
        The likelihood of each walk is raised to it.
    marked : bool
        The walks' zeros were set on the peak by hand.
    most_lines : int
        Second lines at most, 0 to 2.

    Returns
    -------
    list of WalkBands

    Raises
    ------
    PlumbmarkError
        A walk of which only the order of the amplitudes is trusted: `solve_walk` answers those.

    Examples
    --------
    >>> from plumbmark.inference.second import Known
    >>> import numpy as np
    >>> solve_walks([], Known(4.0, 1.0, 0.05, 0.05, 0.4, 0.4, -1.0, 1.0, np.empty((0, 7))))
    []
    """
    for k, walk in enumerate(walks):
        if len(walk.order):
            raise PlumbmarkError(
                f"walk {k + 1} of {len(walks)}: only the order of its amplitudes is trusted;"
                " a batch needs amplitudes, solve_walk takes an order"
            )
    if not walks:
        return []
    numbers = shared_numbers(known, seed)

    def run(walk: Walk) -> WalkBands:
        return _bands(
            weighted_draws(
                walk, known, numbers, power=power, marked=marked, most_lines=most_lines, effort=effort
            )
        )

    if threads < 2:
        return [run(walk) for walk in walks]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(run, walks))
