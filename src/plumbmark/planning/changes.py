"""What could be changed about a hook-up: networks to try, and the words for each."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from plumbmark.base.spoken import spoken_length
from plumbmark.model.job import Hookup
from plumbmark.model.network import Connection, End, EndKind, Network, Stake
from plumbmark.model.plan import Trial
from plumbmark.planning.runs import foot_on

#: How far off a stake is tried [m], and how near to a line one is never driven.
STAKE_REACH_M: Final = (5.0, 10.0, 20.0)
STAKE_NEAREST_M: Final = 1.0


def changes_to_try(network: Network, best: Trial) -> Iterator[tuple[str, str, Network]]:
    """Networks with one thing changed, and what it is in words.

    Parameters
    ----------
    network : Network
    best : Trial
        The best of what is there.

    Yields
    ------
    sort : str
        Changes of one sort are told once, the best of them.
    words : str
    network : Network
        With the connection to try and no other.
    """
    only = replace(network, connections=(best.connection,), frequencies_hz=network.frequencies_hz)
    if best.connection.kind is Hookup.DIRECT:
        yield from _stakes(only, best.connection)
    yield from _far_end(only)
    yield from _bonds(only)


def _stakes(network: Network, connection: Connection) -> Iterator[tuple[str, str, Network]]:
    """The stake on either side, square to the line, at some distances."""
    assert connection.conductor is not None
    assert connection.at_m is not None
    conductor = network.conductor(connection.conductor)
    here = conductor.point_at(connection.at_m)
    heading = heading_at(network, connection.conductor, connection.at_m)
    for side, word in ((1.0, "right"), (-1.0, "left")):
        for reach in STAKE_REACH_M:
            east = here[0] + side * reach * math.cos(heading)
            north = here[1] - side * reach * math.sin(heading)
            if nearest_line_m(network, east, north) < STAKE_NEAREST_M:
                continue
            stake = Stake("tried", east, north)
            moved = replace(connection, stake="tried")
            said = spoken_length(reach, network.display_units)
            words = (
                f"drive the stake {said} off, square to {connection.conductor}, on the {word} "
                f"as its chainage counts (near easting {east:.1f}, northing {north:.1f})"
            )
            yield "stake", words, replace(network, stakes=(*network.stakes, stake), connections=(moved,))


def _far_end(network: Network) -> Iterator[tuple[str, str, Network]]:
    """An open end of the target, grounded."""
    target = network.conductor(network.target)
    for name in ("start", "end"):
        end: End = getattr(target, name)
        if end.kind is EndKind.OPEN and not _is_connected_at(network, target.id, name):
            grounded = End(EndKind.GROUNDED)
            changed = replace(target, start=grounded) if name == "start" else replace(target, end=grounded)
            others = tuple(changed if c.id == target.id else c for c in network.conductors)
            at = target.point_at(0.0 if name == "start" else target.length_m)
            words = (
                f"ground the far end of {target.id} (near easting {at[0]:.1f}, northing {at[1]:.1f}), if it "
                "can be reached and its owner agrees"
            )
            yield "far end", words, replace(network, conductors=others)


def _is_connected_at(network: Network, conductor: str, end: str) -> bool:
    at = 0.0 if end == "start" else network.conductor(conductor).length_m
    return any(
        c.conductor == conductor and c.at_m is not None and abs(c.at_m - at) < 1.0
        for c in network.connections
    )


def _bonds(network: Network) -> Iterator[tuple[str, str, Network]]:
    """Each bond away: never for the crew to do."""
    for bond in network.bonds:
        words = (
            f"ask the owner's qualified people whether they can disconnect bond {bond.id} between "
            f"{bond.conductor} and {bond.other} while you trace; do not touch it yourself"
        )
        yield "bond", words, replace(network, bonds=tuple(b for b in network.bonds if b is not bond))


def heading_at(network: Network, conductor: str, at_m: float) -> float:
    """Bearing of a conductor at a chainage, clockwise from north [rad]."""
    line = network.conductor(conductor)
    a = line.point_at(max(at_m - 0.5, 0.0))
    b = line.point_at(min(at_m + 0.5, line.length_m))
    return math.atan2(b[0] - a[0], b[1] - a[1])


def nearest_line_m(network: Network, easting_m: float, northing_m: float) -> float:
    """Distance in plan from a place to the nearest conductor [m]."""
    return min(foot_on(c, (easting_m, northing_m))[1] for c in network.conductors)
