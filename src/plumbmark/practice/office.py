"""From a crew's numbers to the site as filed: how it is written down, and the truth beside it."""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from plumbmark.practice.crew import Crew, Job, moved_by_others
from plumbmark.practice.receiver import Instrument
from plumbmark.practice.site import Beside, Hole, Listed, OtherTruth, Row, Site, StationTruth, Tie, Walked
from plumbmark.practice.world import World, current_at, foot_on
from plumbmark.practice.writing import UNIT_M, on_baseline, significant

ALONE_SHIFT_M = 0.05
ALONE_DEPTH = 0.05
LINES = (("E1", "electric"), ("W3", "water"), ("G2", "gas"), ("T1", "communications"))


def listed_line(rng: np.random.Generator, frequency_hz: float, avoid: str = "") -> Listed:
    """A line as the job lists it: what it is, and how it was hooked up."""
    ident, utility = LINES[int(rng.integers(len(LINES)))]
    while ident == avoid:
        ident, utility = LINES[int(rng.integers(len(LINES)))]
    hookup = str(rng.choice(["direct", "direct", "direct", "clamp", "clamp", "induction", "passive"]))
    if hookup == "passive" and frequency_hz > 1000:
        hookup = "direct"
    evidence = []
    if hookup in ("direct", "clamp") and rng.random() < 0.5:
        evidence.append("connected")
    if rng.random() < 0.3:
        evidence.append("followed-to-fitting")
    across = float(np.round(rng.uniform(0.02, 0.2), 3)) if rng.random() < 0.4 else None
    return Listed(ident, utility, hookup, frequency_hz, tuple(evidence), across)


def draw_header(
    rng: np.random.Generator,
    family: str,
    seed: int,
    resistivity_ohm_m: float,
    *,
    local: bool = False,
    feet_chance: float = 0.4,
) -> Site:
    """An empty site: receiver, soil as told, units, how places are written. `origin` is in `style`."""
    if local or rng.random() < 0.45:
        crs = "local"
        origin = (float(np.round(rng.uniform(50, 400), 2)), float(np.round(rng.uniform(50, 400), 2)))
    else:
        crs = f"EPSG:32{rng.choice([6, 7])}{rng.integers(1, 61):02d}"
        north = rng.uniform(1.0e6, 6.5e6) if crs[7] == "6" else rng.uniform(4.0e6, 9.5e6)
        origin = (float(np.round(rng.uniform(3.5e5, 6.5e5), 2)), float(np.round(north, 2)))
    feet = bool(rng.random() < feet_chance)
    length = str(rng.choice(["in", "in", "ft"] if feet else ["m", "m", "m", "m", "cm"]))
    text = str(rng.choice(["words", "quotes"])) if rng.random() < 0.1 else ""
    place = str(rng.choice(["en3", "en3", "en2", "baseline", "lonlat" if crs != "local" else "en3"]))
    kind = [None, "phase", "least", "unknown"][int(rng.integers(4))]
    least = kind == "least" or (kind != "phase" and bool(rng.random() < 0.5))
    tool = Instrument(
        float(np.round(rng.uniform(0.03, 0.12), 3)),
        float(np.round(rng.uniform(0.30, 0.60), 3)),
        least,
        ratio_error=float(rng.normal(0, 0.003)),
        tilt=math.radians(rng.normal(0, 0.2)),
    )
    soil = None
    if rng.random() < 0.45:
        told = resistivity_ohm_m * math.exp(rng.normal(0, math.log(2)))
        soil = (float(significant(told, 2)), 2.0 if rng.random() < 0.5 else None)
    style = {
        "place": place,
        "length": length,
        "depth_text": text,
        "digits": str(rng.choice([2, 3])),
        "tape": "ft" if feet and rng.random() < 0.5 else "m",
        "times": "yes" if rng.random() < 0.5 else "no",
        "origin": f"{origin[0]:.2f} {origin[1]:.2f}",
    }
    listed = bool(rng.random() < 0.88)
    return Site(
        family,
        seed,
        f"job-{zlib.crc32(f'{family} {seed}'.encode()):08x}",
        "field work",
        crs,
        "ft-in" if feet else "m",
        soil,
        tool,
        listed,
        kind if listed else None,
        (),
        (),
        World((), resistivity_ohm_m),
        (),
        style=style,
        position_sigma_m=float(rng.choice([0.02, 0.05])) if rng.random() < 0.2 else None,
    )


def draw_crew(rng: np.random.Generator, head: Site) -> Crew:
    """How this job's crew works; a stated position sigma is kept, an unstated one moves with the rest."""
    factor = math.exp(rng.normal(0, math.log(1.35)))
    return Crew(
        rng,
        factor,
        flip=bool(rng.random() < 0.5),
        window_depths=float(rng.uniform(0.5, 1.0)),
        follows=bool(rng.random() < 0.6),
        fix_sigma_m=head.position_sigma_m or 0.02,
        fix_bias={},
        fix_factor=1.0 if head.position_sigma_m else factor,
    )


def without_bearing(row: Row, ahead_deg: float | None) -> Row:
    """The row with its bearing left blank and its sides counted as the format then does.

    `ahead_deg` is the direction of increasing chainage; None for a lone place, where only the size
    of the gap is told.
    """
    if row.bearing_deg is None:
        return row
    if ahead_deg is None:
        gap = row.null_m
        if isinstance(gap, tuple):
            gap = (0.0, gap[1]) if gap[0] < 0 < gap[1] else tuple(sorted((abs(gap[0]), abs(gap[1]))))  # type: ignore[assignment]
        elif gap is not None:
            gap = abs(gap)
        return replace(row, bearing_deg=None, null_m=gap)
    turned = abs((row.bearing_deg - ahead_deg + 180.0) % 360.0 - 180.0) > 90.0
    if not turned:
        return replace(row, bearing_deg=None)
    gap = row.null_m
    gap = (-gap[1], -gap[0]) if isinstance(gap, tuple) else None if gap is None else -gap
    return replace(
        row, bearing_deg=None, null_m=gap, half_left_m=row.half_right_m, half_right_m=row.half_left_m
    )


def ahead_at(rows: Sequence[Row], k: int) -> float | None:
    """Bearing [deg] from the row before to the row after, the way the rows run."""
    first, last = rows[max(k - 1, 0)], rows[min(k + 1, len(rows) - 1)]
    de, dn = last.easting_m - first.easting_m, last.northing_m - first.northing_m
    return math.degrees(math.atan2(de, dn)) if math.hypot(de, dn) > 0.5 else None


def coarse_rows(rng: np.random.Generator, rows: list[Row], unit: str, ranges: bool) -> list[Row]:
    """Rows as someone in a hurry writes them: the gap as a range, bearings and currents left out."""
    step = 0.0254 if unit in ("in", "ft") else 0.05 / 2
    edges = np.array([0, 2, 6, 12, 24, 48]) * step
    blank = rng.random() < 0.5
    out = []
    for k, row in enumerate(rows):
        if ranges and isinstance(row.null_m, float):
            size = abs(row.null_m)
            j = int(np.searchsorted(edges, size, side="right"))
            gap: tuple[float, float] | None = None
            if j < edges.size:
                low, high = float(edges[j - 1]), float(edges[j])
                gap = (-high, high) if j == 1 else (low, high) if row.null_m > 0 else (-high, -low)
            row = replace(row, null_m=gap)
        if rng.random() < 0.3:
            row = replace(row, current_a=None)
        if blank and rng.random() < 0.6 and (len(rows) == 1 or ahead_at(rows, k) is not None):
            row = without_bearing(row, None if len(rows) == 1 else ahead_at(rows, k))
        out.append(row)
    return out


def _resolve(corners: np.ndarray, distances: np.ndarray, start: np.ndarray) -> np.ndarray:
    """Place of least squared tape misfit, by Gauss and Newton from a start near it."""
    at = start.astype(float)
    for _ in range(30):
        apart = at - corners
        length = np.hypot(*apart.T)
        at = at - np.linalg.lstsq(apart / length[:, None], length - distances, rcond=None)[0]
    return at


def tape_places(
    rng: np.random.Generator, rows: list[Row]
) -> tuple[list[Row], tuple[tuple[str, float, float], ...], tuple[Tie, ...]]:
    """Places taped from corners of buildings: each row's place becomes what its tapes give."""
    names = ["house-NE", "house-NW", "pole", "gate"]
    middle = np.mean([[r.easting_m, r.northing_m] for r in rows], axis=0)
    turn = rng.uniform(0, 2 * math.pi)
    around = [turn + k * math.pi / 2 + rng.uniform(-0.5, 0.5) for k in range(4)]
    spots = np.array([middle + rng.uniform(3, 9) * np.array([math.sin(a), math.cos(a)]) for a in around])
    spots = np.round(spots, 2)
    held = int(rng.integers(3, 5))
    out, ties = [], []
    for k, row in enumerate(rows):
        at = np.array([row.easting_m, row.northing_m])
        tapes = np.round(np.hypot(*(spots - at).T) + rng.normal(0, 0.02, 4), 2)[:held]
        found = _resolve(spots[:held], tapes, at)
        place = f"P{k + 1:02d}"
        ties += [Tie(place, names[j], float(tapes[j])) for j in range(held)]
        out.append(replace(row, easting_m=float(found[0]), northing_m=float(found[1]), place_id=place))
    return out, tuple((names[j], float(spots[j][0]), float(spots[j][1])) for j in range(held)), tuple(ties)


def _baseline(rng: np.random.Generator, rows: Sequence[Row]) -> tuple[float, float, float, float]:
    """A baseline roughly along the rows, a few metres to one side, rounded as filed."""
    e = np.array([r.easting_m for r in rows])
    n = np.array([r.northing_m for r in rows])
    ahead = math.atan2(e[-1] - e[0], n[-1] - n[0]) + rng.normal(0, 0.05)
    if rng.random() < 0.5:
        ahead += math.pi
    along = np.array([math.sin(ahead), math.cos(ahead)])
    aside = np.array([along[1], -along[0]]) * rng.uniform(-7.0, 7.0)
    reach = (np.column_stack([e, n]) - [e[0], n[0]]) @ along
    start = np.array([e[0], n[0]]) + along * (reach.min() - rng.uniform(1, 3)) + aside
    end = start + along * (np.ptp(reach) + rng.uniform(2, 6))
    return tuple(float(np.round(v, 2)) for v in (*start, *end))  # type: ignore[return-value]


def filed(site: Site, row: Row) -> Row:
    """The row with its place rounded as it will be written."""
    style = site.style["place"]
    if style == "ties":
        return row
    if style == "baseline" and site.baseline is not None:
        tape = UNIT_M[site.style.get("tape", "m")]
        taken = on_baseline(site.baseline, row.easting_m, row.northing_m)
        station, offset = (round(v / tape, 2) * tape for v in taken)
        e1, n1, e2, n2 = site.baseline
        length = math.hypot(e2 - e1, n2 - n1)
        ue, un = (e2 - e1) / length, (n2 - n1) / length
        return replace(
            row,
            easting_m=e1 + station * ue + offset * un,
            northing_m=n1 + station * un - offset * ue,
        )
    digits = 2 if style == "en2" else 3
    return replace(row, easting_m=round(row.easting_m, digits), northing_m=round(row.northing_m, digits))


def truth_at(job: Job, ident: str, row: Row, origin: tuple[float, float], slip: str) -> StationTruth:
    """The truth at a row's written place: the foot of that place on the line, and what others do there."""
    chain = job.world.chains[job.target]
    foot = foot_on(chain, row.easting_m - origin[0], row.northing_m - origin[1])
    shift, change = moved_by_others(job, foot)
    return StationTruth(
        ident,
        row.line,
        foot.easting_m + origin[0],
        foot.northing_m + origin[1],
        math.degrees(foot.bearing) % 360.0,
        foot.depth_m,
        abs(current_at(chain, job.excitation.currents[job.target], foot.chainage_m)),
        slip,
        abs(shift) < ALONE_SHIFT_M and abs(change) < ALONE_DEPTH,
        shift,
        change,
    )


def _others_of(job: Job, line: str, truth: StationTruth, origin: tuple[float, float]) -> list[OtherTruth]:
    e, n = truth.easting_m - origin[0], truth.northing_m - origin[1]
    own = foot_on(job.world.chains[job.target], e, n)
    current = current_at(job.world.chains[job.target], job.excitation.currents[job.target], own.chainage_m)
    out = []
    for k, chain in enumerate(job.world.chains):
        if k != job.target:
            foot = foot_on(chain, e, n)
            offset = (foot.easting_m - e) * math.cos(own.bearing) - (foot.northing_m - n) * math.sin(
                own.bearing
            )
            ratio = current_at(chain, job.excitation.currents[k], foot.chainage_m) / current
            out.append(OtherTruth(line, chain.name, offset, foot.depth_m, ratio.real, ratio.imag))
    return out


_Placed = TypeVar("_Placed", Row, Walked, Beside, Hole)


def _moved(item: _Placed, origin: tuple[float, float]) -> _Placed:
    return replace(item, easting_m=item.easting_m + origin[0], northing_m=item.northing_m + origin[1])


def finish(
    rng: np.random.Generator,
    head: Site,
    world: World,
    jobs: Sequence[Job],
    read: Sequence[list[Row]],
    *,
    walked: Sequence[Walked] = (),
    beside: Sequence[Beside] = (),
    holes: Sequence[Hole] = (),
    keep_order: bool = False,
) -> Site:
    """File a site: places moved to the job's system and rounded, rows shuffled or not, truth added.

    Rows of one line in ten sites come out of order. One walk across in four that has an id of its
    own stands without its reading.
    """
    origin = (float(head.style["origin"].split()[0]), float(head.style["origin"].split()[1]))
    lines = [[_moved(row, origin) for row in rows] for rows in read]
    corners = tuple((name, e + origin[0], n + origin[1]) for name, e, n in head.corners)
    every = [row for rows in lines for row in rows]
    site = replace(head, world=world, corners=corners)
    if site.style["place"] == "baseline":
        site = replace(site, baseline=_baseline(rng, lines[0]))
    job_of = {row.id: job for job, rows in zip(jobs, lines, strict=True) for row in rows}
    every = [filed(site, row) for row in every]
    blank = any(row.bearing_deg is None for row in every)
    if not keep_order and len(lines) == 1 and not blank and rng.random() < 0.1:
        every = [every[int(k)] for k in rng.permutation(len(every))]
    truth = [truth_at(job_of[row.id], row.id, row, origin, row.slip) for row in every]
    others = []
    for job, rows in zip(jobs, lines, strict=True):
        own = [t for t in truth if t.line == rows[0].line]
        others += _others_of(job, rows[0].line, own[len(own) // 2], origin)
    at_id = {row.id: row for row in every}
    across = []
    for one in walked:
        at = f"r{int(one.id[1:]):02d}"
        row = at_id[at]
        across.append(replace(one, easting_m=row.easting_m, northing_m=row.northing_m))
        if one.id.startswith("x") and rng.random() < 0.25:
            every = [r for r in every if r.id != at]
            truth = [replace(t, station=one.id) if t.station == at else t for t in truth]
    return replace(
        site,
        rows=tuple(every),
        truth=tuple(truth),
        others=tuple(others),
        walked=tuple(across),
        beside=tuple(_moved(b, origin) for b in beside),
        holes=tuple(_moved(h, origin) for h in holes),
    )
