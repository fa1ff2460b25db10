"""What the ticket and its owners leave open for a dig. No answer of an owner makes a demand smaller."""

from __future__ import annotations

from datetime import datetime

from plumbmark.base.datafile import read_data
from plumbmark.base.spoken import listed, spoken_time
from plumbmark.model.job import Job, Line, Utility
from plumbmark.model.ticket import OwnerAnswer, OwnerSaid, ThingKind, Ticket

NO_LIST = (
    "Owners: which of them were asked, and what each answered, is not part of this check. No answer yet is "
    "not an answer"
)


def ticket_says(job: Job, now: datetime | None) -> tuple[str, ...]:
    """What has to be said of the ticket before anything else; nothing where the job has none.

    Parameters
    ----------
    job : Job
    now : datetime, optional
        Without it dates are told and not compared, so that the same job gives the same words for ever.

    Returns
    -------
    tuple of str
    """
    ticket = job.ticket
    if ticket is None:
        return ()
    name = f"Ticket {ticket.number}" if ticket.number else "The ticket"
    said = _dates(ticket, name, now)
    if ticket.white_lined is False:
        said.append(
            "The dig area was not outlined in white: which ground the owners looked at is not certain. "
            "Outline it, and ask them again"
        )
    elif ticket.white_lined is None:
        said.append("Whether the dig area was outlined in white is not written down: look")
    if ticket.emergency:
        said.append(f"{name} is an emergency: it shortens the wait for owners, and nothing that stands below")
    return tuple(said)


def _dates(ticket: Ticket, name: str, now: datetime | None) -> list[str]:
    """From when until when it runs, what is wrong with that first."""
    begins, ends = ticket.may_dig_from, ticket.expires_at
    if now is not None and ends is not None and ticket.has_run_out(now):
        return [
            f"{name} ran out on {spoken_time(ends)}, and with it this answer, the marks and what owners "
            "said: no digging on it. Ask the one-call centre to renew it"
        ]
    said = []
    if begins is not None and (now is None or ticket.is_early(now)):
        said.append(f"{name}: nobody may dig before {spoken_time(begins)}")
    elif begins is None:
        said.append(f"{name}: from when may be dug is not written down. Ask the one-call centre")
    if ends is not None:
        said.append(f"{name} runs out on {spoken_time(ends)}, and this answer with it")
    else:
        said.append(f"{name}: when it runs out is not written down. Ask the one-call centre")
    return said


def owners_say(job: Job, now: datetime | None) -> tuple[str, ...]:
    """What owners leave open: no answer, no line found, an answer that does not fit the job.

    Parameters
    ----------
    job : Job
    now : datetime, optional
        As of `ticket_says`.

    Returns
    -------
    tuple of str
        One sentence at least, whatever they answered.
    """
    if not job.owners:
        if job.ticket is None:
            return (NO_LIST,)
        return (
            "Owners: none is written down for this ticket, so who was asked and what each answered is not "
            "known. No answer yet is not an answer",
        )
    said = [_open(owner, now) for owner in job.owners if owner.is_open(now)]
    for owner in job.owners:
        if owner.answer in (OwnerSaid.MARKED, OwnerSaid.NO_CONFLICT):
            said += _against_job(owner, job)
    kept = [o for o in job.owners if o.answer is OwnerSaid.NO_CONFLICT and not o.is_open(now)]
    if kept:
        names = ", ".join(map(_name, kept))
        said.append(
            f"No conflict was answered by {names}: that is about their own lines alone, and permits nothing"
        )
    listed = {owner.owner.casefold() for owner in job.owners}
    for line in job.lines:
        if line.owner and not line.private and line.owner.casefold() not in listed:
            said.append(f"{line.id}: its owner, {line.owner}, is not among the owners written down")
    said.append(
        "Owners that are not written down here may have lines here too: no answer yet is not an answer"
    )
    return tuple(said)


def things_say(job: Job) -> tuple[str, ...]:
    """What was seen above ground and is of no line of the job."""
    private = (
        "Private lines beyond the meter (to sheds, lights, pools, tanks, between buildings) are not covered "
        "by a ticket and belong to nobody who marks for one: ask whoever owns the ground"
    )
    meters = [thing.id for thing in job.things if thing.kind is ThingKind.METER]
    said = [f"{private}. A meter was seen: {', '.join(meters)}" if meters else private]
    of = read_data("colours")["colour"]
    known = {of[line.utility.value] for line in job.lines} | {"white"}
    paint: dict[str, list[str]] = {}
    for thing in job.things:
        if thing.kind is ThingKind.PAINT and thing.colour and thing.colour not in known:
            paint.setdefault(thing.colour, []).append(thing.id)
    said += [
        f"Paint of others was seen, {colour} ({', '.join(names)}), and no line of this job has that colour: "
        "its line is not in this check. Go by the paint"
        for colour, names in paint.items()
    ]
    return tuple(said)


def keeps_open(job: Job, now: datetime | None) -> str:
    """Why no dig of this job is better than not known on account of ticket and owners; empty if it may be.

    A job that says nothing of either is judged by its readings alone, and `NO_LIST` is said.
    """
    ticket = job.ticket
    if ticket is not None and now is not None and ticket.has_run_out(now):
        return "The ticket ran out: what was answered and marked for it no longer holds"
    if ticket is not None and ticket.white_lined is False:
        return "The dig was not outlined in white: owners may have looked at other ground"
    waiting = [_name(owner) for owner in job.owners if owner.is_open(now)]
    if waiting:
        return f"Not settled yet: {listed(waiting)}"
    if ticket is not None and not job.owners:
        return "What the owners on the ticket have here is not known: no answer is written down"
    return ""


def _name(owner: OwnerAnswer) -> str:
    return f"{owner.owner} ({owner.utility})" if owner.utility else owner.owner


def _open(owner: OwnerAnswer, now: datetime | None) -> str:
    """What an owner leaves open, in a sentence."""
    name, until = _name(owner), owner.until_at
    why = f" ({owner.why})" if owner.why else ""
    late = now is not None and owner.has_run_out(now)
    date = "" if until is None else spoken_time(until)
    by = f", due {date}{' and late' if late else ''}" if date else ""
    match owner.answer:
        case None:
            return f"{name}: no answer yet{by}"
        case OwnerSaid.NOT_LOCATED:
            return f"{name} could not locate{why}: their line may be anywhere in this ground{by}"
        case OwnerSaid.NO_ACCESS:
            return f"{name} had no access{why}: what they have here is not marked{by}"
        case OwnerSaid.MORE_TIME:
            return f"{name} was given more time{why}: what they have here is not marked{by}"
        case OwnerSaid.STANDBY:
            return f"{name} will stand by{why}: nobody digs before they are there{by}"
        case OwnerSaid.NOT_OURS:
            return f"{name} said that it is not theirs{why}: whose it is is not known{by}"
        case OwnerSaid.MARKED:
            return f"{name} marked, and that ran out on {date}: ask for a re-mark"
        case OwnerSaid.NO_CONFLICT:
            return f"{name} answered no conflict, and that ran out on {date}: ask again"


def _against_job(owner: OwnerAnswer, job: Job) -> list[str]:
    """Where an answer and the job do not fit: no conflict beside a line of theirs, marked without one."""
    lines = [line.id for line in job.lines if _may_be_of(line, owner)]
    if owner.answer is OwnerSaid.MARKED and not lines:
        what = "no line of this job is theirs: it is not in this check. Go by their marks"
        return [f"{_name(owner)} marked, and {what}"]
    drawn = [r for r in job.records if r.utility and r.utility == owner.utility and r.line not in lines]
    theirs = [*lines, *(f"record {r.id}" for r in drawn)]
    if owner.answer is OwnerSaid.NO_CONFLICT and theirs:
        what = f"answered no conflict, and this job has {listed(theirs)}: ask whether it is theirs"
        return [f"{_name(owner)} {what}"]
    return []


def _may_be_of(line: Line, owner: OwnerAnswer) -> bool:
    if line.owner:
        return line.owner.casefold() == owner.owner.casefold()
    return line.utility is not Utility.UNKNOWN and line.utility.value == owner.utility
