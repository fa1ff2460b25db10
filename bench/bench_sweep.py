"""The chance map of a sweep against a walker simulated step by step, and how long the map takes.

    PYTHONPATH=src python bench/bench_sweep.py [--lines 40000] [--spots 12]

The walker is code of its own: he stands at points 5 cm apart along each pass, lines are drawn at random, the
field is the vector product of Biot and Savart, his threshold is drawn anew for each line. Nothing is
shared with `plumbmark.planning` but the numbers that say what lines are likely.
"""

from __future__ import annotations

import argparse
import math
import time

import numpy as np
from numpy.typing import NDArray

from plumbmark.model.job import Job
from plumbmark.model.reading import Place
from plumbmark.model.record import Dig, DigKind
from plumbmark.model.sweep import Antenna, Pass, PassPoint, Search, SearchMethod, SweepPlan
from plumbmark.planning.sweep import filled, likely_lines, sweep_job
from plumbmark.planning.sweep_chance import noticed
from plumbmark.planning.sweep_legs import pass_legs

FLOATS = NDArray[np.float64]
MU_0_OVER_2PI = 2e-7
WIDE, HIGH = 9.0, 6.0


def walk(ident: str, ends: list[tuple[float, float]], antenna: Antenna, heading: float | None = None) -> Pass:
    points = tuple(PassPoint(Place(*end), 2, heading) for end in ends)
    return Pass(ident, 2, SearchMethod.PASSIVE_POWER, points, antenna)


def layouts() -> dict[str, list[Pass]]:
    """Passes of several kinds over 9 by 6 m."""
    one, three = Antenna.ONE_AXIS, Antenna.THREE_AXIS
    north = [[(x, 0.0), (x, HIGH)] for x in np.arange(0.75, WIDE, 1.5).tolist()]
    east = [[(0.0, y), (WIDE, y)] for y in np.arange(0.75, HIGH, 1.5).tolist()]
    bent = [[(0.0, 0.0), (4.0, 1.0), (5.0, 5.0), (9.0, 6.0)]]
    return {
        "one coil, both ways": [walk(f"{k}", e, one) for k, e in enumerate(north + east)],
        "one coil, one way": [walk(f"{k}", e, one) for k, e in enumerate(north)],
        "three coils, one way": [walk(f"{k}", e, three) for k, e in enumerate(north)],
        "one coil, far apart": [walk(f"{k}", e, one) for k, e in enumerate(north[::3] + east[::2])],
        "one coil, bent, facing east": [walk(f"{k}", e, one, 90.0) for k, e in enumerate(bent)],
        "three coils, bent": [walk(f"{k}", e, three) for k, e in enumerate(bent)],
    }


def simulated(
    passes: list[Pass], spot: FLOATS, search: Search, plan: SweepPlan, lines: int, rng: np.random.Generator
) -> float:
    """Share of random lines through a spot that the walker notices."""
    height = 0.175  # foot carried at 10 cm, coil 7.5 cm above it
    stands, faces = [], []
    for one in passes:
        for a, b in zip(one.points[:-1], one.points[1:], strict=True):
            start = np.array([a.place.easting_m, a.place.northing_m])
            run = np.array([b.place.easting_m, b.place.northing_m]) - start
            steps = np.linspace(0.0, 1.0, int(np.hypot(*run) / 0.05) + 2)
            at = start + steps[:, None] * run
            at = at[np.hypot(*(at - spot).T) <= 4.0]
            turned = math.radians(a.heading_deg) if a.heading_deg is not None else math.atan2(run[0], run[1])
            face = np.array([math.sin(turned), math.cos(turned), 0.0])
            stands.append(np.column_stack([at, np.full(len(at), height)]))
            faces.append(
                np.tile(face if one.antenna is Antenna.ONE_AXIS else np.full(3, np.nan), (len(at), 1))
            )
    stand, face = np.concatenate(stands), np.concatenate(faces)
    total = np.isnan(face[:, 0])
    heard = 0
    for _ in range(lines // 500):
        bearing = rng.uniform(0.0, np.pi, 500)
        depth = (plan.depth_m or 1.0) * np.exp(
            math.log(plan.depth_sigma_factor or 1.0) * rng.normal(size=500)
        )
        current = (search.current_a or 0.0) * np.exp(
            math.log(search.current_sigma_factor or 1.0) * rng.normal(size=500)
        )
        weak = MU_0_OVER_2PI * (search.threshold_a or 0.0) * np.exp(math.log(1.5) * rng.normal(size=500))
        along = np.column_stack([np.sin(bearing), np.cos(bearing), np.zeros(500)])
        on_line = np.column_stack([np.tile(spot, (500, 1)), -depth])
        away = stand[None, :, :] - on_line[:, None, :]
        away -= np.einsum("lpk,lk->lp", away, along)[..., None] * along[:, None, :]
        field = np.cross(along[:, None, :], away) / np.einsum("lpk,lpk->lp", away, away)[..., None]
        field *= MU_0_OVER_2PI * current[:, None, None]
        seen = np.abs(np.einsum("lpk,pk->lp", field, np.where(total[:, None], 0.0, face)))
        seen[:, total] = np.linalg.norm(field[:, total], axis=2)
        heard += int((seen.max(axis=1, initial=0.0) > weak).sum())
    return heard / (lines // 500 * 500)


def against_walker(lines: int, spots: int) -> None:
    rng = np.random.default_rng(7)
    plan = SweepPlan(depth_m=1.0, depth_sigma_factor=math.exp(0.55))
    search = filled(Search(SearchMethod.PASSIVE_POWER))
    likely = likely_lines(Job("bench", sweep=plan), search)
    print(f"Against a simulated walker, {spots} spots each, {lines:,} lines a spot")
    largest = 0.0
    for name, passes in layouts().items():
        points = np.column_stack([rng.uniform(0.0, WIDE, spots), rng.uniform(0.0, HIGH, spots)])
        legs = np.vstack([pass_legs(p, p.antenna or Antenna.ONE_AXIS) for p in passes])
        ours = noticed(points, legs, likely, np.empty(0)).chance
        truth = np.array([simulated(passes, spot, search, plan, lines, rng) for spot in points])
        off = np.abs(ours - truth)
        largest = max(largest, float(off.max()))
        error = math.sqrt(float((truth * (1.0 - truth)).max()) / lines)
        print(
            f"  {name:30s} chance {truth.min():.3f} to {truth.max():.3f}, off by {off.max():.4f} at most "
            f"(counting error {error:.4f})"
        )
    print(f"  largest difference {largest:.4f}, goal 0.01")


def timings() -> None:
    ring = ((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0), (0.0, 0.0))
    dig = Dig("hole", DigKind.EXCAVATION, (ring,))
    passes = [
        walk(f"n{k}", [(x, -1.0), (x, 41.0)], Antenna.ONE_AXIS)
        for k, x in enumerate(np.arange(0.0, 61.0, 1.5))
    ]
    for name, job in {
        "planned, three methods": Job("b", digs=(dig,), sweep=SweepPlan(margin_m=0.0)),
        "and walked one way, with the fewest further passes": Job(
            "b", digs=(dig,), sweep=SweepPlan(margin_m=0.0), passes=tuple(passes)
        ),
    }.items():
        sweep_job(job)
        start, cpu = time.perf_counter(), time.process_time()
        answer = sweep_job(job)
        seconds, cpu = time.perf_counter() - start, time.process_time() - cpu
        maps = len(answer.planned) + len(answer.walked)
        further = sum(len(s.further) for s in answer.walked)
        print(
            f"60 x 40 m at 0.25 m, {name}: {seconds:.2f} s ({cpu:.2f} s of processor) for {maps} maps, "
            f"{further} further passes"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--lines", type=int, default=40_000)
    parser.add_argument("--spots", type=int, default=12)
    options = parser.parse_args()
    timings()
    against_walker(options.lines, options.spots)
