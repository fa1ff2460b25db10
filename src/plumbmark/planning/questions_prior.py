"""What is taken of a site nobody knows: one table, each row with its reason, and sites drawn from it.

The person says what the line is made of, where a lead or a clamp can reach it, and what else is bonded to it.
All the rest is drawn. Unless a row names a source it is judgement from common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np

from plumbmark.model.conductors import conductor_kinds
from plumbmark.model.job import Hookup, Utility
from plumbmark.model.network import Bond, Conductor, Connection, End, EndKind, Network, Stake
from plumbmark.model.questions import Bonded, MadeOf, Reached


class Made(NamedTuple):
    """A kind of the library, the chance of a ground at the far end, its ohms, what it carries, the reason."""

    kind: str
    far_ground: float
    far_ohms: tuple[float, float]
    utility: Utility
    reason: str


MADE: Final[dict[MadeOf, Made]] = {
    MadeOf.PLASTIC_WITH_WIRE: Made(
        "copper-tracer-14", 0.35, (20.0, 300.0), Utility.UNKNOWN, "few tracer wires have a far-end ground"
    ),
    MadeOf.COPPER: Made(
        "copper-water-service",
        0.8,
        (1.0, 15.0),
        Utility.WATER,
        "a copper service mostly ends on a metal main",
    ),
    MadeOf.STEEL: Made(
        "steel-gas-service", 0.5, (2.0, 50.0), Utility.GAS, "half of the mains are bare, tied or protected"
    ),
    MadeOf.IRON: Made(
        "iron-water-main",
        0.6,
        (2.0, 40.0),
        Utility.WATER,
        "iron lies bare in the ground and goes on for long",
    ),
    MadeOf.ELECTRIC_CABLE: Made(
        "electric-service", 0.95, (2.0, 20.0), Utility.ELECTRIC, "a neutral is grounded at its transformer"
    ),
    MadeOf.PHONE_CABLE: Made(
        "telephone-cable", 0.8, (5.0, 80.0), Utility.COMMUNICATIONS, "screens are grounded at most pedestals"
    ),
}
#: Where the person does not know: chances of each material, by what is met in streets.
UNKNOWN_MADE: Final = {
    MadeOf.PLASTIC: 0.25,
    MadeOf.PLASTIC_WITH_WIRE: 0.25,
    MadeOf.COPPER: 0.2,
    MadeOf.STEEL: 0.15,
    MadeOf.IRON: 0.15,
}
#: Kind and ohms of the far ground of what is bonded: neutrals and water mains are good grounds.
BONDED: Final[dict[Bonded, tuple[str, tuple[float, float], Utility]]] = {
    Bonded.ELECTRIC: ("electric-service", (2.0, 15.0), Utility.ELECTRIC),
    Bonded.WATER: ("copper-water-service", (1.0, 10.0), Utility.WATER),
    Bonded.GAS: ("steel-gas-service", (3.0, 50.0), Utility.GAS),
    Bonded.PHONE: ("telephone-cable", (5.0, 80.0), Utility.COMMUNICATIONS),
}
BONDED_UNSAID: Final = 0.35  # chance of each where the person does not know what is bonded
SOIL_MEDIAN, SOIL_FACTOR = 60.0, 3.0  # as a solve takes it where the job says nothing of soil
LENGTH_M: Final = (15.0, 120.0)  # evenly in its logarithm: a service to a stretch of street
DEPTH_M: Final = (0.5, 1.2)  # cover rules ask for half a metre to a metre
COATING_FACTOR: Final = 10.0  # new to old: a tenth of the library's resistance to ten times
STRANGERS: Final = 1.2  # mean number of other lines near it that are bonded to nothing
OFFSET_M: Final = (0.4, 4.0)  # joint trench to across the verge
KNOWN_SIDE: Final = 0.75  # other lines are where their fittings let one think they are, that often
BESIDE: Final = 0.5  # what is bonded runs along the line that often, else it leaves at an angle
STAKE_M: Final = 9.144  # 30 ft, about the reach of a lead
_STRANGER_KINDS: Final = ("telephone-cable", "coaxial-cable", "copper-water-service", "steel-gas-service")


def draw_site(
    rng: np.random.Generator, made_of: MadeOf, reached: tuple[Reached, ...], bonded: tuple[Bonded, ...]
) -> Network | None:
    """One site that the answers fit, with every connection to be tried; None where nothing of it is metal.

    Parameters
    ----------
    rng : numpy.random.Generator
    made_of : MadeOf
    reached : tuple of Reached
    bonded : tuple of Bonded

    Returns
    -------
    Network or None
        The line runs east from where it is reached; what is known to be near it lies on its north.
    """
    if made_of is MadeOf.UNKNOWN:
        names = list(UNKNOWN_MADE)
        made_of = names[rng.choice(len(names), p=list(UNKNOWN_MADE.values()))]
    if made_of is MadeOf.PLASTIC:
        return None
    made = MADE[made_of]
    length, depth = _spread(rng, LENGTH_M), rng.uniform(*DEPTH_M)
    kind = conductor_kinds()[made.kind]
    aged = replace(kind, coating_ohm_m2=kind.coating_ohm_m2 * COATING_FACTOR ** rng.uniform(-1.0, 1.0))
    far = End(EndKind.GROUNDED, _spread(rng, made.far_ohms)) if rng.uniform() < made.far_ground else End()
    vertices = ((0.0, 0.0, depth), (length, 0.0, depth + rng.uniform(-0.1, 0.1)))
    target = Conductor("line", aged, vertices, end=far, utility=made.utility)
    conductors, bonds = [target], []
    for name in _what_is_bonded(rng, bonded):
        other, at = _bonded_line(rng, name, length)
        conductors.append(other)
        bonds.append(Bond(f"bond-{name.value}", "line", at, other.id, 0.0, _spread(rng, (0.02, 1.0))))
    for number in range(rng.poisson(STRANGERS)):
        conductors.append(_stranger(rng, number, length))
    direct = made_of is not MadeOf.ELECTRIC_CABLE
    return Network(
        id="",
        target="line",
        conductors=tuple(conductors),
        bonds=tuple(bonds),
        stakes=_stakes(length, conductors, reached),
        connections=_connections(length, reached, direct=direct),
        resistivity_ohm_m=float(SOIL_MEDIAN * SOIL_FACTOR ** rng.normal()),
    )


def _spread(rng: np.random.Generator, ends: tuple[float, float]) -> float:
    """Evenly in the logarithm."""
    return float(math.exp(rng.uniform(math.log(ends[0]), math.log(ends[1]))))


def _what_is_bonded(rng: np.random.Generator, bonded: tuple[Bonded, ...]) -> list[Bonded]:
    if Bonded.UNKNOWN in bonded:
        said = [b for b in bonded if b in BONDED]
        return said + [b for b in BONDED if b not in said and rng.uniform() < BONDED_UNSAID]
    return [b for b in bonded if b in BONDED]


def _bonded_line(rng: np.random.Generator, name: Bonded, length: float) -> tuple[Conductor, float]:
    """A line bonded to the target at one end of it; it starts there and goes to a ground of its own."""
    kind, ohms, utility = BONDED[name]
    at = 0.0 if rng.uniform() < 0.5 else length
    inward = 1.0 if at == 0.0 else -1.0
    side = 1.0 if rng.uniform() < KNOWN_SIDE else -1.0
    offset, reach = rng.uniform(*OFFSET_M) * side, _spread(rng, (10.0, 60.0))
    depth = rng.uniform(0.4, 1.2)
    if rng.uniform() < BESIDE:
        end = (at + inward * reach, offset)
    else:
        angle = rng.uniform(math.radians(40.0), math.radians(140.0))
        end = (at + inward * reach * math.cos(angle), offset + side * reach * math.sin(angle))
    vertices = ((at, offset, depth), (*end, depth))
    ground = End(EndKind.GROUNDED, _spread(rng, ohms))
    return Conductor(name.value, conductor_kinds()[kind], vertices, end=ground, utility=utility), at


def _stranger(rng: np.random.Generator, number: int, length: float) -> Conductor:
    """A line near the target that is bonded to nothing, along it or across."""
    kind = conductor_kinds()[_STRANGER_KINDS[rng.integers(len(_STRANGER_KINDS))]]
    side = 1.0 if rng.uniform() < KNOWN_SIDE else -1.0
    offset, depth = rng.uniform(*OFFSET_M) * side, rng.uniform(0.4, 1.2)
    ends = [End(EndKind.GROUNDED, _spread(rng, (3.0, 100.0))) for _ in range(2)]
    if rng.uniform() < 0.7:
        start = rng.uniform(-15.0, 0.5 * length)
        places = ((start, offset), (start + _spread(rng, (15.0, 80.0)), offset + rng.uniform(-0.5, 0.5)))
    else:
        at, slant = rng.uniform(0.0, length), rng.uniform(-8.0, 8.0)
        places = ((at - slant, -12.0), (at + slant, 15.0))
    vertices = tuple((*place, depth + 0.13 * (number + 1)) for place in places)
    return Conductor(f"other{number}", kind, vertices, ends[0], ends[1])


#: Where the stake goes, seen from where the line is reached (at the origin): metres east and north.
STAKES: Final = {
    "square-away": (0.0, -STAKE_M),
    "square-toward": (0.0, STAKE_M),
    "in-line": (-STAKE_M, 0.4),
    "square-near": (0.0, -1.8288),
}


def _stakes(length: float, conductors: list[Conductor], reached: tuple[Reached, ...]) -> tuple[Stake, ...]:
    places = [("end", 0.0)] if Reached.END in reached else []
    places += [("middle", 0.5 * length)] if Reached.MIDDLE in reached else []
    return tuple(
        Stake(f"{place}-{name}", at + east, north)
        for place, at in places
        for name, (east, north) in STAKES.items()
    )


def _connections(length: float, reached: tuple[Reached, ...], *, direct: bool) -> tuple[Connection, ...]:
    """Every way the answers allow; electric cables are never connected to directly."""
    found = []
    for place, at in ((Reached.END, 0.0), (Reached.MIDDLE, 0.5 * length)):
        if place in reached and direct:
            found += [
                Connection(f"direct-{place.value}-{name}", Hookup.DIRECT, "line", at, f"{place.value}-{name}")
                for name in STAKES
            ]
    if Reached.CLAMP in reached or (not direct and Reached.NOWHERE not in reached):
        found.append(Connection("clamp", Hookup.CLAMP, "line", min(1.0, 0.1 * length)))
    coil = Connection(
        "induction", Hookup.INDUCTION, easting_m=0.15 * length, northing_m=0.0, height_m=0.3, bearing_deg=90.0
    )
    return (*found, coil)
