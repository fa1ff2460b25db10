"""Appends that wait for the disk go to it together.

Syncing is what an append takes time for. While one is at it others gather; the next takes all of them in one
transaction, so that fifty phones that come back into coverage at once wait about as long as two of them.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass

from plumbmark.model.fact import Fact
from plumbmark.store import journal
from plumbmark.store.database import Database
from plumbmark.store.journal import Arrival, Receipt


@dataclass(eq=False, slots=True)
class _Batch:
    """One append; `receipts` is None until it is on the disk."""

    facts: Sequence[Fact]
    arrival: Arrival
    receipts: list[Receipt] | None = None
    tried: bool = False


class Together:
    """The appends to one database."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._waiting: list[_Batch] = []
        self._at_it = False
        self._change = threading.Condition()

    def append(self, facts: Sequence[Fact], arrival: Arrival) -> list[Receipt]:
        """Take facts in, in one transaction with whatever else waits; see `Store.append`."""
        mine = _Batch(facts, arrival)
        with self._change:
            self._waiting.append(mine)
            self._change.wait_for(lambda: mine.tried or not self._at_it)
            group: list[_Batch] = []
            if not mine.tried:
                group, self._waiting, self._at_it = self._waiting, [], True
        if group:
            self._try(group)
        # Where a group failed it may have been for one of them, or for want of room: each tries alone.
        return self._stored([mine])[0] if mine.receipts is None else mine.receipts

    def _try(self, group: list[_Batch]) -> None:
        try:
            self._stored(group)
        except Exception:
            if len(group) == 1:
                raise
        finally:
            with self._change:
                self._at_it = False
                for batch in group:
                    batch.tried = True
                self._change.notify_all()

    def _stored(self, group: Sequence[_Batch]) -> list[list[Receipt]]:
        with self._database.writing() as connection:
            receipts = journal.append(connection, [(batch.facts, batch.arrival) for batch in group])
        for batch, mine in zip(group, receipts, strict=True):
            batch.receipts = mine
        return receipts
