"""What was acknowledged is there after a process or a server was killed, and after a disk ran full."""

from __future__ import annotations

import hashlib
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import event, text

from plumbmark.base.errors import StoreError, StoreFullError
from plumbmark.model.fact import Fact
from plumbmark.store import Store, open_store

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)

#: A phone's burst: facts in small batches as fast as they go, each id said once it is acknowledged.
BURST = """
import sys, uuid
from datetime import UTC, datetime
from plumbmark.model.fact import Draft, FactKind, sealed
from plumbmark.store import open_store
at = "2026-11-25T13:00:00+01:00"
store = open_store(sys.argv[1])
device, seq, prev = str(uuid.uuid4()), 0, ""
while True:
    batch = []
    for _ in range(seq % 3 + 1):
        draft = Draft("alder-17", FactKind.ENTRY, {"rows": ["x" * 500]}, at, "R. Vale")
        fact = sealed(draft, str(uuid.uuid4()), device, seq + 1, prev)
        seq, prev = fact.seq, fact.hash
        batch.append(fact)
    receipts = store.append(batch, received_at=datetime.now(UTC))
    assert {str(receipt.state) for receipt in receipts} == {"stored"}, receipts
    print(*(receipt.id for receipt in receipts), flush=True)
"""


def burst(address: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", BURST, address], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def killed(writer: subprocess.Popen[str], batches: int) -> list[str]:
    """The ids that were acknowledged until the kill, the last line only where it is whole."""
    assert writer.stdout
    said = [writer.stdout.readline() for _ in range(batches)]
    writer.send_signal(signal.SIGKILL)
    said += writer.stdout.readlines()
    assert writer.stderr
    assert (writer.stderr.read(), writer.wait()) == ("", -signal.SIGKILL)
    writer.stdout.close()
    writer.stderr.close()
    return [name for line in said if line.endswith("\n") for name in line.split()]


@pytest.mark.parametrize("batches", [1, 60])
def test_kill_in_a_burst_loses_nothing_acknowledged(address: str, pen, batches: int) -> None:
    open_store(address).close()
    acknowledged = killed(burst(address), batches)
    assert len(acknowledged) >= batches
    with open_store(address) as store:
        there = [each.fact.id for each in store.all_after(0, 100_000)]
        assert there[: len(acknowledged)] == acknowledged
        # At most one batch was stored and not yet said.
        assert len(there) - len(acknowledged) <= 3
        assert store.verify() == ()
        assert store.append([pen.fact()], received_at=NOON)[0].state == "stored"


def test_a_killed_server_loses_nothing_acknowledged(new_cluster: Callable[..., object], pen) -> None:
    """PostgreSQL falls in the burst, with its own defaults, and comes up again by its log."""
    server = new_cluster()
    address = server.new_database()
    store = open_store(address)
    writer = burst(address)
    assert writer.stdout
    assert writer.stderr
    said = [writer.stdout.readline() for _ in range(60)]
    server.stop()
    rest, trouble = writer.communicate()
    assert "StoreError" in trouble
    acknowledged = "".join([*said, rest]).split()
    with pytest.raises(StoreError):
        store.append([pen.fact()], received_at=NOON)
    server.start()
    there = [each.fact.id for each in store.all_after(0, 100_000)]  # the same store goes on with the server
    assert there[: len(acknowledged)] == acknowledged
    assert len(there) - len(acknowledged) <= 3
    assert store.verify() == ()
    store.close()


def fill(store: Store, pen) -> tuple[list[str], Fact]:
    """Append until the disk is full; the ids acknowledged, and the fact for which there was no room."""
    acknowledged: list[str] = []
    while True:
        # Letters that no database packs.
        fact = pen.fact(payload={"rows": [os.urandom(10_000).hex()]})
        try:
            (receipt,) = store.append([fact], received_at=NOON)
        except StoreFullError:
            return acknowledged, fact
        acknowledged.append(receipt.id)
        assert len(acknowledged) < 5_000, "the disk does not fill"


def check_after_full(store: Store, address: str, acknowledged: list[str], left: Fact) -> None:
    with pytest.raises(StoreFullError, match="nothing of this was stored"):
        store.append([left], received_at=NOON)
    assert len(acknowledged) > 10
    with open_store(address) as again:
        for each in (store, again):
            assert [found.fact.id for found in each.all_after(0, 10_000)] == acknowledged
            assert each.verify() == ()


def test_a_database_that_may_not_grow_says_so(tmp_path: Path, pen) -> None:
    address = f"sqlite:///{tmp_path / 'store.sqlite'}"
    with open_store(address) as store:
        engine = store.database.engine

        @event.listens_for(engine, "connect")
        def bound(connection, _: object) -> None:
            connection.execute("PRAGMA max_page_count = 200")

        engine.pool.dispose()
        engine.dispose()
        acknowledged, left = fill(store, pen)
        check_after_full(store, address, acknowledged, left)
        with pytest.raises(StoreFullError):
            store.put_blob(hashlib.sha256(bytes(900_000)).hexdigest(), bytes(900_000))
        event.remove(engine, "connect", bound)
        engine.dispose()
        assert store.append([left], received_at=NOON)[0].state == "stored"


def test_a_full_disk_under_sqlite(small_disk: Path, pen) -> None:
    address = f"sqlite:///{small_disk / 'store.sqlite'}"
    ballast = small_disk / "ballast"
    ballast.write_bytes(bytes(2_000_000))
    with open_store(address) as store:
        acknowledged, left = fill(store, pen)
        check_after_full(store, address, acknowledged, left)
        ballast.unlink()
        assert store.append([left], received_at=NOON)[0].state == "stored"
        assert store.verify() == ()
    with open_store(address) as again:
        assert len(again.all_after(0, 10_000)) == len(acknowledged) + 1


def test_a_full_disk_under_postgresql(small_disk: Path, cluster, pen) -> None:
    shutil.chown(small_disk, "postgres")
    cluster.statement(f"CREATE TABLESPACE small LOCATION '{small_disk}'")
    address = cluster.new_database()
    name = address.split("/")[3].partition("?")[0]
    open_store(address).close()
    with open_store(address) as store, store.database.writing() as connection:
        connection.execute(text("ALTER TABLE facts SET TABLESPACE small"))
    try:
        with open_store(address) as store:
            acknowledged, left = fill(store, pen)
            check_after_full(store, address, acknowledged, left)
    finally:
        cluster.statement(f"DROP DATABASE {name}")
        cluster.statement("DROP TABLESPACE small")
