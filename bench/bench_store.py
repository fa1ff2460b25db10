"""How long the store takes to acknowledge a fact, beside plain inserts of the same bytes.

    PYTHONPATH=src python bench/bench_store.py                          SQLite in a folder on this disk
    PYTHONPATH=src python bench/bench_store.py --store postgresql://…   an empty database as well

Appends one fact at a time, each on disk when it returns; the same for batches of fifty; then from fifty
threads. Beside it: sqlite3 alone, one row and one commit each, with the same settings. Then how long reading
and checking take. Milliseconds of the clock.
"""

from __future__ import annotations

import argparse
import sqlite3
import statistics
import tempfile
import time
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

from plumbmark.base.canonical import canonical_json
from plumbmark.model.fact import Draft, Fact, FactKind, sealed, to_wire
from plumbmark.store import Store, open_store

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
ROW = {
    "line": "E1",
    "depth": "3 ft 1 in",
    "null_offset": "1 in..2 in",
    "current_ma": "8.0",
    "note": "x" * 200,
}


def chain(count: int) -> list[Fact]:
    """Readings that one device wrote down."""
    device, prev, made = str(uuid.uuid4()), "", []
    for seq in range(1, count + 1):
        payload = {"table": "readings", "key": str(seq), "rows": [ROW]}
        draft = Draft("alder-17", FactKind.ENTRY, payload, "2026-11-25T13:00:00+01:00", "R. Vale")
        made.append(sealed(draft, str(uuid.uuid4()), device, seq, prev))
        prev = made[-1].hash
    return made


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return 1e3 * (time.perf_counter() - start)


def told(name: str, times: list[float]) -> None:
    times = sorted(times)
    worst = times[-1]
    print(
        f"{name:44} median {statistics.median(times):8.2f}  "
        f"95th of 100 {times[int(0.95 * len(times))]:8.2f}  worst {worst:8.2f} ms"
    )


def plain(folder: Path, count: int) -> None:
    """Rows of the same bytes through sqlite3 alone, synced as the store's are."""
    connection = sqlite3.connect(folder / "plain.sqlite", isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE facts (ordinal INTEGER PRIMARY KEY, id TEXT UNIQUE, body TEXT)")
    rows = [(fact.id, canonical_json(to_wire(fact)).decode()) for fact in chain(count)]
    told(
        "sqlite3 alone, one row",
        [
            timed(lambda row=row: connection.execute("INSERT INTO facts VALUES (NULL, ?, ?)", row))
            for row in rows
        ],
    )
    connection.close()


def measured(store: Store, count: int) -> None:
    def send(facts: list[Fact]) -> None:
        receipts = store.append(facts, received_at=NOON)
        assert all(receipt.state == "stored" for receipt in receipts)

    facts = chain(count)
    told("append, one fact", [timed(lambda fact=fact: send([fact])) for fact in facts])
    facts = chain(50 * (count // 10))
    batches = [facts[start : start + 50] for start in range(0, len(facts), 50)]
    told("append, fifty facts", [timed(lambda some=some: send(some)) for some in batches])
    told("last_of", [timed(lambda: store.last_of(facts[0].device)) for _ in range(count)])

    each = [chain(count // 10) for _ in range(50)]

    def phone(facts: list[Fact]) -> list[float]:
        return [timed(lambda fact=fact: send([fact])) for fact in facts]

    start = time.perf_counter()
    with ThreadPoolExecutor(50) as pool:
        times = [t for some in pool.map(phone, each) for t in some]
    rate = len(times) / (time.perf_counter() - start)
    told(f"append, fifty threads ({rate:.0f} facts/s in all)", times)
    total = len(store.all_after(0, 10**9))
    told(f"facts of a job, all {total:,}", [timed(lambda: store.facts("alder-17")) for _ in range(5)])
    told("all_after, 500", [timed(lambda: store.all_after(total - 500, 500)) for _ in range(20)])
    told(f"verify, {total:,} facts", [timed(store.verify) for _ in range(3)])
    assert store.verify() == ()


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--store", help="address of an empty store to be measured as well")
    parser.add_argument("--count", type=int, default=1000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as name:
        plain(Path(name), asked.count)
        with open_store(f"sqlite:///{name}/store.sqlite") as store:
            measured(store, asked.count)
    if asked.store:
        print(f"\n{asked.store}")
        with open_store(asked.store) as store:
            measured(store, asked.count)


if __name__ == "__main__":
    main()
