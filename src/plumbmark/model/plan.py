"""What a hook-up plan says: each way to connect, at each frequency, and what a receiver would show then."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from plumbmark.model.finding import Finding
from plumbmark.model.network import Connection, Network


class Limit(StrEnum):
    """What holds a transmitter back; `MOMENT` is that of its coil."""

    VOLTAGE = "voltage"
    CURRENT = "current"
    POWER = "power"
    MOMENT = "moment"


@dataclass(frozen=True, slots=True)
class PlanStation:
    """One place over the target. `shift_m` is of the peak, to the right of increasing chainage.

    `shown_depth_m` is what the display shows at the peak; `followed` and `holds` say whether the signal can
    be traced there, and whether mark and displayed depth are within 10 cm and 10 % of the line.
    """

    chainage_m: float
    easting_m: float
    northing_m: float
    depth_m: float
    current_a: float
    shift_m: float
    shown_depth_m: float
    followed: bool
    holds: bool


@dataclass(frozen=True, slots=True)
class Trial:
    """One connection at one frequency.

    `traceable_m` and `holds_m` are from and to chainage of the stretch that reaches out from the connection
    without a gap, None where it fails at once. `times_off` is the median over the stations that can be traced
    of how far mark or depth, whichever is worse, is off against what `holds` allows: 1 just holds; None where
    nothing can be traced. `other_currents_a` is the largest current on each other conductor;
    `share_on_others` the part of all current, times length, that is not on the target.
    """

    connection: Connection
    frequency_hz: float
    given_a: float | None
    given_v: float | None
    limit: Limit
    stations: tuple[PlanStation, ...]
    traceable_m: tuple[float, float] | None
    holds_m: tuple[float, float] | None
    times_off: float | None
    share_on_others: float
    other_currents_a: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Change:
    """Something to change, worked out by trying it: words, and what the best trial became."""

    words: str
    trial: Trial


@dataclass(frozen=True, slots=True)
class HookupPlan:
    """The answer: `ranked` holds the best frequency of each connection, best first; `trials` all of them."""

    network: Network
    ranked: tuple[Trial, ...]
    trials: tuple[Trial, ...]
    changes: tuple[Change, ...]
    warnings: tuple[Finding, ...] = ()
