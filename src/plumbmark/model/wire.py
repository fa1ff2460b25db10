"""What travels between a device and the server besides facts and screens."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from plumbmark.model.fact import Fact


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing that is wrong, where and what."""

    where: str
    what: str


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a request: in one sentence, and item by item."""

    what: str
    findings: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class ErrorBody:
    """The one shape of every answer that is an error."""

    error: Fault


@dataclass(frozen=True, slots=True)
class VersionBody:
    """Which program answers."""

    program: str
    version: str


class Taken(StrEnum):
    """What became of a fact that was sent."""

    STORED = "stored"
    ALREADY_THERE = "already there"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class FactReceipt:
    """Receipt for one fact: what became of it, and of one that was refused why."""

    id: str
    taken: Taken
    why: str = ""


@dataclass(frozen=True, slots=True)
class FactsTaken:
    """Receipts in the order of the facts.

    `expected_seq` is the number that the device's next fact has to have. `clock_offset_s` is how far the
    server's clock is ahead of the device's, None where the device told no time.
    """

    receipts: tuple[FactReceipt, ...]
    expected_seq: int
    clock_offset_s: float | None


@dataclass(frozen=True, slots=True)
class FactOut:
    """A fact as it travels, with its place in the order of this store; `late`: it came after a freeze."""

    order: int
    received_at: str
    late: bool
    fact: Fact


@dataclass(frozen=True, slots=True)
class FactsOut:
    """Facts after an order number; `more` where there are further ones, after `last_order`."""

    facts: tuple[FactOut, ...]
    last_order: int
    more: bool


@dataclass(frozen=True, slots=True)
class ImportedBody:
    """What an import came to: the job it made, and what was remarked about its files."""

    job: str
    findings: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class BlobBody:
    """A file that was taken in: its hash and size."""

    sha256: str
    size: int
    already_there: bool


@dataclass(frozen=True, slots=True)
class QuestionChoice:
    """One answer that can be given to a question."""

    value: str
    words: str


@dataclass(frozen=True, slots=True)
class SentenceBody:
    """An answer in words."""

    words: str
