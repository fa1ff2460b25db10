"""The clearance screen: what is open first, hatches, odds, and no word that opens a zone to a machine."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from pydantic import TypeAdapter

from plumbmark.handover.screen_clearance import (
    HATCHES,
    NO_DIG,
    NOTHING_SOLVED,
    UNDER_WAY,
    clearance_screen,
)
from plumbmark.model.clearance import (
    ClearanceAnswer,
    Demand,
    DigAnswer,
    Encounter,
    HoleAdvice,
    Met,
    StretchAnswer,
    Zone,
    ZoneRule,
)
from plumbmark.model.estimate import Interval
from plumbmark.model.screen_clearance import ClearanceScreen, Hatch

FORM = TypeAdapter(ClearanceScreen)
RING = ((12.0, 1.0), (17.0, 1.0), (17.0, 6.0), (12.0, 6.0), (12.0, 1.0))
RULE = ZoneRule("default", "Default: 24 in each side", 0.6096, 0.3, "a statute", "from memory")


def encounter(vertical: Interval | None) -> Encounter:
    return Encounter(
        dig="dig-1",
        met=Met.LINE,
        name="E1",
        shape="crossing",
        from_chainage_m=11.0,
        to_chainage_m=16.0,
        easting_m=14.0,
        northing_m=4.0,
        chainage_m=13.0,
        horizontal_m=Interval(-0.1, -0.2, 0.0),
        vertical_m=vertical,
        asked_m=0.3,
        asked_probability=0.7,
        strike_probability=0.4,
        floored=False,
        exposed=False,
        demand=Demand.TEST_HOLE,
        because=("the zone of E1 meets the dig",),
    )


@pytest.fixture
def checked() -> ClearanceAnswer:
    """A check of the invented dig with one stretch of every demand."""
    stretches = tuple(StretchAnswer("dig-1", d, (), (RING,), None, None, 6.0) for d in Demand)
    dig = DigAnswer(
        "dig-1", Demand.TEST_HOLE, ("a reason",), (encounter(Interval(0.2, 0.0, 0.4)),), stretches
    )
    hole = HoleAdvice(
        1,
        "E1",
        13.0,
        14.0,
        4.0,
        300.0,
        Interval(0.0, -0.1, 0.1),
        Interval(0.9, 0.8, 1.0),
        0.6,
        (
            "Start beside it",
            "Expect its top at about 3 ft",
            "Stop and call if nothing is met by 3 ft 3 in",
        ),
    )
    zone = Zone("E1", 0.03, "as given", 0.62, (RING,), (RING,))
    open_then = (
        "the ticket runs out on Friday",
        "nobody asked North Gas, due Friday",
        "no sweep is on record",
    )
    return ClearanceAnswer(
        "alder-17", RULE, 0.3, (dig,), (zone,), (hole,), open_then, about_ticket=1, about_owners=1
    )


def test_what_nobody_answered_comes_first_and_in_order(invented, checked) -> None:
    job, solution = invented(9)
    screen = clearance_screen(job, solution, checked)
    assert screen.unanswered == ("The ticket runs out on Friday.", "Nobody asked North Gas, due Friday.")
    assert screen.unseen == ("No sweep is on record.",)
    keys = list(FORM.dump_python(screen))
    assert keys.index("unanswered") < keys.index("no_machine") < keys.index("digs") < keys.index("holes")


def test_what_owners_leave_open_by_now_is_told_once_and_not_as_it_was_then(invented, checked) -> None:
    job, solution = invented(9)
    now = ("the ticket ran out on Friday", "nobody asked North Gas, due Friday and late")
    screen = clearance_screen(job, solution, checked, now)
    assert screen.unanswered == (
        "The ticket ran out on Friday.",
        "Nobody asked North Gas, due Friday and late.",
    )
    assert screen.unseen == ("No sweep is on record.",)


def test_every_demand_has_a_hatch_of_its_own(invented, checked) -> None:
    job, solution = invented(9)
    (dig,) = clearance_screen(job, solution, checked).digs
    hatches = {s.demand: s.hatch for s in dig.stretches}
    assert set(hatches.values()) == set(Hatch)
    assert hatches[Demand.NOTHING] is Hatch.NONE
    assert all(said in HATCHES for said in ("one way", "Both ways", "Broken"))


@pytest.mark.parametrize("waits", ["The ticket ran out", ""])
def test_where_something_waits_no_ground_has_nothing_known_in_the_way(invented, checked, waits) -> None:
    job, solution = invented(9)
    screen = clearance_screen(job, solution, checked, waits=waits)
    demands = {s.demand for s in screen.digs[0].stretches}
    assert (Demand.NOTHING in demands) is not bool(waits)
    assert Demand.TEST_HOLE in demands
    if waits:
        assert f"{waits}." in screen.digs[0].because


def test_a_line_with_no_place_was_checked_against_nothing(invented, checked) -> None:
    job, solution = invented(9)
    screen = clearance_screen(job, solution, checked, by_words={("readings", "r03")})
    assert Demand.NOTHING not in {s.demand for s in screen.digs[0].stretches}
    assert any("E1 was read at places known by words only" in text for text in screen.unanswered)
    without = clearance_screen(job, solution, None, by_words={("readings", "r03")})
    assert any("known by words only" in text for text in without.unanswered)


@pytest.mark.parametrize(
    ("vertical", "said"),
    [
        (
            Interval(0.2, 0.0, 0.4),
            "Struck if dug blindly as drawn: about 4 in 10. Closer than 1 ft: about 7 in 10.",
        ),
        (None, "In the way in plan: about 4 in 10. Closer than 1 ft in plan: about 7 in 10."),
    ],
)
def test_odds_are_of_what_is_known(invented, checked, vertical, said) -> None:
    job, solution = invented(9)
    dig = replace(checked.digs[0], encounters=(encounter(vertical),))
    (conflict,) = clearance_screen(job, solution, replace(checked, digs=(dig,))).digs[0].conflicts
    assert conflict.odds == said
    assert conflict.odds in conflict.words
    assert all(t.source.startswith("computed from the readings") for t in conflict.told)


def test_a_hole_says_what_to_expect_and_when_to_stop(invented, checked) -> None:
    job, solution = invented(9)
    (hole,) = clearance_screen(job, solution, checked).holes
    assert hole.words[1:] == (
        "Expect its top at about 3 ft.",
        "Stop and call if nothing is met by 3 ft 3 in.",
    )


@pytest.mark.parametrize("stage", ["no dig", "not solved", "under way"])
def test_without_a_check_nothing_is_said_to_be_out_of_the_way(invented, stage) -> None:
    job, solution = invented(9)
    job = replace(job, digs=()) if stage == "no dig" else job
    screen = clearance_screen(job, None if stage == "not solved" else solution, None)
    assert screen.empty == {"no dig": NO_DIG, "not solved": NOTHING_SOLVED, "under way": UNDER_WAY}[stage]
    assert not screen.ready
    said = FORM.dump_json(replace(screen, hatches="")).decode()
    assert "nothing known in the way" not in said
    assert "hand dig or vacuum" in screen.no_machine


def test_zones_far_from_the_dig_are_cut_off(invented, checked) -> None:
    job, solution = invented(9)
    long = ((0.0, 3.0), (9e4, 3.0), (9e4, 4.0), (0.0, 4.0), (0.0, 3.0))
    far = ((0.0, 9e4), (1.0, 9e4), (1.0, 9.1e4), (0.0, 9e4))
    zone = replace(checked.zones[0], lawful=(long, far))
    screen = clearance_screen(job, solution, replace(checked, zones=(zone,)))
    (ring,) = screen.zones[0].about_marks
    assert screen.extent is not None
    assert max(x for x, _ in ring) == pytest.approx(screen.extent.east_m + 50.0, abs=0.01)
    assert {y for _, y in ring} == {3.0, 4.0}
    assert len(ring) > 3
    assert all(a != b for a, b in pairwise(ring))


def test_it_comes_back_as_it_was(invented, checked) -> None:
    screen = clearance_screen(*invented(9), checked)
    assert FORM.validate_json(FORM.dump_json(screen)) == screen
