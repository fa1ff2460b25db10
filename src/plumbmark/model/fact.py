"""A fact: what somebody wrote down or did, once, on one device; never changed afterwards.

Facts of one device form a chain: each holds the hash of the one before, so that a missing or changed one
shows. What a job holds today is folded from its facts.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import datetime
from enum import StrEnum
from typing import Any, Final
from uuid import UUID

from plumbmark.base.canonical import MAX_INTEGER, fact_hash
from plumbmark.base.errors import FactError

JOB_ID: Final = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,63}")  # as every id of a job folder
_HASH: Final = re.compile(r"[0-9a-f]{64}")


class FactKind(StrEnum):
    """What a fact is about; docs/journal.md tells the payload of each."""

    JOB = "job"
    SOIL = "soil"
    TICKET = "ticket"
    ITEM = "item"
    ENTRY = "entry"
    SHAPE = "shape"
    FILE = "file"
    REMOVE = "remove"
    FREEZE = "freeze"
    REOPEN = "reopen"
    CANNOT = "cannot"
    SETTLED = "settled"
    TICK = "tick"
    TOLD = "told"


@dataclass(frozen=True, slots=True)
class Draft:
    """A fact before it has its place in a chain.

    Attributes
    ----------
    job : str
        Id of the job: letters, digits, `.`, `_`, `-`, at most 64, the first no dot.
    kind : FactKind
    payload : dict
        Texts, integers of at most 2^53, true, false, null, lists and mappings of them. Never changed.
    at : str
        When, ISO 8601 with its offset, by the device's own clock.
    by : str
        Who, as the device is named.
    supersedes : str or None
        Id of the fact that this one takes the place of.
    """

    job: str
    kind: FactKind
    payload: dict[str, Any] = field(hash=False)
    at: str
    by: str
    supersedes: str | None = None


@dataclass(frozen=True, slots=True)
class Fact:
    """A fact in its place: `seq` counts the facts of a device from 1, `prev` is the hash of the one before.

    The first of a device has an empty `prev`. Further attributes as of `Draft`.
    """

    id: str
    job: str
    kind: FactKind
    payload: dict[str, Any] = field(hash=False)
    at: str
    by: str
    device: str
    seq: int
    supersedes: str | None
    prev: str
    hash: str


def sealed(draft: Draft, id: str, device: str, seq: int, prev: str) -> Fact:
    """Put a draft into a device's chain.

    Parameters
    ----------
    draft : Draft
    id, device : str
        UUIDs in lower case; the device of a store's own desk is ``desk``.
    seq : int
        From 1, one more than that of the device's last fact.
    prev : str
        Hash of the device's last fact, empty for the first.

    Returns
    -------
    Fact

    Raises
    ------
    FactError
        Something in it cannot stand in a fact.
    """
    wire = {
        "id": id,
        "job": draft.job,
        "kind": str(draft.kind.value),
        "payload": draft.payload,
        "at": draft.at,
        "by": draft.by,
        "device": device,
        "seq": seq,
        "supersedes": draft.supersedes,
        "prev": prev,
    }
    return fact_from_wire({**wire, "hash": fact_hash(wire)})


def to_wire(fact: Fact) -> dict[str, Any]:
    """A fact as it travels: a mapping that JSON holds."""
    wire = {each.name: getattr(fact, each.name) for each in fields(Fact)}
    wire["kind"] = fact.kind.value
    return wire


def fact_from_wire(wire: Mapping[str, Any]) -> Fact:
    """Read a fact as it travels, and check all that can be checked of one alone.

    Parameters
    ----------
    wire : mapping
        With exactly the keys of a fact.

    Returns
    -------
    Fact
        Its hash is that of its content.

    Raises
    ------
    FactError
        A key that is missing or unknown, a value that is not allowed (with what is), a wrong hash.
    """
    if not isinstance(wire, Mapping):
        raise FactError("a fact is an object with keys and values")
    names = {each.name for each in fields(Fact)}
    missing, unknown = sorted(names - set(wire)), sorted(map(str, set(wire) - names))
    if missing:
        raise FactError(f"the fact has no {', '.join(missing)}")
    if unknown:
        raise FactError(f"the fact has the unknown key {unknown[0]!r:.60}")
    _check_identity(wire)
    if not isinstance(wire["payload"], dict):
        raise FactError("payload is not an object with keys and values")
    try:
        kind = FactKind(wire["kind"])
    except ValueError:
        raise FactError(f"kind {wire['kind']!r:.60} is not one of {', '.join(FactKind)}") from None
    expected = fact_hash(wire)
    if wire["hash"] != expected:
        raise FactError(f"hash {wire['hash']!r:.70} is not that of the fact, {expected}")
    return Fact(**{**wire, "kind": kind})


def _check_identity(wire: Mapping[str, Any]) -> None:
    if not _is_uuid(wire["id"]):
        raise FactError(f"id {wire['id']!r:.60} is not a UUID in lower case")
    if wire["device"] != "desk" and not _is_uuid(wire["device"]):
        raise FactError(f"device {wire['device']!r:.60} is not a UUID in lower case or 'desk'")
    if wire["supersedes"] is not None and not _is_uuid(wire["supersedes"]):
        raise FactError(f"supersedes {wire['supersedes']!r:.60} is neither null nor a UUID in lower case")
    job, by, seq, prev = wire["job"], wire["by"], wire["seq"], wire["prev"]
    if not isinstance(job, str) or JOB_ID.fullmatch(job) is None:
        raise FactError(f"job {job!r:.80} is not an id (letters, digits, '.', '_', '-', at most 64)")
    if not isinstance(by, str) or len(by) > 200:
        raise FactError(f"by {by!r:.60} is not a text of at most 200 characters")
    if type(seq) is not int or not 1 <= seq <= MAX_INTEGER:
        raise FactError(f"seq {seq!r:.60} is not a whole number from 1")
    if not isinstance(prev, str) or (_HASH.fullmatch(prev) is None if seq > 1 else prev != ""):
        rule = "64 hexadecimal digits" if seq > 1 else "empty, as for the first fact of a device"
        raise FactError(f"prev {prev!r:.70} is not {rule}")
    if not _is_time(wire["at"]):
        raise FactError(f"at {wire['at']!r:.60} is not a time with its offset, as 2026-11-25T14:03:22+01:00")


def _is_uuid(value: Any) -> bool:
    try:
        return isinstance(value, str) and str(UUID(value)) == value
    except ValueError:
        return False


def _is_time(value: Any) -> bool:
    try:
        return isinstance(value, str) and datetime.fromisoformat(value).tzinfo is not None
    except ValueError:
        return False
