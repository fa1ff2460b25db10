"""What lies in the ground of an invented site, and the signal on it: nothing a crew could know."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbmark.practice.field import Complexes, Floats, chain_field, ground_field, ground_weights


@dataclass(frozen=True)
class Chain:
    """A buried line: `nodes` shape (m, 3) east, north, up [m]; `chainage_m` shape (m,) along it in plan."""

    name: str
    nodes: Floats
    chainage_m: Floats

    @classmethod
    def through(cls, name: str, nodes: Floats) -> Chain:
        """A chain through nodes, shape (m, 3)."""
        steps = np.hypot(*np.diff(nodes[:, :2], axis=0).T)
        return cls(name, np.ascontiguousarray(nodes), np.concatenate([[0.0], np.cumsum(steps)]))


@dataclass(frozen=True)
class Foot:
    """The point of a chain nearest a place in plan. `bearing` [rad] is that of the chain."""

    easting_m: float
    northing_m: float
    depth_m: float
    chainage_m: float
    bearing: float


@dataclass(frozen=True)
class Excitation:
    """One setup's signal: the complex current at every node of every chain [A], RMS."""

    frequency_hz: float
    currents: tuple[Complexes, ...]


@dataclass(frozen=True)
class World:
    """Lines in ground of one resistivity."""

    chains: tuple[Chain, ...]
    resistivity_ohm_m: float


def foot_on(chain: Chain, easting_m: float, northing_m: float) -> Foot:
    """Nearest point of a chain in plan."""
    a, b = chain.nodes[:-1], chain.nodes[1:]
    along = (b - a)[:, :2]
    length2 = np.maximum(np.sum(along**2, axis=1), 1e-12)  # a riser has no length in plan
    t = np.clip(np.sum((np.array([easting_m, northing_m]) - a[:, :2]) * along, axis=1) / length2, 0.0, 1.0)
    at = a + t[:, None] * (b - a)
    k = int(np.argmin((at[:, 0] - easting_m) ** 2 + (at[:, 1] - northing_m) ** 2))
    s = chain.chainage_m[k] + t[k] * (chain.chainage_m[k + 1] - chain.chainage_m[k])
    bearing = math.atan2(along[k, 0], along[k, 1])
    return Foot(float(at[k, 0]), float(at[k, 1]), float(-at[k, 2]), float(s), bearing)


def point_at(chain: Chain, chainage_m: float) -> tuple[float, float]:
    """Plan position at a chainage."""
    return (
        float(np.interp(chainage_m, chain.chainage_m, chain.nodes[:, 0])),
        float(np.interp(chainage_m, chain.chainage_m, chain.nodes[:, 1])),
    )


def current_at(chain: Chain, currents: Complexes, chainage_m: float) -> complex:
    """Current at a chainage [A]."""
    re = np.interp(chainage_m, chain.chainage_m, currents.real)
    im = np.interp(chainage_m, chain.chainage_m, currents.imag)
    return complex(re, im)


@dataclass(frozen=True)
class _Local:
    """What one chain looks like from a path: enough for the ground's part, and its segments."""

    chain: Chain
    segment_currents: Complexes
    foot: Foot
    current: complex
    wavenumbers: Floats
    weights: Complexes


@dataclass(frozen=True)
class Walk:
    """A straight path over the ground, and the signal along it.

    `heading` [rad] is the bearing of the path, and of the coil called across; offset 0 is at
    (`easting_m`, `northing_m`). `locals_` keeps one entry per chain switched on.
    """

    easting_m: float
    northing_m: float
    heading: float
    locals_: tuple[_Local, ...]

    def field(self, offsets_m: Floats, height_m: float) -> tuple[Complexes, Complexes]:
        """Field along the path's heading and upright [T] at offsets, shape (n,), one height [m]."""
        sin, cos = math.sin(self.heading), math.cos(self.heading)
        points = np.empty((offsets_m.size, 3))
        points[:, 0] = self.easting_m + offsets_m * sin
        points[:, 1] = self.northing_m + offsets_m * cos
        points[:, 2] = height_m
        across = np.zeros(offsets_m.size, dtype=np.complex128)
        upright = np.zeros(offsets_m.size, dtype=np.complex128)
        for near in self.locals_:
            free = chain_field(points, near.chain.nodes, near.segment_currents)
            right_e, right_n = math.cos(near.foot.bearing), -math.sin(near.foot.bearing)
            y = (points[:, 0] - near.foot.easting_m) * right_e
            y += (points[:, 1] - near.foot.northing_m) * right_n
            right, up = ground_field(y, height_m, near.wavenumbers, near.weights)
            across += free[:, 0] * sin + free[:, 1] * cos
            across += near.current * right * (right_e * sin + right_n * cos)
            upright += free[:, 2] + near.current * up
        return across, upright


def walk(
    world: World,
    excitation: Excitation,
    easting_m: float,
    northing_m: float,
    heading: float,
    on: tuple[int, ...] | None = None,
) -> Walk:
    """A path through a place; `on` names the chains that carry current (all by default)."""
    locals_ = []
    for k in range(len(world.chains)) if on is None else on:
        chain, currents = world.chains[k], excitation.currents[k]
        foot = foot_on(chain, easting_m, northing_m)
        numbers, weights = ground_weights(
            max(foot.depth_m, 0.2), excitation.frequency_hz, world.resistivity_ohm_m
        )
        locals_.append(
            _Local(
                chain,
                0.5 * (currents[1:] + currents[:-1]),
                foot,
                current_at(chain, currents, foot.chainage_m),
                numbers,
                weights,
            )
        )
    return Walk(easting_m, northing_m, heading, tuple(locals_))
