"""Places given along a baseline: station from its start, offset to its right."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def from_baseline(
    station_m: ArrayLike,
    offset_m: ArrayLike,
    *,
    start: tuple[float, float],
    end: tuple[float, float],
) -> tuple[FloatArray, FloatArray]:
    r"""Grid coordinates of places along a baseline.

    Parameters
    ----------
    station_m : array_like, shape (n,), [m]
        From the start towards the end; may lie before the one and beyond the other.
    offset_m : array_like, shape (n,), [m]
        Square to the baseline, positive to the right of start to end.
    start, end : tuple of float, [m]
        Easting and northing.

    Returns
    -------
    easting_m, northing_m : float array, shape (n,), [m]

    Raises
    ------
    ValueError
        If start and end are one point.

    Notes
    -----
    With the unit vector :math:`(t_e, t_n)` along, right is :math:`(t_n, -t_e)`. Grid lengths count as
    ground lengths: over a baseline of 100 m the scale of a UTM zone makes 4 cm at most.

    Examples
    --------
    A baseline running north: 3 m along it, 1 m to the right is 1 m east.

    >>> e, n = from_baseline(3.0, 1.0, start=(0.0, 0.0), end=(0.0, 10.0))
    >>> float(e), float(n)
    (1.0, 3.0)
    """
    run = np.subtract(end, start).astype(float)
    length = float(np.hypot(*run))
    if not length > 0.0:
        raise ValueError("a baseline needs a start and an end that differ")
    along_e, along_n = run / length
    station, offset = np.asarray(station_m, float), np.asarray(offset_m, float)
    return (
        start[0] + station * along_e + offset * along_n,
        start[1] + station * along_n - offset * along_e,
    )
