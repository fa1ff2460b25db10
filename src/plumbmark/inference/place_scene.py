"""Scenes at one place from standard normal coordinates: the prior of everything but the depth and the mark.

Under the prior each coordinate is standard normal, whatever the quantity's own distribution is: its quantile
at that place is taken. So densities are known without a formula for each.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference import priors as p
from plumbmark.inference.place_data import PlaceData
from plumbmark.inference.priors import (
    COIL_ERROR_SIGMA,
    PEAK_SIGMA_M,
    PEAK_SIGMA_OF_DEPTH,
    RATIO_PHASE_SIGMA,
    SCATTER_LOG_SIGMA,
    SECOND_ANGLED_ODDS,
    SECOND_DEPTH_LOG_SIGMA,
    SECOND_FAR_M,
    SECOND_NEAR_M,
    UNKNOWN_MARK_SIGMA_M,
)
from plumbmark.inference.second import Known
from plumbmark.inference.stretch import FIRST_LINE, PER_LINE
from plumbmark.physics.halfspace import HALFSPACE_IMAGES

FLOATS = NDArray[np.float64]

# -- coordinates of a draw, in their order -------------------------------------------------------------
SCATTER, COIL_ERROR, SOIL, LOWER, SPACING, NULL_KIND, ASIDE, MARK, DEPTH = range(9)
OWN: Final = 9  # then five for each second line:
Q, Q_DEPTH, Q_RATIO, Q_PHASE, Q_WHICH = range(5)
PER_SECOND: Final = 5

MOST_LINES: Final = 2
MOST_IMAGES: Final = (MOST_LINES + 1) * HALFSPACE_IMAGES
LEAST_LN, MOST_LN = math.log(0.04), math.log(8.0)
ROOT_2: Final = math.sqrt(2.0)
ROOT_2PI: Final = math.sqrt(2.0 * math.pi)
LN_ROOT_2PI: Final = math.log(ROOT_2PI)
LN_DEPTH_0: Final = math.log(p.DEPTH_MEDIAN_M)
LN_CURRENT_0: Final = math.log(p.CURRENT_MEDIAN_A)
#: Where depths of the second line are cut (as in the prior of a stretch).
SECOND_DEPTH_CUT: Final = (-2.1, 1.8)


def _ratio_table() -> FLOATS:
    """Size of the current ratio by the normal deviate whose two-sided chance is that of a smaller size."""
    size = np.linspace(0.03, 5.9, 6000)
    usual = np.exp(-0.5 * ((size - p.RATIO_MEAN) / p.RATIO_SIGMA) ** 2)
    usual /= np.sum(0.5 * (usual[1:] + usual[:-1])) * (size[1] - size[0])
    e = np.log(size / p.RATIO_LARGE_MEDIAN) / p.RATIO_LARGE_LOG_SIGMA
    large = np.exp(-0.5 * e * e) / (ROOT_2PI * p.RATIO_LARGE_LOG_SIGMA * size)
    density = (1.0 - p.RATIO_LARGE_ODDS) * usual + p.RATIO_LARGE_ODDS * large
    below = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(size))])
    chance = np.array([math.erf(u / ROOT_2) for u in np.linspace(0.0, RATIO_TOP, RATIO_NODES)])
    return np.asarray(np.interp(chance, below / below[-1], size))


RATIO_TOP: Final = 4.5
RATIO_NODES: Final = 901
RATIO_TABLE: Final = _ratio_table()


@kernel
def _candidate(u: FLOATS, j: int, known: Known) -> int:
    """Which candidate line of the job the second line with coordinates from `j` is; -1: none of them."""
    which = 0.5 * math.erfc(-u[j + Q_WHICH] / ROOT_2)
    for i in range(known.candidates.shape[0]):
        which -= known.candidates[i, 6]
        if which < 0.0:
            return int(i)
    return -1


@kernel
def second_depth(u: FLOATS, j: int, known: Known) -> tuple[float, float]:
    """Prior mean and sigma of ln depth of that line."""
    i = _candidate(u, j, known)
    if i < 0:
        return 0.0, SECOND_DEPTH_LOG_SIGMA
    return known.candidates[i, 4], known.candidates[i, 5]


@kernel
def scene_of(u: FLOATS, known: Known, theta: FLOATS) -> None:
    """Globals in the order of `stretch`, at the one place, from standard normal coordinates."""
    theta[0] = SCATTER_LOG_SIGMA * u[SCATTER]
    theta[1] = COIL_ERROR_SIGMA * u[COIL_ERROR]
    theta[2] = min(max(known.soil_ln + known.soil_sigma * u[SOIL], -0.9), 10.9)
    below = 0.5 * math.erfc(-u[LOWER] / ROOT_2)
    theta[3] = known.lower_low + (known.lower_high - known.lower_low) * below
    below = 0.5 * math.erfc(-u[SPACING] / ROOT_2)
    theta[4] = known.spacing_low + (known.spacing_high - known.spacing_low) * below
    theta[5] = 0.5 * math.erfc(-u[NULL_KIND] / ROOT_2) if known.null_kind < 0.0 else known.null_kind
    k = FIRST_LINE
    j = OWN
    while k + PER_LINE <= theta.shape[0]:
        i = _candidate(u, j, known)
        if i >= 0:
            q = known.candidates[i, 0] + known.candidates[i, 1] * u[j + Q]
        else:
            # parallel lines from the trench's width on, angled ones cross anywhere
            share = math.erf(abs(u[j + Q]) / ROOT_2)
            edge = SECOND_ANGLED_ODDS * SECOND_NEAR_M / SECOND_FAR_M
            if share < edge:
                q = share * SECOND_FAR_M / SECOND_ANGLED_ODDS
            else:
                beyond = (1.0 - SECOND_ANGLED_ODDS) / (SECOND_FAR_M - SECOND_NEAR_M)
                rate = SECOND_ANGLED_ODDS / SECOND_FAR_M + beyond
                q = (share + beyond * SECOND_NEAR_M) / rate
            if u[j + Q] < 0.0:
                q = -q
        mean, sigma = second_depth(u, j, known)
        z = mean + sigma * u[j + Q_DEPTH]
        place = min(abs(u[j + Q_RATIO]) / RATIO_TOP, 1.0) * (RATIO_NODES - 1)
        i = min(int(place), RATIO_NODES - 2)
        size = RATIO_TABLE[i] + (place - i) * (RATIO_TABLE[i + 1] - RATIO_TABLE[i])
        phase = RATIO_PHASE_SIGMA * u[j + Q_PHASE]
        reach = 2.0 * SECOND_FAR_M - 0.1
        theta[k] = min(max(q, -reach), reach)
        theta[k + 1] = 0.0
        theta[k + 2] = min(max(z, SECOND_DEPTH_CUT[0]), SECOND_DEPTH_CUT[1])
        theta[k + 3] = size * math.cos(phase) * (1.0 if u[j + Q_RATIO] > 0.0 else -1.0)
        theta[k + 4] = size * math.sin(phase)
        theta[k + 5] = 0.0
        theta[k + 6] = 0.0
        k += PER_LINE
        j += PER_SECOND


@kernel
def scenes_of(u: FLOATS, known: Known, out: FLOATS) -> None:
    """`scene_of` each row of `u`, shape (n, globals)."""
    for i in range(u.shape[0]):
        scene_of(u[i], known, out[i])


@kernel
def whose_peak(theta: FLOATS, z: float, peak: float) -> int:
    """Whose peak it is: of the line whose current alone would make the most of the field there, 0 its own."""
    best = 0
    deep = math.exp(z) + theta[3]
    most = deep / (deep * deep + peak * peak)
    k = FIRST_LINE
    line = 1
    while k + PER_LINE <= theta.shape[0]:
        deep = math.exp(theta[k + 2]) + theta[3]
        away = peak - theta[k]
        size = math.hypot(theta[k + 3], theta[k + 4]) * deep / (deep * deep + away * away)
        if size > most:
            most = size
            best = line
        k += PER_LINE
        line += 1
    return best


@kernel
def mark_sigmas(d: PlaceData, theta: FLOATS, z: float) -> tuple[float, float]:
    """Sigma of finding a peak or null [m], and that of the mark about the true one."""
    sigma = math.exp(theta[0]) * (PEAK_SIGMA_M + PEAK_SIGMA_OF_DEPTH * min(math.exp(z), 6.0))
    return sigma, math.hypot(sigma, UNKNOWN_MARK_SIGMA_M) if d.mark_kind == 2 else sigma
