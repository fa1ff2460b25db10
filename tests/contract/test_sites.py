"""Smoke over sites made by other code than ours: all answered, both bands at nine stations in ten or more.

Twenty-four sites are far too few to claim a coverage from; see the bench for that.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from plumbmark.exchange.jobfolder import read_job
from plumbmark.inference.solve import solve_job
from plumbmark.model.estimate import StationEstimate

SITES = Path(__file__).parents[2].parent / "shared" / "sites"
FOLDERS = sorted(SITES.glob("job-*")) if SITES.is_dir() else []

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        not FOLDERS, reason="no ../shared/sites beside the repository: nothing to compare with"
    ),
]


def held(s: StationEstimate, truth: dict[str, str]) -> tuple[bool, bool]:
    """Whether the bands across the line and of depth hold the truth.

    Across counts along the true line's own right, turned to the side that the row calls right.
    """
    b = math.radians(float(truth["bearing_deg"]))
    right = math.cos(b), -math.sin(b)
    r = math.radians(s.right_deg)
    side = 1.0 if math.sin(r) * right[0] + math.cos(r) * right[1] >= 0.0 else -1.0
    off = (float(truth["easting_m"]) - s.easting_m) * right[0] + (
        float(truth["northing_m"]) - s.northing_m
    ) * right[1]
    shift = s.lateral_shift_m
    lateral = shift.low <= shift.value + side * off <= shift.high
    return lateral, s.depth_m.low <= float(truth["depth_m"]) <= s.depth_m.high


def test_all_answered_and_both_bands_hold() -> None:
    lateral: list[bool] = []
    depth: list[bool] = []
    missing: list[str] = []
    for folder in FOLDERS:
        job, findings = read_job(folder)
        assert job is not None, (folder.name, findings)
        told = {(line.line, s.id): s for line in solve_job(job).lines for s in line.stations}
        with (folder / "truth.csv").open(newline="") as file:
            for row in csv.DictReader(file):
                s = told.get((row["line"], row["station"]))
                if s is None:
                    missing.append(f"{folder.name} {row['line']} {row['station']}")
                    continue
                one, two = held(s, row)
                lateral.append(one)
                depth.append(two)
    assert not missing
    shares = sum(lateral) / len(lateral), sum(depth) / len(depth)
    print(f"{len(depth)} stations: across {shares[0]:.3f}, depth {shares[1]:.3f}")
    assert min(shares) >= 0.90, shares
