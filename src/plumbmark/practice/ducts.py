"""Invented ducts that a sonde was pushed along, with their truth: for the checks of what is made of them.

The sonde here is no dipole but a rod with two poles, its duct sags and winds, the receiver leans and is
turned askew, and every place is found by search on the field itself. Nothing is shared with what the answer
is computed with.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plumbmark.model.job import Hookup, Job, Line, Receiver, Setup, Signal
from plumbmark.model.measured import Measured
from plumbmark.model.reading import DepthMethod, Place, Reading

Floats = NDArray[np.float64]

STEP_M = 0.01  # of what is written down
REACH = 3.0  # a crew looks so many depths ahead and behind


@dataclass(frozen=True)
class Rod:
    """A rod magnet: its middle (along, right, up) [m], its direction, its length [m]."""

    middle: Floats
    axis: Floats
    length_m: float

    def field(self, points: Floats) -> Floats:
        """Field of its two poles at points, shape (n, 3), in a unit of its own."""
        out = np.zeros_like(points)
        for sign in (1.0, -1.0):
            away = points - (self.middle + 0.5 * sign * self.length_m * self.axis)
            out += sign * away / np.sum(away * away, axis=1, keepdims=True) ** 1.5
        return out


@dataclass(frozen=True)
class Duct:
    """A job, and at each of its readings the true easting, northing [m], depth [m] and slip ("" for none)."""

    job: Job
    easting_m: Floats
    northing_m: Floats
    depth_m: Floats
    slips: tuple[str, ...]


@dataclass(frozen=True)
class _Tool:
    lower_m: float
    spacing_m: float
    ratio_error: float
    lean: float
    askew: float

    def signal(self, rod: Rod, along: Floats, height_m: float) -> Floats:
        """What the coil called along the duct sees on the path over it."""
        points = np.column_stack([along, np.zeros_like(along), np.full_like(along, height_m)])
        b = rod.field(points)
        level = b[:, 0] * math.cos(self.askew) + b[:, 1] * math.sin(self.askew)
        return level * math.cos(self.lean) + b[:, 2] * math.sin(self.lean)

    def depth(self, rod: Rod, mark: float, raised_m: float, line_mode: bool) -> float | None:
        """Depth displayed at a mark, counted from the foot; None where the display withholds it."""
        at = np.array([mark])
        low = abs(float(self.signal(rod, at, raised_m + self.lower_m)[0]))
        top = abs(float(self.signal(rod, at, raised_m + self.lower_m + self.spacing_m)[0]))
        ratio = low / (top * (1.0 + self.ratio_error))
        if not line_mode:
            ratio = ratio ** (1.0 / 3.0)
        shown = self.spacing_m / (ratio - 1.0) - self.lower_m if ratio > 1.01 else None
        return shown if shown is not None and 0.02 < shown < 10.0 else None


def _crossing(values: Floats, along: Floats, start: int, step: int) -> float | None:
    """Where a signal first changes sign, walking from index `start`."""
    k = start
    while 0 <= k + step < len(values):
        if values[k] * values[k + step] <= 0.0:
            share = values[k] / (values[k] - values[k + step])
            return float(along[k] + share * (along[k + step] - along[k]))
        k += step
    return None


def _written(value: float) -> Measured:
    return Measured(STEP_M * round(value / STEP_M), 0.0, STEP_M)


def make_duct(seed: int) -> Duct:
    """An invented duct and the readings over a sonde in it. The same seed gives the same one.

    One job in three does not say which mode depths were read in, and one in seven of those was in line mode.
    One cell in a hundred is a slip.
    """
    rng = np.random.default_rng([seed, 77])
    count = int(rng.integers(1, 9))
    at = np.cumsum(rng.uniform(1.0, 3.5, count))
    tool = _Tool(
        round(float(rng.uniform(0.03, 0.12)), 3),
        round(float(rng.uniform(0.30, 0.60)), 3),
        float(rng.normal(0, 0.003)),
        math.radians(rng.normal(0, 0.5)),
        math.radians(rng.normal(0, 3.0)),
    )
    factor = math.exp(rng.normal(0.0, math.log(1.35)))
    stated = bool(rng.random() < 2.0 / 3.0)
    line_mode = not stated and bool(rng.random() < 1.0 / 7.0)
    middle = math.exp(rng.normal(math.log(1.3), 0.5))
    grade, sag, phase = rng.normal(0, 0.015), rng.uniform(0.0, 0.08), rng.uniform(0, 2 * math.pi)
    deep = np.maximum(middle + grade * at + sag * np.sin(at / 3.0 + phase), 0.3)
    slope = grade + sag / 3.0 * np.cos(at / 3.0 + phase)
    wind, swing = rng.uniform(0.0, 0.3), rng.uniform(0, 2 * math.pi)
    heading = rng.uniform(0, 2 * math.pi)
    aside = wind * np.sin(at / 8.0 + swing)
    east = 100.0 + at * math.sin(heading) + aside * math.cos(heading)
    north = 200.0 + at * math.cos(heading) - aside * math.sin(heading)
    nulls, depths, raises = rng.random(3) < (0.75, 0.85, 0.3)
    rows, slips = [], []
    for k in range(count):
        pitch = -math.atan(slope[k]) + math.radians(rng.normal(0, 1.5))
        rod = Rod(np.array([0.0, 0.0, -deep[k]]), np.array([math.cos(pitch), 0.0, math.sin(pitch)]), 0.12)
        row, slip = _read(
            rng, rod, tool, factor, (bool(nulls), bool(depths or not nulls), bool(raises)), line_mode
        )
        bearing = math.degrees(heading + math.atan(wind / 8.0 * math.cos(at[k] / 8.0 + swing)))
        sigma = factor * (0.03 + 0.01 * deep[k])
        place = Place(
            east[k] + math.cos(heading) * rng.normal(0, sigma) + rng.normal(0, 0.02),
            north[k] - math.sin(heading) * rng.normal(0, sigma) + rng.normal(0, 0.02),
        )
        method = DepthMethod.SONDE if stated else DepthMethod.TWO_COIL
        written = (bearing + rng.normal(0, 4.0)) % 360.0
        plain = Reading(f"d{k + 1}", "S1", place, k + 2, bearing_deg=written, depth_method=method)
        rows.append(replace(plain, **row))  # type: ignore[arg-type]
        slips.append(slip)
    line = Line("S1", signal=Signal.SONDE, setups=(Setup("", "S1", Hookup.DIRECT, 33000.0, "R1"),))
    listed = (Receiver("R1", tool.lower_m, tool.spacing_m),) if rng.random() < 0.7 else (Receiver("R1"),)
    job = Job(f"duct-{seed}", receivers=listed, lines=(line,), readings=tuple(rows))
    return Duct(job, east, north, deep, tuple(slips))


def _read(
    rng: np.random.Generator,
    rod: Rod,
    tool: _Tool,
    factor: float,
    takes: tuple[bool, bool, bool],
    line_mode: bool,
) -> tuple[dict[str, Measured], str]:
    """Cells of one reading, and the slip among them."""
    deep = -float(rod.middle[2])
    along = np.arange(-REACH * deep - 0.5, REACH * deep + 0.5, 0.01)
    seen = tool.signal(rod, along, tool.lower_m)
    near = np.abs(along) < 0.5 * deep
    top = int(np.flatnonzero(near)[np.argmax(np.abs(seen[near]))])
    sigma = factor * (0.03 + 0.01 * deep)
    mark = float(along[top]) + rng.normal(0, sigma)
    out: dict[str, Measured] = {}
    if takes[0]:
        for name, step, sign in (("null_ahead_m", 1, 1.0), ("null_behind_m", -1, -1.0)):
            found = _crossing(seen, along, top, step)
            if found is not None:
                out[name] = _written(max(sign * (found - mark) + rng.normal(0, sigma), 0.0))
    if takes[1]:
        shown = tool.depth(rod, mark, 0.0, line_mode)
        if shown is not None:
            out["depth_m"] = _written(shown * (1.0 + factor * rng.normal(0, 0.03)))
    if takes[2]:
        shown = tool.depth(rod, mark, 0.3 + rng.normal(0, 0.01), line_mode)
        if shown is not None:
            out["raised_by_m"] = Measured(0.3)
            out["raised_depth_m"] = _written(shown * (1.0 + factor * rng.normal(0, 0.03)))
    for name in [n for n in out if n != "raised_by_m"]:
        if rng.random() < 0.01:
            by = float(rng.choice([10.0, 0.1, 3.2808, 0.3048]))
            out[name] = _written(out[name].value * by)
            return out, f"{name} x {by}"
    return out, ""
