"""Walks across for the frame of calibration: amplitudes drawn from the model's own prior.

The simulator shares the definition of the mark with the model (`scene.marked_peak`), and no more: fields come
from the public function of `physics.halfspace`, slopes by differences, noise as the file contract says it.
"""

from __future__ import annotations

import math

import numpy as np

from calibration import FLOATS, Kind, resampled
from plumbmark.inference import priors as p
from plumbmark.inference.scene import marked_peak, put_scene
from plumbmark.inference.second import Known
from plumbmark.inference.stretch import FIRST_LINE, PER_LINE
from plumbmark.inference.walk import Walk, make_walk
from plumbmark.inference.walk_prior import draw_lines
from plumbmark.inference.walk_solve import ORDER_LOOKS, Looks, solve_walk
from plumbmark.physics.halfspace import line_over_ground_field

LOOKS = Looks(threads=1)
QUANTITIES = ("place", "ln depth", "ln scatter", "ln resistivity", "second lines")


def skin_depth(ln_soil: float, frequency_hz: float) -> float:
    return 503.2921210448704 * math.sqrt(math.exp(ln_soil) / frequency_hz)


def exact(offset: FLOATS, height: FLOATS, lines: list[tuple[float, float, complex]], skin: float) -> FLOATS:
    """Amplitudes across and upright, shape (2, n), of lines given by place, depth and current."""
    across = np.zeros(len(offset), dtype=complex)
    upright = np.zeros(len(offset), dtype=complex)
    for place, depth, current in lines:
        e, u = line_over_ground_field(
            offset, height, line_easting=place, depth=depth, current=current, skin_depth=skin
        )
        across += e
        upright += u
    return np.abs(np.stack([across, upright]))


def noisy(offset: FLOATS, height: FLOATS, lines: list[tuple[float, float, complex]], skin: float,
          scatter: float, rng: np.random.Generator) -> FLOATS:  # fmt: skip
    """Amplitudes with the noise of the file contract, its tails Student's, times `scatter`."""
    size = exact(offset, height, lines, skin)
    step = 1e-5
    steep = (exact(offset + step, height, lines, skin) - exact(offset - step, height, lines, skin)) / (
        2 * step
    )
    sigma2 = (p.PROFILE_SIGMA * size) ** 2 + (p.PROFILE_FLOOR * size.max()) ** 2
    sigma = np.sqrt(sigma2 + (p.PROFILE_OFFSET_SIGMA_M * steep) ** 2)
    return np.abs(size + scatter * sigma * rng.standard_t(6.0, size.shape))


def mark_of(second: FLOATS, z: float, ln_soil: float, lower: float, frequency_hz: float) -> float:
    """Where the crew's peak is, right of the line."""
    theta = np.zeros(FIRST_LINE + PER_LINE * len(second))
    theta[2], theta[3] = ln_soil, lower
    for k, (q, deep, re, im) in enumerate(second):
        theta[FIRST_LINE + PER_LINE * k :][:5] = q, 0.0, deep, re, im
    at, deep_at, current = np.empty(32), np.empty(32, complex), np.empty(32, complex)
    n = put_scene(theta, z, 0.0, skin_depth(ln_soil, frequency_hz), at, deep_at, current)
    return float(marked_peak(lower, at, deep_at, current, n))


def draw(rng: np.random.Generator, ordered: bool) -> tuple[tuple[Walk, Known], FLOATS]:
    """One walk: none, one or two second lines; soil, coil, heights and columns known or not."""
    known = Known(
        *((math.log(60.0), math.log(3.0)) if rng.random() < 0.5 else (rng.normal(4.0, 1.0), math.log(1.5))),
        *((0.05, 0.05, 0.4, 0.4) if rng.random() < 0.5 else (*p.LOWER_COIL_M, *p.COIL_SPACING_M)),
        -1.0,
        1.0,
        np.empty((0, 7)),
    )
    lines = int(rng.choice(3, p=p.LINES_ODDS))
    second = draw_lines(1, lines, known, rng).reshape(lines, 4)
    z = rng.normal(math.log(p.DEPTH_MEDIAN_M), p.DEPTH_LOG_SIGMA)
    ln_soil = float(np.clip(rng.normal(known.soil_ln, known.soil_sigma), -0.9, 10.9))
    lower = rng.uniform(known.lower_low, known.lower_high)
    ln_scatter = rng.normal(0.0, p.SCATTER_LOG_SIGMA)
    frequency = float(rng.choice([1000.0, 8000.0, 33000.0, 80000.0]))
    sigma = math.exp(ln_scatter) * (p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * min(math.exp(z), 6.0))
    shift = -mark_of(second, z, ln_soil, lower, frequency) + sigma * rng.normal()
    reach = rng.choice([1.5, 2.0, 2.5])
    offset = np.linspace(-reach, reach, int(rng.choice([9, 13, 17])))
    told = rng.random() < 0.7
    placed = [(shift, math.exp(z), 1.0 + 0.0j)]
    placed += [(shift + q, math.exp(deep), complex(re, im)) for q, deep, re, im in second]
    level = noisy(
        offset, np.full(len(offset), lower), placed, skin_depth(ln_soil, frequency), math.exp(ln_scatter), rng
    )
    if (kept := rng.random()) < 0.4:
        level[1 if kept < 0.3 else 0] = math.nan
    height = np.full(len(offset), lower if told else math.nan)
    if told:
        known = known._replace(lower_low=lower, lower_high=lower)
    walk = make_walk(offset, height, level, np.zeros_like(level), frequency, ordered)
    return (walk, known), np.array([shift, z, ln_scatter, ln_soil, lines])


def posterior(data: tuple[Walk, Known], rng: np.random.Generator) -> FLOATS:
    walk, known = data
    looks = ORDER_LOOKS if len(walk.order) else LOOKS
    looks = Looks(looks.first, looks.more, looks.times, looks.enough, 1, looks.search)
    found = solve_walk(walk, known, [int(rng.integers(2**31))], looks=looks)
    rows = np.stack([found.shift, found.ln_depth, found.ln_scatter, found.ln_soil, found.lines.astype(float)])
    return resampled(rows, found.weights, 400, rng)


KIND = Kind(
    QUANTITIES,
    lambda rng: draw(rng, False),
    posterior,
    "One walk across: 9 to 17 points over ±1.5 to ±2.5 m, one or both columns, none to two second lines.",
)
