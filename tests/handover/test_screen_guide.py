"""The guide: what the data tick, and what they leave open."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from pydantic import TypeAdapter

from plumbmark.handover.owners_said import owner_words
from plumbmark.handover.screen_guide import guide_screen
from plumbmark.model.estimate import Solution, Trust
from plumbmark.model.job import Hookup, Job, Line, Setup
from plumbmark.model.mark import PaintedMark
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place
from plumbmark.model.screen_guide import GuideScreen, GuideStep, StepState
from plumbmark.model.screen_parts import JobState
from plumbmark.model.sweep import Heard, Pass, PassPoint, SearchMethod
from plumbmark.model.ticket import OwnerAnswer, OwnerSaid, Thing, ThingKind

NOW = datetime.fromisoformat("2026-11-25T14:03:00+01:00")
STATE = JobState(NOW)
RING = ((11.0, 0.0), (18.0, 0.0), (18.0, 7.0), (11.0, 7.0), (11.0, 0.0))


def step(job: Job, name: str, solution: Solution | None = None, state: JobState = STATE) -> GuideStep:
    return next(s for s in guide_screen(job, solution, state).steps if s.id == name)


def walked(
    name: str,
    method: SearchMethod,
    signal: Heard | None = Heard.NONE,
    path: tuple[tuple[float, float], ...] = RING,
    at: datetime | None = None,
) -> Pass:
    return Pass(name, 2, method, tuple(PassPoint(Place(*p), 2, taken_at=at) for p in path), signal=signal)


POWER, RADIO, ACTIVE = SearchMethod.PASSIVE_POWER, SearchMethod.PASSIVE_RADIO, SearchMethod.ACTIVE


def test_an_empty_job_begins_with_danger_and_the_gear() -> None:
    found = guide_screen(Job("alder-17"), None, STATE)
    assert "Smell of gas" in found.danger[0]
    assert "away" in found.danger[0]
    assert found.now == 0
    assert all(s.state is StepState.OPEN for s in found.steps)
    assert all(s.because and s.why and s.good for s in found.steps)
    assert [s.id for s in found.steps] == [
        *("gear", "fittings", "passive", "connect", "trace", "pinpoint", "check", "round", "count", "answer"),
    ]


def test_a_tick_counts_only_where_the_data_cannot_tell() -> None:
    every = {s.id: True for s in guide_screen(Job("alder-17"), None, STATE).steps}
    found = guide_screen(Job("alder-17"), None, replace(STATE, ticks=every))
    ticked = [s.id for s in found.steps if s.state is StepState.BY_HAND]
    assert ticked == ["gear", "fittings", "passive", "round", "count"]
    assert found.now == 3


def test_fittings_are_counted_by_kind() -> None:
    things = tuple(Thing(f"T{k}", k, kind=ThingKind.METER) for k in (2, 3))
    done = step(Job("alder-17", things=(*things, Thing("T9", 9))), "fittings")
    assert done.state is StepState.DONE
    assert done.because == ("Seen: 2 meters, 1 thing of no kind.",)


@pytest.mark.parametrize(
    ("passes", "state", "said"),
    [
        ((walked("P1", POWER),), StepState.OPEN, "No pass by passive radio"),
        ((walked("P1", POWER), walked("P2", RADIO)), StepState.DONE, "2 passes"),
        ((walked("P1", POWER, None), walked("P2", RADIO)), StepState.OPEN, "not written down for P1"),
        ((walked("P1", POWER, Heard.UNEXPLAINED), walked("P2", RADIO)), StepState.OPEN, "met on P1"),
        ((walked("P1", ACTIVE),), StepState.OPEN, "No pass by passive power or by passive radio"),
    ],
)
def test_passive_sweep(passes: tuple[Pass, ...], state: StepState, said: str) -> None:
    found = step(Job("alder-17", passes=passes), "passive")
    assert found.state is state
    assert said in found.because[0]


def test_a_signal_without_a_mark_is_not_ticked_away() -> None:
    job = Job("alder-17", passes=(walked("P1", POWER, Heard.UNEXPLAINED),))
    assert step(job, "passive", state=replace(STATE, ticks={"passive": True})).state is StepState.OPEN


def test_connecting_and_tracing(invented) -> None:
    job, solution = invented(5)
    assert step(job, "connect").state is StepState.OPEN
    line = replace(job.lines[0], setups=(Setup("", "E1", Hookup.CLAMP, 10_000.0),))
    hooked = replace(job, lines=(line,))
    assert step(hooked, "connect").because == ("E1: clamp.",)
    assert step(hooked, "trace", solution).state is StepState.DONE
    with_other = replace(hooked, lines=(line, Line("W1")))
    missing = step(with_other, "trace", solution, replace(STATE, ticks={"trace": True}))
    assert missing.state is StepState.OPEN, "a line that nothing was read of is not ticked away"
    assert "Nothing was read of W1" in missing.because[0]
    one = step(replace(hooked, readings=job.readings[:1]), "trace")
    assert "One place only of E1" in one.because[0]
    assert one.may_tick


def test_pinpoint_asks_for_the_null_where_it_is_missing(invented) -> None:
    job, solution = invented(5)
    assert step(job, "pinpoint", solution).state is StepState.DONE
    bare = replace(job, readings=(replace(job.readings[0], null_offset_m=None), *job.readings[1:]))
    found = step(bare, "pinpoint", solution)
    assert found.state is StepState.OPEN
    assert found.go.route == "read/r01/null"
    holding = replace(
        solution.lines[0], stations=tuple(replace(s, trust=Trust.HOLDS) for s in solution.lines[0].stations)
    )
    assert step(bare, "pinpoint", replace(solution, lines=(holding,))).state is StepState.DONE


def test_check_wants_one_raised_depth_a_line_and_no_open_question(invented) -> None:
    job, solution = invented(5)
    job = replace(job, test_holes=())
    found = step(job, "check", solution)
    assert (found.state, found.go.route) == (StepState.OPEN, "read/r01/raise")
    cannot = step(job, "check", solution, replace(STATE, cannot=frozenset({"raise"})))
    assert cannot.go.route == "walk/r01"
    raised = replace(job.readings[0], raised_by_m=Measured(0.3), raised_depth_m=Measured(1.2))
    done = replace(job, readings=(raised, *job.readings[1:]))
    assert step(done, "check", solution).state is StepState.DONE
    asked = replace(
        solution.lines[0].stations[1], because=("72 mA here, about 8 mA on either side. A slip?",)
    )
    line = replace(solution.lines[0], stations=(solution.lines[0].stations[0], asked))
    still = step(done, "check", replace(solution, lines=(line,)))
    assert still.state is StepState.OPEN
    assert "1 question is open" in still.because[0]


def test_the_round_counts_after_marking_and_all_round(invented) -> None:
    job, _ = invented(5)
    painted = PaintedMark("M1", Place(14.0, 3.0), 2, "E1", painted_at=NOW)
    job = replace(job, marks=(painted,))
    before = walked("P1", POWER, at=NOW - timedelta(minutes=5))
    half = walked("P2", POWER, path=RING[:2], at=NOW + timedelta(minutes=5))
    whole = walked("P3", POWER, at=NOW + timedelta(minutes=5))
    no_time = walked("P4", POWER)
    assert "No pass" in step(replace(job, passes=(before, no_time)), "round").because[0]
    assert "do not go all round dig-1" in step(replace(job, passes=(half,)), "round").because[0]
    assert step(replace(job, passes=(before, whole)), "round").state is StepState.DONE
    first, *others = whole.points  # on a phone a pass has one time, written with its first point
    told_once = replace(whole, points=(first, *(replace(q, taken_at=None) for q in others)))
    assert step(replace(job, passes=(told_once,)), "round").state is StepState.DONE
    stray = walked("P5", POWER, Heard.UNEXPLAINED, at=NOW + timedelta(minutes=9))
    assert "P5" in step(replace(job, passes=(whole, stray)), "round").because[0]


def test_fittings_have_marks_or_are_named() -> None:
    mark = PaintedMark("M1", Place(0.0, 0.0), 2, "W1")
    near = Thing("V1", 2, Place(2.0, 2.0), ThingKind.VALVE)
    far = Thing("V2", 3, Place(9.0, 0.0), ThingKind.VALVE)
    nowhere = Thing("V3", 4, None, ThingKind.VALVE)
    assert step(Job("a", marks=(mark,), things=(near,)), "count").state is StepState.DONE
    found = step(Job("a", marks=(mark,), things=(near, far, nowhere)), "count")
    assert "within 3.00 m of V2" in found.because[0]
    assert "V3" in found.because[1]


def test_every_owner_answers_and_what_that_leaves_is_said() -> None:
    said = OwnerAnswer("North Water", 2, "water", OwnerSaid.NOT_LOCATED, "plastic", NOW)
    silent = OwnerAnswer("North Gas", 3, "gas")
    ticked = replace(STATE, ticks={"answer": True})
    assert step(Job("a", owners=(said, silent)), "answer", state=ticked).state is StepState.OPEN
    done = step(Job("a", owners=(said,)), "answer")
    assert done.because == ("Every owner has an answer.", "Water (North Water): could not locate: plastic.")
    assert "not known" in step(Job("a"), "answer", state=ticked).because[0]


def test_owner_words_say_what_ran_out() -> None:
    ended = OwnerAnswer("North Gas", 2, "gas", OwnerSaid.MARKED, until_at=NOW - timedelta(days=1))
    assert owner_words(ended, NOW) == "marked; that ran out yesterday 14:03: ask again"
    agreed = OwnerAnswer("North Gas", 2, "gas", OwnerSaid.MORE_TIME, until_at=NOW + timedelta(days=1))
    assert owner_words(agreed, NOW) == "more time agreed, due tomorrow 14:03"


def test_json_and_back(three_lines) -> None:
    adapter = TypeAdapter(GuideScreen)
    found = guide_screen(*three_lines, STATE)
    assert adapter.validate_json(adapter.dump_json(found)) == found


def test_readings_between_those_named_are_not_named(invented) -> None:
    """Three readings that do not follow each other are no range."""
    job, solution = invented(14)
    bare = {"r01", "r05", "r09", "r10", "r11"}
    rows = tuple(replace(r, null_offset_m=None) if r.id in bare else r for r in job.readings)
    unsure = replace(
        solution.lines[0], stations=tuple(replace(s, trust=Trust.LOOSE) for s in solution.lines[0].stations)
    )
    found = step(replace(job, readings=rows), "pinpoint", replace(solution, lines=(unsure,)))
    assert found.because == ("No null is written down at r01, r05, r09 to r11.",)


def test_the_page_has_the_steps_word_for_word_where_no_server_is() -> None:
    """What the page says of a job that no server knows yet: the same steps, with nothing said of data."""
    page = Path(__file__).resolve().parents[2] / "browser" / "src" / "guide" / "steps.json"
    made = TypeAdapter(GuideScreen).dump_python(guide_screen(Job(""), None, STATE), mode="json")
    for one in made["steps"]:
        one["because"] = []
    assert json.loads(page.read_text("utf-8")) == made


def test_no_mark_is_counted_by_a_distance_that_nobody_measured() -> None:
    fitting = Thing("meter-1", 2, Place(0.0, 0.0), ThingKind.METER)
    far = PaintedMark("7", Place(0.0, 100_000.0), 2, "E1")
    job = Job("j", things=(fitting,), marks=(far,))
    assert "which line goes there?" in step(job, "count").because[0]
    state = replace(STATE, places={("marks", "7"): "reading 7, by the meter"})
    found = step(job, "count", state=state)
    assert found.because == ("How near a mark stands to meter-1 no map tells: count by eye and tick it.",)
    assert found.may_tick
