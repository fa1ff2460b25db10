"""Ticket, ledger, things seen and photographs in a report: told as written, and nothing that was not."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from plumbmark.handover.ledger import NO_ANSWER, ledger
from plumbmark.handover.report import Extras, make_report
from plumbmark.handover.report_blocks import Audience, Photograph
from plumbmark.handover.report_depth import Reader
from plumbmark.handover.report_html import report_html
from plumbmark.handover.report_ticket import photo_caption
from plumbmark.model.job import Job
from plumbmark.model.mark import PaintedMark
from plumbmark.model.reading import Place
from plumbmark.model.record import Record
from plumbmark.model.ticket import OwnerAnswer, OwnerSaid, PhotoFact, Thing, ThingKind, Ticket

ENDS = datetime(2024, 5, 22, 22, tzinfo=UTC)
TICKET = Ticket("A-4711", "Alder Street 17", "drain", "the office", white_lined=True, expires_at=ENDS)
OWNERS = (
    OwnerAnswer("North Power", 2, "electric", OwnerSaid.MARKED, by="a crew", answered_at=ENDS, until_at=ENDS),
    OwnerAnswer("Harbor Gas", 3, "gas", OwnerSaid.NOT_LOCATED, "plastic without a wire"),
    OwnerAnswer("The Town", 4, "water"),
)  # fmt: skip


def text_of(job: Job, solution: Any, audience: Audience = Audience.CREW, **extras: Any) -> str:
    report = make_report(job, solution, digest="ab" * 32, reader=Reader(audience), extras=Extras(**extras))
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", report_html(report)))


@pytest.mark.parametrize("audience", list(Audience))
def test_everybody_has_ticket_and_ledger(invented: Any, audience: Audience) -> None:
    job, solution = invented()
    said = text_of(replace(job, ticket=TICKET, owners=OWNERS), solution, audience)
    for part in (
        "Ticket and ledger",
        "A-4711",
        "Dig outlined in white yes",
        "Emergency not written down",
        "Runs out 22 May 2024 22:00 (UTC)",
        "No digging before not written down",
        "North Power, electric ticket Marked",
        "Harbor Gas, gas ticket Could not locate plastic without a wire",
        "The Town, water ticket No answer yet",
        "It runs out with the ticket, on 22 May 2024 22:00 (UTC)",
        "North Power until 22 May 2024 22:00 (UTC)",
        "Private lines beyond the meter are covered by no ticket",
    ):
        assert part in said, part


def test_a_job_without_ticket_or_owners_says_so(invented: Any) -> None:
    said = text_of(*invented())
    assert "The job has no ticket" in said
    assert "No owner is written down: who was asked" in said
    assert "It runs out with the ticket, and at once" in said
    assert "ask the one-call centre" in said
    assert "Things seen" not in said


def test_the_ledger_has_every_facility_and_what_became_of_it(invented: Any) -> None:
    job, solution = invented()
    records = (
        Record("r-1", ((0.0, 0.0), (1.0, 0.0)), line="E1", utility="electric"),
        Record("r-2", ((0.0, 0.0), (1.0, 0.0)), utility="gas", source="the owner's sketch", date="1998"),
    )
    job = replace(job, owners=OWNERS, records=records)
    entries = {entry.name: entry for entry in ledger(job, solution)}
    assert entries["North Power, electric"].is_open is False
    assert (entries["The Town, water"].became, entries["The Town, water"].is_open) == (NO_ANSWER, True)
    line = next(entry for name, entry in entries.items() if name.startswith("E1"))
    count = len(solution.lines[0].stations)
    assert line.became.startswith(f"read at {count} place")
    assert "record r-1, electric" not in entries
    drawn = entries["record r-2, gas"]
    assert (drawn.became, drawn.why, drawn.at) == ("drawn and not located", "the owner's sketch", "1998")
    # before there is an answer nothing counts as found
    before = {entry.name: entry.became for entry in ledger(job, None)}
    assert "record r-1, electric" in before
    assert before[line.name] == "nothing was read of it"


def test_things_seen_with_and_without_a_place(invented: Any) -> None:
    job, solution = invented()
    things = (
        Thing("m-1", 2, Place(13.4, 8.9), ThingKind.METER, by="crew-2", note="on the wall"),
        Thing("p-1", 3, None, ThingKind.PAINT, "yellow"),
    )
    said = text_of(replace(job, things=things), solution)
    assert "m-1 meter 13.40 8.90 crew-2 on the wall" in re.sub(r" +", " ", said)
    assert "p-1 paint yellow" in said


def test_a_photograph_says_what_it_shows_and_not_where_from() -> None:
    fact = PhotoFact(
        "4.jpg",
        2,
        Place(13.4, 8.9),
        mark="m1",
        bearing_deg=226.0,
        taken_at=ENDS,
        by="crew-2",
        note="the kerb",
    )
    painted = PaintedMark("m2", Place(0.0, 0.0), 2, photo="photos/5.jpg")
    job = Job("j", photographs=(fact,), marks=(painted,))
    said = photo_caption(job, "4.jpg")
    assert said == "Mark m1, as painted, looking south-west, the kerb, 22 May 2024 22:00 (UTC), crew-2"
    assert photo_caption(job, "5.jpg") == "Mark m2, as painted"
    assert photo_caption(job, "drive.jpg") == "drive.jpg"


def test_photographs_that_are_written_down_and_not_there(invented: Any) -> None:
    job, solution = invented()
    job = replace(job, photographs=(PhotoFact("4.jpg", 2), PhotoFact("5.jpg", 3)))
    photograph = Photograph("4.jpg", b"\xff\xd8\xff\xd9", photo_caption(job, "4.jpg"))
    assert "not shown here: 5.jpg." in text_of(job, solution, photographs=(photograph,))


def test_things_with_a_place_are_on_the_plan(invented: Any) -> None:
    job, solution = invented()
    near = Place(solution.lines[0].stations[0].easting_m, solution.lines[0].stations[0].northing_m + 1.0)
    things = (Thing("x-1", 2, near, ThingKind.VALVE), Thing("x-2", 3, None, ThingKind.PATCH))
    said = text_of(replace(job, things=things), solution)
    assert "Diamonds are things seen above ground" in said
    assert "valve x-1" in said  # the label; the table has its words in cells of their own
    assert "patch x-2" not in said
    assert "Diamonds" not in text_of(job, solution)
