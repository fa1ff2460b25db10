"""Where to begin under given globals: how deep the line would have to be for the display to show what it did.

With a strong second line the display can be off by half, so the displayed depth is no place to begin from.
The typical numbers of a stretch (medians) are compared with what a line of each depth would have shown.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.scene import fill_node
from plumbmark.inference.stretch import Stretch

FLOATS = NDArray[np.float64]

LOW = math.log(0.2)
PITCH = 0.25  # 0.2 to 3.1 m in so many nodes
NODES = 12
FINE = 4
SIGMA_LN = 0.06
SIGMA_M = 0.06


def typical_of(stretch: Stretch) -> FLOATS:
    """Medians of displayed ln depth, gap, left, right and raised ln depth; NaN where none was taken."""
    kinds = (stretch.ln_depth, stretch.gap, stretch.half_left, stretch.half_right)
    out = [float(np.median(k[~np.isnan(k)])) if np.any(~np.isnan(k)) else math.nan for k in kinds]
    used = stretch.raise_index[stretch.raise_index >= 0]
    common = int(np.bincount(used).argmax()) if len(used) else -1
    raised = stretch.ln_raised[stretch.raise_index == common] if common >= 0 else np.empty(0)
    return np.array([*out, float(np.median(raised)) if len(raised) else math.nan, float(common)])


@kernel
def begin_many(thetas: FLOATS, d: Stretch, typical: FLOATS, out: FLOATS) -> None:
    """Depth (ln) for each row of `thetas` at which a display comes nearest the typical numbers."""
    values = 7 + d.raises.shape[0]
    table = np.empty((NODES, values))
    at = np.empty(64)
    deep = np.empty(64, dtype=np.complex128)
    current = np.empty(64, dtype=np.complex128)
    for i in range(thetas.shape[0]):
        for k in range(NODES):
            fill_node(
                thetas[i],
                LOW + PITCH * k,
                0.0,
                d.frequency_hz,
                d.raises,
                d.has_halves,
                False,
                at,
                deep,
                current,
                table[k],
            )
        best = 1e30
        for k in range(NODES - 1):
            for f in range(FINE):
                w = f / FINE
                z = LOW + PITCH * (k + w)
                node = (1.0 - w) * table[k] + w * table[k + 1]
                cost = 0.5 * (z / 0.55) ** 2
                if not math.isnan(typical[0]):
                    cost += math.log1p(((node[4] - typical[0]) / SIGMA_LN) ** 2)
                if not math.isnan(typical[1]):
                    cost += math.log1p(((node[1] - node[0] - typical[1]) / SIGMA_M) ** 2)
                if not math.isnan(typical[2]):
                    cost += math.log1p(((node[0] - node[2] - typical[2]) / SIGMA_M) ** 2)
                if not math.isnan(typical[3]):
                    cost += math.log1p(((node[3] - node[0] - typical[3]) / SIGMA_M) ** 2)
                if not math.isnan(typical[4]):
                    cost += math.log1p(((node[7 + int(typical[5])] - typical[4]) / SIGMA_LN) ** 2)
                if cost < best:
                    best = cost
                    out[i] = z
