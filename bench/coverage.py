"""How well answers hold on invented sites: coverage, widths and scores by family.

    python bench/coverage.py --families all --jobs 130 --seed 7
    python bench/coverage.py --sites FOLDER_OF_JOB_FOLDERS

Sites are made by `plumbmark.practice`, which shares no code with what is tested, written as job folders,
read back by the ordinary reader, and solved. `--jobs` counts jobs in all, dealt over the families.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from plumbmark.practice import FAMILIES, make_site, write_site
from scoring import JobScore, LineScore, StationScore, best_constant_band, score_job

SITE_FAMILIES = {
    "8b1372c8": "alone_half", "0c4575b8": "alone_half", "bef5ca9b": "second_plain",
    "df3ea858": "second_plain", "a93e9e46": "second_raised", "a64286b5": "second_raised",
    "cdb36ca7": "second_profiles", "bc57909d": "second_profiles", "cb84de9b": "slanted_half",
    "ac95486f": "slanted_half", "96b924ae": "conducting_side", "8ec256e7": "conducting_side",
    "0ecd81b9": "bend", "cd519a58": "step", "621c1c68": "slips", "633e14c9": "slips",
    "919859be": "three", "72cf90f9": "three", "5f87ac1a": "second_hole", "e4cadc81": "second_hole",
    "bfc0d107": "two_lines", "53f09c64": "two_lines", "3a7200ec": "coarse", "c947faac": "coarse",
}  # fmt: skip


def solve_folder(folder: Path) -> JobScore:
    """Read one job folder, solve it, score it."""
    from plumbmark.exchange.jobfolder import read_job
    from plumbmark.inference.solve import solve_job

    job, findings = read_job(folder)
    if job is None:
        raise ValueError("refused: " + "; ".join(map(str, findings)))
    started = time.perf_counter()
    solution = solve_job(job)
    return score_job(folder, job, solution, time.perf_counter() - started)


def run_one(task: tuple[str, str | int, str]) -> tuple[str, str, JobScore | str]:
    """Make (or find) and score one site: its family, its name, and the score or what went wrong."""
    family, which, where = task
    try:
        if isinstance(which, str):
            return family, Path(which).name, solve_folder(Path(which))
        with tempfile.TemporaryDirectory(dir=where) as folder:
            write_site(make_site(family, which), Path(folder) / "job")
            return family, f"{family} {which}", solve_folder(Path(folder) / "job")
    except Exception:
        return family, str(which), traceback.format_exc()


def _percent(flags: Sequence[bool]) -> str:
    return f"{100 * np.mean(flags):5.1f}" if len(flags) else "    -"


def _by_job_error(stations: Sequence[StationScore], pick: Callable[[StationScore], bool]) -> float:
    """Standard error of a held percentage, with the jobs (not the stations) as what varies."""
    jobs: dict[str, list[bool]] = {}
    for s in stations:
        jobs.setdefault(s.job, []).append(pick(s))
    if len(jobs) < 2:
        return float("nan")
    total = sum(map(len, jobs.values()))
    mean = sum(map(sum, jobs.values())) / total
    residue = [sum(v) - mean * len(v) for v in jobs.values()]
    return float(100 * np.sqrt(np.sum(np.square(residue)) * len(jobs) / (len(jobs) - 1)) / total)


def _median(values: Sequence[float]) -> float:
    return float(np.median(values)) if len(values) else float("nan")


def _against_display(stations: Sequence[StationScore]) -> str:
    """Mean Winkler scores, ours over the display's with its best constant band."""
    parts = []
    for name, ours, shown, relative in (
        ("lateral", [s.lateral_winkler for s in stations], [s.mark_error for s in stations], False),
        (
            "depth",
            [s.depth_winkler for s in stations if s.display_depth is not None],
            [s.display_depth for s in stations if s.display_depth is not None],
            True,
        ),
        (
            "current",
            [s.current_winkler for s in stations if s.display_current is not None],
            [s.display_current for s in stations if s.display_current is not None],
            True,
        ),
    ):
        if shown and not (relative and min(shown) <= -1):
            half, score = best_constant_band(np.array(shown), relative=relative)
            parts.append(f"{name} {np.mean(ours):.3f} / {score:.3f} (band ±{half:.2f})")
    return "; ".join(parts)


def _brier(pairs: Sequence[tuple[float, bool]]) -> str:
    if not pairs:
        return "-"
    p, y = np.array([a for a, _ in pairs]), np.array([b for _, b in pairs], dtype=float)
    return f"{np.mean((p - y) ** 2):.3f} (said {np.mean(p):.2f}, was {np.mean(y):.2f})"


def _second_lines(lines: Sequence[LineScore]) -> str:
    known = [x for x in lines if x.there is not None]
    none = [x for x in known if not x.there]
    matter = [x for x in known if x.matters]
    return (
        f"claimed falsely {sum(x.claimed for x in none)}/{len(none)}, "
        f"found where it matters {sum(x.claimed for x in matter)}/{len(matter)}"
    )


def report(name: str, scores: Sequence[JobScore], failed: int) -> None:
    """Print one family's block."""
    stations = [s for job in scores for s in job.stations]
    missing = [m for job in scores for m in job.missing]
    print(f"\n{name}: {len(scores)} jobs, {len(stations)} stations, {failed} failed, {len(missing)} missing")
    if not stations:
        return
    held = []
    for what in ("lateral", "depth", "current"):
        pick = _picker(f"{what}_held")
        error = _by_job_error(stations, pick)
        held.append(f"{what} {_percent([pick(s) for s in stations])} ± {error:.1f}")
    print("  held %:            " + ", ".join(held))
    slipped = [s for s in stations if s.slip]
    if slipped:
        flags = [
            _percent([_picker(f"{w}_held")(s) for s in slipped]) for w in ("lateral", "depth", "current")
        ]
        print(f"  of {len(slipped)} slipped rows:  lateral {flags[0]}, depth {flags[1]}, current {flags[2]}")
    shown = [abs(s.display_depth) for s in stations if s.display_depth is not None]
    print(
        f"  median error:      depth {_median([abs(s.depth_error) for s in stations]):.1%} "
        f"(display {_median(shown):.1%}), lateral {_median([abs(s.lateral_error) for s in stations]):.3f} m "
        f"(mark {_median([abs(s.mark_error) for s in stations]):.3f} m), "
        f"current {_median([abs(s.current_error) for s in stations]):.1%}"
    )
    print(
        f"  median width:      lateral {_median([s.lateral_width for s in stations]):.3f} m, "
        f"depth {_median([s.depth_width for s in stations]):.1%}, "
        f"current {_median([s.current_width for s in stations]):.1%}"
    )
    print(f"  Winkler, ours / display: {_against_display(stations)}")
    kinds = {t: sum(s.trust == t for s in stations) for t in ("holds", "loose", "unproven")}
    wrong = sum(s.trust == "holds" and not s.within_10_truth for s in stations)
    print(
        "  trust:             " + ", ".join(f"{t} {n}" for t, n in kinds.items()) + f"; wrong holds {wrong}"
    )
    print(
        f"  Brier:             within_10 {_brier([(s.within_10, s.within_10_truth) for s in stations])}, "
        f"against mark and display {_brier([(s.within_10, s.within_10_display_truth) for s in stations])}, "
        f"single_line {_brier([(s.single_line, s.alone) for s in stations if s.alone is not None])}"
    )
    print(f"  second lines:      {_second_lines([x for job in scores for x in job.lines])}")
    seconds = [job.seconds for job in scores]
    print(f"  time per job:      median {_median(seconds):.2f} s, longest {max(seconds):.2f} s")


def _picker(field: str) -> Callable[[StationScore], bool]:
    return lambda s: bool(getattr(s, field))


def _tasks(options: argparse.Namespace, where: str) -> list[tuple[str, str | int, str]]:
    if options.sites:
        found = sorted(p.parent for p in Path(options.sites).glob("*/truth.csv"))
        return [(SITE_FAMILIES.get(p.name.removeprefix("job-"), "other"), str(p), where) for p in found]
    names = list(FAMILIES) if options.families == "all" else options.families.split(",")
    unknown = [n for n in names if n not in FAMILIES]
    if unknown:
        raise SystemExit(f"no family {', '.join(unknown)}; there are {', '.join(FAMILIES)}")
    return [
        (names[k % len(names)], options.seed * 100_000 + k // len(names), where) for k in range(options.jobs)
    ]


def main() -> int:
    """Run, print family by family and all together; exit 1 if a job failed."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--families", default="all", help="all, or names with commas")
    parser.add_argument("--jobs", type=int, default=52)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--sites", help="score the job folders found here instead")
    parser.add_argument("--json", help="write every station's score here")
    options = parser.parse_args()
    scores: dict[str, list[JobScore]] = {}
    failures: dict[str, list[str]] = {}
    with tempfile.TemporaryDirectory() as where:
        tasks = _tasks(options, where)
        if options.workers > 1:
            with ProcessPoolExecutor(options.workers, mp_context=get_context("spawn")) as pool:
                done = list(pool.map(run_one, tasks))
        else:
            done = [run_one(task) for task in tasks]
    for family, name, result in done:
        if isinstance(result, str):
            failures.setdefault(family, []).append(f"{name}: {result}")
        else:
            scores.setdefault(family, []).append(result)
    families = [f for f in (*FAMILIES, "other") if f in scores or f in failures]
    for family in families:
        report(family, scores.get(family, []), len(failures.get(family, [])))
    every = [job for family in families for job in scores.get(family, [])]
    report("ALL", every, sum(map(len, failures.values())))
    for text in [t for texts in failures.values() for t in texts][:3]:
        print(f"\nFAILED {text}", file=sys.stderr)
    if options.json:
        kept = {f: [asdict(job) for job in jobs] for f, jobs in scores.items()}
        Path(options.json).write_text(json.dumps(kept, indent=1), encoding="utf-8")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
