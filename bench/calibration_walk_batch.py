"""Walks across answered as in a batch, from hundreds of draws, for the frame of calibration."""

from __future__ import annotations

import numpy as np

from calibration import FLOATS, Kind, resampled
from calibration_walk import QUANTITIES, draw
from plumbmark.inference.second import Known
from plumbmark.inference.walk import Walk
from plumbmark.inference.walk_batch import shared_numbers, weighted_draws


def posterior(data: tuple[Walk, Known], rng: np.random.Generator) -> FLOATS:
    walk, known = data
    found = weighted_draws(walk, known, shared_numbers(known, int(rng.integers(2**31))))
    lines = found.lines.astype(float)
    rows = np.stack([found.shift, found.ln_depth, found.ln_scatter, found.ln_soil, lines])
    return resampled(rows, found.weights, 400, rng)


KIND = Kind(
    QUANTITIES,
    lambda rng: draw(rng, False),
    posterior,
    "Walks as `walk`, each answered as in a batch: from hundreds of draws, loose ones counted too.",
)
