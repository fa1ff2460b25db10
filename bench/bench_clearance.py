"""The clearance check measured: chances against counting, and whether they come true on invented sites.

    PYTHONPATH=src python bench/bench_clearance.py --counted 2000000
    PYTHONPATH=src python bench/bench_clearance.py --posterior 500000
    PYTHONPATH=src python bench/bench_clearance.py --digs 500 --seed 70 --svg docs/reliability.svg

Digs of the second kind are laid out by the answer alone, never by the truth, with depths and places that make
all chances; then it is looked at whether the true line was struck, by formulas of this file.
"""

from __future__ import annotations

import argparse
import csv
import importlib.util
import math
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from plumbmark.clearance.chance import chance_of_less, course_of, seen_by, wander_of
from plumbmark.clearance.rules import dig_tolerance
from plumbmark.clearance.shapes import beside, footprints_of
from plumbmark.exchange.jobfolder import read_job
from plumbmark.inference.solve import solve_with_posterior
from plumbmark.model.draws import LineDraws
from plumbmark.model.estimate import LineEstimate
from plumbmark.model.record import Dig, DigKind
from plumbmark.practice import FAMILIES, make_site, write_site

FLOATS = NDArray[np.float64]
SAMPLES = 4000
PER_LINE = 10
RADIUS_M = 0.02


def crosscheck() -> ModuleType:
    """The test that counts, whose cases are counted longer here."""
    path = Path(__file__).parents[1] / "tests" / "crosscheck" / "test_strike_chances.py"
    spec = importlib.util.spec_from_file_location("counting", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def count(total: int) -> None:
    """Counted and closed-form chances of trenches and bores, from 1 in 2 down to about 1 in 1,000."""
    module = crosscheck()
    module.COUNTED = total
    found: list[tuple[float, float]] = []
    module._agree = lambda ours, counted, _: found.append((ours, counted))
    cases = [
        *(("trench across", module.test_trench_across, c) for c in ((0.80, 0.0), (0.55, 0.0), (0.25, 0.3))),
        *(("trench beside", module.test_trench_beside, c) for c in ((0.6, 0.9), (0.8, 1.2), (0.6, 0.62))),
        *(("bore across", module.test_bore_across, c) for c in ((1.0,), (1.55,), (1.75,))),
        ("bore along", module.test_bore_along, ()),
    ]
    for name, test, case in cases:
        started = time.perf_counter()
        test(*case)
        ours, counted = found[-1]
        noise = 1.0 / math.sqrt(max(counted * total, 1.0))
        print(
            f"{name:14} {case!s:14} counted {counted:.5f} (± {100 * noise:.1f} %), ours {ours:.5f}, "
            f"{100 * (ours / counted - 1):+.1f} %  ({time.perf_counter() - started:.0f} s)"
        )
    worst = max(abs(ours / counted - 1.0) for ours, counted in found if counted >= 1e-3)
    print(f"worst from 1 in 1,000 up: {100 * worst:.1f} %")


def against_posterior(total: int) -> None:
    """Chances of the example site against counting samples of its own posterior, by formulas of this file."""
    job, _ = read_job(Path(__file__).parents[1] / "examples" / "alder-lateral")
    assert job is not None
    solution, posterior = solve_with_posterior(job)
    middle = solution.lines[0].stations[5]
    right = math.radians(middle.right_deg)
    e, n = math.sin(right), math.cos(right)
    here = np.array([middle.easting_m, middle.northing_m])
    across = tuple(tuple(here + s * np.array([e, n])) for s in (-3.0, 3.0))
    beside_it = tuple(tuple(here + 0.45 * np.array([e, n]) + s * np.array([-n, e])) for s in (-2.0, 2.0))
    deep = middle.depth_m.value
    cases = [Dig("d", DigKind.TRENCH, (across,), deep * f, width_m=0.4) for f in (1.0, 0.9, 0.8, 0.7, 0.6)]
    cases += [Dig("d", DigKind.TRENCH, (beside_it,), deep * f, width_m=0.4) for f in (1.5, 0.9, 0.8)]
    cases += [Dig("d", DigKind.BORE, (across,), deep + off, diameter_m=0.1) for off in (0.0, 0.3, 0.45, 0.6)]
    said = []
    draws = posterior.draw(8 * 2000, 1)["E1"]
    for dig in cases:
        (shape,) = footprints_of(dig)
        course = course_of(draws, middle.chainage_m - 3.5, middle.chainage_m + 3.5)
        stray = wander_of(shape, len(draws.depth_m), np.random.default_rng(1))
        each = chance_of_less(shape, course, seen_by(shape, course), RADIUS_M, 0.0, stray)
        said.append(float(each.mean()))
    hits = np.zeros(len(cases))
    rng = np.random.default_rng(2)
    for chunk in range(total // 5000):
        drawn = posterior.draw(5000, 100 + chunk)["E1"]
        near = np.abs(drawn.chainage_m - middle.chainage_m) < 4.0
        at = drawn.chainage_m[near]
        fine = np.arange(at[0], at[-1], 0.05)
        k = np.searchsorted(at, fine, side="right").clip(1, len(at) - 1)
        share = (fine - at[k - 1]) / (at[k] - at[k - 1])
        east, north, depth = (
            v[:, near][:, k - 1] * (1 - share) + v[:, near][:, k] * share
            for v in (drawn.easting_m, drawn.northing_m, drawn.depth_m)
        )
        for i, dig in enumerate(cases):
            hits[i] += _met(dig, east, north, depth, rng)
    for dig, ours, counted in zip(cases, said, hits / (5000 * (total // 5000)), strict=True):
        noise = 100.0 / math.sqrt(max(counted * total, 1.0))
        off = f"{100 * (ours / counted - 1):+.1f} %" if counted else "-"
        name = f"{dig.kind.value} {dig.depth_m:.2f} m"
        print(f"{name}: counted {counted:.5f} ± {noise:.1f} %, ours {ours:.5f}, {off}")


def _met(dig: Dig, east: FLOATS, north: FLOATS, depth: FLOATS, rng: np.random.Generator) -> int:
    """How many of many lines, shape (n, k), a straight dig meets that strays as digs do."""
    edge, down = (s * rng.standard_normal((len(east), 1)) for s in dig_tolerance(dig.kind))
    a, b = (np.array(p) for p in dig.rings[0])
    length = float(np.hypot(*(b - a)))
    ahead = (b - a) / length
    run = (east - a[0]) * ahead[0] + (north - a[1]) * ahead[1]
    side = (east - a[0]) * ahead[1] - (north - a[1]) * ahead[0]
    past = np.maximum(np.maximum(-run, run - length), 0.0)
    assert dig.depth_m is not None
    if dig.kind is DigKind.BORE:
        assert dig.diameter_m is not None
        away = np.sqrt(past**2 + (side + edge) ** 2 + (depth - dig.depth_m - down) ** 2)
        return int((away < 0.5 * dig.diameter_m + RADIUS_M).any(axis=1).sum())
    plan = np.hypot(past, side) < 0.2 + edge + RADIUS_M
    return int((plan & (depth - RADIUS_M < dig.depth_m + down)).any(axis=1).sum())


@dataclass(frozen=True)
class Case:
    """A dig, the chance that was said, and whether the true line was struck."""

    kind: str
    said: float
    struck: bool


def cases_of(family: str, seed: int) -> Iterator[Case]:
    """Digs of one invented site."""
    site = make_site(family, seed)
    with tempfile.TemporaryDirectory() as where:
        write_site(site, Path(where) / "job")
        job, _ = read_job(Path(where) / "job")
        with (Path(where) / "job" / "truth.csv").open(encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
    if job is None:
        return
    solution, posterior = solve_with_posterior(job)
    draws = posterior.draw(SAMPLES, seed)
    rng = np.random.default_rng(seed)
    for estimate in solution.lines:
        if len(estimate.stations) < 4 or estimate.line not in draws:
            continue
        truth = {row["station"]: row for row in rows if row["line"] == estimate.line}
        here = [truth[s.id] for s in estimate.stations if s.id in truth]
        if len(here) < 4:
            continue
        path = np.array([[float(r[k]) for k in ("easting_m", "northing_m", "depth_m")] for r in here])
        for _ in range(PER_LINE):
            yield _case(estimate, draws[estimate.line], path, rng)


def _case(estimate: LineEstimate, draws: LineDraws, path: FLOATS, rng: np.random.Generator) -> Case:
    dig = _dig(estimate, rng)
    (shape,) = footprints_of(dig)
    gap = beside(shape, draws.easting_m, draws.northing_m).gap_m
    near = np.flatnonzero(np.quantile(gap, 0.001, axis=0) < 0.6)
    stray = wander_of(shape, SAMPLES, rng)
    if len(near):
        low, high = draws.chainage_m[near[0]] - 0.5, draws.chainage_m[near[-1]] + 0.5
        course = course_of(draws, float(low), float(high))
        said = float(chance_of_less(shape, course, seen_by(shape, course), RADIUS_M, 0.0, stray).mean())
    else:
        said = 0.0
    return Case(dig.kind.value, said, _struck(dig, path, rng))


def _dig(estimate: LineEstimate, rng: np.random.Generator) -> Dig:
    """A trench or bore laid out by the answer: across it, or beside it for four metres."""
    stations = estimate.stations
    at = np.array([s.chainage_m for s in stations])
    place = float(rng.uniform(at[0] + 0.5, at[-1] - 0.5))
    east, north, deep = (
        float(np.interp(place, at, [pick(s) for s in stations]))
        for pick in (lambda s: s.easting_m, lambda s: s.northing_m, lambda s: s.depth_m.value)
    )
    k = int(np.searchsorted(at, place).clip(1, len(at) - 1))
    ahead = np.array(
        [
            stations[k].easting_m - stations[k - 1].easting_m,
            stations[k].northing_m - stations[k - 1].northing_m,
        ]
    )
    ahead = ahead / max(float(np.hypot(*ahead)), 1e-9)
    right = np.array([ahead[1], -ahead[0]])
    middle = np.array([east, north])
    turn = rng.integers(3)
    if turn == 0:
        ends = middle - 2.0 * right, middle + 2.0 * right
        kind, depth = DigKind.TRENCH, deep * rng.uniform(0.55, 1.3)
    elif turn == 1:
        off = rng.uniform(-0.7, 0.7) * right
        ends = middle + off - 2.0 * ahead, middle + off + 2.0 * ahead
        kind, depth = DigKind.TRENCH, deep * rng.uniform(0.7, 1.5)
    else:
        ends = middle - 2.0 * right, middle + 2.0 * right
        kind, depth = DigKind.BORE, deep * rng.uniform(0.7, 1.4)
    line = tuple((float(e), float(n)) for e, n in ends)
    return Dig("d", kind, (line,), float(depth), width_m=0.4, diameter_m=0.2)


def _struck(dig: Dig, path: FLOATS, rng: np.random.Generator) -> bool:
    """Whether a dig that strays as digs do meets the true line, at points 2 cm apart."""
    edge, down = dig_tolerance(dig.kind)
    stray, lower = edge * rng.standard_normal(), down * rng.standard_normal()
    steps = np.hypot(*np.diff(path[:, :2], axis=0).T)
    chainage = np.concatenate([[0.0], np.cumsum(steps)])
    fine = np.arange(0.0, chainage[-1], 0.02)
    e, n, z = (np.interp(fine, chainage, path[:, k]) for k in range(3))
    (a, b) = (np.array(p) for p in dig.rings[0])
    ahead = (b - a) / np.hypot(*(b - a))
    run = (e - a[0]) * ahead[0] + (n - a[1]) * ahead[1]
    side = (e - a[0]) * ahead[1] - (n - a[1]) * ahead[0]
    length = float(np.hypot(*(b - a)))
    past = np.maximum(np.maximum(-run, run - length), 0.0)
    assert dig.depth_m is not None
    if dig.kind is DigKind.BORE:
        away = np.sqrt(past**2 + (side + stray) ** 2 + (z - dig.depth_m - lower) ** 2)
        return bool((away < 0.1 + RADIUS_M).any())
    plan = np.hypot(past, side) < 0.2 + stray + RADIUS_M
    return bool((plan & (z - RADIUS_M < dig.depth_m + lower)).any())


def calibrate(digs: int, seed: int, svg: Path | None) -> None:
    """Said chances against what happened, in bins of said chance."""
    found: list[Case] = []
    names = list(FAMILIES)
    started = time.perf_counter()
    turn = 0
    while len(found) < digs:
        found += list(cases_of(names[turn % len(names)], seed + turn))
        turn += 1
        print(f"\r{turn} sites, {len(found)} digs", end="", file=sys.stderr, flush=True)
    found = found[:digs]
    said = np.array([c.said for c in found])
    struck = np.array([c.struck for c in found])
    brier = float(np.mean((said - struck) ** 2))
    print(f"\n{len(found)} digs on {turn} sites, {time.perf_counter() - started:.0f} s")
    print(f"said {said.mean():.3f}, struck {struck.mean():.3f}; Brier {brier:.3f}")
    print(f"a constant chance would score {struck.mean() * (1 - struck.mean()):.3f}")
    rows = []
    edges = [0.0, 0.01, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0 + 1e-9]
    for low, high in pairwise(edges):
        mine = (said >= low) & (said < high)
        if mine.any():
            share = float(struck[mine].mean())
            half = 1.96 * math.sqrt(max(share * (1 - share), 0.25 / mine.sum()) / mine.sum())
            rows.append((float(said[mine].mean()), share, half, int(mine.sum())))
            print(f"said {rows[-1][0]:.3f}: struck {share:.3f} ± {half:.3f} ({rows[-1][3]} digs)")
    for kind in ("trench", "bore"):
        mine = np.array([c.kind == kind for c in found])
        print(f"{kind}: said {said[mine].mean():.3f}, struck {struck[mine].mean():.3f} ({mine.sum()})")
    if svg is not None:
        svg.write_text(picture(rows, len(found)), encoding="utf-8")


def picture(rows: Sequence[tuple[float, float, float, int]], digs: int) -> str:
    """The reliability plot."""
    size, left, top = 300.0, 60.0, 30.0

    def at(x: float, y: float) -> str:
        return f"{left + size * x:.1f} {top + size * (1.0 - min(max(y, 0.0), 1.0)):.1f}"

    marks = "".join(
        f'<path d="M{at(x, y - h)}L{at(x, y + h)}"/><circle cx="{left + size * x:.1f}" '
        f'cy="{top + size * (1 - y):.1f}" r="{2 + 0.25 * math.sqrt(count):.1f}"/>'
        for x, y, h, count in rows
    )
    ticks = "".join(
        f'<text x="{left + size * t:.0f}" y="{top + size + 18:.0f}" text-anchor="middle">{t:g}</text>'
        f'<text x="{left - 8:.0f}" y="{top + size * (1 - t) + 4:.0f}" text-anchor="end">{t:g}</text>'
        for t in (0, 0.2, 0.4, 0.6, 0.8, 1)
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 390" width="400" height="390" role="img" '
        f'aria-label="Said chance of a strike against what happened, {digs} digs">'
        "<style>text{font:12px sans-serif;fill:#111}path,rect{fill:none;stroke:#111}circle{fill:#111}"
        ".even{stroke-dasharray:4 3;stroke:#777}</style>"
        '<rect width="400" height="390" style="fill:#fff;stroke:none"/>'
        f'<rect x="{left}" y="{top}" width="{size}" height="{size}"/>'
        f'<path class="even" d="M{at(0, 0)}L{at(1, 1)}"/>{marks}{ticks}'
        f'<text x="{left + size / 2}" y="{top + size + 40}" text-anchor="middle">chance that was said</text>'
        f'<text x="{left}" y="18">share of digs that struck the line, of {digs}</text></svg>\n'
    )


def main() -> None:
    """Run what is asked for."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--counted", type=int, default=0)
    parser.add_argument("--posterior", type=int, default=0)
    parser.add_argument("--digs", type=int, default=0)
    parser.add_argument("--seed", type=int, default=70)
    parser.add_argument("--svg", type=Path)
    chosen = parser.parse_args()
    if chosen.counted:
        count(chosen.counted)
    if chosen.posterior:
        against_posterior(chosen.posterior)
    if chosen.digs:
        calibrate(chosen.digs, chosen.seed, chosen.svg)


if __name__ == "__main__":
    main()
