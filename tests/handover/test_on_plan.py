"""Places told in words only are answered, and are on no plan, in no mark and in no layer."""

from __future__ import annotations

import pytest

from plumbmark.app.export import layers_for
from plumbmark.app.handed import hand_over
from plumbmark.clearance.rules import zone_rule
from plumbmark.exchange.jobfolder import read_job_files
from plumbmark.handover.on_plan import left_off, on_plan, unplaced_rows
from plumbmark.handover.page import write_page
from plumbmark.model.job import Job

TOML = b"""
[job]
id = "words"
[[lines]]
id = "E1"
frequency_hz = 10000
[[baselines]]
id = "told"
start_easting_m = 0.0
start_northing_m = 100000.0
end_easting_m = 100.0
end_northing_m = 100000.0
placed = false
[[baselines]]
id = "kerb"
start_easting_m = 0.0
start_northing_m = 0.0
end_easting_m = 30.0
end_northing_m = 0.0
"""
ROWS = """reading,line,baseline,station_m,offset_m,null_offset_m,depth_m,current_ma
1,E1,kerb,0,1,0.01,0.90,10
2,E1,kerb,4,1,0.02,0.92,10
3,E1,kerb,8,1,0.01,0.91,10
7,E1,told,3,0,0.02,1.10,10
"""


@pytest.fixture(scope="module")
def job() -> Job:
    found, findings = read_job_files({"job.toml": TOML, "readings.csv": ROWS.encode()})
    assert found is not None, findings
    return found


def test_only_what_lies_along_the_unplaced_baseline_is_off_the_plan(job: Job) -> None:
    assert unplaced_rows(job) == {("readings", "7")}
    assert "1 row whose place was told in words" in left_off(job)


def test_marks_page_and_layers_leave_it_out_and_the_answer_keeps_it(job: Job) -> None:
    handed = hand_over(job, zone_rule("default"))
    assert [s.id for s in handed.solution.lines[0].stations] == ["1", "2", "3", "7"]
    assert handed.marks.marks
    assert all(abs(m.northing_m) < 10.0 for m in handed.marks.marks)
    seen, answer = on_plan(job, handed.solution)
    assert [b.id for b in seen.baselines] == ["kerb"]
    assert [s.id for s in answer.lines[0].stations] == ["1", "2", "3"]
    layers, _ = layers_for(job, zone_rule("default"), "0" * 64)
    points = next(x for x in layers.layers if x.name == "solved_places")
    assert len(points.features) == 3
    assert left_off(job) in layers.notes
    assert "reading 7" in write_page(job, handed.solution).lower()


def test_a_job_with_placed_baselines_is_left_as_it_is() -> None:
    toml = TOML.replace(b"placed = false\n", b"")
    found, _ = read_job_files({"job.toml": toml, "readings.csv": ROWS.encode()})
    assert found is not None
    assert unplaced_rows(found) == frozenset()
    assert left_off(found) == ""
