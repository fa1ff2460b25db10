"""Whole jobs whose answer is known: exact displays over known lines, spoilt rows, and odd jobs."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import astuple, replace

import numpy as np
import pytest

from plumbmark.inference.solve import solve_job
from plumbmark.model.estimate import Interval, LineEstimate, Solution, StationEstimate, Trust
from plumbmark.model.job import Hookup, Job, Line, Setup, Signal
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Profile, ProfilePoint, Reading, SideReading

pytestmark = pytest.mark.usefixtures("quick")

Make = Callable[..., Job]

BEARING, EAST, NORTH = 20.0, 100.0, 200.0  # of the line that `make_job` lays


def stations(job: Job, line: str = "E1") -> tuple[StationEstimate, ...]:
    return next(answer.stations for answer in solve_job(job).lines if answer.line == line)


def aside(s: StationEstimate) -> float:
    """How far right of the true line the answer lies [m]."""
    b = math.radians(BEARING)
    return (s.easting_m - EAST) * math.cos(b) - (s.northing_m - NORTH) * math.sin(b)


def finite(answer: Solution) -> bool:
    numbers = [
        x
        for line in answer.lines
        for s in line.stations
        for q in (s.lateral_shift_m, s.depth_m, s.current_a)
        for x in (*astuple(q), s.easting_m, s.northing_m, s.single_line_probability, s.within_10_probability)
    ]
    return bool(np.all(np.isfinite(numbers)))


def ordered(s: StationEstimate) -> bool:
    return all(q.low <= q.value <= q.high for q in (s.lateral_shift_m, s.depth_m, s.current_a))


# --- clean jobs ----------------------------------------------------------------------------------


@pytest.mark.parametrize("depth", [0.6, 1.0, 1.8])
def test_one_line_cleanly_read(depth: float, make_job: Make) -> None:
    """Depth within 3 per cent, the line within 3 cm, every band holds the truth."""
    answered = stations(make_job(depth=depth, noise=0.3))
    assert len(answered) == 10
    for s in answered:
        assert s.depth_m.value == pytest.approx(depth, rel=0.03)
        assert s.depth_m.low < depth < s.depth_m.high
        assert abs(aside(s)) < 0.03
        assert s.lateral_shift_m.low < s.lateral_shift_m.value - aside(s) < s.lateral_shift_m.high
        assert s.current_a.low < 0.010 < s.current_a.high
        assert ordered(s)


def test_second_line_is_seen_and_taken_out(make_job: Make) -> None:
    """Display and mark are off by a fifth and by 7 cm; bands hold, the middle is nearer than the display."""
    job = make_job(second=(0.9, 1.0, -0.35), raised=0.4, noise=1.0)
    shown = job.readings[0].depth_m
    assert shown is not None
    assert abs(shown.value - 1.0) > 0.10
    for s in stations(job):
        assert s.depth_m.low < 1.0 < s.depth_m.high
        assert abs(s.depth_m.value - 1.0) < abs(shown.value - 1.0)
        assert s.lateral_shift_m.low < s.lateral_shift_m.value - aside(s) < s.lateral_shift_m.high
        assert s.single_line_probability < 0.5


# --- the same again ------------------------------------------------------------------------------


def test_same_job_same_answer(make_job: Make) -> None:
    job = make_job(second=(0.9, 1.0, -0.35), noise=1.0)
    assert solve_job(job) == solve_job(job)


def mirrored(q: Interval) -> Interval:
    return Interval(-q.value, -q.high, -q.low)


def test_bearings_the_other_way_round(make_job: Make) -> None:
    """Bearing + 180, left for right and nulls negated say the same thing: the same places to 1 um."""
    job = make_job(second=(0.9, 1.0, -0.35), noise=1.0, stations=6)
    rows = tuple(
        replace(
            r,
            bearing_deg=BEARING + 180.0,
            null_offset_m=replace(r.null_offset_m, value=-r.null_offset_m.value),
            half_left_m=r.half_right_m,
            half_right_m=r.half_left_m,
        )
        for r in job.readings
    )
    for here, there in zip(stations(job), stations(replace(job, readings=rows)), strict=True):
        assert (there.easting_m, there.northing_m) == pytest.approx(
            (here.easting_m, here.northing_m), abs=1e-6
        )
        assert astuple(there.depth_m) == pytest.approx(astuple(here.depth_m), abs=1e-9)
        assert astuple(there.lateral_shift_m) == pytest.approx(
            astuple(mirrored(here.lateral_shift_m)), abs=1e-9
        )


def close(here: StationEstimate, there: StationEstimate, share: float) -> None:
    """Monte Carlo bound: `share` of the width of the bands, in place and depth."""
    wide = here.lateral_shift_m.high - here.lateral_shift_m.low
    away = math.hypot(here.easting_m - there.easting_m, here.northing_m - there.northing_m)
    assert away < share * wide
    deep = here.depth_m.high - here.depth_m.low
    assert abs(here.depth_m.value - there.depth_m.value) < share * deep


def test_rows_in_reverse(make_job: Make) -> None:
    """The route is walked from the other end and other numbers are drawn: a quarter of the bands' width."""
    job = make_job(noise=1.0)
    turned = replace(job, readings=job.readings[::-1])
    there = {s.id: s for s in stations(turned)}
    for s in stations(job):
        close(s, there[s.id], 0.25)


def test_another_name_draws_other_numbers(make_job: Make) -> None:
    """The seed comes of the job's id: a quarter of the bands' width."""
    here, there = (stations(make_job(noise=1.0, job=name)) for name in ("made", "other"))
    for one, two in zip(here, there, strict=True):
        close(one, two, 0.25)


# --- rows that are wrong -------------------------------------------------------------------------


def test_depth_ten_times_too_large_is_called_out(make_job: Make, spoil: Make) -> None:
    job = spoil(make_job(noise=0.3), 4, depth_m=Measured(10.0, 0.0, 0.01))
    answered = stations(job)
    assert any("A slip (a decimal point)?" in words for words in answered[4].because)
    assert not any("slip" in words.lower() for k, s in enumerate(answered) if k != 4 for words in s.because)
    assert answered[4].depth_m.low < 1.0 < answered[4].depth_m.high
    assert answered[4].depth_m.value == pytest.approx(1.0, rel=0.06)


def test_a_current_that_does_not_fit_two_others_is_asked_about_beside_theirs(
    make_job: Make, spoil: Make
) -> None:
    job = make_job(noise=0.3)
    for k, current in enumerate((0.010, 0.010, 0.020, None, None)):
        job = spoil(job, k, current_a=None if current is None else Measured(current, 0.0, 0.001))
    asked = [
        words
        for s in stations(replace(job, readings=job.readings[:5]))
        for words in s.because
        if "mA" in words
    ]
    assert asked == ["20 mA here, about 10 mA on either side. A slip, or another line?"]


def test_mark_on_another_line_is_brought_back(make_job: Make, spoil: Make) -> None:
    """A mark 0.9 m to the right: the answer there is still of the line it names."""
    job = make_job(noise=0.3)
    b = math.radians(BEARING)
    place = job.readings[5].place
    moved = Place(place.easting_m + 0.9 * math.cos(b), place.northing_m - 0.9 * math.sin(b))
    s = stations(spoil(job, 5, place=moved))[5]
    assert s.lateral_shift_m.low < s.lateral_shift_m.value - aside(s) < s.lateral_shift_m.high
    assert aside(s) == pytest.approx(0.0, abs=0.10)
    assert any("Another line's peak, or a slip of place?" in words for words in s.because)


def test_numbers_written_down_twice_are_left_out(make_job: Make, spoil: Make) -> None:
    job = make_job(noise=1.0)
    cells = ("null_offset_m", "half_left_m", "half_right_m", "depth_m", "current_a")
    job = spoil(job, 6, **{c: getattr(job.readings[5], c) for c in cells})
    s = stations(job)[6]
    assert any("Written down twice?" in words for words in s.because)
    assert s.depth_m.low < 1.0 < s.depth_m.high


# --- odd jobs ------------------------------------------------------------------------------------


def odd(name: str) -> tuple[Line, dict[str, tuple[object, ...]]]:
    """A line of its own kind and its rows."""
    m = Measured
    setups = (Setup("", "X1", Hookup.DIRECT, 8000.0),)
    line = Line("X1", setups=setups)
    place = Place(50.0, 60.0)
    if name == "no numbers":
        return line, {"readings": tuple(Reading(f"x{k}", "X1", Place(50.0, 60.0 + k), k) for k in range(3))}
    if name == "absurd numbers":
        rows = tuple(
            Reading(
                f"x{k}", "X1", Place(50.0, 60.0 + 3 * k), k, depth_m=m(d), current_a=m(i), null_offset_m=m(q)
            )
            for k, (d, i, q) in enumerate(
                [(0.0, 0.0, 0.0), (80.0, 1e4, -30.0), (0.001, 1e-9, 9.0), (5.0, 0.2, -4.0)]
            )
        )
        return line, {"readings": rows}
    if name == "one place":
        return line, {"readings": (Reading("x0", "X1", place, 2, depth_m=m(1.2), null_offset_m=m(0.2)),)}
    if name == "walk alone":
        points = tuple(
            ProfilePoint(k + 2, m(x), None, m(1.0 / (1.0 + x * x)), m(abs(x) / (1.0 + x * x)))
            for k, x in enumerate(np.linspace(-2.0, 2.0, 17))
        )
        return line, {"profiles": (Profile("p0", "X1", place, 2, 0.0, points),)}
    if name == "sonde":
        rows = tuple(
            Reading(f"x{k}", "X1", Place(50.0, 60.0 + 3 * k), k, null_ahead_m=m(0.7), null_behind_m=m(0.72))
            for k in range(3)
        )
        return replace(line, signal=Signal.SONDE), {"readings": rows}
    assert name == "from the side"
    return line, {"side_readings": (SideReading("s0", "X1", place, 2, 90.0, m(3.0), m(1.1)),)}


@pytest.mark.parametrize(
    ("name", "count", "source"),
    [
        ("no numbers", 3, "reading"),
        ("absurd numbers", 4, "reading"),
        ("one place", 1, "reading"),
        ("walk alone", 1, "profile"),
        ("sonde", 3, "reading"),
        ("from the side", 1, "side_reading"),
    ],
)
def test_every_station_has_finite_numbers(name: str, count: int, source: str) -> None:
    line, rows = odd(name)
    answer = solve_job(Job("odd", lines=(line,), **rows))  # type: ignore[arg-type]
    (told,) = answer.lines
    assert [s.source for s in told.stations] == [source] * count
    assert finite(answer)
    assert all(map(ordered, told.stations))
    assert all(s.because and s.next_step for s in told.stations)


def test_nothing_read_but_places_is_unproven() -> None:
    line, rows = odd("no numbers")
    for s in solve_job(Job("odd", lines=(line,), **rows)).lines[0].stations:  # type: ignore[arg-type]
        assert s.trust is Trust.UNPROVEN
        assert s.depth_m.high / s.depth_m.low > 3.0


def test_lone_place_with_no_bearing_has_a_round_band() -> None:
    """Which way it runs is not known: no side, and the answer stays on the mark (the file contract)."""
    line, rows = odd("one place")
    (s,) = solve_job(Job("odd", lines=(line,), **rows)).lines[0].stations  # type: ignore[arg-type]
    assert s.lateral_shift_m.value == 0.0
    assert s.lateral_shift_m.low == -s.lateral_shift_m.high
    assert (s.easting_m, s.northing_m) == (50.0, 60.0)


def test_sonde_depth_from_its_two_nulls() -> None:
    """The nulls along a dipole lie at its depth below the coil / sqrt 2 either side (textbook)."""
    line, rows = odd("sonde")
    for s in solve_job(Job("odd", lines=(line,), **rows)).lines[0].stations:  # type: ignore[arg-type]
        assert s.depth_m.low < 1.0 < s.depth_m.high
        # the coil's height is not known: 3 to 12 cm
        assert s.depth_m.value == pytest.approx(1.42 / math.sqrt(2.0) - 0.075, rel=0.05)


def test_line_seen_from_the_side_stands_where_it_was_seen() -> None:
    line, rows = odd("from the side")
    (s,) = solve_job(Job("odd", lines=(line,), **rows)).lines[0].stations  # type: ignore[arg-type]
    assert (s.mark_easting_m, s.mark_northing_m) == pytest.approx((53.0, 60.0))
    assert s.northing_m == pytest.approx(60.0)
    assert s.lateral_shift_m.low < 0.0 < s.lateral_shift_m.high
    assert s.depth_m.low < 1.1 < s.depth_m.high


def test_line_with_no_rows_is_named_and_has_no_stations(make_job: Make) -> None:
    job = make_job(stations=3)
    answer = solve_job(replace(job, lines=(*job.lines, Line("W1"))))
    told: LineEstimate = answer.lines[1]
    assert (told.line, told.stations) == ("W1", ())
    assert any(w.where == "line W1" and "nothing to solve" in w.what for w in answer.warnings)


def test_what_cannot_be_done_is_not_asked_for(make_job: Make) -> None:
    """Each refusal brings another action, in the end none; the answer itself stays as it is."""
    job = make_job(stations=5, second=(0.5, 1.1, 0.4), noise=1.0)
    bare = replace(job, readings=tuple(replace(r, half_left_m=None, half_right_m=None) for r in job.readings))
    cannot: frozenset[str] = frozenset()
    first = solve_job(bare)
    asked = []
    for _ in range(5):
        solution = solve_job(bare, cannot)
        assert solution.lines == first.lines
        step = solution.next_step
        assert step is not None
        asked.append(step.action)
        if step.action == "none":
            break
        assert step.action not in cannot
        cannot |= {step.action}
    assert asked[-1] == "none"
    assert len(asked) >= 2


def test_each_hookup_has_its_own_current(make_job: Make) -> None:
    """Readings under two hook-ups by turns: each current is answered as read, and no step is made of them."""
    job = make_job(depth=1.0, noise=0.3)
    weak = tuple(
        replace(r, setup="east", current_a=replace(r.current_a, value=r.current_a.value / 8.0))
        if i % 2 and r.current_a
        else replace(r, setup="west")
        for i, r in enumerate(job.readings)
    )
    line = replace(
        job.lines[0], setups=tuple(replace(job.lines[0].setups[0], id=name) for name in ("west", "east"))
    )
    answer = solve_job(replace(job, readings=weak, lines=(line,))).lines[0]
    assert answer.current_events == ()
    for row, s in zip(weak, answer.stations, strict=True):
        assert row.current_a is not None
        assert s.current_a.value == pytest.approx(row.current_a.value, rel=0.15)
