"""What one written cell says: near what the display shows, somewhere in a range, or a slip."""

from __future__ import annotations

import math
from typing import Final

from plumbmark.base.compiled import kernel
from plumbmark.model.measured import Measured

LEAST_SHOWN_M: Final = 0.01  # a display shows no distance below this
SLIP_MEDIAN_M: Final = 2.0  # a slipped cell: anything from decimetres to tens of metres
SLIP_LOG_SIGMA: Final = 1.5


def value_and_half(m: Measured | None) -> tuple[float, float]:
    """Value of a cell, NaN where not taken, and half of the range or of the rounding it was written with.

    Examples
    --------
    >>> value_and_half(Measured(1.2, 0.0, 0.1))
    (1.2, 0.05)
    """
    return (math.nan, 0.0) if m is None else (m.value, m.half_range + 0.5 * m.rounding)


@kernel
def cell_likelihood(value: float, half: float, shown: float, sigma: float) -> float:
    """Density of a cell that says `value`, give or take `half`, where the display shows `shown`."""
    if half <= 0.5 * sigma:
        var = sigma * sigma + half * half / 3.0
        e = value - shown
        return math.exp(-0.5 * e * e / var) / math.sqrt(2.0 * math.pi * var)
    k = 1.0 / (math.sqrt(2.0) * sigma)
    return (math.erf((value + half - shown) * k) - math.erf((value - half - shown) * k)) / (4.0 * half)


@kernel
def slip_density(value: float) -> float:
    """Density of a cell that holds a slip [1/m]."""
    e = (math.log(max(value, LEAST_SHOWN_M)) - math.log(SLIP_MEDIAN_M)) / SLIP_LOG_SIGMA
    return math.exp(-0.5 * e * e) / (math.sqrt(2.0 * math.pi) * SLIP_LOG_SIGMA * max(value, LEAST_SHOWN_M))
