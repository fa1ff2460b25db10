"""The screen Today."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from pydantic import TypeAdapter

from plumbmark.handover.screen_today import JobNow, today_screen
from plumbmark.model.estimate import Solution, Trust
from plumbmark.model.folded import SetAside
from plumbmark.model.job import Job
from plumbmark.model.screen_parts import JobState
from plumbmark.model.screen_today import TodayJob, TodayScreen
from plumbmark.model.ticket import OwnerAnswer, OwnerSaid, Ticket

NOW = datetime.fromisoformat("2026-11-25T14:03:00+01:00")
STATE = JobState(NOW)
TOMORROW = datetime.fromisoformat("2026-11-26T07:00:00+01:00")


def only(job: Job | None, solution: Solution | None = None, state: JobState = STATE) -> TodayJob:
    return today_screen([JobNow("alder-17", job, solution, state)], state.now).jobs[0]


def four(invented) -> tuple[Job, Solution]:
    """Three readings that hold and one that is unproven."""
    job, solution = invented(4)
    trusts = (Trust.HOLDS, Trust.HOLDS, Trust.HOLDS, Trust.UNPROVEN)
    stations = zip(solution.lines[0].stations, trusts, strict=True)
    line = replace(solution.lines[0], stations=tuple(replace(s, trust=t) for s, t in stations))
    return job, replace(solution, lines=(line,))


def test_a_job_in_sentences(invented) -> None:
    job, solution = four(invented)
    gas = OwnerAnswer("North Gas", 2, "gas")
    job = replace(job, title="Alder Street 17", ticket=Ticket(may_dig_from=TOMORROW), owners=(gas,))
    found = only(job, solution)
    assert found.sentence == (
        "Alder Street 17: may dig from tomorrow 07:00. Gas (North Gas): no answer yet. "
        "3 readings hold, 1 unproven."
    )
    assert (found.owners_open, found.due) == (1, "tomorrow 07:00")


def test_nothing_known_is_said_and_not_passed_over() -> None:
    found = only(Job("alder-17"))
    assert found.sentence == "alder-17: no owner is written down yet. Nothing read yet."
    assert found.go.route == "read"
    unread = only(None)
    assert "nothing of it is lost" in unread.sentence
    solving = today_screen([JobNow("a", Job("a"), None, STATE, True)], NOW).jobs[0]
    assert solving.sentence.endswith("The answer is being worked out.")


def test_expired_late_and_not_outlined() -> None:
    ended = Ticket(expires_at=NOW - timedelta(days=1), due_at=NOW - timedelta(days=3))
    found = only(Job("a", title="Birch", ticket=ended))
    assert found.expired
    assert found.sentence.startswith("Birch: the ticket ran out yesterday 14:03, and marks and answers ended")
    late = Ticket(due_at=NOW - timedelta(hours=1), may_dig_from=NOW - timedelta(hours=2), white_lined=False)
    assert only(Job("a", title="Birch", ticket=late)).sentence.startswith(
        "Birch: answers were due today 13:03. The ticket began today 12:03. Not outlined in white."
    )


def test_owners_that_answered_and_left_something_open() -> None:
    owners = (
        OwnerAnswer("North Water", 2, "water", OwnerSaid.NOT_LOCATED, "plastic, no wire"),
        OwnerAnswer("North Gas", 3, "gas", OwnerSaid.MARKED),
    )
    assert (
        "Water (North Water): could not locate: plastic, no wire." in only(Job("a", owners=owners)).sentence
    )
    done = only(Job("a", owners=owners[1:])).sentence
    assert done == "alder-17: every owner has answered. Nothing read yet."
    many = tuple(OwnerAnswer(f"Owner {k}", k) for k in range(2, 9))
    assert "And 3 more owners." in only(Job("a", owners=many)).sentence


def test_frozen_and_what_came_late() -> None:
    found = only(Job("a"), state=replace(STATE, frozen="handed over", late=2))
    assert found.sentence.endswith("Frozen (handed over). 2 entries came in after that and wait.")
    assert found.go.route == "handover"


def test_questions_are_counted(invented) -> None:
    aside = SetAside("aside:readings:9", "Reading 9: 'abc' is not a length", "readings", "9")
    found = only(*four(invented), replace(STATE, set_aside=(aside,)))
    assert found.questions == 1
    assert "1 question open." in found.sentence


def test_order_is_that_of_what_is_due() -> None:
    jobs = [
        JobNow("no-ticket", Job("no-ticket"), None, STATE),
        JobNow("frozen", Job("f", ticket=Ticket(due_at=NOW)), None, replace(STATE, frozen="")),
        JobNow("later", Job("l", ticket=Ticket(due_at=NOW + timedelta(days=2))), None, STATE),
        JobNow("sooner", Job("s", ticket=Ticket(may_dig_from=TOMORROW)), None, STATE),
        JobNow("emergency", Job("e", ticket=Ticket(emergency=True, due_at=NOW)), None, STATE),
    ]
    found = today_screen(jobs, NOW)
    assert [j.job for j in found.jobs] == ["emergency", "sooner", "later", "no-ticket", "frozen"]
    assert found.headline == "5 jobs. First: emergency, today 14:03."


def test_an_empty_screen_teaches() -> None:
    found = today_screen([], NOW)
    assert (found.headline, found.jobs) == ("No job yet.", ())
    assert "New job" in found.teaches[0]
    assert "Get away" in found.danger


def test_json_and_back(invented) -> None:
    adapter = TypeAdapter(TodayScreen)
    job, solution = four(invented)
    found = today_screen([JobNow("a", replace(job, ticket=Ticket(due_at=NOW)), solution, STATE)], NOW)
    assert adapter.validate_json(adapter.dump_json(found)) == found
