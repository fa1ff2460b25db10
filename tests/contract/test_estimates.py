"""The machine-readable answer has the keys, units and order of the contract."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbmark.base.errors import AnswerError
from plumbmark.exchange.estimates import estimates_bytes, estimates_json, estimates_text
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
from plumbmark.model.job import Job

STATION = StationEstimate(
    source="reading",
    id="r07",
    chainage_m=18.0,
    easting_m=573360.12346,
    northing_m=6355870.0,
    mark_easting_m=573360.0,
    mark_northing_m=6355870.0,
    right_deg=90.0,
    lateral_shift_m=Interval(-0.04, -0.09, 0.02),
    depth_m=Interval(0.91, 0.80, 1.05),
    current_a=Interval(8.0e-3, 7.1e-3, 9.2e-3),
    single_line_probability=0.97,
    within_10_probability=0.98,
    trust=Trust.HOLDS,
    because=("peak and null agree",),
    next_step="Enough, go on.",
)
LINE = LineEstimate(
    line="E1",
    identity=Identity.NOT_KNOWN,
    identity_because=("induction alone",),
    stations=(STATION,),
    neighbours=(Neighbour(0.0, 30.0, Interval(0.8, 0.6, 1.1), 0.7, -0.3, 0.98, None),),
    current_events=(CurrentEvent(12.0, "drop", -6.0, 0.99),),
)
STEP = NextStep("raise", "Set it on a 12 in block.", "E1", "r07", 0.3, 1.0, 2.0, 0.25, 0.12)
SOLUTION = Solution("alder-17", (LINE,), STEP, (Finding(Severity.WARNING, "line E1", "passive"),))
JOB = Job("alder-17", findings=(Finding(Severity.WARNING, "readings.csv row 8 current_ma", "72 mA here"),))

#: The example of the contract, key by key.
KEYS = ["format", "job", "lines", "next_step", "warnings"]
LINE_KEYS = ["line", "identity", "identity_because", "stations", "neighbours", "current_events"]
STATION_KEYS = [
    "reading",
    "chainage_m",
    "easting_m",
    "northing_m",
    "lateral_shift_m",
    "lateral_low_m",
    "lateral_high_m",
    "depth_m",
    "depth_low_m",
    "depth_high_m",
    "current_ma",
    "current_low_ma",
    "current_high_ma",
    "single_line_probability",
    "within_10_probability",
    "trust",
    "because",
    "next_step",
]
NEIGHBOUR_KEYS = [
    "from_chainage_m",
    "to_chainage_m",
    "offset_m",
    "offset_low_m",
    "offset_high_m",
    "depth_m",
    "current_ratio",
    "probability",
    "is_line",
]
EVENT_KEYS = ["chainage_m", "kind", "change_db", "probability"]
STEP_KEYS = [
    "action",
    "line",
    "reading",
    "raise_m",
    "at_easting_m",
    "at_northing_m",
    "depth_band_m",
    "depth_band_after_m",
    "words",
]


def with_station(**changes: object) -> Solution:
    return replace(SOLUTION, lines=(replace(LINE, stations=(replace(STATION, **changes),)),))  # type: ignore[arg-type]


def test_keys_are_those_of_the_contract() -> None:
    answer = json.loads(estimates_bytes(SOLUTION, JOB))
    assert list(answer) == KEYS
    assert answer["format"] == "plumbmark-estimates/1"
    (line,) = answer["lines"]
    assert list(line) == LINE_KEYS
    assert list(line["stations"][0]) == STATION_KEYS
    assert list(line["neighbours"][0]) == NEIGHBOUR_KEYS
    assert list(line["current_events"][0]) == EVENT_KEYS
    assert list(answer["next_step"]) == STEP_KEYS


def test_values_and_units() -> None:
    answer = estimates_json(SOLUTION, JOB)
    line = answer["lines"][0]
    station = line["stations"][0]
    assert (station["current_ma"], station["current_low_ma"], station["current_high_ma"]) == (8.0, 7.1, 9.2)
    assert (station["depth_m"], station["depth_low_m"], station["depth_high_m"]) == (0.91, 0.80, 1.05)
    assert station["lateral_shift_m"] == -0.04
    assert station["easting_m"] == 573360.1235
    assert (station["trust"], line["identity"]) == ("holds", "not known")
    assert line["neighbours"][0]["is_line"] is None
    assert answer["next_step"]["raise_m"] == 0.3


@pytest.mark.parametrize("source", ["reading", "profile", "side_reading"])
def test_a_station_stands_under_what_it_came_from(source: str) -> None:
    station = estimates_json(with_station(source=source))["lines"][0]["stations"][0]
    assert station[source] == "r07"
    assert {"reading", "profile", "side_reading"} & set(station) == {source}


def test_warnings_of_files_and_of_the_solver_each_once() -> None:
    both = replace(SOLUTION, warnings=(*JOB.findings, *SOLUTION.warnings))
    told = [
        {"where": "readings.csv row 8 current_ma", "what": "72 mA here"},
        {"where": "line E1", "what": "passive"},
    ]
    assert estimates_json(SOLUTION, JOB)["warnings"] == told
    assert estimates_json(both, JOB)["warnings"] == told
    assert estimates_json(both)["warnings"] == told


def test_nothing_to_do_and_nothing_to_solve() -> None:
    answer = estimates_json(Solution("j", (LineEstimate("W1", Identity.LIKELY, (), ()),), None))
    assert answer["next_step"] is None
    assert answer["lines"][0]["stations"] == []


def test_text_is_utf8_and_the_same_each_time() -> None:
    words = replace(SOLUTION, next_step=replace(STEP, words="Größe vor Ort"))
    assert estimates_bytes(words, JOB) == estimates_bytes(words, JOB)
    assert "Größe vor Ort" in estimates_bytes(words, JOB).decode()
    assert estimates_text(words, JOB).endswith("}\n")


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_numbers_are_finite(value: float) -> None:
    with pytest.raises(AnswerError, match="reading r07"):
        estimates_json(with_station(chainage_m=value))
    with pytest.raises(AnswerError, match="reading r07"):
        estimates_json(with_station(current_a=Interval(0.0, 0.0, value)))


def test_intervals_are_in_order_and_chances_are_chances() -> None:
    with pytest.raises(AnswerError, match="depth_m"):
        estimates_json(with_station(depth_m=Interval(0.7, 0.8, 0.9)))
    with pytest.raises(AnswerError, match="probability"):
        estimates_json(with_station(within_10_probability=1.01))


@given(
    st.lists(st.floats(-1e6, 1e6), min_size=3, max_size=3),
    st.lists(st.floats(0, 1e3), min_size=3, max_size=3),
)
def test_rounding_keeps_the_order(shift: list[float], current: list[float]) -> None:
    low, value, high = sorted(shift)
    weak, middle, strong = sorted(current)
    changed = with_station(
        lateral_shift_m=Interval(value, low, high), current_a=Interval(middle, weak, strong)
    )
    station = estimates_json(changed)["lines"][0]["stations"][0]
    assert station["lateral_low_m"] <= station["lateral_shift_m"] <= station["lateral_high_m"]
    assert station["current_low_ma"] <= station["current_ma"] <= station["current_high_ma"]
    assert abs(station["lateral_low_m"] - low) <= 0.5001e-4
    assert math.isclose(station["current_high_ma"], 1e3 * strong, rel_tol=5.1e-6, abs_tol=1e-300)
