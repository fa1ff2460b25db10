"""From weighted draws at a few stations to what is told of them: bands, chances, joint samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference import priors as p
from plumbmark.inference.answer import LEVELS, SMALL_LN, SMALL_M
from plumbmark.inference.blend import chance_within, quantiles
from plumbmark.model.draws import LineDraws

FLOATS = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Drawn:
    """Draws at the stations of a line; row i is one state of all of them.

    `shift` [m] counts from each mark to its right, shape (n, m), as `ln_depth`; `easting`, `northing` [m] are
    of the ground above the line. `band_weights` are what bands are made with, `weights` what chances are.
    """

    shift: FLOATS
    ln_depth: FLOATS
    easting: FLOATS
    northing: FLOATS
    weights: FLOATS
    band_weights: FLOATS


@dataclass(frozen=True, slots=True)
class Told:
    """Low, middle and high, shape (3, m), of shift [m] and depth [m]; chance that both are right, (m,)."""

    shift: FLOATS
    depth: FLOATS
    within: FLOATS


def told_of(drawn: Drawn) -> Told:
    """Bands and chances at every station, with what the model leaves out."""
    lateral = np.full_like(drawn.shift, p.MODEL_LATERAL_SIGMA_M**2)
    deep = np.full_like(drawn.ln_depth, p.MODEL_DEPTH_SIGMA**2)
    shift = quantiles(drawn.shift, lateral, drawn.band_weights, LEVELS)
    depth = quantiles(drawn.ln_depth, deep, drawn.band_weights, LEVELS)
    near, close = np.empty_like(lateral), np.empty_like(deep)
    chance_within(drawn.shift, lateral, shift[1] - SMALL_M, shift[1] + SMALL_M, near)
    chance_within(drawn.ln_depth, deep, depth[1] + SMALL_LN[0], depth[1] + SMALL_LN[1], close)
    return Told(shift, np.exp(depth), np.clip(drawn.weights @ (near * close), 0.0, 1.0))


def covariance_of(drawn: Drawn) -> FLOATS:
    """Covariance of easting and northing of the ground above each station, shape (m, 2, 2) [m2]."""
    out = np.empty((drawn.shift.shape[1], 2, 2))
    for k in range(len(out)):
        out[k] = np.cov(drawn.easting[:, k], drawn.northing[:, k], aweights=drawn.band_weights)
    return out


def joint_samples(
    line: str, chainage: FLOATS, drawn: Drawn, n: int, rng: np.random.Generator, spacing_m: float
) -> LineDraws:
    """`n` joint samples of a line, straight between its stations.

    Parameters
    ----------
    line : str
    chainage : shape (m,), [m], not decreasing
        Of the stations.
    drawn : Drawn
    n : int
    rng : numpy Generator
    spacing_m : float, [m]
        Farthest that two chainages of the samples lie apart.
    """
    rows = rng.choice(len(drawn.band_weights), n, p=drawn.band_weights / drawn.band_weights.sum())
    steps = max(int(np.ceil((chainage[-1] - chainage[0]) / spacing_m)), 1)
    at = np.union1d(chainage, np.linspace(chainage[0], chainage[-1], steps + 1))
    where, first = np.unique(chainage, return_index=True)

    def between(values: FLOATS) -> FLOATS:
        return np.array([np.interp(at, where, row[first]) for row in values[rows]])

    aside = p.MODEL_LATERAL_SIGMA_M * rng.normal(size=(2, n, 1))
    mean = between(drawn.ln_depth)
    sd = np.full_like(mean, p.MODEL_DEPTH_SIGMA)
    depth = np.exp(mean + sd * rng.normal(size=(n, 1)))
    east, north = between(drawn.easting) + aside[0], between(drawn.northing) + aside[1]
    return LineDraws(line, at, east, north, depth, mean, sd)


def joint_parts(
    line: str, parts: list[tuple[FLOATS, Drawn]], n: int, rng: np.random.Generator, spacing_m: float
) -> LineDraws:
    """`joint_samples` of runs of stations that were solved apart, in the order of chainage.

    Parameters are those of `joint_samples`; `parts` holds the chainages of each run and its draws.
    """
    drawn = [joint_samples(line, at, d, n, rng, spacing_m) for at, d in parts]
    order = np.argsort(np.concatenate([q.chainage_m for q in drawn]), kind="stable")
    chainage = np.concatenate([q.chainage_m for q in drawn])[order]
    fields = ("easting_m", "northing_m", "depth_m", "ln_depth_mean", "ln_depth_sd")
    rows = (np.concatenate([getattr(q, f) for q in drawn], axis=1)[:, order] for f in fields)
    return LineDraws(line, chainage, *rows)
