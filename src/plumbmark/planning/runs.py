"""Conductors cut into sections: straight, between nodes, and side by side with those that run along.

A leg is a straight piece between two vertices. Legs that run along each other within reach are one group,
and all legs of a group are cut at the same places along its axis: each interval of the axis is then a
bundle of sections side by side. Nodes are cut points of a conductor; those joined by a tee are one.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from plumbmark.model.job import Hookup
from plumbmark.model.network import Conductor, EndKind, Network

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

#: Sections are no longer than this [m]: the current then changes little along one, and a coil that stands
#: some metres off induces nearly evenly along it.
LONGEST_SECTION_M = 8.0
#: Legs closer than this angle run along each other: the cosine is within 1 % of 1 [rad].
ALONG_RAD = 0.14
#: And no farther apart than this across [m]: at 12 m a coupling is a sixth of a line's own impedance.
ALONG_M = 12.0
_SAME_M = 1e-3


@dataclass(frozen=True, slots=True)
class Leg:
    """A straight piece of a conductor between two vertices."""

    conductor: int
    start: FLOATS
    end: FLOATS
    chainage_m: float
    length_m: float
    cuts_m: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Runs:
    """Sections and nodes of a network.

    Attributes
    ----------
    conductor : shape (s,)
        Index of each section's conductor.
    start, end : shape (s, 3), [m]
        Easting, northing, up, along the axis of the section's group.
    from_node, to_node : shape (s,)
    from_chainage_m, to_chainage_m : shape (s,), [m]
        Of those nodes along the conductor; falling where the conductor runs against the axis.
    group, track : shape (s,)
        Group of each section, and the straight stretch of its conductor in that group.
    track_pieces : tuple of array, shape (k, 2, 3), [m]
        Ends of the legs of each track, along the axis of its group.
    bundles : tuple of index arrays
        Sections side by side, each section in one of them.
    nodes : int
        How many there are.
    node_of : mapping of (conductor, chainage rounded to the millimetre, upper) to node
        `upper` tells the two sides of a clamp.
    """

    conductor: INTS
    start: FLOATS
    end: FLOATS
    from_node: INTS
    to_node: INTS
    from_chainage_m: FLOATS
    to_chainage_m: FLOATS
    group: INTS
    track: INTS
    track_pieces: tuple[FLOATS, ...]
    bundles: tuple[INTS, ...]
    nodes: int
    node_of: dict[tuple[int, int, bool], int]

    @property
    def length_m(self) -> FLOATS:
        """Of each section."""
        return np.asarray(np.linalg.norm(self.end - self.start, axis=1))


def cut_runs(network: Network) -> Runs:
    """Cut a network into sections.

    Parameters
    ----------
    network : Network

    Returns
    -------
    Runs
    """
    numbers = {conductor.id: i for i, conductor in enumerate(network.conductors)}
    forced = _forced_cuts(network, numbers)
    clamps = {
        (numbers[c.conductor], _millimetres(c.at_m))
        for c in network.connections
        if c.kind is Hookup.CLAMP and c.conductor is not None and c.at_m is not None
    }
    legs = [leg for i, c in enumerate(network.conductors) for leg in _legs(i, c, forced[i])]
    names = _Nodes(clamps)
    columns: dict[str, list[float]] = defaultdict(list)
    places: list[tuple[FLOATS, FLOATS]] = []
    bundles: list[INTS] = []
    pieces_of: list[list[tuple[FLOATS, FLOATS]]] = []
    for number, members in enumerate(_groups(legs)):
        tracks = _tracks([legs[k] for k in members], pieces_of)
        for pieces in _cut_group([legs[k] for k in members]):
            bundle = []
            for leg, low, high in pieces:
                bundle.append(len(places))
                a, b = (leg.start + (leg.end - leg.start) * (s / leg.length_m) for s in (low, high))
                places.append((a, b))
                s0, s1 = leg.chainage_m + low, leg.chainage_m + high
                up = s1 > s0
                columns["conductor"].append(leg.conductor)
                columns["from"].append(names.at(leg.conductor, s0, upper=up))
                columns["to"].append(names.at(leg.conductor, s1, upper=not up))
                columns["from_chainage"].append(s0)
                columns["to_chainage"].append(s1)
                columns["group"].append(number)
                columns["track"].append(tracks[id(leg)])
            bundles.append(np.array(bundle))
    merged = names.merged(_tees(network, numbers))
    return Runs(
        conductor=np.array(columns["conductor"], int),
        start=np.array([a for a, _ in places]),
        end=np.array([b for _, b in places]),
        from_node=merged[np.array(columns["from"], int)],
        to_node=merged[np.array(columns["to"], int)],
        from_chainage_m=np.array(columns["from_chainage"]),
        to_chainage_m=np.array(columns["to_chainage"]),
        group=np.array(columns["group"], int),
        track=np.array(columns["track"], int),
        track_pieces=tuple(np.array(found) for found in pieces_of),
        bundles=tuple(bundles),
        nodes=int(merged.max()) + 1,
        node_of={key: int(merged[node]) for key, node in names.found.items()},
    )


def attachment(network: Network, runs: Runs, conductor: str, at_m: float) -> int:
    """Node that something joined to a conductor at a chainage hangs on."""
    i = next(k for k, c in enumerate(network.conductors) if c.id == conductor)
    key = (i, _millimetres(at_m))
    is_end = abs(at_m - network.conductors[i].length_m) < _SAME_M
    first = (*key, is_end)
    return runs.node_of[first] if first in runs.node_of else runs.node_of[(*key, not is_end)]


def clamp_sides(network: Network, runs: Runs, conductor: str, at_m: float) -> tuple[int, int]:
    """Nodes before and after a clamp, in the direction of chainage."""
    i = next(k for k, c in enumerate(network.conductors) if c.id == conductor)
    return runs.node_of[(i, _millimetres(at_m), False)], runs.node_of[(i, _millimetres(at_m), True)]


class _Nodes:
    """Nodes by place; a place under a clamp has two, and so has the one where a conductor ends in a clamp."""

    def __init__(self, clamps: set[tuple[int, int]]) -> None:
        self.clamps = clamps
        self.found: dict[tuple[int, int, bool], int] = {}
        for conductor, at in sorted(clamps):
            for upper in (False, True):
                self.found[conductor, at, upper] = len(self.found)

    def at(self, conductor: int, chainage_m: float, *, upper: bool) -> int:
        place = (conductor, _millimetres(chainage_m))
        key = (*place, upper and place in self.clamps)
        return self.found.setdefault(key, len(self.found))

    def merged(self, tees: list[tuple[int, float, int, float, bool]]) -> INTS:
        """Numbers of nodes after those joined by tees are one."""
        to = np.arange(len(self.found))
        for branch, at, main, main_at, last in tees:
            a = self.at(branch, at, upper=last)
            b = self.at(main, main_at, upper=False)
            to[to == to[a]] = to[b]
        return np.asarray(np.unique(to, return_inverse=True)[1])


def _millimetres(chainage_m: float | None) -> int:
    return round((chainage_m or 0.0) * 1e3)


def _tees(network: Network, numbers: dict[str, int]) -> list[tuple[int, float, int, float, bool]]:
    found = []
    for i, c in enumerate(network.conductors):
        for end, at, last in ((c.start, 0.0, False), (c.end, c.length_m, True)):
            if end.kind is EndKind.TEE and end.on is not None:
                main = network.conductor(end.on)
                point = c.vertices_m[-1 if last else 0]
                found.append((i, at, numbers[end.on], foot_on(main, point)[0], last))
    return found


def foot_on(conductor: Conductor, point: tuple[float, ...]) -> tuple[float, float]:
    """Chainage of the point of a conductor nearest to a place in plan, and how far it is [m]."""
    best = (0.0, math.inf)
    marks = conductor.chainages_m
    for k in range(len(marks) - 1):
        a, b = np.array(conductor.vertices_m[k][:2]), np.array(conductor.vertices_m[k + 1][:2])
        length = marks[k + 1] - marks[k]
        t = float(np.clip(np.dot(np.array(point[:2]) - a, b - a) / length**2, 0.0, 1.0))
        apart = float(np.hypot(*(a + t * (b - a) - np.array(point[:2]))))
        if apart < best[1]:
            best = (marks[k] + t * length, apart)
    return best


def _forced_cuts(network: Network, numbers: dict[str, int]) -> list[list[float]]:
    """Chainages of each conductor at which something hangs on it."""
    cuts: list[list[float]] = [[] for _ in network.conductors]
    for bond in network.bonds:
        cuts[numbers[bond.conductor]].append(bond.at_m)
        cuts[numbers[bond.other]].append(bond.other_at_m)
    for ground in network.grounds:
        cuts[numbers[ground.conductor]].append(ground.at_m)
    for connection in network.connections:
        if connection.conductor is not None and connection.at_m is not None:
            cuts[numbers[connection.conductor]].append(connection.at_m)
    for _, _, main, at, _ in _tees(network, numbers):
        cuts[main].append(at)
    return cuts


def _legs(number: int, conductor: Conductor, forced: list[float]) -> list[Leg]:
    marks = conductor.chainages_m
    legs = []
    for k, (a, b) in enumerate(pairwise(conductor.vertices_m)):
        inside = [s - marks[k] for s in forced if marks[k] + _SAME_M < s < marks[k + 1] - _SAME_M]
        length = marks[k + 1] - marks[k]
        start, end = (np.array([v[0], v[1], -v[2]]) for v in (a, b))
        legs.append(Leg(number, start, end, marks[k], length, (0.0, *sorted(inside), length)))
    return legs


def _groups(legs: list[Leg]) -> list[list[int]]:
    """Legs gathered with those they run along."""
    start = np.array([leg.start[:2] for leg in legs])
    end = np.array([leg.end[:2] for leg in legs])
    middle, half = 0.5 * (start + end), 0.5 * np.linalg.norm(end - start, axis=1)
    along = (end - start) / (2.0 * half[:, None])
    root = list(range(len(legs)))

    def top(k: int) -> int:
        while root[k] != k:
            root[k] = root[root[k]]
            k = root[k]
        return k

    tree = cKDTree(middle)
    for i, near in enumerate(tree.query_ball_point(middle, half + half.max() + ALONG_M)):
        for j in near:
            if j <= i or abs(along[i] @ along[j]) < math.cos(ALONG_RAD):
                continue
            shift = middle[j] - middle[i]
            overlap = half[i] + half[j] - abs(shift @ along[i])
            across = abs(along[i][0] * shift[1] - along[i][1] * shift[0])
            if overlap > 0.5 and across < ALONG_M:
                root[top(j)] = top(i)
    gathered: dict[int, list[int]] = defaultdict(list)
    for k in range(len(legs)):
        gathered[top(k)].append(k)
    return list(gathered.values())


def _axis(legs: list[Leg]) -> FLOATS:
    """Direction in plan of the longest leg."""
    longest = max(legs, key=lambda leg: leg.length_m)
    return np.asarray((longest.end[:2] - longest.start[:2]) / longest.length_m)


def _tracks(legs: list[Leg], pieces: list[list[tuple[FLOATS, FLOATS]]]) -> dict[int, int]:
    """Track of each leg of a group: legs of a conductor that go on straight, one after the other, share one.

    `pieces` gets the ends of the legs of each new track, along the axis of the group.
    """
    axis = _axis(legs)
    found: dict[int, int] = {}
    last: dict[
        int, tuple[float, bool, int]
    ] = {}  # by conductor: where its last leg ended, its way, its track
    for leg in sorted(legs, key=lambda leg: (leg.conductor, leg.chainage_m)):
        forward = bool((leg.end - leg.start)[:2] @ axis > 0)
        before = last.get(leg.conductor)
        if before is not None and abs(before[0] - leg.chainage_m) < _SAME_M and before[1] == forward:
            track = before[2]
        else:
            track = len(pieces)
            pieces.append([])
        pieces[track].append((leg.start, leg.end) if forward else (leg.end, leg.start))
        last[leg.conductor] = (leg.chainage_m + leg.length_m, forward, track)
        found[id(leg)] = track
    return found


def _cut_group(legs: list[Leg]) -> list[list[tuple[Leg, float, float]]]:
    """Pieces of a group's legs, (leg, from, to) along each, by interval of the axis."""
    axis = _axis(legs)
    at = []
    for leg in legs:
        a, b = float(leg.start[:2] @ axis), float(leg.end[:2] @ axis)
        at.append((a, (b - a) / leg.length_m))
    own = [sorted({a + s * rate for s in leg.cuts_m}) for leg, (a, rate) in zip(legs, at, strict=True)]
    marks = _filled(sorted(x for cuts in own for x in cuts))
    intervals: dict[int, list[tuple[Leg, float, float]]] = defaultdict(list)
    for leg, (a, rate), cuts in zip(legs, at, own, strict=True):
        inside = marks[(marks > cuts[0] + _SAME_M) & (marks < cuts[-1] - _SAME_M)]
        apart = np.abs(inside[:, None] - np.array(cuts)).min(axis=1) if len(inside) else inside
        places = np.sort(np.concatenate([cuts, inside[apart > _SAME_M]]))
        for low, high in pairwise(places):
            number = int(np.searchsorted(marks, 0.5 * (low + high)))
            intervals[number].append((leg, (low - a) / rate, (high - a) / rate))
    return [intervals[k] for k in sorted(intervals)]


def _filled(cuts: list[float]) -> FLOATS:
    """Cuts without those that nearly coincide, and with more where they are far apart."""
    kept = [cuts[0]]
    for x in cuts[1:]:
        if x - kept[-1] > _SAME_M:
            more = math.ceil((x - kept[-1]) / LONGEST_SECTION_M)
            kept += list(np.linspace(kept[-1], x, more + 1)[1:])
    return np.array(kept)
