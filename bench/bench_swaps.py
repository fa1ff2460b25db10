"""How often a swap of lines is called: where there was one, and where there was none.

    python bench/bench_swaps.py [--sites 100] [--seed 3]

Sites are made by `plumbmark.practice`, which shares no code with what is tested, written as job folders and
read back by the ordinary reader. With a swap: a straight line and another 0.6 to 2 m aside; from some
reading on the crew stands over the other one. Half the time a bond hands most of the signal over there, half
the time both lines carry it all along.
"""

from __future__ import annotations

import argparse
import math
import tempfile
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np

from plumbmark.exchange.jobfolder import read_job
from plumbmark.inference.stations import stations_of
from plumbmark.inference.swaps import Swapped, swaps_of
from plumbmark.practice import Site, ground, make_site, write_site
from plumbmark.practice.crew import Job, stand, take_reading
from plumbmark.practice.office import draw_crew, draw_header, finish, listed_line
from plumbmark.practice.scenes import draw_scene
from plumbmark.practice.site import Row
from plumbmark.practice.world import Excitation, World

WITHOUT = ("alone_half", "second_plain", "bend", "step")
HANDED, SHARED = "handed over at a bond", "on both lines all along"
STEP_M = 0.6
STEPPED = f"either, marks stepping by {STEP_M} m or more"


def swapped_site(seed: int) -> tuple[Site, str, str, float]:
    """A site with a swap; how the signal lies, the first reading on the other line, how far aside it lies."""
    rng = np.random.default_rng([seed, 77])
    scene = draw_scene(rng)
    own, first = scene.world.chains[0], scene.excitation.currents[0]
    aside = rng.uniform(0.6, 2.0) * (1 if rng.random() < 0.5 else -1)
    made = ground.beside(rng, own, aside, -1e3, 1e3)
    other = ground.laid_at(made, "other", ground.along_depth(rng, made, ground.draw_depth(rng)))
    count = len(scene.stations_m)
    k = count // 2
    gap = 0.5 * (scene.stations_m[k - 1] + scene.stations_m[k])
    amplitude = complex(np.interp(gap, own.chainage_m, first.real))
    if rng.random() < 0.5:
        how, share = HANDED, rng.uniform(0.0, 0.3) * (1 if rng.random() < 0.5 else -1)
        theirs = ground.tapering(rng, other.chainage_m, amplitude * rng.uniform(0.5, 1.0), scene.length_m)
        first = np.where(own.chainage_m > gap, share * first, first)
        theirs = np.where(other.chainage_m > gap, theirs, share * theirs)
    else:
        how = SHARED
        ratio = rng.uniform(0.4, 1.0) * (1 if rng.random() < 0.5 else -1)
        theirs = ground.tapering(rng, other.chainage_m, amplitude * ratio, scene.length_m)
    world = World((own, other), scene.world.resistivity_ohm_m)
    excitation = Excitation(scene.excitation.frequency_hz, (np.asarray(first), np.asarray(theirs)))
    head = draw_header(rng, "swapped", seed, world.resistivity_ohm_m)
    crew = replace(draw_crew(rng, head), follows=False)
    line = listed_line(rng, excitation.frequency_hz)
    jobs = [Job(world, excitation, chain, head.instrument, crew) for chain in (0, 1)]
    rows = []
    for j, s in enumerate(scene.stations_m):
        job = jobs[int(j >= k)]
        at = stand(job, s, None)
        row = Row(f"r{j:02d}", line.id, *crew.fix(*at.mark(), 3 * j), at.bearing_deg, 3 * j)
        rows.append(take_reading(job, at, row))
    site = finish(rng, replace(head, lines=(line,)), world, [jobs[0]], [rows])
    return site, how, f"r{k:02d}", abs(aside)


def called(site: Site) -> tuple[Swapped, ...]:
    """Swaps called on a site, read from the files that it is written to."""
    with tempfile.TemporaryDirectory() as folder:
        write_site(site, Path(folder) / "job")
        job, findings = read_job(Path(folder) / "job")
    if job is None:
        raise ValueError("; ".join(map(str, findings)))
    return tuple(q for line in job.lines for q in swaps_of(stations_of(job, line, [])))


def _painted(site: Site, name: str) -> float:
    """How far the mark of reading `name` lies from the straight line of the marks before it [m]."""
    rows = sorted(site.rows, key=lambda r: r.id)
    k = next(i for i, r in enumerate(rows) if r.id == name)
    before = np.array([(r.easting_m, r.northing_m) for r in rows[max(0, k - 4) : k]])
    d = before[-1] - before[0]
    e = np.array([rows[k].easting_m, rows[k].northing_m]) - before.mean(axis=0)
    return float(abs(e[0] * d[1] - e[1] * d[0]) / math.hypot(*d))


def main() -> None:
    """Count, and print what was called and what was not."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--sites", type=int, default=100)
    parser.add_argument("--seed", type=int, default=3)
    options = parser.parse_args()
    start = 1000 * options.seed
    for family in WITHOUT:
        wrong = [s for s in range(start, start + options.sites) if called(make_site(family, s))]
        print(f"no swap, {family}: called on {len(wrong)} of {options.sites} {wrong or ''}")
    right: Counter[str] = Counter()
    total: Counter[str] = Counter()
    missed, elsewhere = [], 0
    for seed in range(start, start + options.sites):
        site, how, name, aside = swapped_site(seed)
        found = called(site)
        hit = any(name in (q.before.id, q.after.id) for q in found)
        elsewhere += len(found) - hit
        total[how] += 1
        right[how] += hit
        painted = _painted(site, name)
        total[STEPPED] += painted >= STEP_M
        right[STEPPED] += hit and painted >= STEP_M
        if not hit:
            missed.append((seed, round(aside, 2), round(painted, 2)))
    for how, count in total.items():
        print(f"swapped, {how}: called on {right[how]} of {count}")
    print(f"calls elsewhere on swapped sites: {elsewhere}")
    print("missed (site, line aside [m], marks step by [m]):", *missed)


if __name__ == "__main__":
    main()
