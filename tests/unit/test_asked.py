"""What ticket and owners leave open for a dig, sentence by sentence."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from plumbmark.clearance.asked import NO_LIST, keeps_open, owners_say, things_say, ticket_says
from plumbmark.model.job import Job, Line, Utility
from plumbmark.model.record import Record
from plumbmark.model.ticket import OwnerAnswer, OwnerSaid, Thing, ThingKind, Ticket

BEGINS, ENDS = datetime(2024, 5, 8, 12, tzinfo=UTC), datetime(2024, 5, 22, 22, tzinfo=UTC)
BEFORE, DURING, AFTER = (datetime(2024, 5, day, tzinfo=UTC) for day in (7, 12, 23))
TICKET = Ticket("A-1", white_lined=True, may_dig_from=BEGINS, expires_at=ENDS)
POWER = OwnerAnswer("North Power", 2, "electric", OwnerSaid.MARKED)
JOB = Job("j", lines=(Line("E1", Utility.ELECTRIC),), ticket=TICKET, owners=(POWER,))


def with_owner(answer: OwnerSaid | None, **more: object) -> Job:
    return replace(JOB, owners=(OwnerAnswer("Harbor Gas", 2, "gas", answer, **more),))  # type: ignore[arg-type]


def test_a_ticket_that_runs_says_until_when() -> None:
    assert ticket_says(JOB, DURING) == (
        "Ticket A-1 runs out on 22 May 2024 22:00 (UTC), and this answer with it",
    )
    assert keeps_open(JOB, DURING) == ""


def test_before_and_after_it_that_is_said_first() -> None:
    assert ticket_says(JOB, BEFORE)[0] == "Ticket A-1: nobody may dig before 8 May 2024 12:00 (UTC)"
    (said,) = ticket_says(JOB, AFTER)
    assert said.startswith("Ticket A-1 ran out on 22 May 2024 22:00 (UTC)")
    assert "no digging on it" in said
    assert keeps_open(JOB, AFTER)
    # without a clock nothing has run out, and both dates are told
    told = " ".join(ticket_says(JOB, None))
    assert "nobody may dig before 8 May" in told
    assert "runs out on 22 May" in told


def test_what_is_not_written_down_is_not_taken_for_granted() -> None:
    said = " ".join(ticket_says(replace(JOB, ticket=Ticket()), DURING))
    assert "from when may be dug is not written down" in said
    assert "when it runs out is not written down" in said
    assert "Whether the dig area was outlined in white is not written down" in said
    assert ticket_says(replace(JOB, ticket=None), DURING) == ()


def test_not_outlined_in_white() -> None:
    job = replace(JOB, ticket=replace(TICKET, white_lined=False))
    assert any("was not outlined in white" in text for text in ticket_says(job, DURING))
    assert "other ground" in keeps_open(job, DURING)


def test_an_emergency_makes_nothing_smaller() -> None:
    job = replace(JOB, ticket=replace(TICKET, emergency=True))
    assert any(
        "emergency" in text and "nothing that stands below" in text for text in ticket_says(job, DURING)
    )


def test_no_list_of_owners_is_not_no_owners() -> None:
    bare = Job("j")
    assert owners_say(bare, DURING) == (NO_LIST,)
    assert keeps_open(bare, DURING) == ""
    ticketed = replace(JOB, owners=())
    (said,) = owners_say(ticketed, DURING)
    assert "none is written down" in said
    assert "no answer is written down" in keeps_open(ticketed, DURING)


@pytest.mark.parametrize(
    ("answer", "part"),
    [
        (None, "Harbor Gas (gas): no answer yet, due 22 May 2024 22:00 (UTC)"),
        (OwnerSaid.NOT_LOCATED, "could not locate (plastic): their line may be anywhere in this ground"),
        (OwnerSaid.NO_ACCESS, "had no access (plastic): what they have here is not marked"),
        (OwnerSaid.MORE_TIME, "was given more time (plastic): what they have here is not marked, due 22 May"),
        (OwnerSaid.STANDBY, "will stand by (plastic): nobody digs before they are there"),
        (OwnerSaid.NOT_OURS, "said that it is not theirs (plastic): whose it is is not known"),
    ],
)
def test_what_an_owner_leaves_open(answer: OwnerSaid | None, part: str) -> None:
    job = with_owner(answer, why="" if answer is None else "plastic", until_at=ENDS)
    said = owners_say(job, DURING)
    assert part in said[0]
    assert "late" not in said[0]
    assert owners_say(job, AFTER)[0].endswith("and late")
    assert keeps_open(job, DURING) == "Not settled yet: Harbor Gas (gas)"


@pytest.mark.parametrize("answer", [OwnerSaid.MARKED, OwnerSaid.NO_CONFLICT])
def test_an_answer_that_ran_out_is_open_again(answer: OwnerSaid) -> None:
    job = with_owner(answer, until_at=BEGINS)
    assert keeps_open(job, BEFORE) == ""
    said = owners_say(job, DURING)[0]
    assert said.startswith(f"Harbor Gas (gas) {'marked' if answer is OwnerSaid.MARKED else 'answered'}")
    assert "ran out on 8 May 2024" in said
    assert keeps_open(job, DURING) == "Not settled yet: Harbor Gas (gas)"


def test_no_conflict_is_about_that_owner_alone() -> None:
    said = owners_say(with_owner(OwnerSaid.NO_CONFLICT), DURING)
    assert any("Harbor Gas (gas)" in text and "permits nothing" in text for text in said)
    beside = replace(
        with_owner(OwnerSaid.NO_CONFLICT),
        lines=(Line("G1", Utility.GAS),),
        records=(Record("r-1", ((0.0, 0.0), (1.0, 0.0)), utility="gas"),),
    )
    assert any("this job has G1 and record r-1: ask whether" in text for text in owners_say(beside, DURING))
    # a line that is said to be somebody else's is not theirs
    other = replace(beside, lines=(Line("G1", Utility.GAS, owner="the farm"),), records=())
    assert not any("this job has" in text for text in owners_say(other, DURING))


def test_marked_without_a_line_of_theirs_is_not_in_the_check() -> None:
    assert any("it is not in this check" in text for text in owners_say(with_owner(OwnerSaid.MARKED), DURING))
    assert not any("not in this check" in text for text in owners_say(JOB, DURING))


def test_owners_of_lines_that_are_not_on_the_list() -> None:
    line = Line("W1", Utility.WATER, owner="the town")
    said = owners_say(replace(JOB, lines=(*JOB.lines, line)), DURING)
    assert "W1: its owner, the town, is not among the owners written down" in said
    said = owners_say(replace(JOB, lines=(*JOB.lines, replace(line, private=True))), DURING)
    assert not any(text.startswith("W1") for text in said)


def test_things_seen() -> None:
    assert len(things_say(JOB)) == 1
    things = (
        Thing("m-1", 2, kind=ThingKind.METER),
        Thing("p-1", 3, kind=ThingKind.PAINT, colour="yellow"),
        Thing("p-2", 4, kind=ThingKind.PAINT, colour="red"),
        Thing("p-3", 5, kind=ThingKind.PAINT, colour="white"),
    )
    private, paint = things_say(replace(JOB, things=things))
    assert private.startswith("Private lines beyond the meter")
    assert private.endswith("A meter was seen: m-1")
    assert paint.startswith("Paint of others was seen, yellow (p-1)")
