"""passes.csv and what a job says of its sweep: read as written, odd rows told of, wrong ones refused."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from plumbmark.exchange.jobfolder import read_job
from plumbmark.model.finding import Severity
from plumbmark.model.sweep import Antenna, Heard, SearchMethod

PASSES = """\
pass,taken_at,easting_m,northing_m,method,frequency_hz,antenna,heading_deg,signal,by,note
p1,2024-05-06T08:01:00-05:00,0.0,0.0,passive-power,60,three-axis,,none,crew-2,first
p1,2024-05-06T08:01:20-05:00,0.0,10.0,,,,90,,,
p1,2024-05-06T08:01:40-05:00,10.0,10.0,passive-power,60,,,none,,
p2,,0.0,1.0,active,33000,,,,,
p2,,5.0,1.0,,,,,,,
p3,,0.0,2.0,passive-radio,,,,unexplained,,
p3,,5.0,2.0,,,,,,,
"""
HEAD = '[job]\nid = "m"\n[[lines]]\nid = "E1"\n'
SWEEP = """
[sweep]
margin_m = 0.5
spacing_m = 2
bearing_deg = 30
reach_m = 3
line_bearing_deg = 60
line_bearing_sigma_deg = 10
depth_m = 0.9
depth_sigma_factor = 1.5
[[searches]]
method = "passive-power"
frequency_hz = 60
antenna = "three-axis"
threshold_ma = 10
current_ma = 200
current_sigma_factor = 4
"""


@pytest.fixture
def swept(minimal: Any) -> Any:
    return minimal.write({"passes.csv": PASSES})


def test_rows_are_gathered_into_passes(swept: Any) -> None:
    job, warnings = swept.accepted()
    assert warnings == []
    first, second, third = job.passes
    assert [p.id for p in job.passes] == ["p1", "p2", "p3"]
    assert first.method is SearchMethod.PASSIVE_POWER
    assert (first.frequency_hz, first.antenna, first.signal) == (60.0, Antenna.THREE_AXIS, Heard.NONE)
    assert (first.by, first.note, first.row) == ("crew-2", "first", 2)
    assert [(p.place.easting_m, p.place.northing_m) for p in first.points] == [(0, 0), (0, 10), (10, 10)]
    assert [p.heading_deg for p in first.points] == [None, 90.0, None]
    assert first.points[1].taken_at is not None
    assert first.points[0].taken_at is not None
    assert first.points[1].taken_at - first.points[0].taken_at == timedelta(seconds=20)
    assert (second.signal, second.antenna) == (None, None)  # nothing said is not "none"
    assert third.signal is Heard.UNEXPLAINED


def test_ends_along_a_baseline(minimal: Any) -> None:
    ends = "start_easting_m = 0\nstart_northing_m = 0\nend_easting_m = 30\nend_northing_m = 0\n"
    base = f'[[baselines]]\nid = "B1"\n{ends}'
    text = "pass,baseline,station_ft,offset,method\np1,B1,10,3 ft 4 in,active\np1,B1,20,3 ft 4 in,\n"
    minimal.write({"job.toml": HEAD + base, "passes.csv": text})
    job, _ = minimal.accepted()
    places = [p.place for p in job.passes[0].points]
    assert [p.easting_m for p in places] == pytest.approx([3.048, 6.096])
    assert [p.northing_m for p in places] == pytest.approx([-1.016, -1.016])


def test_what_the_job_says_of_its_sweep(swept: Any) -> None:
    swept.write({"job.toml": HEAD + SWEEP})
    job, warnings = swept.accepted()
    assert warnings == []
    assert (job.sweep.margin_m, job.sweep.spacing_m, job.sweep.bearing_deg) == (0.5, 2.0, 30.0)
    assert (job.sweep.line_bearing_deg, job.sweep.depth_sigma_factor) == (60.0, 1.5)
    (search,) = job.searches
    assert (search.threshold_a, search.current_a) == pytest.approx((0.010, 0.200))
    assert search.antenna is Antenna.THREE_AXIS


REFUSED = {
    "no method": (
        "p2,,0.0,1.0,active",
        "p2,,0.0,1.0,",
        "row 5 method",
        ("is missing", "pass p2", "passive-power"),
    ),
    "unknown method": ("active,33000", "magic,33000", "row 5 method", ("'magic'", "passive-radio, active")),
    "unknown antenna": ("three-axis", "two-axis", "row 2 antenna", ("'two-axis'", "one-axis, three-axis")),
    "unknown signal": ("unexplained", "some", "row 7 signal", ("'some'", "none, marked, unexplained")),
    "two methods in one pass": (
        "10.0,10.0,passive-power",
        "10.0,10.0,active",
        "row 4 method",
        ("'active' differs from 'passive-power' in row 2", "rows of one pass"),
    ),
    "frequency nought": ("active,33000", "active,0", "row 5 frequency_hz", ("is 0", "leave it blank")),
    "frequency negative": ("active,33000", "active,-1", "row 5 frequency_hz", ("negative",)),
    "heading": (",90,,,\n", ",900,,,\n", "row 3 heading_deg", ("not within -360 to 360",)),
    "no place": ("p2,,5.0,1.0", "p2,,,", "row 6 place", ("is missing",)),
    "half a place": ("p2,,5.0,1.0", "p2,,5.0,", "row 6 northing_m", ("is blank",)),
    "no id": ("p2,,5.0", ",,5.0", "row 6 pass", ("is blank",)),
    "time without offset": ("08:01:20-05:00", "08:01:20", "row 3 taken_at", ("no offset",)),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(swept: Any, name: str) -> None:
    old, new, where, parts = REFUSED[name]
    _, errors, _ = swept.edit(("passes.csv", old, new)).read()
    told = [line for line in errors if line.startswith(f"passes.csv {where}: ")]
    assert any(all(part in line for part in parts) for line in told), errors


WARNED = {
    "no harmonic": (
        "passive-power,60,three",
        "passive-power,440,three",
        "row 2 frequency_hz",
        "no harmonic of 50 or 60",
    ),
    "one place alone": ("p3,,5.0,2.0,,,,,,,\n", "", "row 7 pass", "covers no ground"),
    "far between rows": ("p2,,5.0,1.0", "p2,,500.0,1.0", "row 6", "counts as straight between"),
    "running": ("08:01:40", "08:01:21", "row 4 taken_at", "nobody walks so fast"),
    "back in time": ("08:01:40", "08:00:40", "row 4 taken_at", "is earlier than the row before"),
}


@pytest.mark.parametrize("name", WARNED)
def test_odd_but_kept(swept: Any, name: str) -> None:
    old, new, where, part = WARNED[name]
    if name == "no harmonic":
        swept.edit(("passes.csv", "10.0,10.0,passive-power,60", "10.0,10.0,passive-power,440"))
    job, warnings = swept.edit(("passes.csv", old, new)).accepted()
    assert any(line.startswith(f"passes.csv {where}") and part in line for line in warnings), warnings
    assert len(job.passes) == 3


@pytest.mark.parametrize("hertz", [50, 60, 100, 120, 540, 550, 2950])
def test_harmonics_of_the_mains(swept: Any, hertz: int) -> None:
    text = PASSES.replace("passive-power,60", f"passive-power,{hertz}")
    _, warnings = swept.write({"passes.csv": text}).accepted()
    assert warnings == []


BAD_KEYS = {
    "spacing": ("spacing_m = 2", "spacing_m = 0", "[sweep] spacing_m", "0.1 or more"),
    "method": ('"passive-power"', '"power"', "[[searches]] 1 method", "is not one of passive-power"),
    "threshold": ("threshold_ma = 10", "threshold_ma = 0", "[[searches]] 1 threshold_ma", "more than 0"),
    "factor": (
        "current_sigma_factor = 4",
        "current_sigma_factor = 0.5",
        "[[searches]] 1 current_sigma_factor",
        "1 or more",
    ),
    "twice": (
        "[[searches]]",
        '[[searches]]\nmethod = "passive-power"\n[[searches]]',
        "[[searches]] 2 method",
        "searched for by another one above",
    ),
    "no table": (
        "[sweep]\nmargin_m = 0.5",
        "[other]\nmargin_m = 0.5",
        "other",
        "is not a table of a job file",
    ),
}


@pytest.mark.parametrize("name", BAD_KEYS)
def test_keys_of_a_sweep_are_checked(swept: Any, name: str) -> None:
    old, new, where, part = BAD_KEYS[name]
    swept.write({"job.toml": HEAD + SWEEP}).edit(("job.toml", old, new))
    _, errors, warnings = swept.read()
    lines = errors + warnings
    assert any(line.startswith(f"job.toml {where}") and part in line for line in lines), lines


def test_a_sweep_comes_before_the_first_reading_and_a_solve_does_not(empty: Any) -> None:
    empty.write({"job.toml": '[job]\nid = "m"\n', "passes.csv": PASSES})
    job, findings = read_job(empty.path, to_solve=False)
    assert job is not None
    assert findings == []
    assert len(job.passes) == 3
    job, findings = read_job(empty.path)
    assert job is None
    assert any("needs a line" in f.what for f in findings if f.severity is Severity.ERROR)
