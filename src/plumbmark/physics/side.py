r"""What a receiver shows that stands beside a line and faces it: horizontal distance and depth.

The display takes the direction from the two fields at its lower coil and the range from how the total field
falls from the lower coil to the upper one. With :math:`\theta` the angle from straight below the receiver
and :math:`R` the distance from the lower coil,

.. math:: \tan\theta = |b_u| / |b_a|, \qquad
          (B_1 / B_2)^2 = (R^2 + 2 s R \cos\theta + s^2) / R^2,

across :math:`b_a`, upright :math:`b_u`, total :math:`B_1` and :math:`B_2` at coils :math:`s` apart. Both are
exact for one long line in air under a receiver held plumb. The range hangs on a small difference of two
fields, so the direction is much the better of the two; conducting ground and other currents spoil both.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.compiled import kernel
from plumbmark.physics.display import check_spacing
from plumbmark.physics.images import across_upright, image_lines

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]

#: Range shown where the total field does not fall upwards [m]: past every line that is seen from beside.
NO_RANGE_M = 50.0


@kernel
def side_at(
    stand: float,
    lower: float,
    spacing: float,
    tilt: float,
    coil_error: float,
    at: FLOATS,
    depth: COMPLEXES,
    current: COMPLEXES,
    n: int,
) -> tuple[float, float]:
    """Distance and depth shown by a receiver whose foot stands at lateral `stand` [m].

    `tilt` leans it about its foot, towards increasing lateral position [rad]: coils and axes go with it.
    `coil_error` is the relative error of the upper coil against the lower one.
    """
    c = math.cos(tilt)
    s = math.sin(tilt)
    h1, v1 = across_upright(stand + lower * s, lower * c, at, depth, current, n)
    top = lower + spacing
    h2, v2 = across_upright(stand + top * s, top * c, at, depth, current, n)
    angle = math.atan2(abs(v1 * c - h1 * s), abs(h1 * c + v1 * s))
    low2 = h1.real**2 + h1.imag**2 + v1.real**2 + v1.imag**2
    high2 = (h2.real**2 + h2.imag**2 + v2.real**2 + v2.imag**2) * (1.0 + coil_error) ** 2
    excess = low2 / high2 - 1.0
    reach = NO_RANGE_M
    b = spacing * math.cos(angle)
    # root of excess R^2 - 2 b R - spacing^2 = 0, where it lies within NO_RANGE_M
    if excess * NO_RANGE_M**2 > 2.0 * b * NO_RANGE_M + spacing**2:
        reach = (b + math.sqrt(b * b + excess * spacing * spacing)) / excess
    return reach * math.sin(angle), reach * math.cos(angle) - lower


def side_shown(
    line_easting: ArrayLike,
    line_depth: ArrayLike,
    current: ArrayLike,
    *,
    stand: float,
    lower_coil_height: float,
    coil_spacing: float,
    tilt: float = 0.0,
    coil_error: float = 0.0,
) -> tuple[float, float]:
    """Horizontal distance and depth a receiver shows from beside.

    Parameters
    ----------
    line_easting, line_depth, current
        As in `display.peak_position`.
    stand : float, [m]
        Lateral position of its foot, on the ground.
    lower_coil_height, coil_spacing : float, [m]
    tilt : float, [rad]
        It leans towards increasing lateral position, about its foot.
    coil_error : float
        Relative error of the upper coil against the lower one.

    Returns
    -------
    distance, depth : float, [m]
        From the foot, as the receiver takes straight down: leaning, it does not know better. The depth can
        be negative. Where the total field does not fall upwards the range is `NO_RANGE_M`, in the direction
        shown.

    Raises
    ------
    GeometryError
        If the arrays differ in length, a depth is not below ground, or the spacing is not positive.

    Notes
    -----
    Leaning by a degree turns the direction by a degree: from 5.8 m beside, 10 cm of depth.

    Examples
    --------
    One line in air, 3 m to the right and 1 m down:

    >>> shown = side_shown([3.0], [1.0], [0.01], stand=0.0, lower_coil_height=0.05, coil_spacing=0.4)
    >>> [round(v, 6) for v in shown]
    [3.0, 1.0]
    """
    e, d, c = image_lines(line_easting, line_depth, current)
    check_spacing(coil_spacing)
    return side_at(stand, lower_coil_height, coil_spacing, tilt, coil_error, e, d, c, len(e))
