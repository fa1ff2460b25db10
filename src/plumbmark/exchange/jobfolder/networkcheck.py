"""What can only be seen with a whole network on the table: names that lead nowhere, loose ends."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Final

from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.files import NETWORK
from plumbmark.exchange.jobfolder.jobtoml import listed
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.model.job import Hookup
from plumbmark.model.network import Conductor, Connection, EndKind, Network
from plumbmark.physics.transmission import quasi_tem_limit

#: A tee's end lies on the conductor it names, within this [m].
TEE_REACH_M: Final = 0.5
#: A stake nearer to a line than the first is warned of, nearer than the second it stands on the line [m].
STAKE_OFF_M: Final = 1.0
STAKE_ON_M: Final = 0.3
#: A coil for induction nearer to the centre of a line than this lies on it [m].
COIL_OFF_M: Final = 0.1


def check_network(network: Network, lines: Mapping[str, None], remarks: Remarks) -> None:
    """Tell of everything in a network that cannot be, and of what is odd.

    Parameters
    ----------
    network : Network
    lines : mapping
        Ids of the job's lines.
    remarks : Remarks
    """
    by_id = {c.id: c for c in network.conductors}
    where = f"{NETWORK} [network] target"
    if network.target not in by_id:
        remarks.error(where, f"{shown(network.target)} is no conductor of this network{listed(by_id)}")
    for number, conductor in enumerate(network.conductors, start=1):
        _check_conductor(conductor, by_id, lines, f"{NETWORK} [[conductors]] {number}", remarks)
    for number, bond in enumerate(network.bonds, start=1):
        path = f"{NETWORK} [[bonds]] {number}"
        first = _check_on(bond.conductor, bond.at_m, by_id, path, ("conductor", "at_m"), remarks)
        second = _check_on(bond.other, bond.other_at_m, by_id, path, ("other", "other_at_m"), remarks)
        if first and second and bond.conductor == bond.other and abs(bond.at_m - bond.other_at_m) < 0.01:
            remarks.error(path, f"joins {bond.conductor} to itself in one place")
    for number, ground in enumerate(network.grounds, start=1):
        path = f"{NETWORK} [[grounds]] {number}"
        _check_on(ground.conductor, ground.at_m, by_id, path, ("conductor", "at_m"), remarks)
    _check_stakes(network, remarks)
    if not network.connections:
        remarks.error(
            f"{NETWORK} [[connections]]", "is missing (a plan compares one way to connect at least)"
        )
    for number, connection in enumerate(network.connections, start=1):
        _check_connection(network, connection, by_id, f"{NETWORK} [[connections]] {number}", remarks)
    if not remarks.failed:
        _check_return(network, remarks)
        _check_band(network, remarks)


def _check_conductor(
    conductor: Conductor, by_id: dict[str, Conductor], lines: Mapping[str, None], path: str, remarks: Remarks
) -> None:
    if conductor.line is not None and lines and conductor.line not in lines:
        remarks.error(f"{path} line", f"{shown(conductor.line)} is no line of this job{listed(lines)}")
    for name, end, vertex in (
        ("start", conductor.start, conductor.vertices_m[0]),
        ("end", conductor.end, conductor.vertices_m[-1]),
    ):
        if end.kind is not EndKind.TEE or end.on is None:
            continue
        if end.on not in by_id or end.on == conductor.id:
            what = f"{shown(end.on)} is no other conductor of this network{listed(by_id)}"
            remarks.error(f"{path} {name}_on", what)
            continue
        apart = off_line_m(by_id[end.on], vertex[0], vertex[1])
        if apart > TEE_REACH_M:
            what = (
                f"is a loose end: the {name} lies {apart:.2f} m from {end.on}, and a tee lies on its line "
                f"(within {TEE_REACH_M:g} m)"
            )
            remarks.error(f"{path} {name}_on", what)


def _check_on(
    ident: str, at_m: float, by_id: dict[str, Conductor], path: str, names: tuple[str, str], remarks: Remarks
) -> bool:
    if ident not in by_id:
        remarks.error(f"{path} {names[0]}", f"{shown(ident)} is no conductor of this network{listed(by_id)}")
        return False
    length = by_id[ident].length_m
    if at_m > length + 1e-3:
        remarks.error(f"{path} {names[1]}", f"{at_m:g} m is past the end of {ident}, {length:.2f} m long")
        return False
    return True


def _check_stakes(network: Network, remarks: Remarks) -> None:
    for number, stake in enumerate(network.stakes, start=1):
        path = f"{NETWORK} [[stakes]] {number}"
        if stake.length_m < 4.0 * stake.radius_m:
            remarks.error(f"{path} length_m", f"{stake.length_m:g} m is no longer than it is thick")
        for conductor in network.conductors:
            apart = off_line_m(conductor, stake.easting_m, stake.northing_m)
            if apart >= STAKE_OFF_M:
                continue
            what = (
                f"the stake stands {apart:.2f} m from {conductor.id}: keep {STAKE_OFF_M:g} m off every line, "
                "it may be driven through one"
            )
            if apart < STAKE_ON_M:
                remarks.error(f"{path} easting_m", what)
            else:
                remarks.warn(f"{path} easting_m", what)
        for other in network.stakes[: number - 1]:
            if math.dist((stake.easting_m, stake.northing_m), (other.easting_m, other.northing_m)) < 0.05:
                remarks.error(f"{path} easting_m", f"stands in one place with stake {other.id}")


def _check_connection(
    network: Network, connection: Connection, by_id: dict[str, Conductor], path: str, remarks: Remarks
) -> None:
    needs = {
        Hookup.DIRECT: ("conductor", "at_m", "stake"),
        Hookup.CLAMP: ("conductor", "at_m"),
        Hookup.INDUCTION: ("easting_m", "northing_m", "bearing_deg"),
    }[connection.kind]
    missing = [name for name in needs if getattr(connection, name) is None]
    for name in missing:
        remarks.error(f"{path} {name}", f"is missing, and hookup is {connection.kind.value}")
    for name in ("conductor", "at_m", "stake", "easting_m", "northing_m", "bearing_deg"):
        if name not in needs and getattr(connection, name) is not None:
            remarks.warn(f"{path} {name}", f"says nothing where hookup is {connection.kind.value}")
    if missing:
        return
    if connection.conductor is not None and connection.at_m is not None:
        _check_on(connection.conductor, connection.at_m, by_id, path, ("conductor", "at_m"), remarks)
    stakes = dict.fromkeys(stake.id for stake in network.stakes)
    if connection.stake is not None and connection.stake not in stakes:
        remarks.error(
            f"{path} stake", f"{shown(connection.stake)} is no stake of this network{listed(stakes)}"
        )
    if connection.easting_m is None or connection.northing_m is None:
        return
    for conductor in network.conductors:
        apart = off_line_m(conductor, connection.easting_m, connection.northing_m)
        shallow = min(depth for _, _, depth in conductor.vertices_m)
        if math.hypot(apart, connection.height_m + shallow) < COIL_OFF_M:
            remarks.error(f"{path} height_m", f"the coil lies on {conductor.id}: raise it")


def _check_return(network: Network, remarks: Remarks) -> None:
    """A clamp drives nothing round an end that is open and joined to nothing."""
    hung = {(b.conductor, round(b.at_m, 3)) for b in network.bonds}
    hung |= {(b.other, round(b.other_at_m, 3)) for b in network.bonds}
    hung |= {(g.conductor, round(g.at_m, 3)) for g in network.grounds}
    for number, connection in enumerate(network.connections, start=1):
        if connection.kind is not Hookup.CLAMP or connection.conductor is None or connection.at_m is None:
            continue
        conductor = network.conductor(connection.conductor)
        for end, at in ((conductor.start, 0.0), (conductor.end, conductor.length_m)):
            here = abs(connection.at_m - at) < 1e-3
            if here and end.kind is EndKind.OPEN and (conductor.id, round(at, 3)) not in hung:
                what = f"the clamp is round the open end of {conductor.id}, where no current can flow"
                remarks.error(f"{NETWORK} [[connections]] {number} at_m", what)


def _check_band(network: Network, remarks: Remarks) -> None:
    deepest = max(v[2] for c in network.conductors for v in c.vertices_m)
    top = quasi_tem_limit(network.resistivity_ohm_m, deepest)
    if min(network.frequencies_hz) > top:
        what = (
            f"all lie above {top:.3g} Hz, up to which lines {deepest:g} m deep in soil of "
            f"{network.resistivity_ohm_m:g} ohm m can be worked out: give a lower one"
        )
        remarks.error(f"{NETWORK} [transmitter] frequencies_hz", what)


def off_line_m(conductor: Conductor, easting_m: float, northing_m: float) -> float:
    """Distance in plan from a place to a conductor [m]."""
    best = math.inf
    for a, b in pairwise(conductor.vertices_m):
        run = (b[0] - a[0], b[1] - a[1])
        t = ((easting_m - a[0]) * run[0] + (northing_m - a[1]) * run[1]) / (run[0] ** 2 + run[1] ** 2)
        t = min(max(t, 0.0), 1.0)
        best = min(best, math.hypot(a[0] + t * run[0] - easting_m, a[1] + t * run[1] - northing_m))
    return best
