"""Facts in a store: appended, never changed, read back in the order they came in."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Final

from sqlalchemy import Connection, Row, Select, func, select

from plumbmark.base.canonical import canonical_json, fact_hash
from plumbmark.base.errors import FactError
from plumbmark.model.fact import Draft, Fact, FactKind, sealed, to_wire
from plumbmark.store.tables import facts

#: The device whose chain holds what is written down at the store itself.
DESK: Final = "desk"
#: A reopening ends the freeze, and who was told of a frozen job changes nothing in it.
_NEVER_LATE: Final = (FactKind.REOPEN, FactKind.TOLD)
#: So many ids are asked for at once: SQLite and PostgreSQL bound the values of one question.
_AT_ONCE: Final = 500


class ReceiptState(StrEnum):
    """What became of a fact that was sent."""

    STORED = "stored"
    ALREADY_THERE = "already there"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Receipt:
    """What became of one fact.

    Attributes
    ----------
    id : str
        Of the fact.
    state : ReceiptState
    reason : str
        Why it was refused, empty otherwise.
    expected_seq : int
        The number that the next fact of this device has to have.
    """

    id: str
    state: ReceiptState
    reason: str
    expected_seq: int


@dataclass(frozen=True, slots=True)
class StoredFact:
    """A fact with what the store knows of it.

    Attributes
    ----------
    fact : Fact
    order : int
        Its place among all facts of the store, from 1, as they came in.
    received_at : datetime
        In UTC, by the store's clock.
    clock_offset_s : float, [s]
        Store's clock minus that of the device as it sent the fact.
    late : bool
        It came in while its job was frozen.
    origin : str
        Where it came from, as whoever took it in named it.
    """

    fact: Fact
    order: int
    received_at: datetime
    clock_offset_s: float
    late: bool
    origin: str


@dataclass(frozen=True, slots=True)
class Arrival:
    """When and whence facts came in; attributes as of `StoredFact`."""

    received_at: datetime
    clock_offset_s: float = 0.0
    origin: str = ""


class _Appending:
    """The state of one append: what is known of the store while its transaction lasts."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._ordinal: int = connection.scalar(select(func.coalesce(func.max(facts.c.ordinal), 0))) or 0
        self._last: dict[str, tuple[int, str]] = {}
        self._frozen: dict[str, bool] = {}
        self.known: dict[str, str] = {}
        self.rows: list[dict[str, Any]] = []

    def last(self, device: str) -> tuple[int, str]:
        if device not in self._last:
            self._last[device] = last_of(self._connection, device)
        return self._last[device]

    def take(self, fact: Fact, body: str, arrival: Arrival) -> None:
        """Put a fact that was found right among the rows to be written."""
        if fact.job not in self._frozen:
            self._frozen[fact.job] = is_frozen(self._connection, fact.job)
        late = self._frozen[fact.job] and fact.kind not in _NEVER_LATE
        if fact.kind in (FactKind.FREEZE, FactKind.REOPEN):
            self._frozen[fact.job] = fact.kind is FactKind.FREEZE
        self._ordinal += 1
        self._last[fact.device] = (fact.seq, fact.hash)
        self.known[fact.id] = fact.hash
        self.rows.append(
            row_of(fact, body)
            | {
                "ordinal": self._ordinal,
                "received_at": arrival.received_at,
                "clock_offset_s": arrival.clock_offset_s,
                "late": late,
                "origin": arrival.origin,
            }
        )

    def finish(self) -> None:
        if self.rows:
            self._connection.execute(facts.insert(), self.rows)


def append(connection: Connection, batches: Sequence[tuple[Sequence[Fact], Arrival]]) -> list[list[Receipt]]:
    """Take batches of facts in, in the order given; see `Store.append`."""
    appending = _Appending(connection)
    appending.known.update(_hashes(connection, [fact.id for sent, _ in batches for fact in sent]))
    receipts = [[_receipt(appending, fact, arrival) for fact in sent] for sent, arrival in batches]
    appending.finish()
    return receipts


def _receipt(appending: _Appending, fact: Fact, arrival: Arrival) -> Receipt:
    state, reason = ReceiptState.STORED, ""
    known = appending.known.get(fact.id)
    if known is not None and known == fact.hash:
        state = ReceiptState.ALREADY_THERE
    else:
        body, reason = _written(fact)
        reason = reason or _misfit(fact, known, appending.last(fact.device))
        if reason:
            state = ReceiptState.REFUSED
        else:
            appending.take(fact, body, arrival)
    return Receipt(fact.id, state, reason, appending.last(fact.device)[0] + 1)


def write_down(connection: Connection, drafts: Sequence[Draft], arrival: Arrival) -> list[Fact]:
    """Seal drafts into the chain of the desk and take them in; see `Store.write_down`."""
    appending = _Appending(connection)
    made = []
    for draft in drafts:
        seq, prev = appending.last(DESK)
        fact = sealed(draft, str(uuid.uuid4()), DESK, seq + 1, prev)
        appending.take(fact, canonical_json(to_wire(fact)).decode(), arrival)
        made.append(fact)
    appending.finish()
    return made


def _written(fact: Fact) -> tuple[str, str]:
    """A fact in its one form, and why it cannot be stored, if anything."""
    try:
        wire = to_wire(fact)
        body, expected = canonical_json(wire).decode(), fact_hash(wire)
    except FactError as error:
        return "", str(error)
    if fact.hash != expected:
        return (
            "",
            f"its hash is not that of what it says ({expected}): it was changed after it was written down",
        )
    return body, ""


def _misfit(fact: Fact, known: str | None, last: tuple[int, str]) -> str:
    """Why a fact does not continue its device's chain, or nothing."""
    seq, prev = last
    if known is not None:
        return "another fact with this id is there already, and a fact is never changed: send a new one"
    if fact.seq <= seq:
        return (
            f"the store has another fact {fact.seq} of this device: a device that lost what it had "
            f"written needs a new id"
        )
    if fact.seq > seq + 1:
        return f"fact {seq + 1} of this device has not come in yet: send it first"
    if fact.prev != prev:
        return f"it does not follow fact {seq} of this device as the store has it"
    return ""


def row_of(fact: Fact, body: str) -> dict[str, Any]:
    """The columns that follow from a fact alone."""
    return {
        "id": fact.id,
        "job": fact.job,
        "kind": fact.kind.value,
        "device": fact.device,
        "seq": fact.seq,
        "hash": fact.hash,
        "body": body,
    }


def _hashes(connection: Connection, ids: list[str]) -> Iterator[tuple[str, str]]:
    for start in range(0, len(ids), _AT_ONCE):
        some = ids[start : start + _AT_ONCE]
        for row in connection.execute(select(facts.c.id, facts.c.hash).where(facts.c.id.in_(some))):
            yield row.id, row.hash


def last_of(connection: Connection, device: str) -> tuple[int, str]:
    """Number and hash of a device's last fact; 0 and nothing where it has none."""
    row = connection.execute(
        select(facts.c.seq, facts.c.hash)
        .where(facts.c.device == device)
        .order_by(facts.c.seq.desc())
        .limit(1)
    ).first()
    return (row.seq, row.hash) if row else (0, "")


def is_frozen(connection: Connection, job: str) -> bool:
    """Whether the last of a job's freezes and reopenings was a freeze."""
    kind = connection.scalar(
        select(facts.c.kind)
        .where(facts.c.job == job, facts.c.kind.in_(["freeze", "reopen"]))
        .order_by(facts.c.ordinal.desc())
        .limit(1)
    )
    return kind == FactKind.FREEZE


def stored(connection: Connection, which: Select[Any]) -> list[StoredFact]:
    """Facts that a question finds, as they came in."""
    return [_stored(row) for row in connection.execute(which.order_by(facts.c.ordinal))]


def _stored(row: Row[Any]) -> StoredFact:
    wire = json.loads(row.body)
    fact = Fact(**{**wire, "kind": FactKind(wire["kind"])})
    return StoredFact(fact, row.ordinal, row.received_at, row.clock_offset_s, row.late, row.origin)


def broken(connection: Connection) -> Iterable[tuple[str, str]]:
    """Everything that is wrong with the chains: where, and what."""
    count, newest = connection.execute(select(func.count(), func.max(facts.c.ordinal))).one()
    if count and count != newest:
        yield "journal", f"{newest} facts came in, and {count} are there"
    device, seq, prev = "", 0, ""
    rows = connection.execution_options(yield_per=_AT_ONCE).execute(
        select(facts).order_by(facts.c.device, facts.c.seq)
    )
    for row in rows:
        if row.device != device:
            device, seq, prev = row.device, 0, ""
        where = f"fact {row.seq} of device {row.device}"
        if row.seq != seq + 1:
            yield where, f"comes after fact {seq}: what lay between is missing"
        what = _contradiction(row, prev if row.seq == seq + 1 else None)
        if what:
            yield where, what
        seq, prev = row.seq, row.hash


def _contradiction(row: Row[Any], prev: str | None) -> str:
    """Why a row is not the fact that was stored, or nothing; `prev` None: the one before is missing."""
    try:
        wire = json.loads(row.body)
        columns = {name: wire[name] for name in ("id", "job", "kind", "device", "seq", "hash")}
        expected = fact_hash(wire)
    except (ValueError, KeyError, TypeError) as error:
        return f"cannot be read: {error}"
    if wire["hash"] != expected:
        return "its hash is not that of what it says: it was changed after it was stored"
    if any(row._mapping[name] != value for name, value in columns.items()):
        return "its columns are not what it says"
    if prev is not None and wire.get("prev") != prev:
        return "does not follow the one before it"
    return ""
