"""Three questions before a hook-up, the answers they can have, and what they lead to."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class MadeOf(StrEnum):
    """What the line is made of, as the person can know it."""

    PLASTIC = "plastic"
    PLASTIC_WITH_WIRE = "plastic-with-wire"
    COPPER = "copper"
    STEEL = "steel"
    IRON = "iron"
    ELECTRIC_CABLE = "electric-cable"
    PHONE_CABLE = "phone-cable"
    UNKNOWN = "unknown"


class Reached(StrEnum):
    """Where a lead or a clamp gets at the line."""

    END = "end"
    MIDDLE = "middle"
    CLAMP = "clamp"
    NOWHERE = "nowhere"


class Bonded(StrEnum):
    """What else is joined to it."""

    ELECTRIC = "electric"
    WATER = "water"
    GAS = "gas"
    PHONE = "phone"
    NOTHING = "nothing"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Option:
    """One way to connect at one frequency, over the sites with metal in them.

    `traced` and `holds` are the mean shares of the line that can be traced, and over which mark and depth
    hold; `works` the share of sites on which at least half of the line can be traced.
    """

    connection: str
    frequency_hz: float
    traced: float
    holds: float
    works: float
    on_others: float
    given_a: float | None

    @property
    def merit(self) -> float:
        """What options are chosen by: tracing first, holding half as much."""
        return self.traced + 0.5 * self.holds


@dataclass(frozen=True, slots=True)
class Advice:
    """What the three answers lead to; `options` best first, empty where no line of metal is to be had."""

    made_of: MadeOf
    reached: tuple[Reached, ...]
    bonded: tuple[Bonded, ...]
    options: tuple[Option, ...]
    metal: float
    sites: int

    def option(self, connection: str, frequency_hz: float | None = None) -> Option | None:
        """The best option of a connection, or the one at a frequency."""
        found = [
            o for o in self.options if o.connection == connection and frequency_hz in (None, o.frequency_hz)
        ]
        return found[0] if found else None
