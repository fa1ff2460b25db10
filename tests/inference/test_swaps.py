"""Swaps of lines: called where marks step sideways and stay, not at a bend, a slip or a wandering line."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from plumbmark.exchange.jobfolder import read_job
from plumbmark.inference.solve import solve_job
from plumbmark.inference.stations import stations_of
from plumbmark.inference.swaps import Swapped, swaps_of
from plumbmark.model.estimate import Identity, Trust
from plumbmark.model.job import IdentityEvidence, Job, Line
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading, TestHole

Make = Callable[..., Job]

BEARING, EAST, NORTH = 20.0, 100.0, 200.0  # of the line that `make_job` lays


def found(job: Job) -> tuple[Swapped, ...]:
    return swaps_of(stations_of(job, job.lines[0], []))


def beside(r: Reading, right: float, **cells: object) -> Reading:
    """A reading moved to the right of the line that `make_job` lays."""
    b = math.radians(BEARING)
    east = r.place.easting_m + right * math.cos(b)
    north = r.place.northing_m - right * math.sin(b)
    return replace(r, place=Place(east, north), **cells)  # type: ignore[arg-type]


def shallower(r: Reading) -> dict[str, object]:
    assert r.depth_m is not None
    return {
        "depth_m": Measured(round(0.7 * r.depth_m.value, 2), 0.0, 0.01),
        "half_left_m": None,
        "half_right_m": None,
    }


def swapped(job: Job, first: int, right: float) -> Job:
    """From reading `first` on the crew stands over a shallower line `right` of theirs."""
    rows = [r if k < first else beside(r, right, **shallower(r)) for k, r in enumerate(job.readings)]
    return replace(job, readings=tuple(rows))


@pytest.mark.parametrize("right", [-1.2, 0.7, 2.0])
@pytest.mark.parametrize("first", [2, 5, 8])
def test_a_step_is_called_where_it_is(first: int, right: float, make_job: Make) -> None:
    (one,) = found(swapped(make_job(noise=1.0), first, right))
    assert (one.before.id, one.after.id) == (f"r{first - 1:02d}", f"r{first:02d}")
    assert one.step_m == pytest.approx(right, abs=0.2)
    assert one.depths_m is not None
    assert one.depths_m[1] / one.depths_m[0] == pytest.approx(0.7, abs=0.08)
    assert one.currents_a is not None


def test_there_and_back_are_two_steps(make_job: Make) -> None:
    job = make_job(noise=1.0, stations=12)
    rows = [beside(r, 1.0, **shallower(r)) if 4 <= k < 8 else r for k, r in enumerate(job.readings)]
    steps = found(replace(job, readings=tuple(rows)))
    assert [q.after.id for q in steps] == ["r04", "r08"]
    assert [math.copysign(1.0, q.step_m) for q in steps] == [1.0, -1.0]


def test_places_without_a_swap(make_job: Make) -> None:
    """Noise, one mark beside the others, a gentle curve, a sharp bend, and too few readings."""
    job = make_job(noise=1.0, stations=12)
    assert found(job) == ()
    one = list(job.readings)
    one[5] = beside(one[5], 1.0, **shallower(one[5]))
    assert found(replace(job, readings=tuple(one))) == ()
    curved = [beside(r, 0.0012 * (3.0 * k) ** 2) for k, r in enumerate(job.readings)]
    assert found(replace(job, readings=tuple(curved))) == ()
    for slope in (math.tan(math.radians(a)) for a in (15.0, 40.0, 70.0)):
        bent = [
            beside(r, max(0.0, 3.0 * (k - 5.4)) * slope, **(shallower(r) if k > 5 else {}))
            for k, r in enumerate(job.readings)
        ]
        assert found(replace(job, readings=tuple(bent))) == ()
    assert found(swapped(make_job(stations=3), 2, 1.0)) == ()


def test_a_step_with_nothing_else_changing_needs_more(make_job: Make) -> None:
    """Lines jog; the same two feet are called where the depth changes with it and not where it does not."""
    job = make_job(noise=1.0)
    with_it = swapped(job, 5, 0.6)
    without = replace(job, readings=tuple(beside(r, 0.6 * (k >= 5)) for k, r in enumerate(job.readings)))
    assert len(found(with_it)) == 1
    assert found(without) == ()


def test_the_same_seen_from_the_other_end(make_job: Make) -> None:
    job = swapped(make_job(noise=1.0), 5, 1.1)
    (there,) = found(job)
    (back,) = found(replace(job, readings=job.readings[::-1]))
    assert (back.before.id, back.after.id) == (there.after.id, there.before.id)
    assert back.step_m == pytest.approx(there.step_m, rel=1e-6)  # sideways and about face: right again
    assert back.depths_m == (there.depths_m or ())[::-1]


# --- what is said ----------------------------------------------------------------------------------


def known(job: Job, *evidence: IdentityEvidence) -> Job:
    return replace(job, lines=tuple(replace(line, identity=evidence) for line in job.lines))


def hole(job: Job, name: str, beside_row: int) -> TestHole:
    place = job.readings[beside_row].place
    return TestHole(name, "E1", Place(place.easting_m, place.northing_m), 2, True, Measured(0.9, 0.0, 0.01))


@pytest.mark.usefixtures("quick")
def test_it_is_said_at_both_readings_and_lowers_identity(make_job: Make) -> None:
    job = known(
        replace(swapped(make_job(noise=0.1), 5, 0.68), display_units="ft-in"), IdentityEvidence.CONNECTED
    )
    (answer,) = solve_job(job).lines
    assert answer.identity is Identity.NOT_KNOWN
    assert "between readings r04 and r05" in answer.identity_because[0]
    assert "go back to the connection" in answer.identity_because[-1]
    said = {
        s.id: [b for b in s.because if b.startswith("You may have swapped lines")] for s in answer.stations
    }
    assert [name for name, words in said.items() if words] == ["r04", "r05"]
    (words,) = said["r05"]
    assert "the marks step 2 ft 3 in to the right there" in words
    assert "the depth shown changes from 3 ft 3 in to 2 ft 4 in" in words
    assert all(s.within_10_probability <= 0.5 and s.trust is Trust.UNPROVEN for s in answer.stations)


@pytest.mark.usefixtures("quick")
def test_either_side_is_answered_for_the_line_under_it(make_job: Make) -> None:
    """Nothing is smoothed across a swap: no mark is drawn to the other line, no depth to the other depth."""
    job = swapped(make_job(noise=0.5), 5, 1.0)
    for k, s in enumerate(solve_job(job).lines[0].stations):
        shown = job.readings[k].depth_m
        assert shown is not None
        assert abs(s.lateral_shift_m.value) < 0.1
        assert s.depth_m.value == pytest.approx(shown.value, rel=0.1)


@pytest.mark.usefixtures("quick")
def test_only_exposure_on_both_sides_keeps_identity(make_job: Make) -> None:
    job = known(swapped(make_job(noise=1.0), 5, 1.0), IdentityEvidence.EXPOSED)
    one_side = replace(job, test_holes=(hole(job, "h1", 2),))
    both = replace(job, test_holes=(hole(job, "h1", 2), hole(job, "h2", 8)))
    assert solve_job(one_side).lines[0].identity is Identity.NOT_KNOWN
    assert solve_job(both).lines[0].identity is Identity.PROVEN


@pytest.mark.usefixtures("quick")
def test_a_step_onto_another_line_of_the_job_names_it(make_job: Make) -> None:
    job = swapped(make_job(noise=1.0), 5, 1.0)
    other = [
        replace(beside(r, 1.0, **shallower(r)), id=f"c{k}", line="C1", row=k + 20)
        for k, r in enumerate(make_job(noise=1.0, seed=2).readings)
    ]
    setups = tuple(replace(s, line="C1") for s in job.lines[0].setups)
    job = replace(job, lines=(*job.lines, Line("C1", setups=setups)), readings=(*job.readings, *other))
    first, second = solve_job(job).lines
    words = [b for s in first.stations for b in s.because if b.startswith("You may have swapped")]
    assert len(words) == 2
    assert all("That is where line C1 lies" in b for b in words)
    assert not any(b.startswith("You may have swapped") for s in second.stations for b in s.because)


def test_ten_thousand_readings_take_no_time(make_job: Make) -> None:
    """Only gaps across which the marks step are fitted: linear, and little."""
    job = swapped(make_job(stations=10_000, noise=1.0), 7000, 1.0)
    (one,) = swaps_of(stations_of(job, job.lines[0], []))
    assert one.after.id == "r7000"
    assert np.isfinite(one.step_m)


def test_bands_reach_over_to_the_other_line_while_a_swap_is_unsettled() -> None:
    """The second example: water marked on the electric line from reading 14 on, its true course 2 m aside."""
    job, _findings = read_job(Path(__file__).parents[2] / "examples" / "cedar-street")
    assert job is not None
    stations = {s.id: s for line in solve_job(job).lines if line.line == "W1" for s in line.stations}
    a, b = stations["13"], stations["14"]
    right = math.radians(b.right_deg)
    other = (a.mark_easting_m - b.mark_easting_m) * math.sin(right)
    other += (a.mark_northing_m - b.mark_northing_m) * math.cos(right)
    assert b.lateral_shift_m.low - 0.3 < other < b.lateral_shift_m.high + 0.3
    assert b.depth_m.low <= a.depth_m.value <= b.depth_m.high
