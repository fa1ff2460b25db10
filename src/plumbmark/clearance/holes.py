r"""Test holes: where they settle most, and what to expect in them.

What is in doubt at a place is whether the dig leaves the separation asked for. With a margin that is normal
with mean over standard deviation :math:`h`, of which a share :math:`\rho` of the variance is settled by what
was seen, the doubt left is the mean of :math:`p(1 - p)` over what may be seen, which is
:math:`2\,T(h, \sqrt{(1-\rho)/(1+\rho)})` with Owen's function :math:`T` (Owen 1956): :math:`p(1-p)` where
nothing is settled, 0 where all is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import owens_t

from plumbmark.base.spoken import spoken_length
from plumbmark.clearance.chance import Wander, course_of, nearest, seen_by
from plumbmark.clearance.encounters import Meeting, interval_of
from plumbmark.model.clearance import HoleAdvice
from plumbmark.model.estimate import Interval

FLOATS = NDArray[np.float64]

EVERY_M = 5.0  # test holes along a line that runs along in a dig
MOST_CANDIDATES = 40
EXHAUSTIVE = 12  # all orders are weighed for so many candidates
TAPE_SIGMA = 0.03  # of what a hole shows: place [m], and ln depth


@dataclass(frozen=True, slots=True)
class Candidate:
    """A place for a test hole: its margin and what would be seen there, sample by sample."""

    meeting: Meeting
    chainage_m: float
    margin_m: FLOATS
    aside_m: FLOATS
    ln_depth: FLOATS


def candidates_of(meetings: Sequence[Meeting], asked_m: float) -> list[Candidate]:
    """Places for test holes: one where a dig comes nearest to a line, more where they run along together."""
    found = []
    for meeting in meetings:
        count = max(1, round((meeting.to_m - meeting.from_m) / EVERY_M))
        places = [float(meeting.course.chainage_m[int(np.median(meeting.near.place))])]
        if count > 1:
            edges = np.linspace(meeting.from_m, meeting.to_m, count + 1)
            places = [float(c) for c in 0.5 * (edges[1:] + edges[:-1])]
        for place in places:
            found.append(_candidate(meeting, place, count, asked_m))
    return found[:MOST_CANDIDATES]


def _candidate(meeting: Meeting, place: float, count: int, asked_m: float) -> Candidate:
    piece = meeting.course
    if count > 1:
        half = 0.5 * (meeting.to_m - meeting.from_m) / count
        piece = course_of(meeting.thing.draws, place - half, place + half)
    # The stray of the dig is left out: a hole settles where the line is, not how well is dug.
    still = Wander(np.zeros((len(piece.level), 1)), np.zeros((len(piece.level), 1)))
    near = nearest(meeting.shape, piece, seen_by(meeting.shape, piece), meeting.thing.radius_m, still)
    course, band = meeting.course, meeting.band
    k = int(np.abs(course.chainage_m - place).argmin())
    j = band.at(place)
    aside = (course.easting_m[:, k] - band.centre[j, 0]) * band.right[j, 0]
    aside = aside + (course.northing_m[:, k] - band.centre[j, 1]) * band.right[j, 1]
    ln_depth = course.ln_depth_mean[:, k] + course.ln_depth_sd[:, k] * course.level[:, k]
    margin = np.where(np.isfinite(near.vertical_m), near.vertical_m, near.horizontal_m) - asked_m
    return Candidate(meeting, place, margin, aside, ln_depth)


def doubts(candidates: Sequence[Candidate]) -> Callable[[Sequence[int]], float]:
    """What is left in doubt over all places once some of them are dug.

    Parameters
    ----------
    candidates : sequence of Candidate
        Under the same samples.

    Returns
    -------
    callable
        From indices of candidates that are dug to the doubt left, the sum over all places.
    """
    margins = np.stack([c.margin_m for c in candidates])
    seen = np.concatenate([np.stack([c.aside_m, c.ln_depth]) for c in candidates])
    mean, spread = margins.mean(axis=1), np.maximum(margins.std(axis=1), 1e-9)
    centred = seen - seen.mean(axis=1, keepdims=True)
    count = margins.shape[1]
    own = centred @ centred.T / count + TAPE_SIGMA**2 * np.eye(len(seen))
    cross = ((margins - mean[:, None]) / spread[:, None]) @ centred.T / count
    height = mean / spread

    def left(dug: Sequence[int]) -> float:
        settled = np.zeros(len(height))
        if len(dug):
            rows = np.array([2 * i + j for i in dug for j in (0, 1)])
            c = cross[:, rows]
            settled = np.einsum("ij,ij->i", c, np.linalg.solve(own[np.ix_(rows, rows)], c.T).T)
        settled = np.clip(settled, 0.0, 1.0)
        return float(2.0 * owens_t(height, np.sqrt((1.0 - settled) / (1.0 + settled))).sum())

    return left


def best_order(count: int, left: Callable[[Sequence[int]], float]) -> list[int]:
    """Which hole to dig first, second and so on, so that least is left in doubt all along.

    Parameters
    ----------
    count : int
    left : callable
        From `doubts`.

    Returns
    -------
    list of int
        Of up to twelve candidates the best of all orders, by the sum of what is left after each hole (dynamic
        programming over the sets that are dug); of more, each time the hole that leaves least.
    """
    if count > EXHAUSTIVE:
        order: list[int] = []
        while len(order) < count:
            rest = [i for i in range(count) if i not in order]
            order.append(min(rest, key=lambda i: left([*order, i])))
        return order
    best: list[tuple[float, int]] = [(0.0, -1)]
    for dug in range(1, 1 << count):
        mine = [i for i in range(count) if dug >> i & 1]
        so_far, last = min((best[dug & ~(1 << i)][0], i) for i in mine)
        best.append((so_far + left(mine), last))
    backwards, dug = [], (1 << count) - 1
    while dug:
        backwards.append(best[dug][1])
        dug &= ~(1 << backwards[-1])
    return backwards[::-1]


def advice_of(
    candidates: Sequence[Candidate], others: Sequence[tuple[float, float]], units: str
) -> tuple[HoleAdvice, ...]:
    """Test holes in the order that settles most.

    Parameters
    ----------
    candidates : sequence of Candidate
    others : sequence of (easting, northing), [m]
        Where other things are likely: a hole is begun on the side away from them.
    units : str

    Returns
    -------
    tuple of HoleAdvice
    """
    if not candidates:
        return ()
    left = doubts(candidates)
    before = left([])
    order = best_order(len(candidates), left)
    found = []
    for number, i in enumerate(order, start=1):
        after = left(order[:number])
        settled = 1.0 - after / before if before > 1e-12 else number / len(order)
        found.append(_advice(number, candidates[i], min(max(settled, 0.0), 1.0), others, units))
    return tuple(found)


def _advice(
    number: int, c: Candidate, settled: float, others: Sequence[tuple[float, float]], units: str
) -> HoleAdvice:
    band, thing = c.meeting.band, c.meeting.thing
    k = band.at(c.chainage_m)
    centre, right = band.centre[k], band.right[k]
    aside = interval_of(c.aside_m)
    # With a diameter that is only the largest likely, the top may be as deep as the middle.
    thinnest = thing.radius_m if thing.diameter_said.startswith("as ") else 0.0
    deep = interval_of(np.exp(c.ln_depth))
    top = Interval(
        max(deep.value - 0.5 * (thing.radius_m + thinnest), 0.0),
        max(deep.low - thing.radius_m, 0.0),
        max(deep.high - thinnest, 0.0),
    )
    sides = [float((np.array(o) - centre) @ right) for o in others if np.hypot(*(np.array(o) - centre)) < 5.0]
    from_right = not sides or min(sides, key=abs) <= 0.0
    start = (aside.high if from_right else -aside.low) + thing.radius_m
    turn = right if from_right else -right
    return HoleAdvice(
        number,
        thing.name,
        c.chainage_m,
        float(centre[0]),
        float(centre[1]),
        float(np.degrees(np.arctan2(turn[0], turn[1])) % 360.0),
        aside,
        top,
        settled,
        _words(thing.name, "right" if from_right else "left", start, top, units),
    )


def _words(name: str, side: str, start_m: float, top: Interval, units: str) -> tuple[str, ...]:
    def said(value: float) -> str:
        return spoken_length(value, units)

    shallow = "at the ground" if top.low < 0.02 else f"as shallow as {said(top.low)}"
    return (
        f"Start {said(max(start_m, 0.0))} to the {side} of the place (seen toward larger chainage) and work "
        "toward the line, by hand or vacuum from the ground down",
        f"Expect its top at about {said(top.value)}; it can be {shallow}",
        f"Stop and call the owner if nothing is met by {said(top.high)}, if the line lies outside this band "
        "or this strip, or if anything else comes up first: then the numbers for it hold nowhere near",
        f"Write down what is found as a test hole of {name}, and check again before the next one",
    )
