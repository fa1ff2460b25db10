"""Where to begin under given globals: how deep the line would have to be for the display to show what it did.

With a strong second line the display can be off by half, so the displayed depth is no place to begin from.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.scene import depth_shown
from plumbmark.inference.stretch import Stretch
from plumbmark.inference.table import DEEPEST, MOST_IMAGES, SHALLOWEST

FLOATS = NDArray[np.float64]

STEPS = 4
NEAR = 0.03  # of ln depth


def typical_of(stretch: Stretch) -> float:
    """Median of displayed ln depth, or NaN."""
    taken = stretch.ln_depth[~np.isnan(stretch.ln_depth)]
    return float(np.median(taken)) if len(taken) else math.nan


@kernel
def begin_many(thetas: FLOATS, d: Stretch, typical: float, out: FLOATS) -> None:
    """Depth (ln) for each row of `thetas` at which the display comes nearest the typical one."""
    at = np.empty(MOST_IMAGES)
    deep = np.empty(MOST_IMAGES, dtype=np.complex128)
    current = np.empty(MOST_IMAGES, dtype=np.complex128)
    for i in range(thetas.shape[0]):
        z = typical
        for _ in range(STEPS):
            off = typical - math.log(depth_shown(thetas[i], z, 0.0, d.frequency_hz[0], at, deep, current))
            z = min(max(z + min(max(off, -0.7), 0.7), SHALLOWEST + 0.3), DEEPEST - 0.3)
            if abs(off) < NEAR:
                break
        out[i] = z
