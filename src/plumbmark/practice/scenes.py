"""Worlds drawn at random: which lines lie where, how they are fed, and where along them is read."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbmark.practice import ground
from plumbmark.practice.field import Complexes
from plumbmark.practice.world import Chain, Excitation, World, foot_on, point_at

FREQUENCIES_HZ = (500.0, 1000.0, 3000.0, 10000.0, 33000.0, 80000.0)
#: A line with no peak nearer than this stands under another line's; so many of those are drawn anew.
LOST_M = 0.5
LOST_REDRAWN = 0.7


@dataclass(frozen=True)
class Scene:
    """A world, the stretch that is read, and the signal of the first setup. Chain 0 is the target."""

    world: World
    excitation: Excitation
    stations_m: tuple[float, ...]
    length_m: float


def _stations(rng: np.random.Generator, count: int | None = None) -> tuple[tuple[float, ...], float]:
    if count is None:
        count = int(rng.integers(8, 21))
    spacing = rng.uniform(1.5, 4.0)
    s = spacing * np.arange(count) + rng.uniform(-0.12, 0.12, count) * spacing
    s = s - s.min() + 0.5
    return tuple(float(v) for v in s), float(s.max() + 0.5)


def draw_resistivity(rng: np.random.Generator, median: float = 60.0, factor: float = 3.0) -> float:
    """Ground resistivity [ohm m], log-normal, cut at 3 and 3000."""
    return float(np.clip(math.exp(rng.normal(math.log(median), math.log(factor))), 3.0, 3000.0))


def draw_frequency(rng: np.random.Generator) -> float:
    """One of the round frequencies [Hz]."""
    return float(rng.choice(FREQUENCIES_HZ))


def draw_current(rng: np.random.Generator) -> float:
    """1 to 300 mA, every factor as likely as the next [A]."""
    return float(math.exp(rng.uniform(math.log(1e-3), math.log(0.3))))


def _second(rng: np.random.Generator, target: Chain, length_m: float, *, slanted: bool = False) -> Chain:
    """A second line within 3 m; `slanted`: converging, diverging or crossing."""
    side = 1.0 if rng.random() < 0.5 else -1.0
    s = target.chainage_m
    if slanted and rng.random() < 0.3:  # crossing steeply
        at = rng.uniform(0.2, 0.8) * length_m
        foot = foot_on(target, *point_at(target, at))
        made = ground.straight(
            point_at(target, at), foot.bearing + side * math.radians(rng.uniform(20, 90)), length_m
        )
        depth = _apart(rng, float(np.interp(at, s, -target.nodes[:, 2])))
        return ground.laid_at(made, "second", depth)
    offset: np.ndarray | float = side * rng.uniform(0.2, 3.0)
    if slanted:
        offset = np.clip(offset - side * rng.uniform(1.0, 5.0) * (s / length_m), -6.0, 6.0)
        if rng.random() < 0.5:
            offset = offset[::-1].copy()
    low, high = -1e3, 1e3
    if rng.random() < 0.15:  # leaves or joins half way
        low, high = (rng.uniform(0.2, 0.7) * length_m, 1e3)
        if rng.random() < 0.5:
            low, high = -1e3, low
    made = ground.beside(rng, target, offset, low, high)
    crossing = bool(np.min(np.abs(offset)) < 0.25 or np.ptp(np.sign(offset)) > 0)
    middle = float(np.interp(0.5 * length_m, s, -target.nodes[:, 2]))
    depth = _apart(rng, middle) if crossing else ground.draw_depth(rng)
    return ground.laid_at(made, "second", ground.along_depth(rng, made, depth))


def _apart(rng: np.random.Generator, depth_m: float) -> float:
    """A depth for a line that crosses another, at least a quarter of a metre above or below it."""
    for _ in range(50):
        other = ground.draw_depth(rng)
        if abs(other - depth_m) > 0.2 * depth_m + 0.2:
            return other
    return depth_m + 0.6


def _peak_near(chains: list[Chain], currents: list[Complexes], chainage_m: float) -> float:
    """How far from the first line the nearest peak across it is [m]: long lines in air, roughly."""
    foot = foot_on(chains[0], *point_at(chains[0], chainage_m))
    x = np.linspace(-4.0, 4.0, 321)
    field = np.zeros(x.size, dtype=np.complex128)
    for chain, current in zip(chains, currents, strict=True):
        near = foot_on(chain, foot.easting_m, foot.northing_m)
        away_e, away_n = near.easting_m - foot.easting_m, near.northing_m - foot.northing_m
        offset = away_e * math.cos(foot.bearing) - away_n * math.sin(foot.bearing)
        field += (
            np.interp(near.chainage_m, chain.chainage_m, current)
            * near.depth_m
            / (near.depth_m**2 + (x - offset) ** 2)
        )
    size = np.abs(field)
    tops = np.flatnonzero((size[1:-1] >= size[:-2]) & (size[1:-1] > size[2:])) + 1
    return float(np.abs(x[tops]).min()) if tops.size else math.inf


def draw_scene(
    rng: np.random.Generator,
    *,
    seconds: int = 0,
    slanted: bool = False,
    count: int | None = None,
    kinks: int = 0,
    frequency_hz: float | None = None,
    resistivity: float | None = None,
    weaken: float = 1.0,
) -> Scene:
    """A target line and its second lines.

    Parameters
    ----------
    seconds : int
        How many second lines; `slanted` has them converge, diverge or cross, `weaken` scales their currents.
    count : int, optional
        Stations; 8 to 20 if not given.
    kinks : int
        Sharp bends inside the stretch that is read.
    frequency_hz, resistivity : float, optional
        [Hz], [ohm m]; drawn if not given.
    """
    stations, length = _stations(rng, count)
    bends = tuple(
        (
            float(rng.uniform(0.25, 0.75) * length),
            math.radians(rng.uniform(15, 90)) * (1 if rng.random() < 0.5 else -1),
        )
        for _ in range(kinks)
    )
    plan = ground.course(rng, length, bends)
    target = ground.laid_at(plan, "target", ground.along_depth(rng, plan, ground.draw_depth(rng)))
    amplitude = draw_current(rng)
    chains = [target]
    currents: list[Complexes] = [ground.tapering(rng, target.chainage_m, amplitude, length)]
    for _ in range(12):
        chains, currents = chains[:1], currents[:1]
        for _ in range(seconds):
            other = _second(rng, target, length, slanted=slanted)
            chains.append(other)
            value = amplitude * ground.ratio_of(rng) * weaken
            currents.append(ground.tapering(rng, other.chainage_m, value, length))
        # a crew that traced its line from where it connected seldom stands over another's peak for long
        if _peak_near(chains, currents, 0.5 * length) < LOST_M or rng.random() > LOST_REDRAWN:
            break
    rho = draw_resistivity(rng) if resistivity is None else resistivity
    frequency = draw_frequency(rng) if frequency_hz is None else frequency_hz
    return Scene(World(tuple(chains), rho), Excitation(frequency, tuple(currents)), stations, length)
