"""Places drawn from the prior of one place, every cell in or out by chance, for `calibration.py`.

What the crew does (mark, noise, rounding, ranges, slips) is written here anew, one draw at a time; the
display over a scene is that of `physics`, and the globals of a scene are `inference.second`'s draws.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calibration import DRAWS_KEPT, Kind, resampled
from plumbmark.inference import priors as p
from plumbmark.inference.place import Draws, solve_place
from plumbmark.inference.place_data import PlaceData, label_odds, place_data
from plumbmark.inference.scene import marked_peak, put_scene, skin_depth_of
from plumbmark.inference.second import Known, draw_prior
from plumbmark.inference.stations import Station
from plumbmark.model.job import Line, Setup
from plumbmark.model.measured import Measured
from plumbmark.model.reading import DepthMethod, MarkBy, Place, Reading, TestHole
from plumbmark.physics.display import current_at, depth_at, half_of, null_of
from plumbmark.physics.sonde import shown_in_sonde_mode

FLOATS = NDArray[np.float64]

FOOT, INCH = 0.3048, 0.0254
LABEL_NAMES = ("right", *("factor",) * len(p.DEPTH_SLIPS), "feet-inches", "sonde", "beside", "anything")


class Over:
    """What a receiver shows over one drawn scene, and the noise of its crew."""

    def __init__(self, theta: FLOATS, z: float, hertz: float, rng: np.random.Generator) -> None:
        self.theta, self.z, self.rng = theta, z, rng
        self.at = np.empty(32)
        self.deep, self.current = np.empty(32, complex), np.empty(32, complex)
        skin = skin_depth_of(theta, hertz)
        self.n = put_scene(theta, z, 0.0, skin, self.at, self.deep, self.current)
        self.images = (self.at, self.deep, self.current, self.n)
        self.peak = marked_peak(theta[3], *self.images)
        self.null = null_of(self.peak, theta[3], 0 if theta[5] < 0.5 else 1, *self.images)
        self.scatter = math.exp(theta[0])

    def noise(self, sigma: float) -> float:
        return float(self.scatter * sigma * self.rng.normal())

    def sigma(self) -> float:
        return p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * min(math.exp(self.z), 6.0)

    def depth(self, at: float, raised: float = 0.0) -> float:
        return float(depth_at(at, self.theta[3], self.theta[4], raised, self.theta[1], *self.images))

    def half(self, at: float, side: float) -> float:
        return float(half_of(at, side, self.theta[3], *self.images))

    def amperes(self, at: float) -> float:
        return float(current_at(at, self.depth(at), self.theta[3], *self.images))


def written(value: float, step: float) -> Measured:
    """A number rounded to the step of its column."""
    return Measured(round(value / step) * step, rounding=step)


def a_gap(o: Over, mark: float, ranged: bool) -> Measured:
    """The gap as written: noise, now and then a flip or anything, or the tenth of a metre it lies in."""
    gap = o.null - mark + o.noise(o.sigma())
    dice = o.rng.random()
    if dice < p.FLIP_ODDS:
        gap = -gap
    elif dice < p.FLIP_ODDS + p.SLIP_ODDS:
        gap = o.rng.uniform(-2.0, 2.0)
    if ranged:
        low = math.floor(gap / 0.1) * 0.1
        return Measured.between(low, low + 0.1)
    return written(gap, 0.01)


def some_halves(o: Over, mark: float) -> list[Measured]:
    """Left and right half points, swapped or slipped now and then."""
    halves = [o.half(mark, side) + o.noise(p.HALF_SIGMA_M) for side in (-1.0, 1.0)]
    if o.rng.random() < p.FLIP_ODDS:
        halves.reverse()
    slipped = o.rng.random(2) < p.SLIP_ODDS
    return [
        written(o.rng.uniform(0.0, 4.0) if slip else half, 0.01)
        for slip, half in zip(slipped, halves, strict=True)
    ]


def slipped_depth(o: Over, label: int, name: str, shown: float, aside: float) -> float:
    """What is written under a label where the display shows `shown` (`aside` beside the mark)."""
    if name == "factor":
        return shown * p.DEPTH_SLIPS[label - 1][1]
    if name == "feet-inches":
        feet, inches = divmod(round(shown / INCH), 12)
        return (feet + inches * (0.01 if inches > 9 else 0.1)) * FOOT
    if name == "beside":
        return aside
    if name == "anything":
        return math.exp(o.rng.uniform(0.0, 5.0)) * 0.05
    return shown


def some_depths(
    o: Over, mark: float, step: float, method: DepthMethod, raise_m: float | None
) -> tuple[Measured | None, Measured | None]:
    """Depth and raised depth as written; None where withheld or not taken."""
    rng = o.rng
    label = int(rng.choice(len(LABEL_NAMES), p=label_odds(method)))
    name = LABEL_NAMES[label]

    def through(depth: float) -> float:
        if name != "sonde":
            return depth
        return float(shown_in_sonde_mode(depth, spacing=o.theta[4], lower_height=o.theta[3]))

    plain = o.depth(mark)
    noisy = math.exp(o.noise(p.DEPTH_SIGMA))
    aside = o.depth(mark + p.BESIDE_SIGMA_M * rng.normal())
    depth = slipped_depth(o, label, name, through(plain) * noisy, aside * noisy)
    past = 1.0 / (1.0 + math.exp(-(math.log(plain) - math.log(p.REFUSED_FROM_M)) / p.REFUSED_LN_SCALE))
    refused = rng.random() < p.REFUSED_ODDS + (1.0 - p.REFUSED_ODDS) * past
    raised = None
    if raise_m is not None:
        above = o.depth(mark, raise_m)
        sigma = math.hypot(p.DEPTH_SIGMA, p.RAISE_SIGMA_M / above)
        e = math.exp(o.noise(sigma))
        shared = not refused and name in ("factor", "sonde") and rng.random() < p.SLIP_SHARED
        value = slipped_depth(o, label, name, through(above) * e, 0.0) if shared else above * e
        if not shared and rng.random() < p.SLIP_ODDS:
            value = math.exp(rng.uniform(0.0, 5.0)) * 0.05
        raised = written(value, step)
    return None if refused else written(depth, step), raised


def a_current(o: Over, mark: float, ln_current: float) -> Measured:
    """The displayed current as written."""
    value = math.exp(ln_current + o.noise(p.CURRENT_SIGMA)) * o.amperes(mark)
    if o.rng.random() < p.SLIP_ODDS:
        ten, tenth = p.CURRENT_TEN_SHARE
        dice = o.rng.random()
        if dice < ten:
            value *= 10.0
        elif dice < ten + tenth:
            value /= 10.0
        else:
            value = math.exp(o.rng.uniform(0.0, 5.0)) * 1e-4
    return Measured(value)


def a_hole(o: Over, mark: float) -> TestHole:
    """A test hole: it found the line, or missed what lies beyond it or below it."""
    rng = o.rng
    fix = math.hypot(p.FIX_SIGMA_M, p.FIX_SIGMA_M)
    if rng.random() < 0.5:
        depth = math.exp(o.z) + math.hypot(p.HOLE_SIGMA_M, 0.01) * rng.normal()
        at = -mark + math.hypot(fix, p.HOLE_SIGMA_M) * rng.normal()
        return TestHole("T", "E", Place(at, 0.0), 2, True, Measured(depth - 0.05), Measured(0.1))
    while True:
        at, dug = rng.uniform(-0.6, 0.6), rng.uniform(0.5, 1.5)
        away = at + fix * rng.normal() + mark
        there = abs(away) < p.HOLE_RADIUS_M and math.exp(o.z) < dug
        if not there or rng.random() < p.HOLE_MISS_ODDS:
            return TestHole("T", "E", Place(at, 0.0), 2, False, dug_to_m=Measured(dug))


def a_known(rng: np.random.Generator) -> Known:
    """Soil and receiver, known or not, and now and then another line of the job beside."""
    lower, spacing = rng.uniform(*p.LOWER_COIL_M), rng.uniform(*p.COIL_SPACING_M)
    coils = (lower, lower, spacing, spacing) if rng.random() < 0.5 else (*p.LOWER_COIL_M, *p.COIL_SPACING_M)
    soil = (math.log(p.SOIL_MEDIAN_OHM_M), math.log(p.SOIL_FACTOR))
    if rng.random() < 0.3:
        soil = (math.log(rng.uniform(10.0, 300.0)), math.log(2.0))
    beside = np.empty((0, 7))
    if rng.random() < 0.2:
        away, deep = rng.uniform(-2.5, 2.5), rng.normal(0.0, 0.4)
        spread, chance = p.CANDIDATE_SIGMA_M, p.CANDIDATE_ODDS
        beside = np.array([[away, spread, 0.0, 0.12, deep, p.CANDIDATE_LOG_SIGMA, chance]])
    return Known(*soil, *coils, float(rng.choice([-1.0, 0.25, 0.75])), 1.0, beside)


def simulate(rng: np.random.Generator) -> tuple[Any, FLOATS]:
    """One place: data, what is known, and the truth of shift, ln depth and ln current."""
    known = a_known(rng)
    hertz = float(rng.choice([500.0, 1000.0, 8000.0, 33000.0, 80000.0]))
    lines = int(rng.choice(3, p=p.LINES_ODDS))
    theta = draw_prior(1, lines, known, rng)[0]
    o = Over(theta, math.log(p.DEPTH_MEDIAN_M) + p.DEPTH_LOG_SIGMA * rng.normal(), hertz, rng)
    ln_current = math.log(p.CURRENT_MEDIAN_A) + p.CURRENT_LOG_SIGMA * rng.normal()
    by = MarkBy(rng.choice([MarkBy.PEAK, MarkBy.NULL, MarkBy.UNKNOWN], p=[0.8, 0.08, 0.12]))
    mark = (o.null if by is MarkBy.NULL else o.peak) + o.noise(o.sigma())
    if by is MarkBy.UNKNOWN:
        mark += p.UNKNOWN_MARK_SIGMA_M * rng.normal()
    method = DepthMethod(rng.choice([DepthMethod.TWO_COIL, DepthMethod.UNKNOWN], p=[0.9, 0.1]))
    signed = rng.random() < 0.9
    has = {
        name: rng.random() < share
        for name, share in {"gap": 0.75, "halves": 0.4, "depth": 0.92, "raise": 0.45, "hole": 0.08}.items()
    }
    step = 0.01 if rng.random() < 0.5 else 0.01 * FOOT
    raise_m = 0.3 if has["raise"] else None
    depth, raised = some_depths(o, mark, step, method, raise_m) if has["depth"] else (None, None)
    gap = a_gap(o, mark, rng.random() < 0.25) if has["gap"] else None
    if gap is not None and not signed and rng.random() < 0.5:
        gap = Measured(-gap.value, gap.half_range, gap.rounding)
    halves: list[Measured | None] = [*some_halves(o, mark)] if has["halves"] else [None, None]
    if has["halves"] and rng.random() < 0.2:
        halves[int(rng.integers(2))] = None
    reading = Reading(
        "1", "E", Place(0.0, 0.0), 2, mark_by=by, bearing_deg=0.0 if signed else None,
        null_offset_m=gap, half_left_m=halves[0], half_right_m=halves[1], depth_m=depth, depth_method=method,
        depth_refused=has["depth"] and depth is None,
        current_a=a_current(o, mark, ln_current) if rng.random() < 0.7 else None,
        raised_by_m=Measured(0.3) if raised is not None else None, raised_depth_m=raised,
    )  # fmt: skip
    hole = a_hole(o, mark) if has["hole"] else None
    station = Station("reading", "1", reading.place, 0.0, "", 2, reading.bearing_deg, reading, hole=hole)
    data = place_data(station, Line("E"), Setup("", "E", frequency_hz=hertz))
    return (data, known), np.array([-mark, o.z, ln_current])


def draws_of(data: tuple[PlaceData, Known], rng: np.random.Generator) -> Draws:
    """The posterior of one drawn place."""
    return solve_place(*data, [int(rng.integers(2**31))])


def posterior(data: tuple[PlaceData, Known], rng: np.random.Generator) -> FLOATS:
    """Equally weighted draws of shift, ln depth, ln current."""
    found = draws_of(data, rng)
    values = np.stack([found.shift, found.ln_depth, found.ln_current])
    return resampled(values, found.weights, DRAWS_KEPT, rng)


KIND = Kind(
    ("place across", "ln depth", "ln current"),
    simulate,
    posterior,
    "One place, any subset of peak, null or unknown mark, null gap (numbers, ranges, side not known), half "
    "points, depth (or withheld), raised depth, current and a test hole; none, one or two second lines, soil "
    "and coils known or not, every kind of slip.",
)
