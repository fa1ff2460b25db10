"""A sweep told in words, drawn on a page and written as JSON."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from plumbmark.handover.sweep_data import sweep_bytes
from plumbmark.handover.sweep_page import sweep_page
from plumbmark.handover.sweep_text import sweep_text
from plumbmark.handover.sweep_words import headline, way
from plumbmark.model.job import Baseline, Job
from plumbmark.model.reading import Place
from plumbmark.model.record import Dig, DigKind
from plumbmark.model.sweep import Antenna, Heard, Pass, PassPoint, SearchMethod
from plumbmark.planning.sweep import sweep_job

HOLE = Dig("hole", DigKind.EXCAVATION, (((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0), (0.0, 0.0)),))
JOB = Job("j", "A <b>bold</b> title", digs=(HOLE,), baselines=(Baseline("B1", -2.0, -2.0, 9.0, -2.0),))


def grid(method: SearchMethod, step: float = 1.0, signal: Heard | None = Heard.NONE) -> list[Pass]:
    runs = [((x, -1.0), (x, 5.0)) for x in np.arange(-1.0, 7.1, step).tolist()]
    runs += [((-1.0, y), (7.0, y)) for y in np.arange(-1.0, 5.1, step).tolist()]
    return [
        Pass(
            f"{method}{k}",
            2,
            method,
            tuple(PassPoint(Place(*p), 2) for p in run),
            Antenna.ONE_AXIS,
            None,
            signal,
        )
        for k, run in enumerate(runs)
    ]


@pytest.fixture(scope="module")
def partly() -> Job:
    """Power walked along only one side, nothing else."""
    return replace(JOB, passes=tuple(grid(SearchMethod.PASSIVE_POWER)[:3]))


def test_the_answer_comes_first(partly: Job) -> None:
    assert headline(sweep_job(JOB), "m").startswith("Not swept yet. Walk ")
    assert headline(sweep_job(partly), "m").startswith("The sweep has gaps in the dig: ")
    assert "Nobody searched by passive radio and active yet" in headline(sweep_job(partly), "m")
    all_of_it = tuple(p for method in SearchMethod for p in grid(method))
    done = headline(sweep_job(replace(JOB, passes=all_of_it)), "m")
    assert done.startswith("Swept without gaps")
    assert done.endswith("That does not mean that nothing is there.")
    met = (replace(all_of_it[0], signal=Heard.UNEXPLAINED), *all_of_it[1:])
    assert "met a signal that has no mark" in headline(sweep_job(replace(JOB, passes=met)), "m")
    silent = (replace(all_of_it[0], signal=None), *all_of_it[1:])
    assert "not every pass says" in headline(sweep_job(replace(JOB, passes=silent)), "m")


def test_text_is_narrow_and_says_what_no_signal_cannot(partly: Job) -> None:
    text = sweep_text(partly, sweep_job(partly))
    assert all(len(line) <= 79 for line in text.splitlines())
    assert text.endswith("\n")
    assert "never\nmeans that nothing is there" in text or "never means that nothing is there" in text
    assert "without a wire" in text
    assert "\nGap A" in text.replace("  Gap", "\nGap")
    assert "along B1" in text
    assert text.count("Taken, as the job does not say it") == 1


def test_words_of_directions_go_both_ways() -> None:
    assert [way(b) for b in (0.0, 44.0, 91.0, 140.0, 179.0)] == [
        "north to south",
        "north-east to south-west",
        "east to west",
        "south-east to north-west",
        "north to south",
    ]


def test_page_is_one_file_with_nothing_from_outside(partly: Job) -> None:
    answer = sweep_job(partly)
    page = sweep_page(partly, answer)
    assert "<script" not in page
    assert not re.search(r"https?:|url\((?!#)|@import|<link|<img", page)
    assert "A &lt;b&gt;bold&lt;/b&gt; title" in page
    assert page.count('<svg class="sweep"') == 4  # walked by power, to be walked by the others; two each
    assert "gap A" in page
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for name in re.findall(r"url\(#([^)]+)\)", page):
        assert name in ids


def test_page_of_large_ground_stays_small() -> None:
    big = replace(HOLE, rings=(tuple((20.0 * e, 20.0 * n) for e, n in HOLE.rings[0]),))
    job = replace(JOB, digs=(big,))
    assert len(sweep_page(job, sweep_job(job))) < 1_000_000


def test_json_has_the_numbers(partly: Job) -> None:
    answer = sweep_job(partly)
    found = json.loads(sweep_bytes(answer))
    assert found["format"] == "plumbmark-sweep/1"
    assert found["record"]["missing"] == ["passive-radio", "active"]
    (walked,) = found["walked"]
    assert walked["swept_m2"] < walked["area_m2"] == pytest.approx(48.0)
    (chances,) = walked["maps"]
    rows, columns = answer.walked[0].maps[0].inside.shape
    assert len(chances["chance"]) == rows
    assert {len(row) for row in chances["chance"]} == {columns}
    assert walked["gaps"][0]["gap"] == "A"
    least = chances["least_ma"][0]["current_ma"]
    assert any(cell is None for row in least for cell in row)  # where lines of some direction are not heard
    planned = found["planned"][0]
    assert planned["least"][1] == {"depth_m": 1.0, "current_ma": pytest.approx(63.0, abs=4.0)}
