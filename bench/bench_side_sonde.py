"""Lines seen from the side and sondes: do bands hold on invented sites, and are they nearer than the display?

    PYTHONPATH=src python bench/bench_side_sonde.py --sites 40 --ducts 80
    PYTHONPATH=src python bench/bench_side_sonde.py --sites 0 --ducts 0 --folders ../shared/sites

Sites are those of `plumbmark.practice` that have readings from the side, with all other rows left out; ducts
are those of `plumbmark.practice.ducts`. `--folders` takes job folders made by other hands, side readings
alone.
"""

from __future__ import annotations

import argparse
import csv
import math
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from plumbmark.exchange.jobfolder import read_job
from plumbmark.inference.solve import solve_job
from plumbmark.model.job import Job
from plumbmark.model.reading import SideReading
from plumbmark.practice import make_site, write_site
from plumbmark.practice.ducts import make_duct
from plumbmark.practice.world import foot_on

MISS_PENALTY = 2 / 0.05


@dataclass(frozen=True)
class Score:
    """One station: ours, the display's, and whether the bands held. Depths relative to the truth."""

    job: str
    lateral_held: bool
    depth_held: bool
    lateral: float
    depth: float
    mark: float
    shown: float | None
    lateral_width: float
    depth_width: float
    said: float
    was: bool


def score(job: str, s: object, truth: tuple[float, float, float], shown: float | None) -> Score:
    """A station against the true easting, northing and depth."""
    right = math.radians(s.right_deg)  # type: ignore[attr-defined]
    shift, depth = s.lateral_shift_m, s.depth_m  # type: ignore[attr-defined]
    mark = (truth[0] - s.mark_easting_m) * math.sin(right) + (truth[1] - s.mark_northing_m) * math.cos(right)  # type: ignore[attr-defined]
    away, off = shift.value - mark, depth.value / truth[2] - 1.0
    return Score(
        job,
        shift.low <= mark <= shift.high,
        depth.low <= truth[2] <= depth.high,
        away,
        off,
        mark,
        None if shown is None else shown / truth[2] - 1.0,
        shift.high - shift.low,
        (depth.high - depth.low) / truth[2],
        s.within_10_probability,  # type: ignore[attr-defined]
        abs(away) <= 0.1 and abs(off) <= 0.1,
    )


def told(name: str, rows: list[Score], seconds: list[float]) -> None:
    """Print what a set of stations comes to."""
    if not rows:
        return
    jobs = len({r.job for r in rows})
    print(f"{name}: {jobs} jobs, {len(rows)} stations, {np.median(seconds):.2f} s a job (median)")
    for what in ("lateral_held", "depth_held"):
        by = {}
        for r in rows:
            by.setdefault(r.job, []).append(getattr(r, what))
        share = np.mean([getattr(r, what) for r in rows])
        residue = [sum(v) - share * len(v) for v in by.values()]
        print(f"  {what}: {100 * share:.1f} ± {100 * np.sqrt(np.sum(np.square(residue))) / len(rows):.1f} %")
    shown = [abs(r.shown) for r in rows if r.shown is not None]
    ours = [abs(r.depth) for r in rows if r.shown is not None]
    print(f"  median depth error {100 * np.median(ours):.1f} % (display {100 * np.median(shown):.1f} %)")
    far = [100 * np.quantile(errors, 0.9) for errors in (ours, shown)]
    print(f"  90th percentile {far[0]:.0f} % (display {far[1]:.0f} %)")
    lateral, mark = (np.median([abs(getattr(r, c)) for r in rows]) for c in ("lateral", "mark"))
    print(f"  median lateral error {lateral:.3f} m (display {mark:.3f} m)")
    wide, deep = (np.median([getattr(r, c) for r in rows]) for c in ("lateral_width", "depth_width"))
    print(f"  median band {wide:.2f} m across, {100 * deep:.0f} % of depth")
    p, y = np.array([r.said for r in rows]), np.array([r.was for r in rows], dtype=float)
    print(f"  within 10: Brier {np.mean((p - y) ** 2):.3f} (said {p.mean():.2f}, was {y.mean():.2f})")


def side_only(job: Job) -> Job:
    """The job with its readings from the side and nothing else."""
    return replace(job, readings=(), profiles=(), test_holes=())


def foot(s: SideReading) -> tuple[float, float]:
    """Where a shot puts the line."""
    toward = math.radians(s.toward_deg or 0.0)
    reach = s.distance_m.value if s.distance_m is not None else 0.0
    return s.place.easting_m + reach * math.sin(toward), s.place.northing_m + reach * math.cos(toward)


def sides(seeds: range) -> None:
    """Sites of our own with readings from the side."""
    rows: list[Score] = []
    seconds = []
    for seed in seeds:
        site = make_site("conducting_side", seed)
        with tempfile.TemporaryDirectory() as where:
            write_site(site, Path(where) / "job")
            job, _findings = read_job(Path(where) / "job")
        assert job is not None
        job = side_only(job)
        if not job.side_readings:
            continue
        began = time.perf_counter()
        answer = solve_job(job)
        seconds.append(time.perf_counter() - began)
        zero = [float(v) for v in site.style["origin"].split()]
        shots = {s.id: s for s in job.side_readings}
        for s in answer.lines[0].stations:
            e, n = foot(shots[s.id])
            at = foot_on(site.world.chains[0], e - zero[0], n - zero[1])
            truth = (at.easting_m + zero[0], at.northing_m + zero[1], at.depth_m)
            shown = shots[s.id].depth_m
            rows.append(score(str(seed), s, truth, None if shown is None else shown.value))
    told("from the side", rows, seconds)


def ducts(seeds: range) -> None:
    """Ducts of our own."""
    rows: list[Score] = []
    seconds = []
    for seed in seeds:
        duct = make_duct(seed)
        began = time.perf_counter()
        answer = solve_job(duct.job)
        seconds.append(time.perf_counter() - began)
        where = {r.id: k for k, r in enumerate(duct.job.readings)}
        for s in answer.lines[0].stations:
            k = where[s.id]
            shown = duct.job.readings[k].depth_m
            truth = (float(duct.easting_m[k]), float(duct.northing_m[k]), float(duct.depth_m[k]))
            rows.append(score(str(seed), s, truth, None if shown is None else shown.value))
    told("sondes", rows, seconds)


def folders(root: Path) -> None:
    """Job folders of other hands: truth between the rows of truth.csv."""
    rows: list[Score] = []
    seconds = []
    for path in sorted(root.glob("*/side_readings.csv")):
        job, findings = read_job(path.parent)
        if job is None:
            raise SystemExit(f"{path.parent}: {findings}")
        job = side_only(job)
        with (path.parent / "truth.csv").open() as file:
            known = [
                (float(r["easting_m"]), float(r["northing_m"]), float(r["depth_m"]))
                for r in csv.DictReader(file)
            ]
        line = np.array(known)
        began = time.perf_counter()
        answer = solve_job(job)
        seconds.append(time.perf_counter() - began)
        shots = {s.id: s for s in job.side_readings}
        for s in answer.lines[0].stations:
            here = np.array(foot(shots[s.id]))
            a, b = line[:-1], line[1:]
            run = (b - a)[:, :2]
            t = np.clip(((here - a[:, :2]) * run).sum(axis=1) / (run**2).sum(axis=1), 0.0, 1.0)
            at = a + t[:, None] * (b - a)
            best = at[int(np.hypot(*(at[:, :2] - here).T).argmin())]
            shown = shots[s.id].depth_m
            truth = (float(best[0]), float(best[1]), float(best[2]))
            rows.append(score(path.parent.name, s, truth, None if shown is None else shown.value))
    told("from the side, made by other hands", rows, seconds)


def main() -> None:
    """Count and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--sites", type=int, default=40)
    parser.add_argument("--ducts", type=int, default=80)
    parser.add_argument("--seed", type=int, default=500)
    parser.add_argument("--folders", type=Path)
    args = parser.parse_args()
    sides(range(args.seed, args.seed + args.sites))
    ducts(range(args.seed, args.seed + args.ducts))
    if args.folders:
        folders(args.folders)


if __name__ == "__main__":
    main()
