"""What owners answered, in the few words of a list; what that leaves open is the clearance check's."""

from __future__ import annotations

from datetime import datetime

from plumbmark.handover.moments import moment
from plumbmark.model.ticket import OwnerAnswer, OwnerSaid


def owner_name(owner: OwnerAnswer) -> str:
    """An owner by what it has there: people look for the gas first, then for whose it is.

    Examples
    --------
    >>> owner_name(OwnerAnswer("North Gas", 2, "gas")), owner_name(OwnerAnswer("North Gas", 2))
    ('Gas (North Gas)', 'North Gas')
    """
    if not owner.utility:
        return owner.owner
    return f"{owner.utility[0].upper()}{owner.utility[1:]} ({owner.owner})"


def owner_words(owner: OwnerAnswer, now: datetime) -> str:
    """What an owner answered, with why and by when; never that there is nothing.

    Parameters
    ----------
    owner : OwnerAnswer
    now : datetime

    Returns
    -------
    str

    Examples
    --------
    >>> now = datetime.fromisoformat("2026-11-25T14:03:00+01:00")
    >>> owner_words(OwnerAnswer("North Gas", 2, "gas"), now)
    'no answer yet'
    >>> owner_words(OwnerAnswer("North Gas", 2, "gas", OwnerSaid.NO_ACCESS, "locked yard"), now)
    'no access: locked yard'
    """
    said = "no answer yet" if owner.answer is None else owner.answer.value
    if owner.why:
        said += f": {owner.why}"
    if owner.until_at is None:
        return said
    when = moment(owner.until_at, now)
    settled = owner.answer in (OwnerSaid.MARKED, OwnerSaid.NO_CONFLICT)
    if owner.has_run_out(now):
        return f"{said}; that ran out {when}: ask again" if settled else f"{said}; it was due {when}"
    return f"{said}, until {when}" if settled else f"{said}, due {when}"
