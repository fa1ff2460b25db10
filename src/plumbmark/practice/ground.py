"""Lines drawn at random: their course, their depth, the current on them."""

from __future__ import annotations

import math

import numpy as np

from plumbmark.practice.field import Complexes, Floats
from plumbmark.practice.world import Chain


def slow(rng: np.random.Generator, s: Floats, shortest_m: float, longest_m: float) -> Floats:
    """A slowly varying curve of about unit swing along chainage `s`, shape (n,)."""
    value = np.zeros_like(s)
    for share in (0.75, 0.35):
        length = math.exp(rng.uniform(math.log(shortest_m), math.log(longest_m)))
        value = value + share * np.sin(2 * math.pi * s / length + rng.uniform(0, 2 * math.pi))
    return value


def course(rng: np.random.Generator, length_m: float, kinks: tuple[tuple[float, float], ...] = ()) -> Chain:
    """A line whose chainage 0..`length_m` is the stretch that is read; it goes on at both ends.

    Parameters
    ----------
    kinks : tuple of (chainage [m], turn [rad])
        Sharp bends inside the stretch.

    Returns
    -------
    Chain
        Depth zero everywhere yet; its chainages count from the start of the stretch.
    """
    before, after = rng.uniform(9.0, 40.0), rng.uniform(9.0, 40.0)
    far_before = -np.arange(3.0, before, 1.5)[::-1]
    far_after = length_m + np.arange(3.0, after, 1.5)
    near = np.linspace(-3.0, length_m + 3.0, int((length_m + 6.0) / 0.6) + 2)
    s = np.unique(np.concatenate([far_before, near, far_after, [k[0] for k in kinks]]))
    heading = np.full(s.size - 1, rng.uniform(0, 2 * math.pi))
    middle = 0.5 * (s[1:] + s[:-1])
    if rng.random() < 0.45:  # not laid quite straight
        wave = rng.uniform(18.0, 60.0)
        heading += rng.uniform(0.005, 0.04) * np.sin(2 * math.pi * middle / wave + rng.uniform(0, 7))
    for at, turn in kinks:
        heading += turn * (middle > at)
    for sign in (-1, 1):  # bends beyond the stretch
        if rng.random() < 0.6:
            at = -rng.uniform(4, before) if sign < 0 else length_m + rng.uniform(4, after)
            heading += rng.uniform(-1.4, 1.4) * (sign * (middle - at) > 0)
    steps = np.diff(s)[:, None] * np.column_stack([np.sin(heading), np.cos(heading)])
    plan = np.concatenate([[[0.0, 0.0]], np.cumsum(steps, axis=0)])
    centre = np.array([np.interp(0.5 * length_m, s, plan[:, k]) for k in (0, 1)])
    nodes = np.column_stack([plan - centre, np.zeros(s.size)])
    return Chain("", np.ascontiguousarray(nodes), s)


def laid_at(chain: Chain, name: str, depth_m: Floats | float) -> Chain:
    """The chain with its depths, shape (m,) or one [m]."""
    nodes = chain.nodes.copy()
    nodes[:, 2] = -np.maximum(depth_m, 0.2)
    return Chain(name, nodes, chain.chainage_m)


def draw_depth(rng: np.random.Generator) -> float:
    """0.3 to 2.2 m, mostly 0.5 to 1.8 [m]."""
    if rng.random() < 0.8:
        return float(rng.uniform(0.5, 1.8))
    return float(math.exp(rng.uniform(math.log(0.3), math.log(2.2))))


def along_depth(rng: np.random.Generator, chain: Chain, depth_m: float) -> Floats:
    """Depth along a chain, about 10 % up and down over tens of metres."""
    return depth_m * (1 + rng.uniform(0.02, 0.10) * slow(rng, chain.chainage_m, 10.0, 60.0))


def beside(
    rng: np.random.Generator, chain: Chain, offset_m: Floats | float, s_from: float, s_to: float
) -> Chain:
    """A second line keeping `offset_m` to the right of a chain, on its nodes from chainage to chainage."""
    heading = np.arctan2(*np.diff(chain.nodes[:, :2], axis=0).T)
    turn = np.angle(np.exp(1j * np.diff(heading)))
    at_node = np.concatenate([[heading[0]], heading[:-1] + 0.5 * turn, [heading[-1]]])
    offset = offset_m + 0.03 * slow(rng, chain.chainage_m, 15.0, 50.0)
    nodes = chain.nodes.copy()
    nodes[:, 0] += offset * np.cos(at_node)
    nodes[:, 1] -= offset * np.sin(at_node)
    keep = (chain.chainage_m >= s_from) & (chain.chainage_m <= s_to)
    return Chain("", np.ascontiguousarray(nodes[keep]), chain.chainage_m[keep])


def straight(through: tuple[float, float], bearing: float, half_length_m: float) -> Chain:
    """A straight line through a point, both ways."""
    s = np.linspace(-half_length_m, half_length_m, int(2 * half_length_m / 0.8) + 2)
    nodes = np.column_stack(
        [through[0] + s * math.sin(bearing), through[1] + s * math.cos(bearing), np.zeros(s.size)]
    )
    return Chain("", np.ascontiguousarray(nodes), s)


def tapering(rng: np.random.Generator, s: Floats, amplitude: complex, length_m: float) -> Complexes:
    """Current along chainage: leaking away exponentially, mostly by 5 to 40 % over the stretch."""
    total = abs(rng.normal(0.0, 0.3)) if rng.random() < 0.85 else abs(rng.normal(0.0, 0.8))
    rate = total / length_m * (1 if rng.random() < 0.5 else -1)
    phase = rng.normal(0.0, 0.03) * s / length_m
    return np.asarray(amplitude * np.exp(-rate * (s - 0.5 * length_m)) * np.exp(1j * phase))


def ratio_of(rng: np.random.Generator) -> complex:
    """Complex current ratio of a second line: 0.1 to 0.7 either way, out of phase by up to 40 degrees."""
    size = rng.uniform(0.1, 0.7) * (1 if rng.random() < 0.5 else -1)
    phase = float(np.clip(rng.normal(0.0, 15.0), -40.0, 40.0))
    return complex(size * np.exp(1j * math.radians(phase)))
