"""Whether the bands of the slope of the current hold on invented sites.

`PYTHONPATH=src python bench/bench_slope.py [SITES_A_FAMILY]`
"""

from __future__ import annotations

import csv
import math
import statistics
import sys
import tempfile
from pathlib import Path

import numpy as np

from plumbmark.exchange.jobfolder import read_job
from plumbmark.handover.screen_slope import middle_slope, slopes_of
from plumbmark.inference.solve import solve_job
from plumbmark.practice import FAMILIES, make_site, write_site

SEED = 300


def true_falls(folder: Path) -> list[tuple[bool, float, float]]:
    """Of every slope told: whether it holds the slope of the true current, its width, how far it is off."""
    job, _ = read_job(folder)
    assert job is not None
    with (folder / "truth.csv").open() as file:
        true = {
            (r["line"], r["station"]): float(r["current_ma"]) for r in csv.DictReader(file) if r["current_ma"]
        }
    found = []
    for line in solve_job(job).lines:
        for slope in slopes_of(job, line):
            at = [s for s in line.stations if slope.from_m - 0.01 <= s.chainage_m <= slope.to_m + 0.01]
            at = [s for s in at if (line.line, s.id) in true]
            where = np.array([s.chainage_m for s in at])
            decibels = np.array([20.0 * math.log10(abs(true[line.line, s.id])) for s in at])
            fall = -100.0 * middle_slope(where, decibels)[0]
            band = slope.fall_db_per_100_m
            found.append((band.low <= fall <= band.high, band.high - band.low, abs(band.value - fall)))
    return found


def main() -> None:
    """Print family by family and all together."""
    sites = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    every = []
    for family in FAMILIES:
        found = []
        for seed in range(SEED, SEED + sites):
            with tempfile.TemporaryDirectory() as place:
                folder = Path(place) / "job"
                write_site(make_site(family, seed), folder)
                found += true_falls(folder)
        every += found
        _tell(family, found)
    _tell("ALL", every)


def _tell(name: str, found: list[tuple[bool, float, float]]) -> None:
    if found:
        held, width, off = zip(*found, strict=True)
        print(
            f"{name:16} {len(found):4} slopes, held {100 * sum(held) / len(held):5.1f} %, width "
            f"{statistics.median(width):5.1f}, off {statistics.median(off):4.1f} dB per 100 m"
        )


if __name__ == "__main__":
    main()
