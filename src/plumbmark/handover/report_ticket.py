"""The sections of a report that tell what was asked for: the ticket, the ledger, things seen, photographs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from plumbmark.base.spoken import compass, spoken_time
from plumbmark.handover import answer, words
from plumbmark.handover.ledger import ledger
from plumbmark.handover.report_blocks import Block, Facts, Photograph, Section, Table, Tone, Words
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job

_LISTED = 3000
_NOT_WRITTEN = "not written down"


def ticket_section(job: Job, solution: Solution) -> Section:
    """What was asked for, and what became of every facility that was expected."""
    blocks: list[Block] = [_ticket(job), Words("Ledger: every facility expected", Tone.STRONG)]
    if not job.owners:
        what = "No owner is written down: who was asked and what each answered is not known here."
        blocks.append(Words(what, Tone.CAUTION))
    entries = ledger(job, solution)
    rows = tuple(
        (e.name, e.expected_by, words.sentence(e.became).rstrip("."), e.why, e.by, e.at, e.until)
        for e in entries[:_LISTED]
    )
    head = ("facility", "named by", "what became of it", "why, or whose", "by", "when", "until")
    if rows:
        blocks.append(Table(head, rows, (1.6, 0.7, 1.6, 1.6, 1.1, 1.5, 1.5)).filled())
    blocks.append(
        Words(
            "An owner's answer is about that owner's own lines alone, and permits nothing; no answer yet is "
            "not an answer. Private lines beyond the meter are covered by no ticket.",
            Tone.CAUTION,
        )
    )
    return Section("Ticket and ledger", tuple(blocks))


def _ticket(job: Job) -> Block:
    ticket = job.ticket
    if ticket is None:
        return Words("The job has no ticket: what was asked for, and until when it runs, is not known here.")
    rows = [
        ("Ticket", ticket.number or _NOT_WRITTEN),
        ("Place", ticket.place or _NOT_WRITTEN),
        ("Work", ticket.work or _NOT_WRITTEN),
        ("Asked for by", ticket.caller or _NOT_WRITTEN),
        ("Dig outlined in white", _yes(ticket.white_lined)),
        ("Emergency", _yes(ticket.emergency)),
        ("Received", _time(ticket.received_at)),
        ("Owners answer by", _time(ticket.due_at)),
        ("No digging before", _time(ticket.may_dig_from)),
        ("Runs out", _time(ticket.expires_at)),
    ]
    return Facts(tuple(rows))


def _yes(flag: bool | None) -> str:
    return _NOT_WRITTEN if flag is None else "yes" if flag else "no"


def _time(moment: datetime | None) -> str:
    return _NOT_WRITTEN if moment is None else spoken_time(moment)


def things_section(job: Job) -> Section | None:
    """What was seen above ground."""
    if not job.things:
        return None
    rows = tuple(
        (
            thing.id,
            thing.kind.value if thing.kind else "",
            thing.colour or "",
            "" if thing.place is None else f"{thing.place.easting_m:.2f}",
            "" if thing.place is None else f"{thing.place.northing_m:.2f}",
            "" if thing.seen_at is None else spoken_time(thing.seen_at),
            thing.by,
            thing.note,
        )
        for thing in job.things[:_LISTED]
    )
    head = ("thing", "what", "colour", "easting, m", "northing, m", "seen", "by", "note")
    table = Table(head, rows, (1.0, 1.0, 0.8, 1.1, 1.2, 1.6, 0.9, 2.0)).filled()
    note = "Every fitting has a line to it. Blank: not written down."
    return Section("Things seen above ground", (table, Words(note, Tone.NOTE)))


def photographs_section(job: Job, photographs: Sequence[Photograph]) -> Section | None:
    """Photographs, two to a row, and which of those that were written down are not among them."""
    there = {photograph.name for photograph in photographs}
    missing = [fact.photo for fact in job.photographs if fact.photo not in there]
    blocks: list[Block] = list(photographs)
    if missing:
        named = ", ".join(missing[:60]) + (f" and {len(missing) - 60:,} more" if len(missing) > 60 else "")
        blocks.append(Words(f"Written down in photos.csv, and not shown here: {named}.", Tone.NOTE))
    return Section("Photographs", tuple(blocks), new_page=bool(photographs)) if blocks else None


def photo_caption(job: Job, name: str) -> str:
    """What a photograph shows, as far as it was written down; its file name where nothing was.

    Parameters
    ----------
    job : Job
    name : str
        Of the file, without its folder.

    Returns
    -------
    str
        Where it was taken is left out: a report is handed on.

    Examples
    --------
    >>> from plumbmark.model.ticket import PhotoFact, Thing, ThingKind
    >>> seen = Thing("m-1", 2, kind=ThingKind.METER)
    >>> job = Job("j", things=(seen,), photographs=(PhotoFact("4.jpg", 2, thing="m-1", bearing_deg=48.0),))
    >>> photo_caption(job, "4.jpg"), photo_caption(job, "5.jpg")
    ('Meter m-1, looking north-east', '5.jpg')
    """
    fact = next((p for p in job.photographs if p.photo == name), None)
    painted = [m.id for m in job.marks if m.photo.removeprefix("photos/") == name]
    if fact is not None and fact.mark is not None:
        painted = [fact.mark, *(ident for ident in painted if ident != fact.mark)]
    said = [f"mark {ident}, as painted" for ident in painted]
    if fact is not None:
        if fact.thing is not None:
            kind = next((t.kind for t in job.things if t.id == fact.thing), None)
            said.append(f"{kind.value if kind else 'thing'} {fact.thing}")
        if fact.bearing_deg is not None:
            said.append(f"looking {compass(fact.bearing_deg)}")
        said += [text for text in (fact.note, _time(fact.taken_at) if fact.taken_at else "", fact.by) if text]
    caption = ", ".join(said) or name
    return caption[0].upper() + caption[1:] if said else name


def expiry_section(job: Job) -> Section:
    """What runs out, and when."""
    taken = answer.taken_on(job).removeprefix("Read ").rstrip(".") or "at a time nobody wrote down"
    ends = job.ticket.expires_at if job.ticket else None
    date = "" if ends is None else spoken_time(ends)
    until = [f"{o.owner} until {spoken_time(o.until_at)}" for o in job.owners if o.answer and o.until_at]
    rows = (
        (
            "This report",
            f"Says what was known from readings taken {taken}. It runs out with the ticket"
            f"{f', on {date}' if date else ''}, and at once when ground or lines change.",
        ),
        ("Marks", "As long as they can be seen and the ticket runs; ask for a re-mark before either ends."),
        (
            "Ticket",
            f"On {date}." if date else "When is not in the job, so not known here: ask the one-call centre.",
        ),
        (
            "Answers of owners",
            f"{'; '.join(until)}. " * bool(until)
            + "One-call, local law and the owner's instructions come first.",
        ),
    )
    return Section("What runs out when", (Facts(rows),))
