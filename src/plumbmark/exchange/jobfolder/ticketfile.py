"""The table ``[ticket]`` of `job.toml`: what was asked for, and from when until when it holds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from plumbmark.exchange.jobfolder.keys import Holds, Key, take
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.model.ticket import Ticket

#: Times in the order they come, earliest first; `due_at` may fall anywhere after `received_at`.
_TIMES: Final = ("received_at", "may_dig_from", "due_at", "expires_at")
TICKET_KEYS: Final = (
    *(Key(name, Holds.TEXT) for name in ("number", "place", "work", "caller")),
    *(Key(name, Holds.FLAG) for name in ("white_lined", "emergency")),
    *(Key(name, Holds.TIME) for name in _TIMES),
    Key("longitude_deg", Holds.NUMBER, low=-180.0, high=180.0),
    Key("latitude_deg", Holds.NUMBER, low=-90.0, high=90.0),
)


def read_ticket(document: Mapping[str, Any], file: str, remarks: Remarks) -> Ticket | None:
    """The ticket of a job file, None where it says nothing of one.

    Parameters
    ----------
    document : mapping
        The whole of `job.toml`.
    file : str
        Its name, for findings.
    remarks : Remarks
        Told of keys that are wrong, of half a position, and of times in an order that cannot be.

    Returns
    -------
    Ticket or None
    """
    table, where = document.get("ticket"), f"{file} [ticket]"
    if table is None:
        return None
    if not isinstance(table, dict):
        remarks.error(where, "is not a table")
        return None
    ticket = Ticket(**take(table, TICKET_KEYS, where, remarks))
    if (ticket.longitude_deg is None) != (ticket.latitude_deg is None):
        lack = "longitude" if ticket.longitude_deg is None else "latitude"
        remarks.error(f"{where} {lack}_deg", "is missing or wrong, and the other coordinate is given")
    for early, late in (
        ("received_at", "may_dig_from"),
        ("received_at", "due_at"),
        ("received_at", "expires_at"),
        ("may_dig_from", "expires_at"),
    ):
        first, last = getattr(ticket, early), getattr(ticket, late)
        if first is not None and last is not None and last < first:
            remarks.warn(f"{where} {late}", f"is earlier than {early}: is one of the two mistyped?")
    return ticket
