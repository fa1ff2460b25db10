"""Along a line as data: bands, axes, how fast the current falls, changes with their causes, swaps."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from pydantic import TypeAdapter
from scipy.stats import theilslopes

from plumbmark.handover.screen_along import EMPTY, along_screen
from plumbmark.handover.screen_slope import middle_slope, slopes_of
from plumbmark.model.estimate import CurrentEvent, Interval
from plumbmark.model.job import Line
from plumbmark.model.reading import Place
from plumbmark.model.screen_along import AlongScreen
from plumbmark.model.ticket import Thing, ThingKind

FORM = TypeAdapter(AlongScreen)


def falling(invented, db_per_100_m: float, units: str = "ft-in", width: float = 1.01):
    """A job whose currents fall evenly, but for one place that is off by a factor of ten."""
    job, solution = invented(14, units=units)
    line = solution.lines[0]
    stations = []
    for i, s in enumerate(line.stations):
        value = 0.02 * 10 ** (-db_per_100_m * s.chainage_m / 2000.0) * (10.0 if i == 6 else 1.0)
        stations.append(replace(s, current_a=Interval(value, value / width, value * width)))
    return job, replace(solution, lines=(replace(line, stations=tuple(stations), current_events=()),))


@pytest.mark.parametrize("seed", range(4))
def test_the_middle_slope_is_that_of_another_library(seed) -> None:
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0.0, 40.0, 6 + 5 * seed))
    y = rng.standard_normal(x.size) - 0.1 * x
    slope, low, high, level = middle_slope(x, y)
    other = theilslopes(y, x, 0.95, method="joint")
    assert (slope, low, high) == pytest.approx((other.slope, other.low_slope, other.high_slope), rel=1e-12)
    assert level == pytest.approx(other.intercept)


def test_the_band_of_the_slope_holds_nineteen_times_in_twenty() -> None:
    rng = np.random.default_rng(11)
    x = np.arange(12.0)
    held = 0
    for _ in range(2000):
        _, low, high, _ = middle_slope(x, -0.2 * x + 0.4 * rng.standard_normal(12))
        held += low <= -0.2 <= high
    assert 0.94 <= held / 2000 <= 0.97  # ranks come in steps: a little on the wide side


def test_an_even_fall_is_found_through_a_slip(invented) -> None:
    job, solution = falling(invented, 12.0)
    (slope,) = along_screen(job, solution).lines[0].slopes
    assert slope.fall_db_per_100_m.value == pytest.approx(12.0, abs=0.01)
    assert slope.readings == 14
    assert slope.words.startswith("From 0 ft to 107 ft along the current falls by 3.7 dB per 100 ft (")
    drop_db = 20.0 * math.log10(slope.from_ma / slope.to_ma)
    assert drop_db == pytest.approx(12.0 * (slope.to_m - slope.from_m) / 100.0, abs=0.01)
    (metric,) = along_screen(*falling(invented, 12.0, "m")).lines[0].slopes
    assert "falls by 12 dB per 100 m" in metric.words


def test_places_known_badly_make_a_wide_band(invented) -> None:
    widths = []
    for width in (1.01, 1.5, 2.0):
        (slope,) = along_screen(*falling(invented, 12.0, width=width)).lines[0].slopes
        widths.append(slope.fall_db_per_100_m.high - slope.fall_db_per_100_m.low)
    assert widths == sorted(widths)
    # fourteen places 2.5 m apart, each off by 6.02 dB: sum of squares 2.5**2 * 14 * (14**2 - 1) / 12
    alone = 2.0 * 100.0 * 20.0 * math.log10(2.0) / (2.5 * math.sqrt(14 * 195 / 12))
    assert widths[2] == pytest.approx(alone, rel=0.01)
    assert "no fall or rise" in slope.words


def test_a_slope_does_not_run_over_a_change_of_the_current(invented) -> None:
    job, solution = falling(invented, 12.0)
    line = replace(solution.lines[0], current_events=(CurrentEvent(16.0, "drop", -6.0, 0.99),))
    spans = [(s.from_m, s.to_m) for s in slopes_of(job, line)]
    assert spans == [(0.0, 15.0), (17.5, 32.5)]


def test_too_few_currents_are_said_to_be_too_few(invented) -> None:
    job, solution = invented(4)
    line = along_screen(job, solution).lines[0]
    assert line.slopes == ()
    assert "not known" in line.slope


def test_a_step_says_under_which_hookup_and_cuts_its_slope_alone(invented) -> None:
    job, solution = falling(invented, 12.0)
    step = CurrentEvent(16.0, "drop", -18.0, 0.99, "west")
    line = replace(solution.lines[0], current_events=(step,))
    for setup, cut in (("west", True), ("east", False)):
        readings = tuple(replace(r, setup=setup) for r in job.readings)
        spans = [(s.from_m, s.to_m) for s in slopes_of(replace(job, readings=readings), line)]
        assert spans == ([(0.0, 15.0), (17.5, 32.5)] if cut else [(0.0, 32.5)])
    (event,) = along_screen(job, replace(solution, lines=(line,))).lines[0].events
    assert "under the hook-up west" in event.words


def test_what_stands_near_a_change_is_named(invented) -> None:
    job, solution = invented(14)
    s = solution.lines[0].stations
    middle = (0.5 * (s[9].easting_m + s[10].easting_m), 0.5 * (s[9].northing_m + s[10].northing_m))
    near = Thing("v1", 2, Place(middle[0] + 0.5, middle[1]), ThingKind.VALVE)
    far = Thing("v2", 3, Place(middle[0] + 9.0, middle[1]), ThingKind.VALVE)
    (event,) = along_screen(replace(job, things=(near, far)), solution).lines[0].events
    assert "valve v1" in event.cause
    assert "v2" not in event.cause
    assert event.words.startswith("At 78 ft along")


def test_depths_to_the_middle_and_to_the_top(invented) -> None:
    job, solution = invented(5)
    place = along_screen(job, solution).lines[0].places[0]
    assert place.top_m is not None
    assert place.top_m.low == pytest.approx(place.depth_m.low - 0.015, abs=1e-3)
    unknown = replace(job, lines=(Line("E1"),))
    assert along_screen(unknown, solution).lines[0].places[0].top_m is None


def test_swaps_are_said_first(invented) -> None:
    job, solution = invented(9)
    line = replace(solution.lines[0], unsettled=(("r04", "r05"),))
    drawn = along_screen(job, replace(solution, lines=(line,))).lines[0]
    assert drawn.says[0].startswith("You may have swapped lines between readings r04 and r05.")
    assert (drawn.swaps[0].from_m, drawn.swaps[0].to_m) == (7.5, 10.0)


def test_the_axes_hold_what_is_drawn(invented) -> None:
    line = along_screen(*invented(14)).lines[0]
    assert line.weakest_ma < min(p.current_ma.low for p in line.places)
    assert line.strongest_ma > max(p.current_ma.high for p in line.places)
    assert line.deepest_m > max(p.depth_m.high for p in line.places)


def test_a_test_hole_stands_at_its_place_and_no_other(invented) -> None:
    job, solution = invented(14)
    (hole,) = along_screen(job, solution).lines[0].holes
    s = min(solution.lines[0].stations, key=lambda q: math.dist((q.easting_m, q.northing_m), (22.0, 5.5)))
    assert abs(hole.chainage_m - s.chainage_m) < 1.3  # half the way to the next
    assert hole.told.words == "Test hole T1: top at 2 ft 10 in; black cable, one inch"
    away = replace(job, test_holes=(replace(job.test_holes[0], place=Place(90.0, 5.0)),))
    assert along_screen(away, solution).lines[0].holes == ()


def test_places_by_words_are_drawn_where_they_are_measured_from_one_thing(invented) -> None:
    job, solution = invented(9)
    line = solution.lines[0]
    stations = tuple(
        replace(s, chainage_m=(1000.0 + 2.0 * i) if i < 4 else 5000.0 if i == 4 else 9000.0 + 2.5 * i)
        for i, s in enumerate(line.stations)
    )
    line = replace(line, stations=stations, current_events=(CurrentEvent(1003.0, "drop", -6.0, 0.9),))
    words = {("readings", f"r{i:02d}"): f"{6 * i} ft from the meter" for i in range(1, 5)}
    words["readings", "r05"] = "by the gate"
    screen = along_screen(job, replace(solution, lines=(line,)), words)
    assert [(q.from_m, q.to_m, len(q.places)) for q in screen.lines] == [(0.0, 6.0, 4), (0.0, 7.5, 4)]
    assert [(q.id, q.place) for q in screen.apart] == [("r05", "by the gate")]
    assert [e.chainage_m for q in screen.lines for e in q.events] == [3.0]
    assert screen.left_out == ""


def test_before_the_first_answer_the_screen_teaches(invented) -> None:
    job, _ = invented(3)
    assert along_screen(job, None).empty == EMPTY


def test_forty_places_stay_small_and_come_back_as_they_were(invented) -> None:
    screen = along_screen(*invented(40))
    data = FORM.dump_json(screen)
    assert len(data) < 200_000
    assert FORM.validate_json(data) == screen
