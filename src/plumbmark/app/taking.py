"""Taking facts and files in from a device, and giving them out."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, Final

from plumbmark.base.errors import FactError
from plumbmark.model.fact import Fact, fact_from_wire
from plumbmark.model.wire import BlobBody, FactOut, FactReceipt, FactsOut, FactsTaken, Taken
from plumbmark.store import DESK, Receipt, Store, StoredFact

#: Clocks that differ by less than a message may take on its way are taken to agree [s].
_ON_ITS_WAY: Final = 2.0


def take_facts(
    store: Store, device: str, sent: Sequence[Any], now: datetime | None = None, origin: str = ""
) -> tuple[FactsTaken, set[str]]:
    """Take in facts that a device sent; each gets a receipt, whatever became of the others.

    Parameters
    ----------
    store : Store
    device : str
        The device that sends, and whose facts they have to be.
    sent : sequence
        Facts as they travel.
    now : datetime, optional
        The device's clock as it sent them, with its offset.
    origin : str
        Where they came from, in words.

    Returns
    -------
    taken : FactsTaken
    jobs : set of str
        Jobs that something new came in for.
    """
    received = datetime.now(UTC)
    offset = None if now is None else round((received - now).total_seconds(), 3)
    facts: list[Fact] = []
    refused: dict[int, FactReceipt] = {}
    for place, wire in enumerate(sent):
        try:
            fact = fact_from_wire(wire)
            if fact.device != device:
                raise FactError("it is a fact of another device; every device sends its own")
            if fact.device == DESK:
                raise FactError("the chain of the desk is written at the store alone")
            facts.append(fact)
        except FactError as error:
            refused[place] = FactReceipt(_id_of(wire), Taken.REFUSED, str(error))
    given = iter(
        store.append(facts, received_at=received, clock_offset_s=offset or 0.0, origin=origin)
        if facts
        else []
    )
    receipts = tuple(refused[k] if k in refused else _receipt(next(given)) for k in range(len(sent)))
    stored = {receipt.id for receipt in receipts if receipt.taken is Taken.STORED}
    if offset is not None and abs(offset) < _ON_ITS_WAY:
        offset = 0.0
    taken = FactsTaken(receipts, store.last_of(device)[0] + 1, offset)
    return taken, {fact.job for fact in facts if fact.id in stored}


def facts_after(store: Store, order: int, limit: int) -> FactsOut:
    """Facts of all jobs after an order number, for a device's own copy."""
    some = store.all_after(order, limit + 1)
    shown = some[:limit]
    return FactsOut(tuple(map(_out, shown)), shown[-1].order if shown else order, len(some) > limit)


def facts_of(store: Store, job: str, after: int) -> FactsOut:
    """All facts of a job after an order number."""
    some = store.facts(job, after)
    return FactsOut(tuple(map(_out, some)), some[-1].order if some else after, False)


def take_blob(store: Store, sha256: str, data: bytes) -> BlobBody:
    """Keep a file under its hash.

    Raises
    ------
    FactError
        The hash is not that of the data.
    """
    found = hashlib.sha256(data).hexdigest()
    if found != sha256:
        raise FactError(f"what came has the SHA-256 {found}, not {sha256}: send it again")
    there = store.has_blob(sha256)
    if not there:
        store.put_blob(sha256, data)
    return BlobBody(sha256, len(data), there)


def blob_of(store: Store, sha256: str) -> bytes | None:
    """A file by its hash, None where it has not come in."""
    return store.blob(sha256) if store.has_blob(sha256) else None


def media_of(data: bytes) -> str:
    """What kind of picture a file is by its first bytes; any other is bytes and nothing else."""
    if data.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if data.startswith(b"RIFF") and data[8:12] == b"WEBP":
        return "image/webp"
    return "application/octet-stream"


def _out(stored: StoredFact) -> FactOut:
    return FactOut(stored.order, stored.received_at.isoformat(), stored.late, stored.fact)


def _receipt(receipt: Receipt) -> FactReceipt:
    return FactReceipt(receipt.id, Taken(receipt.state.value), receipt.reason)


def _id_of(wire: Any) -> str:
    """The id that something refused says it has, to tell it by."""
    said = wire.get("id") if isinstance(wire, Mapping) else None
    return said[:64].encode("utf-8", errors="replace").decode() if isinstance(said, str) else ""
