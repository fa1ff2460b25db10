"""A journal of facts on SQLite or PostgreSQL; docs/store.md tells what it holds to."""

from plumbmark.store.journal import DESK, Receipt, ReceiptState, StoredFact
from plumbmark.store.kept import Device, Said
from plumbmark.store.store import Store, open_store

__all__ = ["DESK", "Device", "Receipt", "ReceiptState", "Said", "Store", "StoredFact", "open_store"]
