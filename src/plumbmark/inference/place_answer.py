"""The posterior of one place as that of a stretch with one station, and its slips in words."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.spoken import spoken_length
from plumbmark.inference import priors as p
from plumbmark.inference.blend import Blend
from plumbmark.inference.place import Draws, Looks, solve_place
from plumbmark.inference.place_data import RIGHT, SLIP_WORDS, place_data
from plumbmark.inference.prepare import Prepared
from plumbmark.inference.sampler import Population, States
from plumbmark.inference.second import Known
from plumbmark.inference.stations import Station
from plumbmark.inference.stretch import (
    ACROSS_DATUM,
    ACROSS_MEAN,
    ACROSS_PRECISION,
    ACROSS_VAR,
    ALONE,
    DEPTH_DATUM,
    DEPTH_MEAN,
    DEPTH_PRECISION,
    DEPTH_VAR,
    FIRST_LINE,
    LN_DEPTH,
    MARK_MEAN,
    MARK_VAR,
    OFFSET,
    PER_LINE,
    RATIO_IM,
    RATIO_RE,
    ROWS,
    SHOWN_CURRENT,
    STATION_FIT,
)
from plumbmark.model.job import Line, Setup

FLOATS = NDArray[np.float64]

#: Particles kept of each number of second lines, taken from the draws in proportion to their weight.
PARTICLES = 600
#: Each stands for its surroundings by so much, of ln depth and of metres: less than a band is told to.
SMOOTH_LN = 0.01
SMOOTH_M = 0.005
#: From this chance on a slip is asked about.
ASKED = 0.5


def is_lone(stations: list[Station]) -> bool:
    """Whether these are one reading and nothing else, so that the posterior of one place answers."""
    if len(stations) != 1:
        return False
    s = stations[0]
    return s.reading is not None and s.profile is None and s.side is None and s.repeat_of is None


def solve_lone(
    s: Station, line: Line, setup: Setup, ready: Prepared, known: Known, seed: int, looks: Looks | None = None
) -> tuple[Blend, Draws]:
    """Posterior of a line that was read at one place.

    Parameters
    ----------
    s : Station
        As `is_lone` has it.
    line, setup : Line, Setup
    ready : Prepared
        The same station, prepared as a stretch.
    known : Known
        Soil, receiver and candidate second lines.
    seed : int
        The same seed and data give the same answer.
    looks : Looks, optional
        How hard to look.

    Returns
    -------
    Blend, Draws
        Particles as of a stretch, and the weighted draws that they were taken from.
    """
    found = solve_place(place_data(s, line, setup), known, [seed], looks)
    rng = np.random.default_rng([seed, 1])
    populations = tuple(_population(found, ready, lines, rng) for lines in range(len(found.chances)))
    band = _chances(found, p.BAND_ODDS)
    states = States(
        np.concatenate([q.states.log_evidence for q in populations]),
        np.concatenate([q.states.rows for q in populations]),
    )
    return Blend(
        populations,
        found.chances,
        states,
        np.repeat(found.chances / PARTICLES, PARTICLES),
        np.repeat(band / PARTICLES, PARTICLES),
    ), found


def _chances(found: Draws, odds: tuple[float, ...]) -> FLOATS:
    score = found.log_evidence + np.log(odds)
    chances = np.exp(score - score.max())
    return np.asarray(chances / chances.sum())


def _population(found: Draws, ready: Prepared, lines: int, rng: np.random.Generator) -> Population:
    """Equally weighted particles with `lines` second lines."""
    rows = np.flatnonzero(found.lines == lines)
    below = np.cumsum(found.weights[rows] + 1e-300)
    pick = np.searchsorted(below / below[-1], (rng.random() + np.arange(PARTICLES)) / PARTICLES)
    r = rows[pick.clip(0, len(rows) - 1)]
    thetas = np.zeros((PARTICLES, FIRST_LINE + PER_LINE * lines))
    thetas[:, :FIRST_LINE] = found.globals[r]
    for line in range(lines):
        k = FIRST_LINE + PER_LINE * line
        thetas[:, k + OFFSET] = found.offset[r, line]
        thetas[:, k + LN_DEPTH] = found.second_ln_depth[r, line]
        thetas[:, k + RATIO_RE] = found.ratio[r, line].real
        thetas[:, k + RATIO_IM] = found.ratio[r, line].imag
    d = ready.stretch
    state = np.zeros((PARTICLES, ROWS, 1))
    across = float(d.across[0]) + found.shift[r]
    values = {
        DEPTH_MEAN: found.ln_depth[r],
        DEPTH_VAR: SMOOTH_LN**2,
        MARK_MEAN: -found.shift[r],
        MARK_VAR: SMOOTH_M**2,
        SHOWN_CURRENT: found.ln_shown_current[r],
        ALONE: found.alone[r],
        ACROSS_MEAN: across,
        ACROSS_VAR: SMOOTH_M**2 + d.fix_var[0],
        STATION_FIT: found.fit[r],
        DEPTH_DATUM: found.ln_depth[r],
        DEPTH_PRECISION: 1.0 / SMOOTH_LN**2,
        ACROSS_DATUM: across,
        ACROSS_PRECISION: 1.0 / (SMOOTH_M**2 + d.fix_var[0]),
    }
    for row, value in values.items():
        state[:, row, 0] = value
    return Population(lines, thetas, States(found.fit[r], state), float(found.log_evidence[lines]))


def slip_question(s: Station, found: Draws, units: str) -> str | None:
    """A question about the cell of a lone place that is more likely a slip than not, or None."""
    r = s.reading
    if r is None:
        return None
    chances = found.slip_chances()
    best = int(chances[RIGHT + 1 :].argmax()) + RIGHT + 1
    if r.depth_m is not None and not r.depth_refused and 1.0 - chances[RIGHT] > ASKED:
        deep = math.exp(float(np.average(found.ln_depth, weights=found.weights)))
        written = spoken_length(r.depth_m.value, units)
        return f"Depth {written} does not fit a line about {spoken_length(deep, units)} deep, which the " + (
            f"rest speaks for. A slip ({SLIP_WORDS[best]})?"
        )
    if r.null_offset_m is not None and float(found.weights @ found.flipped) > ASKED:
        return "The null fits the other side of the mark better. Left written for right?"
    if r.null_offset_m is not None and float(found.weights @ found.gap_slipped) > ASKED:
        return "The distance from mark to null does not fit the rest. A slip?"
    if r.raised_depth_m is not None and float(found.weights @ found.raised_slipped) > ASKED:
        return "The raised depth does not fit the rest. A slip?"
    return None
