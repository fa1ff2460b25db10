"""Draws of one walk with one number of second lines, drawn, weighed and drawn again without the interpreter.

The weights are those of `walk_weigh` over the mixture of all that was drawn from, as in `walk_solve`; here
the mixture holds the prior and Student's distributions only, and all random numbers come from outside, the
same for every walk.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.priors import RATIO_MEAN, SECOND_DEPTH_LOG_SIGMA
from plumbmark.inference.second import Known
from plumbmark.inference.walk import Walk
from plumbmark.inference.walk_field import PER
from plumbmark.inference.walk_mixture import flattened, log_mixture
from plumbmark.inference.walk_modes import MOST_LINES, Modes
from plumbmark.inference.walk_prior import SIZE_BASE, log_prior_outer
from plumbmark.inference.walk_weigh import INNER, weigh

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

CENTRES = 6  # of each further look
REACH2 = 2.0  # squared width, in that of all draws, within which draws shape what is next drawn from
RIDGE = 0.05  # least width of it
WIDE = 2.0  # every best fit is drawn from at its own width and at this many times it
#: A second line of which nothing is known, as Student's distribution: offset, ln depth, signed size, phase.
LOOSE = np.array([2.0, SECOND_DEPTH_LOG_SIGMA, 0.8, 0.3])
LOOSE_SIZE = SIZE_BASE + math.log(RATIO_MEAN)
TOLD = 4  # best fits with one second line that are drawn from beside one of which nothing is known


class Numbers(NamedTuple):
    """Random numbers, a row for each draw."""

    student: FLOATS  # shape (n, OUTER): rows of multivariate Student's distributions
    inner: FLOATS  # shape (n, INNER): Student's, independent
    lower: FLOATS  # shape (n,): uniform from 0 to 1
    soil: FLOATS  # shape (n,): normal
    lines: FLOATS  # shape (n, PER * MOST_LINES): second lines from the prior, as outer unknowns


class Cloud(NamedTuple):
    """Draws of one number of second lines, and the Student's distributions they are from."""

    outer: FLOATS  # shape (room, size)
    inner: FLOATS  # shape (room, INNER)
    target: FLOATS  # shape (room,)
    weight: FLOATS  # shape (room,), log
    centre: FLOATS  # shape (parts, size)
    inverse: FLOATS  # shape (parts, size, size): lower factors of inverse covariances
    drawn: FLOATS  # shape (parts,): draws from each
    have: INTS  # shape (3,): draws, of these from the prior, parts


class Starts(NamedTuple):
    """Best fits by which `weigh` begins."""

    place: FLOATS
    whose: INTS
    spread: FLOATS
    slope: FLOATS


def empty_cloud(lines: int, room: int, parts: int) -> Cloud:
    """Room for draws."""
    n = 1 + PER * lines
    return Cloud(
        np.empty((room, n)),
        np.empty((room, INNER)),
        np.empty(room),
        np.empty(room),
        np.empty((parts, n)),
        np.zeros((parts, n, n)),
        np.zeros(parts),
        np.zeros(3, dtype=np.int64),
    )


def starts_of(modes: Modes, lines: int) -> Starts:
    """Best fits with this number of second lines; with two also those that know of the first alone."""
    size = 1 + PER * lines
    own = int(modes.found[lines]) + 1
    n = own + (int(modes.found[1]) if lines == MOST_LINES else 0)
    place, whose = np.empty((n, 2 + size)), np.empty(n, dtype=np.int64)
    spread, slope = np.empty((n, size, size)), np.empty((n, 2, size))
    for k in range(n):
        row = lines if k < own else 1
        i = k if k < own else k - own + 1
        place[k] = modes.place[row, i, : 2 + size]
        whose[k] = modes.whose[row, i]
        spread[k] = modes.spread[row, i, :size, :size]
        slope[k] = modes.slope[row, i, :, :size]
    return Starts(place, whose, spread, slope)


def _add_part(cloud: Cloud, centre: FLOATS, inverse: FLOATS, width: float, count: float) -> None:
    """One more distribution to draw from, while there is room."""
    k = cloud.have[2]
    if k >= cloud.centre.shape[0] or count < 1.0:
        return
    cloud.centre[k] = centre
    cloud.inverse[k] = inverse / width
    cloud.drawn[k] = count
    cloud.have[2] = k + 1


def first_parts(cloud: Cloud, modes: Modes, lines: int, whose: int, draws: int) -> int:
    """What is drawn from first, besides the prior: best fits at two widths; returns the number of draws."""
    size = cloud.outer.shape[1]
    found = int(modes.found[lines])
    least = 1e300
    for k in range(1, found + 1):
        if modes.whose[lines, k] == whose:
            least = min(least, modes.cost[lines, k])
    total = 0.0
    for k in range(1, found + 1):
        if modes.whose[lines, k] == whose:
            total += math.exp(-0.5 * (modes.cost[lines, k] - least)) + 0.05
    for k in range(1, found + 1):
        if modes.whose[lines, k] == whose:
            share = (math.exp(-0.5 * (modes.cost[lines, k] - least)) + 0.05) / total
            inverse = np.linalg.cholesky(np.ascontiguousarray(modes.spread[lines, k, :size, :size]))
            centre = modes.place[lines, k, 2 : 2 + size]
            _add_part(cloud, centre, inverse, 1.0, math.ceil(0.7 * share * draws))
            _add_part(cloud, centre, inverse, WIDE, math.ceil(0.3 * share * draws))
    return int(cloud.drawn[: cloud.have[2]].sum())


def loose_parts(cloud: Cloud, one: Cloud, draws: int) -> None:
    """From what one second line was last drawn from, a further one of either sign beside it."""
    size = 1 + PER
    last = one.have[2]
    first = max(0, last - TOLD)
    inverse = np.zeros((size + PER, size + PER))
    centre = np.zeros(size + PER)
    each = math.ceil(draws / max(2 * (last - first), 1))
    for k in range(first, last):
        inverse[:size, :size] = one.inverse[k]
        centre[:size] = one.centre[k]
        for j in range(PER):
            inverse[size + j, size + j] = 1.0 / LOOSE[j]
        for sign in (-1.0, 1.0):
            centre[size + 2] = sign * LOOSE_SIZE
            _add_part(cloud, centre, inverse, 1.0, each)


@kernel
def _draw(
    cloud: Cloud, from_prior: int, parts_before: int, begin: int, known: Known, numbers: Numbers
) -> None:
    """Draws from the prior and from the parts added since, while there is room."""
    size = cloud.outer.shape[1]
    room = cloud.outer.shape[0]
    old = cloud.have[0]
    n = old
    for _ in range(min(from_prior, room - n)):
        r = begin + n
        cloud.outer[n, 0] = known.soil_ln + known.soil_sigma * numbers.soil[r]
        cloud.outer[n, 1:] = numbers.lines[r, : size - 1]
        n += 1
    cloud.have[1] += n - old
    parts = parts_before
    for k in range(parts_before, cloud.have[2]):
        done = 0
        while done < cloud.drawn[k] and n < room:
            row = cloud.outer[n]
            for i in range(size - 1, -1, -1):
                s = numbers.student[begin + n, i]
                for j in range(i + 1, size):
                    s -= cloud.inverse[k, j, i] * row[j]
                row[i] = s / cloud.inverse[k, i, i]
            for i in range(size):
                row[i] += cloud.centre[k, i]
            n += 1
            done += 1
        cloud.drawn[k] = done
        parts += 1 if done > 0 else 0  # the last ones may find no room
    cloud.have[0] = n
    cloud.have[2] = parts


def draw_on(
    cloud: Cloud,
    from_prior: int,
    parts_before: int,
    begin: int,
    whose: int,
    walk: Walk,
    known: Known,
    power: float,
    marked: bool,
    starts: Starts,
    numbers: Numbers,
) -> None:
    """Draw from the prior and from the parts added since, and weigh everything again.

    `begin` is the row of `numbers` for the first draw of this cloud.
    """
    old = int(cloud.have[0])
    _draw(cloud, from_prior, parts_before, begin, known, numbers)
    n = int(cloud.have[0])
    if n > old:
        rows = slice(begin + old, begin + n)
        lower = known.lower_low + (known.lower_high - known.lower_low) * numbers.lower[rows]
        near = np.full(n - old, whose)
        inner, target = cloud.inner[old:n], cloud.target[old:n]
        weigh(
            cloud.outer[old:n],
            near,
            lower,
            numbers.inner[rows],
            walk,
            known,
            power,
            marked,
            *starts,
            inner,
            target,
        )
    _log_weights(cloud, (cloud.outer.shape[1] - 1) // PER, whose, known)


@kernel
def _log_sum(a: float, b: float) -> float:
    """Log of exp(a) + exp(b)."""
    top = max(a, b)
    return top + math.log(math.exp(a - top) + math.exp(b - top))


@kernel
def _log_weights(cloud: Cloud, lines: int, whose: int, known: Known) -> None:
    """Posterior over the mixture of all that was drawn from, for every draw."""
    n = cloud.have[0]
    parts = cloud.have[2]
    mixture = np.full(n, -1e300)
    if parts > 0:
        share = cloud.drawn[:parts] / n
        log_mixture(cloud.outer[:n], cloud.centre[:parts], cloud.inverse[:parts], share, mixture)
    if parts > 0 and lines == MOST_LINES and whose == 0:
        # which of two second lines is called the first is nobody's: the density counts both ways
        swapped = cloud.outer[:n].copy()
        swapped[:, 1 : 1 + PER] = cloud.outer[:n, 1 + PER :]
        swapped[:, 1 + PER :] = cloud.outer[:n, 1 : 1 + PER]
        other = np.empty(n)
        log_mixture(swapped, cloud.centre[:parts], cloud.inverse[:parts], share, other)
        for r in range(n):
            mixture[r] = _log_sum(mixture[r], other[r]) - math.log(2.0)
    # the zero may as well be nearest the other of two second lines
    twice = math.log(2.0) if whose > 0 and lines == MOST_LINES else 0.0
    prior = math.log(cloud.have[1] / n) if cloud.have[1] > 0 else -1e300
    for r in range(n):
        if cloud.target[r] < -1e29:
            cloud.weight[r] = -1e300
            continue
        mixture[r] = _log_sum(mixture[r], prior + log_prior_outer(cloud.outer[r], lines, known))
        cloud.weight[r] = cloud.target[r] - mixture[r] + twice


def evidence_of(cloud: Cloud) -> tuple[float, float]:
    """Log of the mean weight, and the effective number of draws."""
    weight = cloud.weight[: cloud.have[0]]
    top = weight.max()
    if top < -1e299:
        return -1e300, 0.0
    w = np.exp(weight - top)
    total = w.sum()
    return top + math.log(total / w.shape[0]), total * total / (w * w).sum()


@kernel
def _shapes(outer: FLOATS, w: FLOATS, scale2: FLOATS, centre: FLOATS, out: FLOATS) -> None:
    """Covariances about each centre, of the draws near it, shape (centres, size, size)."""
    size = outer.shape[1]
    away = np.empty(size)
    out[:, :, :] = 0.0
    for c in range(centre.shape[0]):
        total = 1e-300
        for r in range(outer.shape[0]):
            far = 0.0
            for i in range(size):
                away[i] = outer[r, i] - centre[c, i]
                far += away[i] * away[i] / scale2[i]
            near = w[r] * math.exp(-0.5 * far / (REACH2 * size))
            total += near
            for i in range(size):
                for j in range(size):
                    out[c, i, j] += near * away[i] * away[j]
        for i in range(size):
            for j in range(size):
                out[c, i, j] /= total
            out[c, i, i] += RIDGE**2 * scale2[i]


def next_parts(cloud: Cloud, draws: int) -> None:
    """Student's distributions about draws taken in proportion to weight, shaped by those near."""
    n = cloud.have[0]
    size = cloud.outer.shape[1]
    outer = cloud.outer[:n]
    w = flattened(cloud.weight[:n], 3.0 * size)
    w /= w.sum()
    scale2 = w @ (outer - w @ outer) ** 2 + 1e-12
    pick = np.searchsorted(np.cumsum(w), (np.arange(CENTRES) + 0.5) / CENTRES).clip(0, n - 1)
    shapes = np.empty((CENTRES, size, size))
    _shapes(outer, w, scale2, outer[pick], shapes)
    inverse = np.linalg.cholesky(np.linalg.inv(shapes))
    for k in range(CENTRES):
        _add_part(cloud, outer[pick[k]], inverse[k], 1.0, draws // CENTRES)
