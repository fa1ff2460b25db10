"""Prior of what lies at one place: soil and second lines, as density and as draws.

The same numbers as in `second`, without what changes along a line. Everything here is normalised: the
numbers of lines are weighed against each other by their evidence.

The *outer* unknowns of a walk are ln resistivity and, for each second line, offset, ln depth, signed size and
phase of its current: what a weak line's depth takes away from its signal its size can give back, and does so
along a straight line in logarithms.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference import priors as p
from plumbmark.inference.priors import (
    RATIO_LARGE_LOG_SIGMA,
    RATIO_LARGE_MEDIAN,
    RATIO_LARGE_ODDS,
    RATIO_MEAN,
    RATIO_PHASE_SIGMA,
    RATIO_SIGMA,
    SECOND_ANGLED_ODDS,
    SECOND_DEPTH_LOG_SIGMA,
    SECOND_FAR_M,
    SECOND_NEAR_M,
)
from plumbmark.inference.second import Known
from plumbmark.inference.walk_field import IM, OFFSET, OTHER_LN_DEPTH, PER, RE

FLOATS = NDArray[np.float64]

LN_DEPTH_LOW, LN_DEPTH_HIGH = -2.2, 1.9
LEAST_RATIO, MOST_RATIO = 0.03, 6.0
NEAR_EASE_M, FAR_EASE_M = 0.02, 0.15
ROOT_2PI = math.sqrt(2.0 * math.pi)

OUT_SIZE = 2  # sign of the real part times (SIZE_BASE + ln size): no size maps to 0
OUT_PHASE = 3  # of a current that flows the same way, or of minus the other one [rad]
SIZE_BASE = 4.0
IMPOSSIBLE = -1e30


@kernel
def _far(q: float) -> float:
    return 1.0 / (1.0 + math.exp((abs(q) - SECOND_FAR_M) / FAR_EASE_M))


@kernel
def _near(q: float) -> float:
    return 1.0 / (1.0 + math.exp(-(abs(q) - SECOND_NEAR_M) / NEAR_EASE_M))


_Q = (np.arange(70_000) + 0.5) * 1e-4 * 2.0 * SECOND_FAR_M / 7.0
_FAR = 1.0 / (1.0 + np.exp((_Q - SECOND_FAR_M) / FAR_EASE_M))
_NEAR = 1.0 / (1.0 + np.exp(-(_Q - SECOND_NEAR_M) / NEAR_EASE_M))
#: Areas under the eased steps, both sides.
FAR_AREA = float(2.0 * np.sum(_FAR) * (_Q[1] - _Q[0]))
BOTH_AREA = float(2.0 * np.sum(_FAR * _NEAR) * (_Q[1] - _Q[0]))
#: Share of the usual sizes above the least one.
USUAL_AREA = 0.5 * math.erfc((LEAST_RATIO - RATIO_MEAN) / (math.sqrt(2.0) * RATIO_SIGMA))


@kernel
def _bell(e: float, sigma: float) -> float:
    return math.exp(-0.5 * (e / sigma) ** 2) / (sigma * ROOT_2PI)


@kernel
def log_prior_line(line: FLOATS, known: Known) -> float:
    """Log density of one second line: offset, ln depth, real and imaginary part of its ratio, shape (4,).

    -1e30 outside what can be.
    """
    q = line[OFFSET]
    z = line[OTHER_LN_DEPTH]
    size = math.sqrt(line[RE] ** 2 + line[IM] ** 2)
    if abs(q) > 2.0 * SECOND_FAR_M or size > MOST_RATIO or size < LEAST_RATIO:
        return -1e30
    if z < LN_DEPTH_LOW or z > LN_DEPTH_HIGH:
        return -1e30
    # parallel ones keep off the line; one that crosses it somewhere may be near it here
    place = _far(q) * ((1.0 - SECOND_ANGLED_ODDS) * _near(q) / BOTH_AREA + SECOND_ANGLED_ODDS / FAR_AREA)
    place *= _bell(z, SECOND_DEPTH_LOG_SIGMA)
    named = 0.0
    mixed = 0.0
    for i in range(known.candidates.shape[0]):
        row = known.candidates[i]
        named += row[6]
        mixed += row[6] * _bell(q - row[0], row[1]) * _bell(z - row[4], row[5])
    place = (1.0 - named) * place + mixed
    ln_size = math.log(size / RATIO_LARGE_MEDIAN)
    sizes = (1.0 - RATIO_LARGE_ODDS) * _bell(size - RATIO_MEAN, RATIO_SIGMA) / USUAL_AREA
    sizes += RATIO_LARGE_ODDS * _bell(ln_size, RATIO_LARGE_LOG_SIGMA) / size
    phase = _bell(math.atan2(line[IM], abs(line[RE])), RATIO_PHASE_SIGMA)
    # either sign, and from size and phase to real and imaginary part
    return math.log(place + 1e-300) + math.log(sizes * phase / (2.0 * size) + 1e-300)


@kernel
def ratio_of(size: float, phase: float) -> complex:
    """Current over the line's from the two outer unknowns that stand for it."""
    sign = 1.0 if size >= 0.0 else -1.0
    r = math.exp(abs(size) - SIZE_BASE)
    return complex(sign * r * math.cos(phase), r * math.sin(phase))


@kernel
def size_and_phase(re: float, im: float) -> tuple[float, float]:
    """The two outer unknowns that stand for a current over the line's."""
    size = SIZE_BASE + 0.5 * math.log(re * re + im * im)
    return size if re >= 0.0 else -size, math.atan2(im, abs(re))


@kernel
def to_outer(lines: FLOATS) -> None:
    """Real and imaginary parts to signed sizes and phases, in place; shape (n, PER * lines)."""
    for r in range(lines.shape[0]):
        for k in range(0, lines.shape[1], PER):
            lines[r, k + OUT_SIZE], lines[r, k + OUT_PHASE] = size_and_phase(
                lines[r, k + RE], lines[r, k + IM]
            )


@kernel
def to_ratios(lines: FLOATS) -> None:
    """Signed sizes and phases to real and imaginary parts, in place; shape (n, PER * lines)."""
    for r in range(lines.shape[0]):
        for k in range(0, lines.shape[1], PER):
            ratio = ratio_of(lines[r, k + OUT_SIZE], lines[r, k + OUT_PHASE])
            lines[r, k + RE] = ratio.real
            lines[r, k + IM] = ratio.imag


@kernel
def log_prior_outer_line(line: FLOATS, known: Known) -> float:
    """Log prior density of the four outer unknowns of one second line."""
    if abs(line[OUT_SIZE]) > SIZE_BASE + 2.0 or abs(line[OUT_PHASE]) > 0.5 * math.pi:
        return IMPOSSIBLE
    plain = line.copy()
    ratio = ratio_of(line[OUT_SIZE], line[OUT_PHASE])
    plain[RE] = ratio.real
    plain[IM] = ratio.imag
    # an area of the plane of ratios is size^2 times that of ln size and phase
    return float(log_prior_line(plain, known) + 2.0 * (abs(line[OUT_SIZE]) - SIZE_BASE))


@kernel
def log_prior_outer(outer: FLOATS, lines: int, known: Known) -> float:
    """Log prior density of soil and second lines; -1e30 outside what can be."""
    e = (outer[0] - known.soil_ln) / known.soil_sigma
    if outer[0] < -1.0 or outer[0] > 11.0:
        return IMPOSSIBLE
    total = -0.5 * e * e - math.log(known.soil_sigma) - 0.5 * math.log(2.0 * math.pi)
    for line in range(lines):
        total += log_prior_outer_line(outer[1 + PER * line : 1 + PER * (line + 1)], known)
    return float(max(total, IMPOSSIBLE))


def draw_lines(n: int, lines: int, known: Known, rng: np.random.Generator) -> FLOATS:
    """`n` draws of `lines` second lines, shape (n, lines * PER)."""
    out = np.empty((n, lines * PER))
    for line in range(lines):
        k = line * PER
        out[:, k + OFFSET] = _draw_offsets(n, rng)
        out[:, k + OTHER_LN_DEPTH] = rng.normal(0.0, p.SECOND_DEPTH_LOG_SIGMA, n)
        if len(known.candidates):
            edges = np.cumsum(known.candidates[:, 6])
            which = np.searchsorted(edges, rng.random(n))
            row = known.candidates[np.minimum(which, len(edges) - 1)]
            one = which < len(edges)
            q, z = rng.normal(row[:, 0], row[:, 1]), rng.normal(row[:, 4], row[:, 5])
            out[:, k + OFFSET] = np.where(one, q, out[:, k + OFFSET])
            out[:, k + OTHER_LN_DEPTH] = np.where(one, z, out[:, k + OTHER_LN_DEPTH])
        size = np.full(n, -1.0)
        while np.any(again := (size < LEAST_RATIO) | (size > MOST_RATIO)):
            usual = rng.normal(p.RATIO_MEAN, p.RATIO_SIGMA, n)
            while np.any(low := usual < LEAST_RATIO):
                usual[low] = rng.normal(p.RATIO_MEAN, p.RATIO_SIGMA, int(low.sum()))
            large = p.RATIO_LARGE_MEDIAN * np.exp(rng.normal(0.0, p.RATIO_LARGE_LOG_SIGMA, n))
            size = np.where(again, np.where(rng.random(n) < p.RATIO_LARGE_ODDS, large, usual), size)
        phase = rng.normal(0.0, p.RATIO_PHASE_SIGMA, n)
        out[:, k + RE] = size * np.cos(phase) * np.where(rng.random(n) < 0.5, -1.0, 1.0)
        out[:, k + IM] = size * np.sin(phase)
    return out


def _draw_offsets(n: int, rng: np.random.Generator) -> FLOATS:
    """Offsets by rejection from the eased steps."""
    q = np.full(n, np.nan)
    angled = rng.random(n) < p.SECOND_ANGLED_ODDS
    while np.any(left := np.isnan(q)):
        tried = rng.uniform(-2.0 * p.SECOND_FAR_M, 2.0 * p.SECOND_FAR_M, n)
        away = np.abs(tried)
        keep = 1.0 / (1.0 + np.exp((away - p.SECOND_FAR_M) / FAR_EASE_M))
        keep *= np.where(angled, 1.0, 1.0 / (1.0 + np.exp(-(away - p.SECOND_NEAR_M) / NEAR_EASE_M)))
        q = np.where(left & (rng.random(n) < keep), tried, q)
    return q
