"""Whatever the order and however often batches come in, the same facts are there once each."""

from __future__ import annotations

import itertools
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from datetime import UTC, datetime
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import event, text

from plumbmark.model.fact import Draft, Fact, FactKind
from plumbmark.store import Store, open_store

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
DEVICES = [f"00000000-0000-4000-8000-00000000000{n}" for n in range(3)]


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def shared(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A store that each example empties."""
    if request.param == "sqlite":
        address = f"sqlite:///{tmp_path_factory.mktemp('shared') / 'store.sqlite'}"
    else:
        address = request.getfixturevalue("cluster").new_database()
    with open_store(address) as opened:
        yield opened


#: A batch: of which device, the facts from one number up to another, whether it is sent back to front.
BATCH = st.tuples(st.sampled_from(range(3)), st.integers(0, 6), st.integers(1, 4), st.booleans())


@settings(max_examples=25)
@given(batches=st.lists(BATCH, max_size=12), joined=st.booleans())
def test_any_interleaving_gives_the_same_facts(shared: Store, new_pen, batches, joined: bool) -> None:
    """Held to a count that knows nothing of databases: a device's facts go in where the next one is due."""
    with shared.database.writing() as connection:
        connection.execute(text("DELETE FROM facts"))
    chains = [new_pen(device).facts(8) for device in DEVICES]
    due = [0, 0, 0]
    arrived: list[Fact] = []
    sent: list[list[Fact]] = []
    for which, start, count, backwards in batches:
        batch = chains[which][start : start + count][:: -1 if backwards else 1]
        sent.append(batch)
        for fact in batch:
            if fact.seq == due[which] + 1:
                due[which] += 1
                arrived.append(fact)
    if joined:
        sent = [[fact for batch in sent for fact in batch]]
    for batch in sent:
        shared.append(batch, received_at=NOON)
    assert [each.fact for each in shared.all_after(0, 100)] == arrived
    assert shared.verify() == ()
    # Each device sends all it has until all is there, as phones do.
    for chain in chains:
        receipts = shared.append(chain, received_at=NOON)
        assert {str(receipt.state) for receipt in receipts} <= {"stored", "already there"}
    everything = shared.all_after(0, 100)
    assert [each.order for each in everything] == list(range(1, 25))
    assert sorted(each.fact.id for each in everything) == sorted(fact.id for c in chains for fact in c)
    assert shared.verify() == ()


def test_eight_threads_append_while_others_read(store: Store, address: str, new_pen) -> None:
    """Each thread is a phone that sends every fact twice; half of them through a store opened apart."""
    pens = [new_pen() for _ in range(8)]
    chains = [each.facts(20) for each in pens]
    done = threading.Event()

    def phone(chain: list[Fact], through: Store) -> list[str]:
        receipts = [through.append([fact], received_at=NOON)[0] for fact in chain for _ in range(2)]
        return [str(receipt.state) for receipt in receipts]

    def follower() -> list[int]:
        """Reads on from where it was, as a phone does; what it was never given it would never get."""
        seen: list[int] = []
        while True:
            last_round = done.is_set()
            seen += [each.order for each in store.all_after(seen[-1] if seen else 0, 7)]
            if last_round and not store.all_after(seen[-1] if seen else 0, 1):
                return seen

    with open_store(address) as apart, ThreadPoolExecutor(9) as pool:
        following = pool.submit(follower)
        sending = [pool.submit(phone, chain, apart if n % 2 else store) for n, chain in enumerate(chains)]
        answers = [each.result() for each in sending]
        done.set()
        assert following.result() == list(range(1, 161))
    assert answers == [["stored", "already there"] * 20] * 8
    assert sorted(e.fact.id for e in store.all_after(0, 999)) == sorted(f.id for c in chains for f in c)
    assert store.verify() == ()


def test_threads_that_send_the_same_facts_store_them_once(store: Store, pen) -> None:
    chain = pen.facts(30)
    with ThreadPoolExecutor(8) as pool:
        rounds = list(pool.map(lambda _: store.append(chain, received_at=NOON), range(8)))
    states = [str(receipt.state) for receipts in rounds for receipt in receipts]
    assert (states.count("stored"), states.count("already there")) == (30, 210)
    assert [each.fact for each in store.all_after(0, 999)] == chain


def test_threads_at_the_desk_make_one_chain(store: Store) -> None:
    draft = Draft("alder-17", FactKind.TICK, {"step": "gear", "done": True}, NOON.isoformat(), "desk")
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda _: store.write_down([draft, draft]), range(16)))
    assert [each.fact.seq for each in store.all_after(0, 999)] == list(range(1, 33))
    assert store.verify() == ()


def held_up(store: Store, sending: list[Callable[[], object]]) -> tuple[list[Future[object]], int]:
    """Let appends gather while another writer is at it: what became of each, and in how many transactions."""
    commits = itertools.count()

    def count(_: object) -> None:
        next(commits)

    with ThreadPoolExecutor(len(sending)) as pool, store.database.writing():
        futures = [pool.submit(each) for each in sending]
        event.listen(store.database.engine, "commit", count)
        while len(store._together._waiting) < len(sending) - 1:  # the first waits for the other writer
            time.sleep(0.001)
    event.remove(store.database.engine, "commit", count)
    return futures, next(commits) - 1  # the other writer's own


def test_appends_that_wait_go_to_the_disk_together(store: Store, new_pen) -> None:
    facts = [new_pen().fact() for _ in range(20)]
    sending = [partial(store.append, [fact], received_at=NOON) for fact in facts]
    futures, commits = held_up(store, sending)
    assert [each.result()[0].id for each in futures] == [fact.id for fact in facts]
    assert commits == 2  # the first alone, since it had begun to wait before there was another
    assert {each.fact.id for each in store.all_after(0, 99)} == {fact.id for fact in facts}
    assert store.verify() == ()


def test_one_that_spoils_a_group_spoils_none_of_the_others(store: Store, new_pen) -> None:
    facts = [new_pen().fact() for _ in range(7)]
    no_time = datetime(2026, 11, 25, 12, 0)  # without an offset nobody can say when it was
    sending = [
        partial(store.append, [fact], received_at=no_time if n in (2, 4) else NOON)
        for n, fact in enumerate(facts)
    ]
    futures, _ = held_up(store, sending)
    assert [each.exception() is not None for each in futures] == [n in (2, 4) for n in range(7)]
    there = {each.fact.id for each in store.all_after(0, 99)}
    assert there == {fact.id for n, fact in enumerate(facts) if n not in (2, 4)}
    assert store.append(facts, received_at=NOON)[2].state == "stored"
    assert store.verify() == ()
