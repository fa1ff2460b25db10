"""The screen "Which line?"."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from pydantic import TypeAdapter

from plumbmark.handover.screen_which import SHORT_S, which_screen
from plumbmark.inference.identity import identity_of
from plumbmark.model.estimate import Identity, LineEstimate, Solution
from plumbmark.model.job import Hookup, IdentityEvidence, Job, Line, Setup, Signal
from plumbmark.model.screen_parts import JobState
from plumbmark.model.screen_which import WhichLine, WhichScreen
from plumbmark.model.ticket import Thing, ThingKind

STATE = JobState(datetime.fromisoformat("2026-11-25T14:03:00+01:00"))
E = IdentityEvidence


def only(line: Line, state: JobState = STATE, things: tuple[Thing, ...] = ()) -> WhichLine:
    """The screen's answer for a job of one line that nothing was read of."""
    job = Job("alder-17", lines=(line,), things=things)
    solution = Solution(job.id, (LineEstimate(line.id, *identity_of(line), ()),), None)
    return which_screen(job, solution, state).lines[0]


def clamped(*evidence: IdentityEvidence) -> Line:
    return Line("E1", identity=evidence, setups=(Setup("", "E1", Hookup.CLAMP, 10_000.0),))


def names(found: WhichLine) -> list[str]:
    return [c.id.rsplit(":", 1)[1] for c in found.checks]


def test_three_cheapest_each_under_a_minute_cheapest_first() -> None:
    found = only(clamped(E.CONNECTED))
    assert found.identity is Identity.LIKELY
    assert names(found) == ["off", "across", "sign"]
    assert [c.seconds for c in found.checks] == sorted(c.seconds for c in found.checks)
    assert all(c.seconds < SHORT_S for c in found.checks)
    assert all(c.seconds >= SHORT_S for c in found.longer)
    assert all(c.proves and c.not_proves for c in (*found.checks, *found.longer))


def test_a_ticked_check_makes_room_for_the_next() -> None:
    first = only(clamped(E.CONNECTED))
    ticked = replace(STATE, ticks={first.checks[0].id: True, first.checks[1].id: False})
    assert names(only(clamped(E.CONNECTED), ticked)) == ["across", "sign", "current"]


def test_evidence_that_is_written_down_is_not_asked_for_again() -> None:
    found = only(clamped(E.CONNECTED, E.FOLLOWED_TO_FITTING))
    every = {c.evidence for c in (*found.checks, *found.longer)}
    assert E.CONNECTED not in every
    assert E.FOLLOWED_TO_FITTING not in every
    assert E.EXPOSED in every
    assert found.evidence == (
        "The transmitter was connected to it.",
        "The signal was followed to a fitting that was seen.",
    )


def test_proven_needs_nothing() -> None:
    found = only(clamped(E.EXPOSED))
    assert (found.identity, found.checks, found.longer) == (Identity.PROVEN, (), ())
    all_three = only(clamped(E.CONNECTED, E.FOLLOWED_TO_FITTING, E.SECOND_SETUP_AGREES))
    assert (all_three.identity, all_three.checks) == (Identity.PROVEN, ())


def test_by_induction_connecting_is_among_what_settles_it() -> None:
    line = Line("W1", setups=(Setup("", "W1", Hookup.INDUCTION, 33_000.0),))
    found = only(line)
    assert found.identity is Identity.NOT_KNOWN
    assert "induction" in found.against[0]
    assert "current" not in names(found), "no clip, so no clip to compare the current by"
    connect = next(c for c in found.longer if c.evidence is E.CONNECTED)
    assert connect.go is not None
    assert connect.go.route == "plan"
    assert "qualified" in connect.words


def test_passive_has_no_transmitter_to_turn_off() -> None:
    found = only(Line("E2", setups=(Setup("", "E2", Hookup.PASSIVE, 50.0),)))
    assert not {"off", "sign"} & set(names(found))


def test_fittings_seen_are_counted_and_paint_is_none() -> None:
    line = clamped(E.CONNECTED, E.FOLLOWED_TO_FITTING)
    job_ticks = replace(STATE, ticks={f"which:E1:{c}": True for c in ("off", "across", "sign", "current")})
    paint = (Thing("T1", 2, kind=ThingKind.PAINT),)
    assert names(only(line, job_ticks, paint)) == []
    seen = (*paint, Thing("T2", 3, kind=ThingKind.METER), Thing("T3", 4, kind=ThingKind.METER))
    (count,) = only(line, job_ticks, seen).checks
    assert "2 were seen (2 meters)" in count.words


def test_a_swap_is_swept_across_where_it_is(invented) -> None:
    job, solution = invented(6)
    line = replace(solution.lines[0], unsettled=(("r03", "r04"),), identity=Identity.NOT_KNOWN)
    found = which_screen(job, replace(solution, lines=(line,)), STATE).lines[0]
    assert "Stand between readings r03 and r04" in next(c.words for c in found.checks if "across" in c.id)


def test_where_nothing_can_be_exposed_it_is_not_asked_for() -> None:
    found = only(clamped(), replace(STATE, cannot=frozenset({"test hole"})))
    assert E.EXPOSED not in {c.evidence for c in found.longer}


def test_a_sonde_is_seen_going_in() -> None:
    found = only(Line("S1", signal=Signal.SONDE))
    assert names(found) == ["seen"]


def test_least_known_first_no_odds_and_back_from_json(three_lines) -> None:
    job, solution = three_lines
    found = which_screen(job, solution, STATE)
    assert found.lines[0].line == "W1"
    adapter = TypeAdapter(WhichScreen)
    text = adapter.dump_json(found).decode()
    assert adapter.validate_json(text) == found
    assert " in 10" not in text
    assert "%" not in text
    # without a solution the evidence alone speaks
    assert which_screen(job, None, STATE).lines[0].identity is Identity.NOT_KNOWN


@pytest.mark.parametrize("line", [clamped(), Line("X1"), Line("X2", signal=Signal.SONDE)])
def test_nothing_written_down_is_not_known(line: Line) -> None:
    assert only(line).identity is Identity.NOT_KNOWN
