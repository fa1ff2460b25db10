"""Constants of nature and of geometry, each told once."""

from __future__ import annotations

import math
from typing import Final

#: Permeability of free space and of soil [H/m]: 4 pi 1e-7, as before 2019; measured since, 1e-10 from it.
MU_0: Final = 4e-7 * math.pi

#: Flux density of a long straight line times distance over current [T m / A].
MU_0_OVER_2PI: Final = 2e-7
