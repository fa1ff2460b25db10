"""The course of a line across its straight legs, from where its marks put it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.chain import smooth_slope_chain
from plumbmark.inference.priors import KINK_SIGMA, SLIP_ODDS
from plumbmark.inference.stretch import (
    ACROSS_DATUM,
    ACROSS_MEAN,
    ACROSS_PRECISION,
    ACROSS_VAR,
    MARK_MEAN,
    MARK_VAR,
    Stretch,
)

FLOATS = NDArray[np.float64]

TINY = 1e-300
ROOT_2PI = math.sqrt(2.0 * math.pi)
#: A slipped place may lie anywhere: density of the broad alternative, per metre.
BROAD_M = 1.0 / 4.0
ACROSS_VAR_0 = 4.0  # where a leg begins, of its robust straight line [m2]
ACROSS_SLOPE_VAR_0 = 0.02
FAR_ASIDE_M = 0.15  # a line's own wandering from one mark to the next


@kernel
def _believe(value: FLOATS, var: FLOATS, mean: FLOATS, spread: FLOATS, precision: FLOATS) -> None:
    """New precision of each mark of a leg, from how well the others foretell it.

    `mean` and `spread` are what the smoother made of all marks; `precision` is what it was given.
    """
    m = value.shape[0]
    believed = np.ones(m)
    for i in range(m):
        # leave-one-out residual decides how much the mark is believed
        w = precision[i] * spread[i]
        loo_var = spread[i] / max(1.0 - w, 1e-6) + var[i]
        loo = (value[i] - mean[i]) / max(1.0 - w, 1e-6)
        good = (1.0 - SLIP_ODDS) * math.exp(-0.5 * loo * loo / loo_var) / math.sqrt(loo_var)
        believed[i] = good / (good + SLIP_ODDS * BROAD_M * ROOT_2PI + TINY)
    for i in range(m):
        # two in a row that do not fit are the line's own course, not two slips
        beside = min(believed[max(i - 1, 0)] if i > 0 else 1.0, believed[i + 1] if i + 1 < m else 1.0)
        trusted = 1.0 if beside < 0.5 else believed[i]
        precision[i] = max(trusted, 1e-4) / var[i]


@kernel
def _first_look(value: FLOATS, var: FLOATS, precision: FLOATS) -> None:
    """Let go at once of a mark that stands out from the two beside it more than they stand out from theirs.

    Without this it would draw the smoother aside, and its neighbours would look as wrong as it does.
    """
    m = value.shape[0]
    aside = np.zeros(m)
    for i in range(1, m - 1):
        aside[i] = abs(value[i] - 0.5 * (value[i - 1] + value[i + 1]))
    for i in range(1, m - 1):
        beyond = aside[i] > FAR_ASIDE_M + 4.0 * math.sqrt(var[i])
        if beyond and aside[i] > 1.5 * aside[i - 1] and aside[i] > 1.5 * aside[i + 1]:
            precision[i] = 1e-3 / var[i]


@kernel
def across_legs(d: Stretch, state: FLOATS) -> float:
    """Position across each straight leg of the route, smoothed; returns its log evidence.

    A mark far from where its neighbours put the line (a wrong line, a copied place) is let go.

    Parameters
    ----------
    d : Stretch
    state : shape (ROWS, n)
        Where the marks lie is read from it, where the line lies is filled in.
    """
    n = d.at.shape[0]
    total = 0.0
    first = 0
    work = np.empty((n, 12))
    while first < n:
        last = first + 1
        while last < n and d.leg[last] == d.leg[first]:
            last += 1
        m = last - first
        value = state[ACROSS_DATUM, first:last]
        precision = state[ACROSS_PRECISION, first:last]
        mean_out = state[ACROSS_MEAN, first:last]
        var_out = state[ACROSS_VAR, first:last]
        var = np.empty(m)
        for i in range(m):
            s = first + i
            value[i] = d.across[s] - state[MARK_MEAN, s]
            var[i] = state[MARK_VAR, s] + d.fix_var[s]
            if not math.isnan(d.seen_across[s]):
                w = 1.0 / d.seen_across_var[s]
                value[i] = (value[i] / var[i] + d.seen_across[s] * w) / (1.0 / var[i] + w)
                var[i] = 1.0 / (1.0 / var[i] + w)
            precision[i] = 1.0 / var[i]
        if m >= 4:
            _first_look(value, var, precision)
        evidence = 0.0
        for turn in range(3):
            evidence = smooth_slope_chain(
                d.at[first:last],
                value,
                precision,
                0.0,
                ACROSS_VAR_0,
                ACROSS_SLOPE_VAR_0,
                KINK_SIGMA**2,
                1e9,
                work,
                mean_out,
                var_out,
            )
            if turn == 2 or m < 4:
                break
            _believe(value, var, mean_out, var_out, precision)
        total += evidence
        first = last
    return total
