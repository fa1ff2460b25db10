r"""A sonde at several places along its duct: the posterior of its depth.

The sonde is a magnetic dipole along the duct (`physics.sonde`), pitched up ahead by an angle :math:`\alpha`
that nobody knows. With :math:`T = \tan\alpha` and :math:`t` the distance ahead over the depth below the coil,
the field along the duct goes as

.. math:: (2 t^2 + 3 T t - 1) / (1 + t^2)^{5/2},

so that its nulls lie at :math:`t = (-3T \pm \sqrt{9 T^2 + 8}) / 4` and its peak where
:math:`2t^3 + 4Tt^2 - 3t - T = 0`, near :math:`-T/3`. Level, the nulls are :math:`\sqrt 2` depths apart and
the peak is midway; pitched, they are hardly farther apart but stand unequally about the peak: that tells the
pitch.

The depths along a duct are smooth and the receiver is the same; both are written in standard normal unknowns
(`tempered`), the pitch of each place integrated out on a grid. Rows whose mode is in doubt are answered under
sonde mode and under line mode, weighed by evidence. What conducting ground does is left out: below 2 % of
depth for 33 kHz, 10 ohm m and 2 m (tests/inference/test_sonde.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from plumbmark.base.compiled import kernel
from plumbmark.inference import priors as p
from plumbmark.inference.cells import LEAST_SHOWN_M, cell_likelihood, slip_density
from plumbmark.inference.priors import (
    DEPTH_SIGMA,
    PEAK_SIGMA_M,
    PEAK_SIGMA_OF_DEPTH,
    RAISE_SIGMA_M,
    SLIP_ODDS,
)
from plumbmark.inference.smooth import depth_basis
from plumbmark.inference.tempered import Tempered, temper

FLOATS = NDArray[np.float64]

PITCH_SIGMA: Final = math.radians(3.0)  # ducts lie within a few degrees of level; no source ...
PITCH_STEEP: Final = math.radians(12.0)  # ... but for risers and sags
PITCH_STEEP_ODDS: Final = 0.1
PITCH_MOST: Final = math.radians(30.0)
OTHER_MODE_ODDS: Final = 0.03  # one row read in the other mode than the rest
LINE_MODE_ODDS: Final = 0.5  # the rows do not say sonde mode: a cell left blank means line mode by the format
MARK_AT_NULL_ODDS: Final = 0.02  # the mark is on one of the nulls, taken for the place over the sonde
MOST_SHOWN_M: Final = 50.0
FIRST_OF_DUCT: Final = 4  # unknowns before: scatter, coil error, lower coil, spacing
PARTICLES = 400

# -- a place as a row of numbers, NaN where not taken --------------------------------------------------
AHEAD: Final = 0  # distance to the null ahead, and half of its range or rounding [m]
BEHIND: Final = 2
DEPTH: Final = 4
RAISED_BY: Final = 6
RAISED: Final = 7
LINE_MODE: Final = 9  # 1 where the row does not say sonde mode
CELLS: Final = 10


def _pitches() -> tuple[FLOATS, FLOATS]:
    """Grid over the tangent of the pitch: (17, 4) of tangent, null ahead, null behind, peak; and weights."""
    angle = np.linspace(-PITCH_MOST, PITCH_MOST, 17)
    narrow = np.exp(-0.5 * (angle / PITCH_SIGMA) ** 2) / PITCH_SIGMA
    steep = np.exp(-0.5 * (angle / PITCH_STEEP) ** 2) / PITCH_STEEP
    weight = (1.0 - PITCH_STEEP_ODDS) * narrow + PITCH_STEEP_ODDS * steep
    t = np.tan(angle)
    root = np.sqrt(9.0 * t**2 + 8.0)
    peak = np.array([sorted(np.roots([2.0, 4.0 * x, -3.0, -x]).real, key=abs)[0] for x in t])
    return np.column_stack([t, (-3.0 * t + root) / 4.0, (3.0 * t + root) / 4.0, peak]), weight / weight.sum()


_PITCH, _WEIGHT = _pitches()


@kernel
def shown_depth(
    mark: float, pitch: float, depth: float, lower: float, spacing: float, coil_error: float, line_mode: bool
) -> float:
    """Depth displayed `mark` ahead of a sonde, counted from the foot [m]; `pitch` is the pitch's tangent."""
    near = depth + lower
    far = near + spacing
    a = near * near + mark * mark
    b = far * far + mark * mark
    low = abs(2.0 * mark * mark - near * near + 3.0 * mark * near * pitch) / (a * a * math.sqrt(a))
    high = abs(2.0 * mark * mark - far * far + 3.0 * mark * far * pitch) / (b * b * math.sqrt(b))
    ratio = low / (high * (1.0 + coil_error) + 1e-300)
    if not line_mode:
        ratio = ratio ** (1.0 / 3.0)
    if ratio <= 1.0 + spacing / MOST_SHOWN_M:
        return MOST_SHOWN_M
    return max(spacing / (ratio - 1.0) - lower, LEAST_SHOWN_M)


@kernel
def _depth_cell(
    value: float,
    half: float,
    slip: float,
    mark: float,
    pitch: float,
    depth: float,
    lower: float,
    spacing: float,
    coil_error: float,
    scatter: float,
    raised_sigma: float,
    line_mode: bool,
) -> float:
    """Density of a displayed depth: in the mode of the rows, in the other one, or a slip."""
    total = SLIP_ODDS * slip
    for other in range(2):
        shown = shown_depth(mark, pitch, depth, lower, spacing, coil_error, line_mode != (other == 1))
        sigma = math.hypot(DEPTH_SIGMA * scatter * shown, raised_sigma)
        odds = OTHER_MODE_ODDS if other == 1 else 1.0 - SLIP_ODDS - OTHER_MODE_ODDS
        total += odds * cell_likelihood(value, half, shown, sigma)
    return total


@kernel
def _nulls(row: FLOATS, slips: FLOATS, ahead: float, behind: float, sigma: float) -> float:
    """Density of the nulls' distances from the mark; the mark's own error is common to both."""
    va = 2.0 * sigma * sigma + row[1] ** 2 / 3.0
    vb = 2.0 * sigma * sigma + row[3] ** 2 / 3.0
    x, y = row[0] - ahead, row[2] - behind
    has_ahead = not math.isnan(x)
    has_behind = not math.isnan(y)
    good = 1.0 - SLIP_ODDS
    a = math.exp(-0.5 * x * x / va) / math.sqrt(2.0 * math.pi * va) if has_ahead else 1.0
    b = math.exp(-0.5 * y * y / vb) / math.sqrt(2.0 * math.pi * vb) if has_behind else 1.0
    odd_a, odd_b = SLIP_ODDS * slips[0], SLIP_ODDS * slips[1]
    if has_ahead and has_behind:
        both = -sigma * sigma
        det = va * vb - both * both
        q = (vb * x * x - 2.0 * both * x * y + va * y * y) / det
        c = math.exp(-0.5 * q) / (2.0 * math.pi * math.sqrt(det))
        return float(good * good * c + good * (odd_b * a + odd_a * b) + odd_a * odd_b)
    if has_ahead:
        return float(good * a + odd_a)
    return float(good * b + odd_b) if has_behind else 1.0


@kernel
def place_log_likelihood(
    ln_depth: float, lower: float, spacing: float, coil_error: float, scatter: float, row: FLOATS, doubt: bool
) -> float:
    """Log density of what was written down at one place, the pitch integrated out.

    Parameters
    ----------
    ln_depth : float
        Of the sonde below the ground.
    lower, spacing : float, [m]
    coil_error, scatter : float
    row : array, shape (CELLS,)
    doubt : bool
        Rows that do not say sonde mode were read in line mode.
    """
    depth = math.exp(ln_depth)
    near = depth + lower
    line_mode = doubt and row[9] > 0.5
    sigma = scatter * (PEAK_SIGMA_M + PEAK_SIGMA_OF_DEPTH * depth)
    has_depth = not math.isnan(row[4])
    has_raised = not math.isnan(row[7])
    slips = np.empty(4)
    for c in range(4):
        cell = row[2 * c + (1 if c == 3 else 0)]
        slips[c] = 0.0 if math.isnan(cell) else slip_density(cell)
    total = 0.0
    for j in range(_WEIGHT.size):
        pitch, mark = _PITCH[j, 0], near * _PITCH[j, 3]
        ahead, behind = near * _PITCH[j, 1], near * _PITCH[j, 2]
        there = _nulls(row, slips, ahead - mark, behind + mark, sigma)
        # on a null there is no field to take a depth from: what was written is as good as a slip
        apart = ahead + behind
        at_null = 0.5 * (_nulls(row, slips, 0.0, apart, sigma) + _nulls(row, slips, apart, 0.0, sigma))
        if has_depth:
            there *= _depth_cell(
                row[4], row[5], slips[2], mark, pitch, depth, lower, spacing, coil_error, scatter, 0.0,
                line_mode,
            )  # fmt: skip
            at_null *= slips[2]
        if has_raised:
            there *= _depth_cell(
                row[7], row[8], slips[3], mark, pitch, depth + row[6], lower, spacing, coil_error, scatter,
                RAISE_SIGMA_M, line_mode,
            )  # fmt: skip
            at_null *= slips[3]
        total += _WEIGHT[j] * ((1.0 - MARK_AT_NULL_ODDS) * there + MARK_AT_NULL_ODDS * at_null)
    return math.log(total + 1e-300)


@kernel
def places_log_likelihood(
    ln_depth: FLOATS,
    lower: FLOATS,
    spacing: FLOATS,
    coil_error: FLOATS,
    scatter: FLOATS,
    rows: FLOATS,
    doubt: bool,
    out: FLOATS,
) -> None:
    """`place_log_likelihood` of all places, shape (m, CELLS), under n sets of unknowns, added to `out`."""
    for i in range(ln_depth.shape[0]):
        for k in range(ln_depth.shape[1]):
            out[i] += place_log_likelihood(
                ln_depth[i, k], lower[i], spacing[i], coil_error[i], scatter[i], rows[k], doubt
            )


@dataclass(frozen=True, slots=True)
class SondeData:
    """Places of one duct, shape (m,), in order along it; `rows` has shape (m, CELLS).

    `seen` has shape (m, 3): of a test hole ln depth and its sigma, or ln of how deep the line is not; NaN
    where there is none. `coils` as `sonde_mode.coils_of` gives them.
    """

    along: FLOATS
    rows: FLOATS
    seen: FLOATS
    coils: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class SondeState:
    """Physical values of n sets of unknowns: shape (n,), `ln_depth` (n, m)."""

    scatter: FLOATS
    coil_error: FLOATS
    lower: FLOATS
    spacing: FLOATS
    ln_depth: FLOATS


def unknowns_of(data: SondeData) -> int:
    """How many unknowns a duct has."""
    return FIRST_OF_DUCT + int(depth_basis(data.along).shape[1])


def states_of(data: SondeData, u: FLOATS) -> SondeState:
    """What unknowns of shape (n, unknowns) stand for."""
    low, high, least, most = data.coils
    return SondeState(
        np.exp(p.SCATTER_LOG_SIGMA * u[:, 0]),
        p.COIL_ERROR_SIGMA * u[:, 1],
        low + (high - low) * ndtr(u[:, 2]),
        least + (most - least) * ndtr(u[:, 3]),
        math.log(p.DEPTH_MEDIAN_M) + u[:, FIRST_OF_DUCT:] @ depth_basis(data.along).T,
    )


def log_likelihood(u: FLOATS, data: SondeData, doubt: bool) -> FLOATS:
    """Of all that was written down along the duct, shape (n,)."""
    s = states_of(data, u)
    out = np.zeros(len(u))
    places_log_likelihood(s.ln_depth, s.lower, s.spacing, s.coil_error, s.scatter, data.rows, doubt, out)
    for k in np.flatnonzero(~np.isnan(data.seen[:, 0])):
        out -= 0.5 * ((s.ln_depth[:, k] - data.seen[k, 0]) / data.seen[k, 1]) ** 2
    for k in np.flatnonzero(~np.isnan(data.seen[:, 2])):
        out += np.where(s.ln_depth[:, k] < data.seen[k, 2], math.log(p.HOLE_BESIDE_ODDS), 0.0)
    return out


@dataclass(frozen=True, slots=True)
class SondePosterior:
    """Particles, rows in doubt read in sonde mode first; their weights, sum 1; chance of line mode."""

    state: SondeState
    weights: FLOATS
    line_mode: float
    effective: float


def solve_sonde(data: SondeData, rng: np.random.Generator, particles: int = PARTICLES) -> SondePosterior:
    """Posterior of the depths along a duct.

    Parameters
    ----------
    data : SondeData
        One place at least.
    rng : numpy Generator
    particles : int
        Under each mode that may have been.
    """
    read = ~np.isnan(data.rows[:, DEPTH]) | ~np.isnan(data.rows[:, RAISED])
    doubt = bool((read & (data.rows[:, LINE_MODE] > 0.5)).any())
    dims = unknowns_of(data)
    found: list[Tempered] = [
        temper(partial(log_likelihood, data=data, doubt=mode), dims, particles, rng)
        for mode in ((False, True) if doubt else (False,))
    ]
    chances = np.ones(1)
    if doubt:
        score = np.log([1.0 - LINE_MODE_ODDS, LINE_MODE_ODDS]) + np.array([q.log_evidence for q in found])
        chances = np.exp(score - score.max())
        chances /= chances.sum()
    return SondePosterior(
        states_of(data, np.concatenate([q.particles for q in found])),
        np.repeat(chances / particles, particles),
        float(chances[1]) if doubt else 0.0,
        float(1.0 / (chances**2 / np.array([q.effective for q in found])).sum()),
    )
