"""What the handover shows: is everyone told, can it stand?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from plumbmark.model.screen_parts import Go, Told


@dataclass(frozen=True, slots=True)
class LedgerRow:
    """One facility that was expected, and what became of it; `is_open` where something is still to come."""

    name: str
    expected_by: str
    became: str
    why: str
    by: str
    at: str
    until: str
    is_open: bool


@dataclass(frozen=True, slots=True)
class PaintedRow:
    """A mark as painted against the line as computed now; `in_band` None where none can be compared."""

    mark: str
    line: str | None
    words: str
    in_band: bool | None
    photographs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MarkToPaint:
    """A mark that was computed and is not written down as painted.

    `cells` are those of its row in `marks.csv`, but for when it is painted and by whom; `key` is free for it.
    """

    key: str
    line: str
    words: str
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class RecordCheck:
    """One thing that a record needs to stand; `missing` says what is not there, empty where it is."""

    id: str
    words: str
    missing: str
    go: Go | None


@dataclass(frozen=True, slots=True)
class FileForm:
    """One form of a file to be given, and its address behind ``/api/jobs/ID/``."""

    words: str
    path: str


@dataclass(frozen=True, slots=True)
class FileToGive:
    """A file to be given: for whom, what is in it, and the forms it comes in."""

    words: str
    audience: str
    says: str
    forms: tuple[FileForm, ...]


@dataclass(frozen=True, slots=True)
class HandoverScreen:
    """The handover of a job.

    Attributes
    ----------
    headline : str
    can_stand : bool
        Whether nothing is missing from the record; it says nothing of whether anybody may dig.
    record : tuple of RecordCheck
        What is missing first.
    open : tuple of str
        What is still to come or to be settled, by whoever takes this over.
    ledger : tuple of LedgerRow
        Every facility expected.
    painted : tuple of PaintedRow
    to_paint : tuple of MarkToPaint
        In the order walked, line by line.
    told : tuple of Told
        Who was told what, the last first.
    files : tuple of FileToGive
    frozen : str or None
    late : int
    expires_at : datetime or None
    expiry : str
    cautions : tuple of str
    """

    job: str
    title: str
    headline: str
    can_stand: bool
    record: tuple[RecordCheck, ...]
    open: tuple[str, ...]
    ledger: tuple[LedgerRow, ...]
    painted: tuple[PaintedRow, ...]
    to_paint: tuple[MarkToPaint, ...]
    told: tuple[Told, ...]
    files: tuple[FileToGive, ...]
    frozen: str | None
    late: int
    expires_at: datetime | None
    expiry: str
    cautions: tuple[str, ...]
