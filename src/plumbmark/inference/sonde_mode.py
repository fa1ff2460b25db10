r"""A depth taken in sonde mode over a line: what the same receiver would have shown in line mode.

Both modes compare the same two coils; sonde mode takes the field to fall as :math:`1/r^3`, line mode as
:math:`1/r`. With :math:`R` the ratio of the coils, :math:`s` their spacing, :math:`a` the lower one's height,

.. math:: Z_s = s / (R^{1/3} - 1) - a, \qquad Z = s / (R - 1) - a,

so that :math:`Z = s / ((1 + s/(Z_s + a))^3 - 1) - a`, whatever currents make the field: a second line and the
ground are in it as they are in any depth taken in line mode.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference.priors import COIL_SPACING_M, DEPTH_SIGMA, LOWER_COIL_M
from plumbmark.model.job import Job, Receiver, Setup
from plumbmark.model.measured import Measured
from plumbmark.physics.sonde import shown_in_line_mode

FLOATS = NDArray[np.float64]

LEAST_M = 0.03
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(5)


def coils_of(job: Job, setup: Setup) -> tuple[float, float, float, float]:
    """Least and greatest height of the lower coil, and spacing, of a setup's receiver [m]."""
    receiver = next((r for r in job.receivers if r.id == setup.receiver), Receiver(""))
    low, gap = receiver.lower_coil_height_m, receiver.coil_spacing_m
    lower = LOWER_COIL_M if low is None else (low, low)
    spacing = COIL_SPACING_M if gap is None else (gap, gap)
    return (*lower, *spacing)


def as_line_mode(shown: Measured, coils: tuple[float, float, float, float]) -> Measured:
    """A depth displayed in sonde mode as line mode would have displayed it; what is not known is a range."""
    ln_depth, variance = in_line_mode(shown.value, coils)
    depth = math.exp(ln_depth)
    scale = depth / max(shown.value, 0.01)
    wide = math.sqrt(3.0 * variance) * depth
    return Measured(depth, math.hypot(wide, scale * shown.half_range), scale * shown.rounding)


def in_line_mode(shown_m: float, coils: tuple[float, float, float, float]) -> tuple[float, float]:
    """The ln of the depth that line mode would have shown, and its variance beyond `DEPTH_SIGMA`.

    Parameters
    ----------
    shown_m : float, [m]
        As displayed in sonde mode, counted from the foot.
    coils : four floats, [m]
        Lowest and highest height of the lower coil, least and largest spacing: uniform between.

    Returns
    -------
    ln_depth, variance : float
        Mean over the coils that may be; its variance over them, and what the display's scatter grows by.

    Examples
    --------
    Coils 0.4 m apart, the lower on the ground: 3.37 m in sonde mode is a line 1 m down.

    >>> ln_depth, _ = in_line_mode(3.372, (0.0, 0.0, 0.4, 0.4))
    >>> round(math.exp(ln_depth), 2)
    1.0
    """
    lower = 0.5 * (coils[0] + coils[1]) + 0.5 * (coils[1] - coils[0]) * _NODES
    spacing = 0.5 * (coils[2] + coils[3]) + 0.5 * (coils[3] - coils[2]) * _NODES
    weights = 0.25 * np.outer(_WEIGHTS, _WEIGHTS)

    def ln_depths(shown: float) -> FLOATS:
        rows = [[shown_in_line_mode(shown, spacing=s, lower_height=a) for s in spacing] for a in lower]
        return np.asarray(np.log(np.maximum(np.array(rows), LEAST_M)))

    value = ln_depths(max(shown_m, 0.01))
    mean = float((weights * value).sum())
    slope = float((weights * (ln_depths(1.01 * max(shown_m, 0.01)) - value)).sum()) / math.log(1.01)
    spread = float((weights * (value - mean) ** 2).sum())
    return mean, spread + max(slope**2 - 1.0, 0.0) * DEPTH_SIGMA**2
