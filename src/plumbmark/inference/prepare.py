"""From stations to the arrays of a stretch."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference import priors as p
from plumbmark.inference.legs import Legs, lay_legs
from plumbmark.inference.scene import HALF_TO_DEPTH
from plumbmark.inference.second import Known
from plumbmark.inference.side_shot import cells_of
from plumbmark.inference.sonde_mode import coils_of
from plumbmark.inference.stations import Station
from plumbmark.inference.stretch import Stretch
from plumbmark.model.job import Job, Line, NullKind, Setup
from plumbmark.model.measured import Measured
from plumbmark.model.reading import MarkBy, Profile, Reading, Scale, TestHole

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

#: Largest outside diameter likely where none is written [m]: its half stands between top and centre.
DIAMETER_UNKNOWN_M = 0.10
MOST_RAISES = 8


@dataclass(frozen=True, slots=True)
class Prepared:
    """A stretch and what its numbers came from. `turn` is +1 where a row's right is that of the route."""

    stretch: Stretch
    legs: Legs
    turn: FLOATS
    start: FLOATS
    middle_m: float  # chainage of the stretch's zero
    points: FLOATS
    setups: tuple[str, ...]  # ids, in the order that the stretch counts them


def setup_of(line: Line, name: str) -> Setup:
    """The setup of a row; a line that lists none has one of its own."""
    for setup in line.setups:
        if setup.id == name:
            return setup
    return line.setups[0] if line.setups else Setup("", line.id)


def receivers_of(setups: tuple[Setup, ...]) -> list[str | None]:
    """The receivers of some setups, each once."""
    return list(dict.fromkeys(s.receiver for s in setups))


def known_of(
    job: Job, setup: Setup, candidates: FLOATS, length_m: float, more: tuple[Setup, ...] = ()
) -> Known:
    """Prior of soil and receivers for a setup, and for `more` of the same line."""
    setups = {s.receiver: s for s in reversed((setup, *more))}
    kinds = {r.id: r.null_kind for r in job.receivers}
    values = {NullKind.PHASE: 0.25, NullKind.LEAST: 0.75, NullKind.UNKNOWN: -1.0}
    coils = [
        (*coils_of(job, setups[name]), values[kinds.get(name or "", NullKind.UNKNOWN)])
        for name in receivers_of((setup, *more))
    ]
    if job.soil.resistivity_ohm_m is None:
        soil, factor = p.SOIL_MEDIAN_OHM_M, p.SOIL_FACTOR
    else:
        soil, factor = job.soil.resistivity_ohm_m, job.soil.resistivity_sigma_factor
    return Known(
        math.log(min(max(soil, 0.5), 50000.0)),
        math.log(max(factor, 1.01)),
        *coils[0],
        max(length_m, 1.0),
        candidates,
        np.array(coils[1:], dtype=np.float64).reshape(-1, 5),
        1 + len(more),
    )


def _cell(m: Measured | None) -> tuple[float, float]:
    """Value and the variance of its rounding and range."""
    if m is None:
        return math.nan, 0.0
    return m.value, m.rounding**2 / 12.0 + m.half_range**2 / 3.0


def _ln(m: Measured | None, least: float) -> tuple[float, float]:
    value, var = _cell(m)
    if math.isnan(value):
        return math.nan, 0.0
    value = max(value, least)
    return math.log(value), var / value**2


def _raise_table(readings: list[Reading | None]) -> list[float]:
    """The few heights that receivers were raised by."""
    heights = sorted(
        {round(r.raised_by_m.value, 2) for r in readings if r and r.raised_by_m and r.raised_depth_m}
    )
    if len(heights) <= MOST_RAISES:
        return heights
    return [float(h) for h in np.quantile(heights, np.linspace(0.0, 1.0, MOST_RAISES))]


def _depth_of(r: Reading | None) -> Measured | None:
    if r is None or r.depth_refused:
        return None
    return r.depth_m


_CELLS = (
    "gap",
    "half_left",
    "half_right",
    "ln_depth",
    "ln_raised",
    "ln_current",
    "seen_ln_depth",
    "seen_across",
    "dug_ln_depth",
    "side_stand",
)


@dataclass(frozen=True, slots=True)
class _Cells:
    """What was taken, by name, shape (n,): values (NaN: not taken) and the variances of their rounding."""

    value: dict[str, FLOATS]
    floor: dict[str, FLOATS]
    raise_index: INTS
    raises: list[float]

    @classmethod
    def empty(cls, n: int, raises: list[float]) -> _Cells:
        """Nothing taken at `n` stations; `raises` are the heights that receivers were raised by."""
        value = {name: np.full(n, math.nan) for name in _CELLS}
        floor = {name: np.zeros(n) for name in _CELLS}
        return cls(value, floor, np.full(n, -1, dtype=np.int64), raises)

    def take(self, i: int, r: Reading, turn: float, bent: float) -> None:
        """Cells of one reading; `bent` is 1 at a sharp bend and dies away from it."""
        a, f = self.value, self.floor
        gap, f["gap"][i] = _cell(r.null_offset_m)
        a["gap"][i] = turn * gap
        halves = [_cell(r.half_left_m), _cell(r.half_right_m)][:: int(turn)]
        depth = _depth_of(r)
        if depth is not None:
            widest = HALF_TO_DEPTH * (depth.value + 0.5 * sum(p.LOWER_COIL_M))
            halves = [(widest, var + (0.1 * widest) ** 2) if h > widest else (h, var) for h, var in halves]
        (a["half_left"][i], f["half_left"][i]), (a["half_right"][i], f["half_right"][i]) = halves
        a["ln_depth"][i], f["ln_depth"][i] = _ln(_depth_of(r), 0.03)
        f["ln_depth"][i] += (p.BEND_DEPTH_SIGMA * bent) ** 2
        a["ln_current"][i], f["ln_current"][i] = _ln(r.current_a, 1e-6)
        if r.raised_by_m is not None and r.raised_depth_m is not None and self.raises:
            nearest = int(np.abs(np.array(self.raises) - r.raised_by_m.value).argmin())
            self.raise_index[i] = nearest
            a["ln_raised"][i], var = _ln(r.raised_depth_m, 0.05)
            by, by_var = _cell(r.raised_by_m)
            off = by - self.raises[nearest]
            block = (p.RAISE_SIGMA_M**2 + by_var + off**2) / max(r.raised_depth_m.value, 0.05) ** 2
            f["ln_raised"][i] = var + block + (p.BEND_DEPTH_SIGMA * bent) ** 2

    def see(self, i: int, s: Station, line: Line, across: float) -> None:
        """A test hole: depth to the line's centre and where it is, or how deep it is not."""
        hole = s.hole
        assert hole is not None
        a, f = self.value, self.floor
        if not hole.found:
            self.dig(i, hole, line, across)
            return
        a["seen_across"][i] = across
        a["seen_ln_depth"][i], f["seen_ln_depth"][i], f["seen_across"][i] = seen_of(s, line)

    def dig(self, i: int, hole: TestHole, line: Line, across: float) -> None:
        """A test hole that found nothing: the line is deeper, or it passes beside."""
        if hole.dug_to_m is None:
            return
        self.value["dug_ln_depth"][i] = dug_of(hole, line)
        over = math.exp(-0.5 * (across / p.HOLE_REACH_M) ** 2)
        self.floor["dug_ln_depth"][i] = 1.0 - (1.0 - p.HOLE_BESIDE_ODDS) * over


def dug_of(hole: TestHole, line: Line) -> float:
    """The ln of the depth that a line's centre is below, unless it passes beside an empty hole."""
    if hole.dug_to_m is None:
        return math.nan
    radius = 0.5 * (line.outside_diameter_m or 0.5 * DIAMETER_UNKNOWN_M)
    return math.log(max(hole.dug_to_m.value + radius, 0.05))


def seen_of(s: Station, line: Line) -> tuple[float, float, float]:
    """What a test hole that found the line says: ln depth to its centre, its variance, and its place's [m2].

    NaN and 0 for the depth where none was measured.
    """
    hole = s.hole
    assert hole is not None
    sigma = s.place.sigma_m if s.place.sigma_m is not None else p.FIX_SIGMA_M
    place_var = sigma**2 + 0.02**2
    if hole.depth_to_top_m is None:
        return math.nan, 0.0, place_var
    top, var = _cell(hole.depth_to_top_m)
    if hole.outside_diameter_m is not None:
        radius, spread = 0.5 * hole.outside_diameter_m.value, 0.01
    elif line.outside_diameter_m is not None:
        radius, spread = 0.5 * line.outside_diameter_m, 0.01
    else:
        radius, spread = 0.25 * DIAMETER_UNKNOWN_M, 0.25 * DIAMETER_UNKNOWN_M
    depth = max(top + radius, 0.03)
    return math.log(depth), (0.02**2 + spread**2 + var) / depth**2, place_var


def prepare(
    job: Job, line: Line, stations: list[Station], setup: Setup, more: tuple[Setup, ...] = ()
) -> Prepared:
    """Arrays of `stations`, which are of one setup or of `more` and in the order of the route.

    Parameters
    ----------
    job : Job
        Its receivers count.
    line : Line
        The line the stations are of; its diameter serves where a test hole did not give one.
    stations : list of Station
        One at least.
    setup, more : Setup
        Their frequencies and receivers count.

    Returns
    -------
    Prepared
        In the stretch, NaN stands for what was not taken.
    """
    n = len(stations)
    points = np.array([(s.place.easting_m, s.place.northing_m) for s in stations])
    chainage = np.array([s.chainage_m for s in stations])
    middle = 0.5 * float(chainage[0] + chainage[-1])
    legs = lay_legs(points - points[0], chainage) if n > 1 else _lone(stations[0])
    turn = np.ones(n)
    for i, s in enumerate(stations):
        if s.bearing_deg is not None and math.cos(math.radians(s.bearing_deg) - legs.direction[i]) < 0.0:
            turn[i] = -1.0
    rows = [None if s.repeat_of else s.in_line_mode or s.reading for s in stations]
    shown = np.array([_shown_depth(r, s.profile) for r, s in zip(rows, stations, strict=True)])
    usual = float(np.nanmedian(shown)) if np.any(~np.isnan(shown)) else p.DEPTH_MEDIAN_M
    deep = np.where(np.isnan(shown), usual, shown)
    # near a sharp bend a long straight line is the wrong model: believe the numbers less there
    bent = np.exp(-legs.to_bend / np.maximum(deep, 0.3))
    cells = _Cells.empty(n, _raise_table(rows))
    kind = np.zeros(n, dtype=np.int64)
    fix = np.zeros(n)
    marked = np.array([s.source not in ("beside", "test_hole") for s in stations])
    for i, (s, r) in enumerate(zip(stations, rows, strict=True)):
        sigma = s.place.sigma_m if s.place.sigma_m is not None else p.FIX_SIGMA_M
        fix[i] = sigma**2 + (p.BEND_LATERAL_OF_DEPTH * deep[i] * bent[i]) ** 2
        if s.source == "beside":
            fix[i] = 1e6  # says how deep the line is where the marks show its course, not where it runs
            kind[i] = 2
            stand = np.array([s.side.place.easting_m, s.side.place.northing_m]) if s.side else points[i]
            right = np.array([math.cos(legs.direction[i]), -math.sin(legs.direction[i])])
            away = np.hypot(*(points[marked] - points[i]).T).min()
            cells.value["side_stand"][i] = float((stand - points[i]) @ right)
            cells.floor["side_stand"][i] = sigma**2 + (p.SIDE_COURSE_M + p.SIDE_COURSE_PER_M * away) ** 2
            continue
        if s.hole is not None:
            fix[i] = 1e6  # a pseudo station: its place is a datum of the line itself
            cells.see(i, s, line, legs.across[i])
        if r is None:
            kind[i] = 2 if s.reading is None and s.profile is None else 0
            continue
        kind[i] = {MarkBy.PEAK: 0, MarkBy.NULL: 1, MarkBy.GUIDED: 2, MarkBy.UNKNOWN: 2}[r.mark_by]
        cells.take(i, r, float(turn[i]), float(bent[i]))
    peak_sigma = p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * np.minimum(deep, 6.0)
    stretch = _stretch_of(
        chainage - middle,
        peak_sigma,
        kind,
        fix,
        legs,
        cells,
        _walks(stations, turn),
        (setup, *more),
        stations,
        line,
    )
    start = np.log(np.clip(_smoothed(deep), 0.2, 3.5))
    return Prepared(stretch, legs, turn, start, middle, points, tuple(s.id for s in (setup, *more)))


def _stretch_of(
    at: FLOATS,
    peak_sigma: FLOATS,
    kind: INTS,
    fix: FLOATS,
    legs: Legs,
    cells: _Cells,
    walks: tuple[INTS, INTS, list[FLOATS]],
    setups: tuple[Setup, ...],
    stations: list[Station],
    line: Line,
) -> Stretch:
    a, f = cells.value, cells.floor
    receivers = receivers_of(setups)
    # a test hole has no setup: any will do
    own = [0 if s.hole is not None else setups.index(setup_of(line, s.setup)) for s in stations]
    start_of, count_of, walk = walks
    return Stretch(
        at=at,
        peak_sigma=peak_sigma,
        mark_kind=kind,
        gap=a["gap"],
        gap_floor=f["gap"],
        half_left=a["half_left"],
        half_left_floor=f["half_left"],
        half_right=a["half_right"],
        half_right_floor=f["half_right"],
        ln_depth=a["ln_depth"],
        ln_depth_floor=f["ln_depth"],
        ln_raised=a["ln_raised"],
        ln_raised_floor=f["ln_raised"],
        raise_index=cells.raise_index,
        raises=np.array(cells.raises, dtype=np.float64),
        ln_current=a["ln_current"],
        ln_current_floor=f["ln_current"],
        seen_ln_depth=a["seen_ln_depth"],
        seen_var=f["seen_ln_depth"],
        across=legs.across,
        fix_var=fix,
        seen_across=a["seen_across"],
        seen_across_var=f["seen_across"],
        leg=legs.leg,
        profile_start=start_of,
        profile_count=count_of,
        point_offset=walk[0],
        point_height=walk[1],
        point_across=walk[2],
        point_across_sigma=walk[3],
        point_upright=walk[4],
        point_upright_sigma=walk[5],
        side_stand=a["side_stand"],
        side_var=f["side_stand"],
        side_cells=np.array(
            [
                np.full(4, math.nan) if s.source != "beside" or s.side is None else cells_of(s.side)
                for s in stations
            ]
        ),
        setup=np.array(own, dtype=np.int64),
        dug_ln_depth=a["dug_ln_depth"],
        dug_beside=f["dug_ln_depth"],
        receiver_of=np.array([receivers.index(s.receiver) for s in setups], dtype=np.int64),
        frequency_hz=np.array([float(s.frequency_hz or p.FREQUENCY_HZ) for s in setups]),
        has_halves=bool(np.any(~np.isnan(a["half_left"])) or np.any(~np.isnan(a["half_right"]))),
        has_null_marks=bool(np.any(kind == 1)),
    )


def _shown_depth(r: Reading | None, profile: Profile | None) -> float:
    """Depth to begin from: as displayed, else half as far as half the signal reaches in a walk across."""
    depth = _depth_of(r)
    if depth is not None:
        return min(max(depth.value, 0.05), 6.0)
    if profile is None or profile.scale is Scale.UNKNOWN:
        return math.nan
    walk = _walk(profile, 1.0)
    use = ~np.isnan(walk[2])
    offset, signal = walk[0][use], walk[2][use]
    if len(offset) < 3:
        return math.nan
    half = offset[signal >= 0.5 * signal.max()]
    return min(max(0.5 * float(half[-1] - half[0]), 0.3), 2.5)


def _smoothed(deep: FLOATS) -> FLOATS:
    """Running median of five, so that the search does not begin at a slip."""
    padded = np.pad(deep, 2, mode="edge")
    return np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=-1)


def _lone(s: Station) -> Legs:
    bearing = math.radians(s.bearing_deg or 0.0)
    return Legs(np.zeros(1, dtype=np.int64), np.zeros(1), np.array([bearing]), np.array([np.inf]))


def _walks(stations: list[Station], turn: FLOATS) -> tuple[INTS, INTS, list[FLOATS]]:
    """Points of all walks across, one after another, offsets turned to the route's right."""
    start = np.zeros(len(stations), dtype=np.int64)
    count = np.zeros(len(stations), dtype=np.int64)
    parts: list[FLOATS] = []
    total = 0
    for i, s in enumerate(stations):
        if s.profile is None:
            continue
        walk = _walk(s.profile, float(turn[i]))
        if walk.shape[1] < 3:
            continue
        start[i], count[i] = total, walk.shape[1]
        total += walk.shape[1]
        parts.append(walk)
    joined = np.concatenate(parts, axis=1) if parts else np.empty((6, 0))
    return start, count, [np.ascontiguousarray(row) for row in joined]


def _walk(profile: Profile, turn: float) -> FLOATS:
    """One walk: offset, height, across and its sigma, upright and its sigma; shape (6, m).

    Where only the order is trusted, ranks among all amplitudes stand for them and -1 for their sigmas.
    """
    points = sorted(profile.points, key=lambda q: q.offset_m.value)
    offset = np.array([q.offset_m.value for q in points])
    height = np.array([math.nan if q.height_m is None else q.height_m.value for q in points])
    out = [turn * offset, height]
    sides = []
    for name in ("horizontal", "vertical"):
        cells = [_cell(getattr(q, name)) for q in points]
        value = np.array([c[0] for c in cells])
        floor = np.array([c[1] for c in cells])
        if profile.scale is Scale.DB:
            value = 10.0 ** (value / 20.0)
            floor = floor * (value * math.log(10.0) / 20.0) ** 2
        sides.append((value, floor))
    if profile.scale is Scale.UNKNOWN:
        values = np.array([v for v, _f in sides])
        ranks = np.where(np.isnan(values), np.nan, np.unique(values, return_inverse=True)[1].reshape(2, -1))
        sides = [(r, np.full(len(points), -1.0)) for r in ranks]
        walk = np.array([*out, *sides[0], *sides[1]])
        return walk[:, ~np.all(np.isnan(values), axis=0)]
    top = max((float(np.nanmax(v)) for v, _f in sides if np.any(~np.isnan(v))), default=1.0)
    top = max(top, 1e-12)
    for value, floor in sides:
        slope = np.zeros_like(value)
        if len(offset) > 2 and np.all(np.diff(offset) > 0):
            slope = np.nan_to_num(np.gradient(value, offset))
        sigma2 = (p.PROFILE_SIGMA * value) ** 2 + (p.PROFILE_FLOOR * top) ** 2
        sigma2 = sigma2 + floor + (p.PROFILE_OFFSET_SIGMA_M * slope) ** 2
        out += [value / top, np.sqrt(sigma2) / top]
    walk = np.array(out)
    use = ~(np.isnan(walk[2]) & np.isnan(walk[4]))
    return walk[:, use]
