"""A crew at work: marks, readings, walks across, readings from the side, with their scatter.

The scatter is that of the job format's table ("How good the numbers are"), all of one job moved by a
common factor; position fixes share an error for a quarter of an hour.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from plumbmark.practice import receiver
from plumbmark.practice.receiver import Instrument, Sweep
from plumbmark.practice.site import Beside, Point, Row, Walked
from plumbmark.practice.world import Excitation, Foot, World, foot_on, point_at, walk


@dataclass(frozen=True)
class Crew:
    """How this job's crew works. `factor` moves every scatter; `flip` reverses the bearing written.

    `window_depths`: the peak is the greatest within so many depths of the line; `follows`: or the
    one nearest to the last mark.
    """

    rng: np.random.Generator
    factor: float
    flip: bool
    window_depths: float
    follows: bool
    fix_sigma_m: float
    fix_bias: dict[int, tuple[float, float]]
    fix_factor: float = 1.0

    def fix(self, easting_m: float, northing_m: float, minute: int) -> tuple[float, float]:
        """The place as the fix gives it: half its variance own, half shared by the quarter of an hour."""
        sigma = self.fix_sigma_m * self.fix_factor * math.sqrt(0.5)
        quarter = minute // 15
        if quarter not in self.fix_bias:
            self.fix_bias[quarter] = (self.rng.normal(0, sigma), self.rng.normal(0, sigma))
        bias = self.fix_bias[quarter]
        return (
            easting_m + bias[0] + self.rng.normal(0, sigma),
            northing_m + bias[1] + self.rng.normal(0, sigma),
        )


@dataclass(frozen=True)
class Job:
    """What is needed to read one line: the world, its setup's signal, which chain it is."""

    world: World
    excitation: Excitation
    target: int
    instrument: Instrument
    crew: Crew


@dataclass(frozen=True)
class Standing:
    """A crew standing over a line: its walk across, and where on it the true mark is.

    `right` [rad] is the direction of increasing offset; `bearing_deg` what is written down.
    """

    swept: Sweep
    right: float
    bearing_deg: float
    peak_m: float
    mark_m: float
    depth_m: float

    def mark(self) -> tuple[float, float]:
        """Where the mark really is."""
        path = self.swept.path
        return (
            path.easting_m + self.mark_m * math.sin(self.right),
            path.northing_m + self.mark_m * math.cos(self.right),
        )

    def turned(self) -> bool:
        """Whether the written bearing points the other way, so that its right is decreasing offset."""
        return abs((math.degrees(self.right) - 90.0 - self.bearing_deg + 180.0) % 360.0 - 180.0) > 90.0


def stand(job: Job, chainage_m: float, last_m: float | None, reverse_bearing: bool = False) -> Standing:
    """Walk across the line at a chainage and put down the mark."""
    crew, rng = job.crew, job.crew.rng
    chain = job.world.chains[job.target]
    foot = foot_on(chain, *point_at(chain, chainage_m))
    ahead = foot.bearing + (math.pi if crew.flip else 0.0)
    right = ahead + math.pi / 2 + math.radians(rng.normal(0, 3.0 * crew.factor))
    written = math.degrees(ahead) + rng.normal(0, 4.0 * crew.factor) + (180.0 if reverse_bearing else 0.0)
    tool = replace(job.instrument, tilt=job.instrument.tilt + math.radians(rng.normal(0, 0.2)))
    swept = receiver.sweep(walk(job.world, job.excitation, foot.easting_m, foot.northing_m, right), tool)
    window = max(0.5, crew.window_depths * foot.depth_m)
    follow = (last_m if last_m is not None else 0.0) if crew.follows else None
    peak = receiver.find_peak(swept, window, follow)
    mark = peak + rng.normal(0, crew.factor * (0.03 + 0.01 * foot.depth_m))
    return Standing(swept, right, written % 360.0, peak, mark, foot.depth_m)


def take_reading(
    job: Job, at: Standing, row: Row, *, half: bool = False, raise_m: float | None = None, null: bool = True
) -> Row:
    """Fill a row with what the display shows at the mark, and what the crew makes of it."""
    crew, rng = job.crew, job.crew.rng
    f = crew.factor
    turned = at.turned()
    sign = -1.0 if turned else 1.0
    zero = receiver.find_null(at.swept, at.mark_m) if null else None
    if zero is not None:
        row = replace(row, null_m=sign * (zero - at.mark_m + rng.normal(0, f * (0.03 + 0.01 * at.depth_m))))
    if half:
        sides = [receiver.find_half(at.swept, at.mark_m, k) for k in (-1, 1)]
        sides = [None if x is None else max(0.02, x + rng.normal(0, 0.03 * f)) for x in sides]
        left, right = sides if not turned else sides[::-1]
        row = replace(row, half_left_m=left, half_right_m=right)
    depth = receiver.show_depth(at.swept, at.mark_m)
    if depth is None:
        row = replace(row, refused=True)
    else:
        current = receiver.show_current(at.swept, at.mark_m, depth) * (1 + rng.normal(0, 0.04 * f))
        row = replace(
            row, depth_m=max(0.0, depth * (1 + rng.normal(0, 0.03 * f))), current_a=max(0.0, current)
        )
    if raise_m is not None:
        shown = receiver.show_depth(at.swept, at.mark_m, raise_m + rng.normal(0, 0.01 * f))
        if shown is not None:
            row = replace(row, raised_by_m=raise_m, raised_depth_m=shown * (1 + rng.normal(0, 0.03 * f)))
    return row


def walk_across(job: Job, at: Standing, row: Row, profile_id: str) -> Walked:
    """The signal point by point, from the mark out to both sides."""
    rng, f = job.crew.rng, job.crew.factor
    count = int(rng.choice([9, 11, 13, 15, 17]))
    reach = float(rng.choice([1.5, 2.0, 2.0, 2.5]))
    offsets = np.round(np.linspace(-reach, reach, count), 2)
    true = at.mark_m + offsets + rng.normal(0, 0.01 * f, count)
    height = job.instrument.lower_m
    across, upright = receiver.seen(at.swept.path, at.swept.instrument, true, height)
    turned = at.turned()
    both = np.abs(np.stack([across, upright]))
    top = float(both.max())
    noise = rng.normal(size=both.shape)
    both = np.abs(both * (1 + 0.02 * f * noise) + 0.005 * f * top * rng.normal(size=both.shape))
    gain = math.exp(rng.uniform(math.log(1.0), math.log(100.0))) / top
    scale = str(rng.choice(["linear", "linear", "linear", "db", "unknown"]))
    values = both * gain
    if scale == "db":
        values = 20 * np.log10(np.maximum(values, 1e-6))
    if scale == "unknown":
        values = 100 * (values / values.max()) ** 0.6
    with_vertical = rng.random() < 0.75
    points = [
        Point(float(-o if turned else o), height, float(h), float(v) if with_vertical else None)
        for o, h, v in zip(offsets, values[0], values[1], strict=True)
    ]
    if turned:
        points.reverse()
    return Walked(profile_id, row.line, row.easting_m, row.northing_m, at.bearing_deg, scale, tuple(points))


def stand_beside(
    job: Job, chainage_m: float, offset_m: float, line: str, ident: str, minute: int
) -> Beside | None:
    """A reading from the side, the receiver facing the line."""
    crew, rng = job.crew, job.crew.rng
    chain = job.world.chains[job.target]
    foot = foot_on(chain, *point_at(chain, chainage_m))
    easting = foot.easting_m + offset_m * math.cos(foot.bearing)
    northing = foot.northing_m - offset_m * math.sin(foot.bearing)
    toward = foot.bearing + (-math.pi / 2 if offset_m > 0 else math.pi / 2)
    facing = toward + math.radians(rng.normal(0, 3.0 * crew.factor))
    tool = replace(job.instrument, tilt=job.instrument.tilt + math.radians(rng.normal(0, 0.5)))
    shown = receiver.show_from_beside(walk(job.world, job.excitation, easting, northing, facing), tool)
    if shown is None:
        return None
    e, n = crew.fix(easting, northing, minute)
    written = math.degrees(toward) + rng.normal(0, 4.0 * crew.factor)
    return Beside(
        ident,
        line,
        e,
        n,
        written % 360.0,
        shown[0] * (1 + rng.normal(0, 0.03 * crew.factor)),
        shown[1] * (1 + rng.normal(0, 0.03 * crew.factor)),
    )


def moved_by_others(job: Job, foot: Foot) -> tuple[float, float]:
    """By how much other currents move the peak [m] and the depth shown there (as a fraction), noise apart.

    Found by switching them off. The peak is the one the crew's window holds.
    """
    if len(job.world.chains) == 1:
        return 0.0, 0.0
    tool = replace(job.instrument, tilt=0.0, ratio_error=0.0)
    window = max(0.5, job.crew.window_depths * foot.depth_m)
    shown = []
    for on in (None, (job.target,)):
        path = walk(
            job.world, job.excitation, foot.easting_m, foot.northing_m, foot.bearing + math.pi / 2, on
        )
        swept = receiver.sweep(path, tool)
        peak = receiver.find_peak(swept, window)
        shown.append((peak, receiver.show_depth(swept, peak)))
    (peak, depth), (peak_alone, depth_alone) = shown
    if depth is None or depth_alone is None:
        return peak - peak_alone, math.inf
    return peak - peak_alone, depth / depth_alone - 1.0
