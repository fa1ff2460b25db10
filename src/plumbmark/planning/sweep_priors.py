"""What is taken of a sweep where the job says nothing: one table, each row with its reason.

All of it is common practice or judgement, no source, unless a line says otherwise. What a job states in
`[sweep]` and `[[searches]]` goes before this.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from plumbmark.model.sweep import Antenna, SearchMethod

MARGIN_M: Final = 1.0  # a tolerance zone and a bucket's width: lines that pass this near matter to the dig
SPACING_M: Final = 1.5  # a line midway is then no farther off than it is deep, mostly
REACH_M: Final = 4.0  # services bend, tee and end: a line is counted on to run straight only this far
CARRIED_M: Final = 0.10  # the foot of the receiver swings this high when walking
COIL_M: Final = 0.075  # lower coil above the foot, receiver not given: middle of the file contract's range
ANTENNA: Final = Antenna.ONE_AXIS  # misses lines that it is walked along: nothing is promised too much
DETECTION_SIGMA_FACTOR: Final = 1.5  # ears, display, hum of the place: the same walker on another day
ALWAYS: Final = 1.645  # standard deviations that one tail of 1 in 20 lies off: "19 times in 20"
LEAST_DEPTHS_M: Final = (0.5, 1.0, 1.5)  # a service, the usual cover, a deep one
SWEPT_SIGNAL: Final = 0.5  # of that straight above: from here a line of any direction is well heard
ROUND_OFF_M: Final = 0.6  # of the last round from the edge of the dig: two feet, a step aside


class Carried(NamedTuple):
    """Least current noticed 1 m off every other time; what lines carry, and one sigma of it as a factor."""

    threshold_a: float
    current_a: float
    current_sigma_factor: float
    reason: str


#: A long line of 1 mA makes 0.2 nT at 1 m (Biot and Savart).
SEARCHED: Final[dict[SearchMethod, Carried]] = {
    SearchMethod.PASSIVE_POWER: Carried(
        0.020,
        0.100,
        5.0,
        "a cable shows only what does not come back in it, a hundredth to a tenth of a few amperes, and "
        "streets hum at a few nanotesla, what 20 mA makes at 1 m",
    ),
    SearchMethod.PASSIVE_RADIO: Carried(
        0.00002,
        0.00003,
        4.0,
        "a distant transmitter's field of 1 mV/m at 20 kHz, its wave tilt over soil of 60 ohm m, and 0.25 "
        "ohm a metre of buried wire make 0.03 mA, and the wave itself hides what is below 0.02 mA at 1 m",
    ),
    SearchMethod.ACTIVE: Carried(
        0.0002,
        0.002,
        4.0,
        "a transmitter standing on the ground puts a milliampere or a few on lines near it, and tenths of "
        "one are what a walker still takes for a line",
    ),
}
