"""Time and size of each drawn screen, and how much of the joint samples a section's oval holds.

`PYTHONPATH=src python bench/bench_screens.py`
"""

from __future__ import annotations

import math
import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import TypeAdapter

from plumbmark.app.clearance import check_job
from plumbmark.app.screens_of_job import plan_of, sweep_of
from plumbmark.clearance.rules import zone_rule
from plumbmark.exchange.jobfolder import read_job
from plumbmark.handover.marks import plan_marks
from plumbmark.handover.screen_along import along_screen
from plumbmark.handover.screen_clearance import clearance_screen
from plumbmark.handover.screen_section import section_screen
from plumbmark.handover.screen_site import site_screen
from plumbmark.handover.section_shape import BOTH_AT_ONCE, oval
from plumbmark.inference.solve import solve_with_posterior
from plumbmark.model.estimate import Solution, StationEstimate
from plumbmark.model.job import Job

EXAMPLES = Path(__file__).parents[1] / "examples"
STATIONS = 40


def told(name: str, make: Callable[[], Any]) -> None:
    """One line: median and longest time of 30 builds, bytes of its JSON."""
    make()
    times = []
    for _ in range(30):
        began = time.perf_counter()
        screen = make()
        times.append(1e3 * (time.perf_counter() - began))
    size = len(TypeAdapter(type(screen)).dump_json(screen))
    print(
        f"  {name:10} {statistics.median(times):6.1f} ms, longest {max(times):6.1f} ms, {size / 1e3:6.1f} kB"
    )


def lengthened(job: Job, solution: Solution) -> tuple[Job, Solution]:
    """The job with the places of its first line gone through again and again, until there are 40."""
    line = solution.lines[0]
    readings = {r.id: r for r in job.readings}
    run = line.stations[-1].chainage_m + 1.0
    east, north = (
        line.stations[-1].easting_m - line.stations[0].easting_m,
        line.stations[-1].northing_m - line.stations[0].northing_m,
    )
    stations, rows = [], []
    for k in range(STATIONS):
        turn, i = divmod(k, len(line.stations))
        s = line.stations[i]
        stations.append(
            replace(
                s,
                id=f"{k}",
                chainage_m=s.chainage_m + turn * run,
                easting_m=s.easting_m + turn * east,
                northing_m=s.northing_m + turn * north,
                mark_easting_m=s.mark_easting_m + turn * east,
                mark_northing_m=s.mark_northing_m + turn * north,
            )
        )
        rows.append(replace(readings[s.id], id=f"{k}"))
    neighbours = tuple(replace(n, to_chainage_m=stations[-1].chainage_m) for n in line.neighbours)
    longer = replace(line, stations=tuple(stations), neighbours=neighbours)
    return replace(job, readings=tuple(rows)), replace(solution, lines=(longer,))


def held(name: str) -> tuple[float, float]:
    """Least and median share of joint samples inside the ovals of a site."""
    job, _ = read_job(EXAMPLES / name)
    assert job is not None
    solution, posterior = solve_with_posterior(job)
    draws = posterior.draw(2000, 1, 3.0)
    shares = []
    for line in solution.lines:
        for s in line.stations:
            shares.append(_share(s, draws[line.line]))
    return min(shares), statistics.median(shares)


def _share(s: StationEstimate, drawn: Any) -> float:
    k = int(np.abs(drawn.chainage_m - s.chainage_m).argmin())
    right = math.radians(s.right_deg)
    aside = (drawn.easting_m[:, k] - s.mark_easting_m) * math.sin(right)
    aside += (drawn.northing_m[:, k] - s.mark_northing_m) * math.cos(right)
    ring = np.array(oval(s.lateral_shift_m, s.depth_m, BOTH_AT_ONCE))
    edge = np.roll(ring, -1, axis=0) - ring
    to = np.stack([aside, drawn.depth_m[:, k]], axis=1)[:, None, :] - ring
    inside = edge[:, 0] * to[..., 1] - edge[:, 1] * to[..., 0] >= 0.0
    return float(inside.all(axis=1).mean())


def main() -> None:
    """Print all of it."""
    folder = EXAMPLES / "alder-lateral"
    job, _ = read_job(folder)
    assert job is not None
    solution, checked = check_job(job, zone_rule("default"))
    files = {p.name: p.read_bytes() for p in folder.iterdir()}
    job, solution = lengthened(job, solution)
    marks = plan_marks(job, solution)
    print(f"{STATIONS} places on one line, a second line beside all of them")
    told("marks", lambda: plan_marks(job, solution))
    told("site", lambda: site_screen(job, solution, marks=marks, clearance=checked))
    told("section", lambda: section_screen(job, solution))
    told("along", lambda: along_screen(job, solution))
    told("clearance", lambda: clearance_screen(job, solution, checked))
    print("with what they compute")
    told("sweep", lambda: sweep_of(job))
    told("plan", lambda: plan_of(job, files))
    for name in ("alder-lateral", "cedar-street", "birch-tracer"):
        least, middle = held(name)
        print(
            f"  {name}: ovals hold {100 * least:.1f} % of joint samples at least, {100 * middle:.1f} % mostly"
        )


if __name__ == "__main__":
    main()
