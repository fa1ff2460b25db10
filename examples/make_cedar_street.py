"""Makes examples/cedar-street: an invented street, read by an invented crew. Same files every time.

    PYTHONPATH=src python examples/make_cedar_street.py

An electric line, a water main beside it, and beyond them a communications line in one trench with a plastic
gas main. A trailer is parked over ten paces of the electric line, which is seen from the side there; one hole
was dug to it. Water and electric are bonded at a lamp post half way: there the signal of the water main goes
over, and so does the crew.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np

from plumbmark.practice import Site, write_site
from plumbmark.practice.crew import Crew, Job, stand, stand_beside, take_reading
from plumbmark.practice.field import Complexes
from plumbmark.practice.office import filed, truth_at
from plumbmark.practice.receiver import Instrument
from plumbmark.practice.site import Beside, Hole, Listed, Row, StationTruth
from plumbmark.practice.world import Chain, Excitation, World, foot_on, point_at

FOLDER = Path(__file__).parent / "cedar-street"
SEED = 29
FOOT_M = 0.3048
BASELINE = (0.0, 0.0, 39.62, 0.0)  # 130 ft along the kerb, the lines on its left
START_M = -20.0  # where the lines begin, west of the baseline's nail
POST_M = 16.2  # east of the nail: the lamp post at which water and electric are bonded
#: East of the nail [m]: where the crew stood over each line, and beside the trailer.
ELECTRIC_AT = (1.5, 4.2, 6.9, 9.3, 21.4, 24.2, 27.0, 29.9)
BESIDE_AT = (12.3, 15.2, 18.4)
WATER_AT = (2.0, 5.1, 8.2, 11.2, 14.3, 17.6, 20.9, 24.1, 27.4)
COMMUNICATIONS_AT = (3.0, 7.0, 25.5, 29.0)
RAISED = {"10", "12", "15", "17", "19"}
HOLE_AT, DUCT_M = 25.3, 0.06
E1, C1, W1 = range(3)


def _chain(name: str, north_m: float, depth_m: float, phase: float) -> Chain:
    """Along the street, winding by a hand, its depth waving by a twentieth."""
    east = np.arange(START_M, 60.0, 0.5)
    north = north_m + 0.04 * np.sin(east / 9.0 + phase)
    depth = depth_m * (1.0 + 0.05 * np.sin(east / 6.3 + 2.0 * phase))
    return Chain.through(name, np.column_stack([east, north, -depth]))


def _world() -> World:
    electric = _chain("E1", 4.0, 0.78, 0.3)
    communications = _chain("C1", 7.6, 0.62, 0.9)
    water = _chain("W1", 5.55, 1.14, 1.9)
    return World((electric, communications, water), 70.0)


def _flow(chain: Chain, amperes: complex, per_m: float = 0.005) -> Complexes:
    away = np.abs(chain.nodes[:, 0] - 0.0)
    return np.asarray(amperes * np.exp(-per_m * away), dtype=np.complex128)


def _excitations(world: World) -> dict[str, Excitation]:
    """What each hook-up sends down each line; electric and water change shares at the lamp post."""
    electric, communications, water = world.chains
    past = water.nodes[:, 0] > POST_M
    on_water = np.where(past, 0.15, 1.0) * _flow(water, 0.021)
    on_electric = np.where(electric.nodes[:, 0] > POST_M, 0.75, 0.04) * _flow(electric, 0.021)
    return {
        "E1": Excitation(
            10000.0,
            (_flow(electric, 0.013), _flow(communications, 0.0003), _flow(water, -0.0052 + 0.0008j)),
        ),
        "C1": Excitation(
            33000.0,
            (_flow(electric, 0.0002), _flow(communications, 0.009), _flow(water, -0.0007)),
        ),
        "W1": Excitation(3000.0, (on_electric, _flow(communications, 0.0004), on_water)),
    }


class _Clock:
    """Readings and minutes counted through the day's work."""

    def __init__(self) -> None:
        self.count, self.minute = 0, 0

    def next(self) -> tuple[str, int]:
        """The next reading's name and minute."""
        self.count, self.minute = self.count + 1, self.minute + 3
        return str(self.count), self.minute


def _chainage(chain: Chain, east_m: float) -> float:
    return float(np.interp(east_m, chain.nodes[:, 0], chain.chainage_m))


def _read(
    site: Site, jobs: tuple[Job, Job], line: str, places: tuple[float, ...], clock: _Clock
) -> tuple[list[Row], list[StationTruth]]:
    """Rows of one line and their truth. West of the lamp post the crew stands over the first job's line, east
    of it over the second's; the truth is that of the first.
    """
    rows, last, job = [], None, jobs[0]
    for east in places:
        if east > POST_M and job is not jobs[1]:
            job, last = jobs[1], None
        at = stand(job, _chainage(job.world.chains[job.target], east), last)
        last = at.mark_m
        name, minute = clock.next()
        row = Row(name, line, *job.crew.fix(*at.mark(), minute), at.bearing_deg, minute)
        row = take_reading(job, at, row, raise_m=FOOT_M if name in RAISED else None)
        rows.append(filed(site, row))
    slip = ["wrong_line" if jobs[0] is not jobs[1] and east > POST_M else "" for east in places]
    truth = [truth_at(jobs[0], r.id, r, (0.0, 0.0), s) for r, s in zip(rows, slip, strict=True)]
    return rows, truth


def make() -> Site:
    """Read the three lines, the electric one from beside the trailer too, and dig the hole."""
    rng = np.random.default_rng(SEED)
    world, tool = (
        _world(),
        Instrument(0.05, 0.40, least_null=True, ratio_error=-0.001, tilt=math.radians(0.1)),
    )
    crew = Crew(rng, 1.0, False, 1.0, True, 0.02, {})
    site = Site(
        "demo", SEED, "cedar-street", "Invented: three lines along a street", "local", "ft-in",
        (60.0, 2.0), tool, True, "least",
        (
            Listed("E1", "electric", "clamp", 10000.0, ("connected", "exposed"), DUCT_M),
            Listed("C1", "communications", "clamp", 33000.0, ("connected",), 0.02),
            Listed("W1", "water", "direct", 3000.0, ("connected",), 0.17),
            Listed("G1", "gas", "direct", 33000.0, (), 0.06),
        ),
        (), world, (), baseline=BASELINE,
        style={"place": "baseline", "tape": "ft", "length": "in", "depth_text": "words",
               "digits": "3", "times": "yes"},
    )  # fmt: skip
    signal = _excitations(world)
    job = {name: Job(world, signal[name], k, tool, crew) for k, name in enumerate(("E1", "C1", "W1"))}
    clock = _Clock()
    rows, truth = _read(site, (job["E1"], job["E1"]), "E1", ELECTRIC_AT, clock)
    beside = _beside(job["E1"], clock)
    truth += [_truth_beside(job["E1"], b) for b in beside]
    for line, over in (("W1", replace(job["W1"], target=E1)), ("C1", job["C1"])):
        more, true = _read(
            site, (job[line], over), line, WATER_AT if line == "W1" else COMMUNICATIONS_AT, clock
        )
        rows, truth = rows + more, truth + true
    foot = foot_on(world.chains[E1], *point_at(world.chains[E1], _chainage(world.chains[E1], HOLE_AT)))
    e, n = foot.easting_m + rng.normal(0, 0.02), foot.northing_m + rng.normal(0, 0.02)
    hole = Hole("1", "E1", e, n, foot.depth_m - DUCT_M / 2 + rng.normal(0, 0.01), DUCT_M)
    return replace(site, rows=tuple(rows), truth=tuple(truth), beside=tuple(beside), holes=(hole,))


def _beside(job: Job, clock: _Clock) -> list[Beside]:
    """From the kerb's side of the trailer, five feet and more off the line."""
    taken = []
    for k, east in enumerate(BESIDE_AT, start=1):
        clock.minute += 3
        one = stand_beside(job, _chainage(job.world.chains[E1], east), 1.9, "E1", f"s{k}", clock.minute)
        if one is None:
            raise ValueError(f"the receiver shows nothing beside the trailer at {east} m")
        taken.append(one)
    return taken


def _truth_beside(job: Job, b: Beside) -> StationTruth:
    """Where the electric line is nearest to a reading from the side."""
    row = Row(b.id, b.line, b.easting_m, b.northing_m, None, 0)
    return truth_at(job, b.id, row, (0.0, 0.0), "")


def main() -> None:
    """Write the folder anew; README.md in it stays."""
    site = make()
    write_site(site, FOLDER, more=False)
    with (FOLDER / "job.toml").open("a", encoding="utf-8") as file:
        file.write('[[trenches]]\nid = "J1"\nlines = ["C1", "G1"]\nwidth_m = 0.45\n')


if __name__ == "__main__":
    main()
