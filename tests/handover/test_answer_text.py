"""The answer on a terminal."""

from __future__ import annotations

from dataclasses import replace

import pytest

from plumbmark.handover.answer import CAUTION, left_and_right
from plumbmark.handover.answer_text import answer_text
from plumbmark.model.estimate import Identity, NextStep, Solution


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("units", ["ft-in", "m"])
@pytest.mark.parametrize("count", [1, 2, 14, 60])
def test_fits_eighty_columns(invented, units, count) -> None:
    text = answer_text(*invented(count, units=units))
    assert max(map(len, text.splitlines())) < 80
    assert text.endswith("\n")


def test_every_station_is_a_row_with_paint_depth_and_trust(invented) -> None:
    job, solution = invented(14)
    rows = {
        line.split()[0]: line for line in reversed(answer_text(job, solution).splitlines()) if line.strip()
    }
    for station in solution.lines[0].stations:
        assert station.trust.value in rows[station.id]
    assert rows["r01"].split("  ")[0] == "r01"
    assert "9 in left" in rows["r01"]
    assert "3 ft (2 ft 2 in to 4 ft 2 in)" in rows["r01"]


def test_says_why_what_next_and_the_caution_once(invented) -> None:
    text = flat(answer_text(*invented(14)))
    assert "Which line? Likely. The signal was connected to it directly." in text
    assert "Readings r01 to r06: The null lies to the right of the peak." in text
    assert "Next step: Set the receiver on a 12 in block at reading r01" in text
    assert "A second line is very likely 2 ft 8 in to the right" in text
    assert "the current drops to 55 % of what it was" in text
    assert text.count(CAUTION) == 1
    assert "Invented data: no such place." in text


def test_a_real_job_is_not_called_invented(invented) -> None:
    job, solution = invented(3)
    assert "Invented" not in answer_text(replace(job, title="Alder lateral"), solution)


def test_a_line_with_nothing_to_solve_is_told(three_lines) -> None:
    assert "W1, water: no place to solve." in answer_text(*three_lines)


def test_no_lines_at_all(invented) -> None:
    job, _ = invented(2)
    text = answer_text(job, Solution(job.id, (), None))
    assert flat(CAUTION) in flat(text)


def test_left_and_right_follow_the_written_bearing(invented) -> None:
    """Bearings may point either way along a line; the answer says which way to face."""
    _, solution = invented(6)
    line = solution.lines[0]
    assert left_and_right(line) == "Left and right are as you walk from reading r01 toward reading r06."
    turned = [
        replace(s, right_deg=(s.right_deg + 180) % 360) if s.id in {"r02", "r05"} else s
        for s in line.stations
    ]
    assert "at r02, r05 as you face the other way" in left_and_right(replace(line, stations=tuple(turned)))
    every = tuple(replace(s, right_deg=(s.right_deg + 180) % 360) for s in line.stations)
    assert (
        left_and_right(replace(line, stations=every))
        == "Left and right are as you walk from reading r06 toward reading r01."
    )


def test_a_title_cannot_steer_the_terminal(invented) -> None:
    job, solution = invented(2)
    text = answer_text(
        replace(job, title="\x1b[2J\x07gone"), replace(solution, next_step=NextStep("raise", "up\x1b[1m\r"))
    )
    assert all(c.isprintable() or c == "\n" for c in text)


def test_a_huge_job_lists_what_can_be_leaned_on_least(invented) -> None:
    job, solution = invented(4000, 0.5)
    text = answer_text(job, solution)
    assert "1,000 of 4,000 places are listed" in text
    assert len(text) < 400_000
    least = min(solution.lines[0].stations, key=lambda s: s.within_10_probability)
    assert f"\n{least.id} " in text


def test_long_ids_stand_on_a_line_of_their_own(invented) -> None:
    job, solution = invented(2)
    line = solution.lines[0]
    named = tuple(replace(s, id="x" * 60 + s.id) for s in line.stations)
    rows = answer_text(job, replace(solution, lines=(replace(line, stations=named),))).splitlines()
    assert "x" * 60 + "r01" in rows


def test_identity_not_known_is_said(invented) -> None:
    job, solution = invented(3)
    line = replace(
        solution.lines[0], identity=Identity.NOT_KNOWN, identity_because=("induction ties it to no line",)
    )
    text = flat(answer_text(job, replace(solution, lines=(line,))))
    assert "Which line? Not known. Induction ties it to no line." in text


def test_a_reason_is_told_once_for_all_readings_that_share_it(invented) -> None:
    job, solution = invented(6)
    line = solution.lines[0]
    said = [("shared by all", "odd" if i % 2 else "even") for i in range(6)]
    stations = tuple(replace(s, because=why) for s, why in zip(line.stations, said, strict=True))
    text = flat(answer_text(job, replace(solution, lines=(replace(line, stations=stations),))))
    assert "Everywhere: Shared by all. Readings r01, r03, r05: Even. Readings r02, r04, r06: Odd." in text
