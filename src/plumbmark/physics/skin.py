"""Skin depth: how far a field gets into conducting ground."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.compiled import kernel
from plumbmark.base.constants import MU_0
from plumbmark.base.errors import GeometryError


@kernel
def inverse_skin_depth(frequency_hz: float, resistivity: float) -> float:
    """One over the skin depth [1/m], 0 in air (resistivity infinite) and for direct current."""
    return math.sqrt(math.pi * frequency_hz * MU_0 / resistivity)


def skin_depth(frequency_hz: ArrayLike, resistivity: ArrayLike) -> NDArray[np.float64] | np.float64:
    r"""Depth at which a plane wave in the ground has fallen to 1/e.

    Parameters
    ----------
    frequency_hz : float or array, [Hz], above 0
    resistivity : float or array, same or broadcast shape, [ohm m], above 0

    Returns
    -------
    float or array, broadcast shape, [m]

    Raises
    ------
    GeometryError
        If a frequency or a resistivity is not above 0.

    Notes
    -----
    :math:`\delta = \sqrt{2\rho / \omega\mu_0} = 503.292 \sqrt{\rho / f}`, for soil of the permeability of
    free space, displacement current left out: good while :math:`\omega \varepsilon \rho \ll 1`. At 100 kHz
    with 1000 ohm m and relative permittivity 10 that product is 0.06, the largest in our trade.

    Examples
    --------
    100 ohm m at 10 kHz: 503.3 m / 10.

    >>> round(float(skin_depth(10e3, 100.0)), 2)
    50.33
    """
    frequency, rho = np.asarray(frequency_hz, float), np.asarray(resistivity, float)
    if not (np.all(frequency > 0) and np.all(rho > 0)):
        raise GeometryError("skin depth needs a frequency and a resistivity above 0")
    depth: NDArray[np.float64] | np.float64 = np.sqrt(rho / (math.pi * frequency * MU_0))
    return depth
