"""How long a report and a large GeoPackage take, apart from solving.

    PYTHONPATH=src python bench/bench_export.py                  a report of 200 stations on 3 lines
    PYTHONPATH=src python bench/bench_export.py --stations 100000   so many to each kind of file
    PYTHONPATH=src python bench/bench_export.py --solve          and the job of the report solved

Answers are made up, so that writing is timed and nothing else; each writer has a process of its own, whose
largest memory is told. Seconds of the clock come first, those of the processor in brackets.
"""

from __future__ import annotations

import argparse
import math
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from plumbmark.model.estimate import Identity, Interval, LineEstimate, Solution, StationEstimate, Trust
from plumbmark.model.job import Job, Line, Utility
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading

EAST, NORTH = 448_000.0, 5_411_000.0
UTILITIES = (Utility.ELECTRIC, Utility.GAS, Utility.WATER)


def made_up(stations: int, lines: int, spacing_m: float = 2.0) -> tuple[Job, Solution]:
    """Lines side by side that wind a little, each with its share of the stations."""
    readings: list[Reading] = []
    estimates = []
    for k in range(lines):
        name, count = f"L{k + 1}", stations // lines + (k < stations % lines)
        found = []
        for i in range(count):
            along = spacing_m * i
            east, north = EAST + 0.9 * along, NORTH + 4.0 * k + 6.0 * math.sin(along / 40.0)
            depth = 0.9 + 0.2 * math.sin(along / 25.0)
            ident = f"{name}-{i + 1}"
            chance = 0.98 if i % 5 else 0.8
            found.append(
                StationEstimate(
                    "reading",
                    ident,
                    along,
                    east,
                    north,
                    east,
                    north + 0.08,
                    180.0,
                    Interval(0.08, -0.02, 0.2),
                    Interval(depth, 0.85 * depth, 1.2 * depth),
                    Interval(0.008, 0.007, 0.0095),
                    0.95,
                    chance,
                    Trust.HOLDS if chance >= 0.97 else Trust.LOOSE,
                    ("Peak and null agree within 1 in",),
                    "",
                )
            )
            place = Place(east, north + 0.08, 0.02)
            readings.append(
                Reading(
                    ident, name, place, len(readings) + 2, depth_m=Measured(depth), current_a=Measured(0.008)
                )
            )
        estimates.append(LineEstimate(name, Identity.LIKELY, ("connected",), tuple(found)))
    job = Job(
        "made-up",
        "Invented: lines side by side",
        "EPSG:32631",
        lines=tuple(Line(f"L{k + 1}", UTILITIES[k % 3], outside_diameter_m=0.1) for k in range(lines)),
        readings=tuple(readings),
    )
    return job, Solution(job.id, tuple(estimates), None)


def written(ending: str, stations: int) -> None:
    """Write one kind of file in this process and tell how long it took and how large this process got."""
    from plumbmark.app.export import Wanted, exported
    from plumbmark.handover.layers import layers_of

    case = made_up(stations, 3)
    start, spent = time.perf_counter(), time.process_time()
    data, _ = exported(layers_of(*case, digest="0" * 64), Wanted(Path(f"a{ending}")))
    took, spent = time.perf_counter() - start, time.process_time() - spent
    largest = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    size = f"{len(data) / 1e6:.0f} MB, process {largest:.2f} GB"
    print(f"{ending:9} {stations:,} stations: {took:.1f} s ({spent:.1f} s), {size}")


def reported() -> None:
    """Make the report of 200 stations on 3 lines, best of three."""
    from plumbmark.handover.marks import plan_marks
    from plumbmark.handover.quality import quality_claims
    from plumbmark.handover.report import Extras, make_report
    from plumbmark.handover.report_html import report_html
    from plumbmark.handover.report_pdf import report_pdf

    job, solution = made_up(200, 3)
    times = []
    for _ in range(3):
        start, spent = time.perf_counter(), time.process_time()
        extras = Extras(marks=plan_marks(job, solution), quality=quality_claims(job, solution))
        report = make_report(job, solution, digest="0" * 64, extras=extras)
        pdf = report_pdf(report)
        took = time.perf_counter() - start, time.process_time() - spent
        page = report_html(report)
        times.append((*took, time.perf_counter() - start - took[0]))
    whole, spent, html = min(times)
    print(
        f"report, 200 stations on 3 lines, as PDF: {whole:.2f} s ({spent:.2f} s), {len(pdf) / 1e6:.2f} MB; "
        f"as HTML {html:.2f} s more, {len(page) / 1e6:.2f} MB"
    )
    Path(tempfile.gettempdir(), "plumbmark-bench-report.pdf").write_bytes(pdf)


def solved() -> None:
    """Solve the job that the report is of."""
    from plumbmark.inference.solve import solve_job

    job, _ = made_up(200, 3)
    start, spent = time.perf_counter(), time.process_time()
    solve_job(job)
    took, spent = time.perf_counter() - start, time.process_time() - spent
    print(f"solving it: {took:.1f} s ({spent:.1f} s), kernels compiled before or not as the cache has it")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--stations", type=int, default=0)
    parser.add_argument("--ending", help="one kind of file, in this process")
    parser.add_argument("--solve", action="store_true")
    asked = parser.parse_args()
    if asked.ending:
        written(asked.ending, asked.stations)
        return
    reported()
    if asked.solve:
        solved()
    for ending in (
        (".gpkg", ".geojson", ".csv", ".parquet", ".kml", ".xlsx", ".dxf") if asked.stations else ()
    ):
        again = [sys.executable, __file__, "--stations", str(asked.stations), "--ending", ending]
        subprocess.run(again, check=True)


if __name__ == "__main__":
    main()
