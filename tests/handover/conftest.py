"""Invented jobs with answers written by hand, to see how they are told and drawn."""

import math
from dataclasses import replace

import pytest

from plumbmark.model.estimate import (
    CurrentEvent,
    Identity,
    Interval,
    LineEstimate,
    Neighbour,
    NextStep,
    Solution,
    StationEstimate,
    Trust,
)
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Baseline, Corner, Job, Line, Utility
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading, TestHole
from plumbmark.model.record import Dig, DigKind, Record


def trust_of(probability: float) -> Trust:
    """The thresholds of the contract."""
    return Trust.HOLDS if probability >= 0.97 else Trust.LOOSE if probability >= 0.6 else Trust.UNPROVEN


def invented(
    count: int = 14, spacing_m: float = 2.5, units: str = "ft-in", name: str = "E1", north_m: float = 0.0
) -> tuple[Job, Solution]:
    """A line that runs east and bends north-east, a second line beside its first half."""
    stations, readings = [], []
    east, north, heading = 1.0, 2.0 + north_m, 80.0
    for i in range(count):
        if i:
            heading = 80.0 if i < 0.7 * count else 55.0
            east += spacing_m * math.sin(math.radians(heading))
            north += spacing_m * math.cos(math.radians(heading))
        near = max(0.0, 1.0 - i / (0.6 * count))
        right = math.radians(heading + 90.0)
        shift = 0.01 - 0.24 * near
        half = 0.04 + 0.12 * near
        depth = 0.92 + 0.12 * math.sin(i / 3.0)
        probability = 0.985 if near < 0.3 else 0.8 if near < 0.8 else 0.4
        mark = (east - shift * math.sin(right), north - shift * math.cos(right))
        current = 0.0121 * math.exp(-0.02 * i) * (0.55 if i > 9 else 1.0)
        identity = f"r{i + 1:02d}" if north_m == 0 else f"{name}-{i + 1}"
        stations.append(
            StationEstimate(
                source="reading",
                id=identity,
                chainage_m=i * spacing_m,
                easting_m=east,
                northing_m=north,
                mark_easting_m=mark[0],
                mark_northing_m=mark[1],
                right_deg=(heading + 90.0) % 360,
                lateral_shift_m=Interval(shift, shift - half, shift + 0.8 * half),
                depth_m=Interval(depth, depth * (0.93 - 0.2 * near), depth * (1.08 + 0.3 * near)),
                current_a=Interval(current, current * (0.92 - 0.2 * near), current * (1.1 + 0.2 * near)),
                single_line_probability=0.97 - 0.9 * near,
                within_10_probability=probability,
                trust=trust_of(probability),
                because=(
                    "Peak and null agree within 1 in.",
                    "A raised reading is what one line alone would show.",
                )
                if near < 0.3
                else (
                    "The null lies to the right of the peak.",
                    "Depths shrink when the receiver is raised.",
                ),
                next_step="" if near < 0.3 else "Set the receiver on a 12 in block and read the depth again.",
            )
        )
        shown = depth * (1.0 + 0.25 * near)
        readings.append(
            Reading(
                id=identity,
                line=name,
                place=Place(*mark),
                row=i + 2,
                bearing_deg=heading,
                null_offset_m=Measured(0.3 * near + 0.01),
                depth_m=Measured(shown),
                current_a=Measured(current * (1 + 0.2 * near)),
            )
        )
    utility = Utility.ELECTRIC if name.startswith("E") else Utility.GAS
    job = Job(
        id="alder-17",
        title="Alder lateral, meter to transformer (invented)",
        display_units=units,
        lines=(Line(name, utility, outside_diameter_m=0.03),),
        baselines=(Baseline("B1", 0.0, 0.0, 30.0, 0.0),),
        corners=(Corner("house-NE", 3.1, 5.4), Corner("far-off", 900.0, 900.0)),
        readings=tuple(readings),
        test_holes=(
            TestHole(
                "T1",
                name,
                Place(22.0, 5.5 + north_m),
                2,
                depth_to_top_m=Measured(0.86),
                outside_diameter_m=Measured(0.03),
                proved="black cable, one inch",
            ),
        ),
        records=(
            Record(
                "rec-1",
                ((0.0, 3.5), (18.0, 6.5), (30.0, 9.0)),
                utility="communications",
                depth_m=0.6,
                source="as-built 1998",
            ),
        ),
        digs=(
            Dig("dig-1", DigKind.EXCAVATION, (((12.0, 1.0), (17.0, 1.0), (17.0, 6.0), (12.0, 6.0)),), 1.2),
        ),
        findings=(Finding(Severity.WARNING, "readings.csv", "column 'colour' is not known, not read"),),
    )
    length = (count - 1) * spacing_m
    estimate = LineEstimate(
        name,
        Identity.LIKELY,
        ("the signal was connected to it directly",),
        tuple(stations),
        (Neighbour(0.0, 0.55 * length, Interval(0.82, 0.6, 1.12), 0.7, -0.3, 0.98, None),)
        if count > 1
        else (),
        (CurrentEvent(9.5 * spacing_m, "drop", -5.2, 0.995),) if count > 10 else (),
    )
    step = NextStep(
        "raise",
        "Set the receiver on a 12 in block at reading r01 and read the depth again: "
        "the band should shrink from 14 in to about 6 in",
        line=name,
        reading=stations[0].id if stations else None,
        raise_m=0.3,
    )
    return job, Solution("alder-17", (estimate,), step)


def invented_three() -> tuple[Job, Solution]:
    """Three lines, the third with nothing to solve."""
    job, solution = invented(12)
    other_job, other = invented(9, 3.0, name="G1", north_m=1.6)
    empty = LineEstimate("W1", Identity.NOT_KNOWN, (), ())
    return (
        replace(
            job,
            lines=(*job.lines, *other_job.lines, Line("W1", Utility.WATER)),
            readings=job.readings + other_job.readings,
        ),
        replace(solution, lines=(*solution.lines, *other.lines, empty)),
    )


@pytest.fixture(name="invented")
def invented_fixture():
    """Make an invented job with as many stations as asked for."""
    return invented


@pytest.fixture
def three_lines():
    """Three lines, the third with nothing to solve."""
    return invented_three()
