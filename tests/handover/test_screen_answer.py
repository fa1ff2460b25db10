"""The screen of a job's answer."""

from __future__ import annotations

import ast
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from pydantic import TypeAdapter

import plumbmark.inference
from plumbmark.handover.moments import moment
from plumbmark.handover.screen_answer import answer_screen
from plumbmark.handover.screen_questions import SLIPS
from plumbmark.model.estimate import Interval, NextStep, Solution, Trust
from plumbmark.model.fact import Draft, Fact, FactKind, sealed
from plumbmark.model.folded import Conflict, SetAside
from plumbmark.model.screen_answer import AnswerScreen, QuestionKind
from plumbmark.model.screen_parts import JobState
from plumbmark.model.ticket import Ticket

NOW = datetime.fromisoformat("2026-11-25T14:03:00+01:00")
STATE = JobState(NOW, answered_at=NOW)


def screen(given, state: JobState = STATE) -> AnswerScreen:
    job, solution = given
    return answer_screen(job.id, job, solution, state)


def with_reasons(given, key: str, *texts: str):
    """The same answer with other reasons at one reading."""
    job, solution = given
    line = solution.lines[0]
    stations = tuple(replace(s, because=texts) if s.id == key else s for s in line.stations)
    return job, replace(solution, lines=(replace(line, stations=stations), *solution.lines[1:]))


def test_each_reading_has_its_sentence_band_and_step(invented) -> None:
    found = screen(invented(14))
    first, last = found.lines[0].places[0], found.lines[0].places[-1]
    assert first.sentence == (
        "Paint 9 in left of your mark. 3 ft to the middle of it, could be 2 ft 2 in to 4 ft 2 in. "
        "A second line is very likely 2 ft 8 in to the right."
    )
    assert (first.depth.low_words, first.depth.high_words) == ("2 ft 2 in", "4 ft 2 in")
    assert first.depth.low_m == pytest.approx(0.92 * 0.73, abs=6e-4)
    assert first.next_step is not None
    assert first.next_step.route == "read/r01/raise"
    assert last.sentence.startswith("The paint belongs on your mark.")
    assert "second line" not in last.sentence
    assert (last.next_step, last.next_words) == (None, "Enough here, go on.")
    counts = found.counts
    every = invented(14)[1].lines[0].stations
    assert (counts.holds, counts.loose, counts.unproven) == tuple(
        sum(s.trust is trust for s in every) for trust in (Trust.HOLDS, Trust.LOOSE, Trust.UNPROVEN)
    )


def test_right_follows_the_way_a_row_faces(invented) -> None:
    """A row that faces back has the second line on its left; each alone is told from its own side."""
    job, solution = invented(14)
    line = solution.lines[0]
    turned = replace(line.stations[1], right_deg=(line.stations[1].right_deg + 180) % 360)
    stations = (line.stations[0], turned, *line.stations[2:])
    found = screen((job, replace(solution, lines=(replace(line, stations=stations),))))
    assert found.lines[0].places[0].sentence.endswith("2 ft 8 in to the right.")
    assert found.lines[0].places[1].sentence.endswith("2 ft 8 in to the left.")


def test_a_line_tells_to_paint_only_where_its_readings_say_where(invented) -> None:
    job, solution = invented(14)
    line = solution.lines[0]
    lost = tuple(
        replace(s, trust=Trust.UNPROVEN, lateral_shift_m=Interval(-0.4, -1.2, 0.3)) for s in line.stations
    )

    def paint(*stations) -> str:
        return screen((job, replace(solution, lines=(replace(line, stations=stations),)))).lines[0].paint

    assert (
        paint(*lost) == "Do not paint on these readings alone: at none of them is it known where the line is."
    )
    told = paint(lost[0], *line.stations[1:])
    assert told.endswith(" Do not paint on the reading alone at 1 of 14 places.")
    assert "most at reading r01" not in told


def test_one_headline_tells_of_all_lines(invented, three_lines) -> None:
    assert screen(invented(14)).headline == screen(invented(14)).lines[0].headline
    found = screen(three_lines)
    counts = found.counts
    assert found.headline.startswith("3 lines: ")
    assert f"{counts.holds} reading" in found.headline


def test_a_wide_band_is_said_and_unproven_is_not_told_to_be_painted(invented) -> None:
    job, solution = invented(14)
    line = solution.lines[0]
    wide = replace(line.stations[0], lateral_shift_m=Interval(-0.23, -0.6, 0.2))
    lone = (wide, replace(line.stations[1], lateral_shift_m=Interval(-0.23, -0.6, 0.2), trust=Trust.LOOSE))
    found = screen((job, replace(solution, lines=(replace(line, stations=(*lone, *line.stations[2:])),))))
    first, second = found.lines[0].places[:2]
    assert first.sentence.startswith(
        "Do not paint on this alone: the line could be 2 ft left to 1 ft right of your mark. "
    )
    assert second.sentence.startswith("Paint about 1 ft left of your mark. The line could be 2 ft left to")


def test_the_next_step_opens_the_right_question(invented) -> None:
    job, solution = invented(14)
    found = screen(
        (
            job,
            replace(
                solution, next_step=replace(solution.next_step, depth_band_m=0.36, depth_band_after_m=0.15)
            ),
        )
    )
    assert found.next_step.route == "read/r01/raise"
    assert found.next_gain == "The band of depth at reading r01 should shrink from 1 ft 2 in to about 6 in."
    walk = screen((job, replace(solution, next_step=NextStep("walk across", "walk", "E1", "r02"))))
    assert walk.next_step.route == "walk/r02"
    none = screen((job, replace(solution, next_step=NextStep("none", "Enough", "E1"))))
    assert none.next_step.route == "guide"


def test_what_cannot_be_done_is_never_asked_for(invented) -> None:
    """Also where the answer is older than the refusal."""
    given = invented(14)
    found = screen(given, replace(STATE, cannot=frozenset({"raise"})))
    assert found.next_step.route == "read/r01/halves"
    assert all("raise" not in p.next_step.route for p in found.lines[0].places if p.next_step)
    all_four = frozenset({"null", "raise", "half points", "walk across", "test hole"})
    nothing = screen(given, replace(STATE, cannot=all_four))
    assert all(p.next_step is None for p in nothing.lines[0].places)
    assert nothing.next_step.route == "guide"


def test_a_slip_is_asked_with_both_answers_and_not_again_once_kept(invented) -> None:
    text = "72 mA here, about 8 mA on either side. A slip, or another line?"
    given = with_reasons(invented(5), "r02", text, "Peak and null agree")
    found = screen(given)
    (question,) = found.questions
    assert (question.id, question.kind) == ("slip:r02:current_ma", QuestionKind.SLIP)
    assert question.words == f"Reading r02: {text}"
    assert [(c.answer, c.route) for c in question.choices] == [
        ("kept", ""),
        ("corrected", "read/r02/current"),
    ]
    assert found.lines[0].places[1].because == ("Peak and null agree.",)
    kept = screen(given, replace(STATE, settled={"slip:r02:current_ma": "kept"}))
    assert kept.questions == ()
    assert text in kept.lines[0].places[1].because[0]
    again = screen(given, replace(STATE, settled={"slip:r02:current_ma": "corrected"}))
    assert len(again.questions) == 1


def test_a_reason_that_asks_in_other_words_is_not_lost(invented) -> None:
    found = screen(with_reasons(invented(5), "r02", "Was it raining?"))
    assert found.questions == ()
    assert found.lines[0].places[1].because == ("Was it raining?",)


def texts_of(node: ast.expr) -> str:
    """A text in the source with X for whatever is put into it."""
    if isinstance(node, ast.JoinedStr):
        return "".join(texts_of(v) for v in node.values)
    if isinstance(node, ast.BinOp):
        return texts_of(node.left) + texts_of(node.right)
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    return "X"


def test_every_slip_that_is_asked_about_finds_its_cell() -> None:
    """Read from the sources of whoever asks, so that new words there show up here."""
    folder = Path(plumbmark.inference.__file__).parent
    asked = set()
    for name in ("slips", "place_answer", "side", "sonde", "reasons"):
        for node in ast.walk(ast.parse((folder / f"{name}.py").read_text(encoding="utf-8"))):
            if isinstance(node, ast.JoinedStr | ast.BinOp | ast.Constant):
                text = texts_of(node)
                # of a reading from the side the name of the cell is put in
                text = text.replace("X X here; everything", "Distance X here; everything")
                asked |= {text} if "?" in text and len(text) > 30 and text[0].isupper() else set()
    # a sweep for a second peak is something to do, not a value that is asked about
    asked = {text for text in asked if "second peak" not in text}
    assert len(asked) >= 10
    assert [text for text in asked if not any(pattern.search(text) for pattern, _, _ in SLIPS)] == []


def fact(by: str, hour: str, depth: str = "3 ft") -> Fact:
    payload = {"table": "readings", "key": "r02", "rows": [{"depth": depth, "current_ma": "8"}]}
    draft = Draft("alder-17", FactKind.ENTRY, payload, f"2026-11-25T{hour}:03:00+01:00", by)
    return sealed(draft, f"00000000-0000-4000-8000-0000000000{hour}", "desk", 1, "")


def test_swaps_two_phones_and_rows_set_aside_are_asked_in_order(invented) -> None:
    job, solution = invented(6)
    swapped = replace(solution.lines[0], unsettled=(("r03", "r04"),))
    shown, other = fact("R. Vale", "12"), fact("M. Ott", "13", "4 ft")
    state = replace(
        STATE,
        conflicts=(Conflict("conflict:readings:r02", "Reading r02: 3 ft or 4 ft?", shown, (other,)),),
        set_aside=(SetAside("aside:readings:r09", "Reading r09: 'abc' is not a length", "readings", "r09"),),
    )
    found = screen((job, replace(solution, lines=(swapped,))), state)
    aside, conflict, swap = found.questions
    assert [q.kind for q in found.questions] == [
        QuestionKind.SET_ASIDE,
        QuestionKind.CONFLICT,
        QuestionKind.SWAP,
    ]
    assert aside.choices[0].route == "read/r09"
    kept, instead, neither = conflict.choices
    assert (kept.answer, kept.words) == ("kept", "As it shows: what R. Vale wrote today 12:03: depth 3 ft")
    assert (instead.words, instead.take_back) == (
        "Instead: what M. Ott wrote today 13:03: depth 4 ft",
        (shown.id,),
    )
    assert neither.route == "read/r02"
    assert swap.key == "r04"
    assert found.next_step.route == "which/E1"
    assert "swapped" in found.lines[0].places[0].sentence


def test_with_nothing_read_frozen_or_not_to_be_read(invented) -> None:
    job, solution = invented(3)
    nothing = screen((job, Solution(job.id, (), None)), JobState(NOW))
    assert (nothing.next_step.route, nothing.expiry) == ("read", "")
    assert screen((job, None)).next_step.route == "read"
    aside = SetAside("aside:job", "The job's file is broken", "job", "")
    broken = answer_screen("alder-17", None, None, replace(STATE, set_aside=(aside,)))
    assert (broken.next_step.route, len(broken.questions)) == ("", 1)
    assert screen((job, solution), replace(STATE, frozen="handed over")).next_step.route == "handover"


def test_an_answer_ends_with_the_ticket(invented) -> None:
    job, solution = invented(3)
    with_end = replace(job, ticket=Ticket(expires_at=NOW + timedelta(days=2)))
    found = screen((with_end, solution))
    assert not found.expired
    assert "It ends with the ticket, Friday 14:03, or when the ground or the lines change." in found.expiry
    late = screen((with_end, solution), replace(STATE, now=NOW + timedelta(days=2)))
    assert late.expired
    assert "It ended with the ticket" in late.expiry
    assert "was not written down" in screen((job, solution)).expiry


def test_a_place_by_words_has_no_way_along(invented) -> None:
    job, solution = invented(14)
    by_map = screen((job, solution)).lines[0]
    assert by_map.beside
    assert by_map.facing.startswith("Left and right are as you walk from")
    said = "12 ft from the meter toward the curb stop"
    by_words = screen((job, solution), replace(STATE, places={("readings", "r02"): said})).lines[0]
    assert (by_words.places[0].place, by_words.places[1].place) == ("", said)
    assert by_words.beside == ()
    assert by_words.facing == "Left and right are as you faced along the line when you took each reading."


def test_from_the_side_the_line_is_where_one_pointed(invented) -> None:
    job, solution = invented(1)
    station = replace(
        solution.lines[0].stations[0], source="side_reading", id="s1", lateral_shift_m=Interval(1.5, 1.3, 1.8)
    )
    found = screen((job, replace(solution, lines=(replace(solution.lines[0], stations=(station,)),))))
    place = found.lines[0].places[0]
    assert place.sentence.startswith(
        "It is 4 ft 11 in from where you stood, the way you pointed (4 ft 3 in to 5 ft 11 in)."
    )
    assert place.next_step is not None
    assert place.next_step.route == "side/s1"


@pytest.mark.parametrize("units", ["ft-in", "m"])
def test_json_and_back(three_lines, invented, units) -> None:
    adapter = TypeAdapter(AnswerScreen)
    for given in (three_lines, invented(14, units=units)):
        found = screen(given)
        assert adapter.validate_json(adapter.dump_json(found)) == found


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("2026-11-25T23:30:00+01:00", "today 23:30"),
        ("2026-11-24T23:30:00+01:00", "yesterday 23:30"),
        ("2026-12-01T07:00:00+01:00", "Tuesday 07:00"),
        ("2026-12-02T07:00:00+01:00", "2 December 07:00"),
        ("2026-11-25T22:30:00-08:00", "today 22:30"),
        ("2026-11-20T07:00:00+01:00", "20 November 07:00"),
    ],
)
def test_moments(at, said) -> None:
    assert moment(datetime.fromisoformat(at), NOW) == said


def test_a_job_with_readings_that_is_not_answered_yet_is_not_asked_for_its_first(invented) -> None:
    job, _ = invented(4)
    state = JobState(now=NOW)
    said = [
        answer_screen(job.id, each, None, state).next_step.words for each in (job, replace(job, readings=()))
    ]
    assert said == ["Take another reading", "Take the first reading"]
