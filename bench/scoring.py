"""Holding an answer against the truth of an invented site, as an outsider would.

Everything of the truth is read from the folder's own files (`truth.csv`, and where there are
`truth_more.csv` and `truth_others.csv`); everything of the answer from the `Solution`.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from plumbmark.model.estimate import Interval, LineEstimate, Solution, StationEstimate
from plumbmark.model.job import Job

MISS_PENALTY = 2 / 0.05  # of the Winkler score of a 95 % interval
SAID = 0.5  # a second line is claimed from this probability on


@dataclass(frozen=True)
class StationScore:
    """One station against its truth. Lengths in metres; `*_width` and depth and current relative to truth.

    `display_*` is what the crew wrote; None where it wrote nothing. `alone` None where not known.
    """

    job: str
    slip: str
    lateral_held: bool
    depth_held: bool
    current_held: bool
    lateral_error: float
    depth_error: float
    current_error: float
    lateral_width: float
    depth_width: float
    current_width: float
    lateral_winkler: float
    depth_winkler: float
    current_winkler: float
    mark_error: float
    display_depth: float | None
    display_current: float | None
    trust: str
    within_10: float
    within_10_truth: bool
    within_10_display_truth: bool
    single_line: float
    alone: bool | None


@dataclass(frozen=True)
class LineScore:
    """Whether second lines were claimed for a line, and whether there are any that matter."""

    job: str
    line: str
    claimed: bool
    there: bool | None
    matters: bool | None


@dataclass(frozen=True)
class JobScore:
    """One job: its stations and lines, what went missing, the time taken."""

    stations: tuple[StationScore, ...]
    lines: tuple[LineScore, ...]
    missing: tuple[str, ...]
    seconds: float


def rows_of(path: Path) -> list[dict[str, str]]:
    """Rows of a plain CSV file; none if it is not there."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def winkler(low: float, high: float, truth: float) -> float:
    """Winkler score of a 95 % interval: its width, and 40 times what it misses by."""
    return (high - low) + MISS_PENALTY * (max(low - truth, 0.0) + max(truth - high, 0.0))


def _right_of(folder: Path, station: str, fallback_deg: float) -> float:
    """Bearing of the row's right: of its own bearing if it wrote one, else as the answer says."""
    for name, column in (("readings.csv", "reading"), ("profiles.csv", "profile")):
        for row in rows_of(folder / name):
            if row[column] == station:
                own = (row.get("bearing_deg") or "").strip()
                return float(own) + 90.0 if own else fallback_deg
    return fallback_deg


def _held(interval: Interval, truth: float) -> bool:
    return interval.low - 1e-9 <= truth <= interval.high + 1e-9


def _score_station(
    folder: Path, job: Job, answer: StationEstimate, truth: dict[str, str], alone: bool | None
) -> StationScore:
    right = math.radians(_right_of(folder, answer.id, answer.right_deg))
    de = float(truth["easting_m"]) - answer.mark_easting_m
    dn = float(truth["northing_m"]) - answer.mark_northing_m
    lateral = de * math.sin(right) + dn * math.cos(right)
    depth, current = float(truth["depth_m"]), float(truth["current_ma"]) * 1e-3
    written = next((r for r in job.readings if r.id == answer.id), None)
    shown_depth = written.depth_m.value if written and written.depth_m else None
    shown_current = written.current_a.value if written and written.current_a else None
    lat, dep, cur = answer.lateral_shift_m, answer.depth_m, answer.current_a
    good = abs(lat.value - lateral) <= 0.10 and abs(dep.value / depth - 1) <= 0.10
    good_display = abs(lateral) <= 0.10 and shown_depth is not None and abs(shown_depth / depth - 1) <= 0.10
    return StationScore(
        job.id,
        truth["slip"],
        _held(lat, lateral),
        _held(dep, depth),
        _held(cur, current),
        lat.value - lateral,
        dep.value / depth - 1,
        cur.value / current - 1,
        lat.high - lat.low,
        (dep.high - dep.low) / depth,
        (cur.high - cur.low) / current,
        winkler(lat.low, lat.high, lateral),
        winkler(dep.low, dep.high, depth) / depth,
        winkler(cur.low, cur.high, current) / current,
        -lateral,
        None if shown_depth is None else shown_depth / depth - 1,
        None if shown_current is None else shown_current / current - 1,
        str(answer.trust),
        answer.within_10_probability,
        good,
        good_display,
        answer.single_line_probability,
        alone,
    )


def _score_line(folder: Path, job: str, answer: LineEstimate) -> LineScore:
    claimed = any(n.probability >= SAID for n in answer.neighbours)
    if not (folder / "truth_others.csv").exists():
        return LineScore(job, answer.line, claimed, None, None)
    there = any(r["line"] == answer.line for r in rows_of(folder / "truth_others.csv"))
    more = [r for r in rows_of(folder / "truth_more.csv") if r["line"] == answer.line]
    return LineScore(job, answer.line, claimed, there, any(r["alone"] == "no" for r in more))


def score_job(folder: Path, job: Job, solution: Solution, seconds: float) -> JobScore:
    """Score one answer against the truth files of its folder."""
    alone = {(r["line"], r["station"]): r["alone"] == "yes" for r in rows_of(folder / "truth_more.csv")}
    answers = {(line.line, s.id): s for line in solution.lines for s in line.stations}
    stations, missing = [], []
    for truth in rows_of(folder / "truth.csv"):
        key = (truth["line"], truth["station"])
        if key in answers:
            stations.append(_score_station(folder, job, answers[key], truth, alone.get(key)))
        else:
            missing.append(f"{job.id} {key[0]} {key[1]}")
    lines = tuple(_score_line(folder, job.id, line) for line in solution.lines)
    return JobScore(tuple(stations), lines, tuple(missing), seconds)


def best_constant_band(errors: np.ndarray, *, relative: bool) -> tuple[float, float]:
    """The constant half-band about the display that scores best on these very errors, and its score.

    Parameters
    ----------
    errors : array, shape (n,)
        Display less truth [m]; or display over truth, less one, with `relative`. The band is then a
        fraction of the display, the score still a fraction of the truth.
    """
    shown = errors + (1.0 if relative else 0.0)
    truth = 1.0 if relative else 0.0
    best = (math.nan, math.inf)
    for half in np.unique(
        np.quantile(np.abs(errors / shown if relative else errors), np.linspace(0, 1, 101))
    ):
        low, high = (shown * (1 - half), shown * (1 + half)) if relative else (shown - half, shown + half)
        missed = np.maximum(low - truth, 0) + np.maximum(truth - high, 0)
        score = float(np.mean((high - low) + MISS_PENALTY * missed))
        if score < best[1]:
            best = (float(half), score)
    return best
