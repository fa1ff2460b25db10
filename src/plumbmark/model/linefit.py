"""What the current read along a line says of it: soil, coating, far ends, and what the sketch lacks."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from plumbmark.model.estimate import Interval

FLOATS = NDArray[np.float64]


class Lack(StrEnum):
    """What a line has that its sketch has not."""

    NOTHING = "nothing"
    BRANCH = "branch"
    BROKEN = "broken"


@dataclass(frozen=True, slots=True)
class CurrentRun:
    """Currents read along a conductor under one connection.

    Attributes
    ----------
    connected_at_m : float, [m]
        Chainage of the connection.
    frequency_hz : float
    chainage_m, current_a : shape (n,)
        Of the readings; a current of nan was looked for and not there.
    """

    connected_at_m: float
    frequency_hz: float
    chainage_m: FLOATS
    current_a: FLOATS


@dataclass(frozen=True, slots=True)
class LineFit:
    """The fit of one conductor.

    `chances` of each lack add up to 1; `position_m` is where the likelier of branch and break would be, the
    ends 19 times in 20, whatever its chance. The other intervals are of the likeliest lack. `fits_to` is the
    typical misfit of the currents, as a part of them.
    """

    conductor: str
    chances: dict[Lack, float]
    position_m: dict[Lack, Interval]
    resistivity_ohm_m: Interval
    coating_factor: Interval
    start_ohm: Interval
    end_ohm: Interval
    fits_to: float
    runs: tuple[CurrentRun, ...]

    @property
    def likeliest(self) -> Lack:
        """The lack with the greatest chance."""
        return max(self.chances, key=lambda lack: self.chances[lack])
