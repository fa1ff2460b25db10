"""What lies buried and how it hangs together: the model a hook-up plan is computed from.

Lengths in metres, SI throughout; field names end in their unit. Chainage counts from the first vertex.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise

from plumbmark.model.job import Hookup


class EndKind(StrEnum):
    """What becomes of a conductor at its end."""

    OPEN = "open"
    GROUNDED = "grounded"
    TEE = "tee"


@dataclass(frozen=True, slots=True)
class ConductorKind:
    """One row of the library of conductors: the metal that carries the signal, and what is around it.

    `wall_m` None is a solid wire; `coating_m` None is bare metal. `coating_ohm_m2` is the resistance of a
    square metre of coating in the ground, its flaws included; `joint_ohm_per_m` what joints add.
    """

    id: str
    words: str
    radius_m: float
    wall_m: float | None
    resistivity_ohm_m: float
    relative_permeability: float
    coating_m: float | None
    relative_permittivity: float
    coating_ohm_m2: float
    joint_ohm_per_m: float
    source: str

    @property
    def outer_radius_m(self) -> float:
        """Radius over the coating."""
        return self.radius_m + (self.coating_m or 0.0)


@dataclass(frozen=True, slots=True)
class End:
    """An end of a conductor: open, grounded through `resistance_ohm` (None: a rod), or a tee on another."""

    kind: EndKind = EndKind.OPEN
    resistance_ohm: float | None = None
    on: str | None = None


@dataclass(frozen=True, slots=True)
class Conductor:
    """A run of one kind of conductor; vertices are (easting, northing, depth)."""

    id: str
    kind: ConductorKind
    vertices_m: tuple[tuple[float, float, float], ...]
    start: End = End()
    end: End = End()
    line: str | None = None
    utility: str = "unknown"

    @property
    def chainages_m(self) -> tuple[float, ...]:
        """Of the vertices, in plan."""
        found = [0.0]
        for a, b in pairwise(self.vertices_m):
            found.append(found[-1] + math.dist(a[:2], b[:2]))
        return tuple(found)

    @property
    def length_m(self) -> float:
        """In plan."""
        return self.chainages_m[-1]

    def point_at(self, chainage_m: float) -> tuple[float, float, float]:
        """Easting, northing and depth at a chainage; beyond an end, the end."""
        marks = self.chainages_m
        s = min(max(chainage_m, 0.0), marks[-1])
        k = next((i for i in range(1, len(marks) - 1) if marks[i] >= s), len(marks) - 1)
        a, b = self.vertices_m[k - 1], self.vertices_m[k]
        t = (s - marks[k - 1]) / (marks[k] - marks[k - 1])
        return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), a[2] + t * (b[2] - a[2]))


@dataclass(frozen=True, slots=True)
class Bond:
    """A joint of two conductors: a wire, a clamp, a common ground bar."""

    id: str
    conductor: str
    at_m: float
    other: str
    other_at_m: float
    resistance_ohm: float = 0.0


@dataclass(frozen=True, slots=True)
class Ground:
    """A rod or a ground system that a conductor is tied to part way; `resistance_ohm` None: a rod."""

    id: str
    conductor: str
    at_m: float
    resistance_ohm: float | None = None


@dataclass(frozen=True, slots=True)
class Stake:
    """A place where the transmitter's ground stake can be driven."""

    id: str
    easting_m: float
    northing_m: float
    length_m: float = 0.4
    radius_m: float = 0.006


@dataclass(frozen=True, slots=True)
class Connection:
    """One way to put the signal on; `bearing_deg` is of the line that an induction coil is set along."""

    id: str
    kind: Hookup
    conductor: str | None = None
    at_m: float | None = None
    stake: str | None = None
    easting_m: float | None = None
    northing_m: float | None = None
    height_m: float = 0.5
    bearing_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Transmitter:
    """What a transmitter can put out at most; `clamp_turns` is the ratio of its clamp."""

    voltage_v: float = 40.0
    power_w: float = 5.0
    current_a: float = 0.5
    clamp_turns: float = 10.0
    moment_a_m2: float = 5.0


@dataclass(frozen=True, slots=True)
class NetworkReceiver:
    """The receiver that will be walked with; `least_current_a` can just be followed 1 m below it."""

    lower_coil_height_m: float = 0.05
    coil_spacing_m: float = 0.40
    least_current_a: float = 2e-4


@dataclass(frozen=True, slots=True)
class Network:
    """Everything a hook-up plan is computed from."""

    id: str
    target: str
    conductors: tuple[Conductor, ...]
    bonds: tuple[Bond, ...] = ()
    grounds: tuple[Ground, ...] = ()
    stakes: tuple[Stake, ...] = ()
    connections: tuple[Connection, ...] = ()
    transmitter: Transmitter = Transmitter()
    receiver: NetworkReceiver = NetworkReceiver()
    resistivity_ohm_m: float = 60.0
    resistivity_known: bool = False
    frequencies_hz: tuple[float, ...] = field(default=(500.0, 1e3, 3e3, 1e4, 3.3e4, 8e4))
    display_units: str = "m"

    def conductor(self, ident: str) -> Conductor:
        """The conductor of that id."""
        return next(c for c in self.conductors if c.id == ident)
