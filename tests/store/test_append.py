"""Facts are taken in once, in the order of their chains, and never change; on both engines."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy import text

from plumbmark.base.canonical import fact_hash
from plumbmark.base.errors import FactError
from plumbmark.model.fact import Draft, FactKind, to_wire
from plumbmark.store import DESK, Store, open_store

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def test_facts_come_back_as_they_were_sent(store: Store, address: str, pen) -> None:
    sent = [
        pen.fact(payload={"table": "readings", "key": "7", "rows": [{"depth": "3 ft 1 in", "note": None}]}),
        pen.fact(payload={"odd": '\0\x1f\u2028 é 😀 \\ "', "n": 2**53, "on": True}, by="\0 two\nlines"),
        pen.fact(FactKind.JOB, {}, job="birch-2"),
    ]
    store.append(sent, received_at=NOON, clock_offset_s=-3.5, origin="phone")
    with open_store(address) as again:
        back = again.all_after(0, 10)
        assert [each.fact for each in back] == sent
        assert [each.order for each in back] == [1, 2, 3]
        assert {(each.received_at, each.clock_offset_s, each.late, each.origin) for each in back} == {
            (NOON, -3.5, False, "phone")
        }
        assert again.jobs() == ["alder-17", "birch-2"]
        assert [each.fact for each in again.facts("birch-2")] == sent[2:]
        assert [each.fact for each in again.facts("alder-17", after=1)] == sent[1:2]
        assert [each.fact for each in again.all_after(1, 1)] == sent[1:2]
        assert again.last_of(pen.device) == (3, sent[2].hash)
        assert again.verify() == ()


def test_the_same_upload_twice_is_stored_once(store: Store, send, pen) -> None:
    facts = pen.facts(3)
    assert send(*facts) == [("stored", 2), ("stored", 3), ("stored", 4)]
    assert send(*facts) == [("already there", 4)] * 3
    assert send(facts[0], facts[0], pen.fact()) == [
        ("already there", 4),
        ("already there", 4),
        ("stored", 5),
    ]
    assert len(store.all_after(0, 100)) == 4
    once = pen.fact()
    assert send(once, once) == [("stored", 6), ("already there", 6)]


def test_a_gap_is_refused_with_the_number_expected(store: Store, send, pen, another_pen) -> None:
    first, lost, third, fourth = pen.facts(4)
    other = another_pen.facts(2)
    assert send(first, third, other[0], fourth, other[1]) == [
        ("stored", 2),
        ("refused", 2),
        ("stored", 2),
        ("refused", 2),
        ("stored", 3),
    ]
    assert "fact 2 of this device" in store.append([third], received_at=NOON)[0].reason
    assert send(lost, third, fourth) == [("stored", 3), ("stored", 4), ("stored", 5)]
    assert store.verify() == ()


def test_a_changed_fact_is_refused(store: Store, send, pen) -> None:
    fact = pen.fact(payload={"depth": "3 ft 1 in"})
    changed = replace(fact, payload={"depth": "3 ft 7 in"})
    assert send(changed) == [("refused", 1)]
    assert send(fact) == [("stored", 2)]
    # The same id once more, with a hash that is right for other words.
    resealed = replace(changed, hash=fact_hash(to_wire(changed)))
    assert send(resealed) == [("refused", 2)]
    assert "never changed" in store.append([resealed], received_at=NOON)[0].reason
    assert [each.fact for each in store.facts("alder-17")] == [fact]


def test_a_decimal_in_a_fact_made_by_hand_is_refused(send, pen) -> None:
    assert send(replace(pen.fact(), payload={"depth_m": 0.92})) == [("refused", 1)]


def test_a_chain_does_not_fork(store: Store, send, pen) -> None:
    first = pen.fact()
    copy = replace(pen)  # a phone restored from a copy made after its first fact
    send(first, pen.fact(), pen.fact())
    fork = copy.fact()
    assert send(fork) == [("refused", 4)]
    assert "new id" in store.append([fork], received_at=NOON)[0].reason
    copy.facts(1)
    off_the_fork = copy.fact()
    assert off_the_fork.seq == 4
    assert send(off_the_fork) == [("refused", 4)]
    assert "does not follow" in store.append([off_the_fork], received_at=NOON)[0].reason


def test_two_devices_correct_one_reading_and_both_are_kept(store: Store, send, pen, another_pen) -> None:
    reading = pen.fact(payload={"depth": "3 ft"})
    send(reading)
    ours = pen.fact(payload={"depth": "3 ft 1 in"}, supersedes=reading.id)
    theirs = another_pen.fact(payload={"depth": "2 ft 11 in"}, supersedes=reading.id)
    assert send(theirs) == [("stored", 2)]
    assert send(ours) == [("stored", 3)]
    assert [each.fact for each in store.facts("alder-17")] == [reading, theirs, ours]


def test_a_fact_may_supersede_one_that_has_not_come_in(store: Store, send, pen) -> None:
    assert send(pen.fact(supersedes=str(uuid.uuid4()))) == [("stored", 2)]


def test_what_comes_in_for_a_frozen_job_is_late(store: Store, send, pen, another_pen) -> None:
    send(pen.fact(), pen.fact(FactKind.FREEZE))
    assert store.is_frozen("alder-17")
    send(another_pen.fact(), another_pen.fact(job="birch-2"), another_pen.fact(FactKind.TOLD))
    # One batch that reopens and goes on.
    send(pen.fact(), pen.fact(FactKind.REOPEN), pen.fact(), pen.fact(FactKind.FREEZE), pen.fact())
    assert [(each.fact.kind.value, each.late) for each in store.facts("alder-17")] == [
        ("entry", False),
        ("freeze", False),
        ("entry", True),
        ("told", False),
        ("entry", True),
        ("reopen", False),
        ("entry", False),
        ("freeze", False),
        ("entry", True),
    ]
    assert [each.late for each in store.facts("birch-2")] == [False]
    assert not store.is_frozen("birch-2")


@pytest.mark.parametrize("days", [-400, 3])
def test_a_clock_that_is_wrong_by_days_changes_nothing_but_what_is_said(
    store: Store, send, pen, another_pen, days: int
) -> None:
    wrong = (NOON + timedelta(days=days)).isoformat()
    early, late = pen.fact(at=wrong), another_pen.fact(at=NOON.isoformat())
    send(early, clock_offset_s=-days * 86_400.0)
    send(late)
    back = store.facts("alder-17")
    assert [each.fact.at for each in back] == [wrong, NOON.isoformat()]
    assert [each.clock_offset_s for each in back] == [-days * 86_400.0, 0.0]
    happened = [
        datetime.fromisoformat(each.fact.at) + timedelta(seconds=each.clock_offset_s) for each in back
    ]
    assert happened == [NOON, NOON]


def test_times_are_kept_whatever_their_offset(store: Store, send, pen) -> None:
    there = datetime(2026, 11, 25, 3, 30, tzinfo=timezone(timedelta(hours=-8, minutes=-30)))
    send(pen.fact(), received_at=there)
    (back,) = store.facts("alder-17")
    assert back.received_at == there == NOON
    assert back.received_at.utcoffset() == timedelta(0)


def test_the_desk_has_a_chain_of_its_own(store: Store, send, pen) -> None:
    drafts = [Draft("alder-17", FactKind.JOB, {"keys": {"title": t}}, NOON.isoformat(), "desk") for t in "ab"]
    made = store.write_down(drafts, origin="import")
    send(pen.fact())
    made += store.write_down(drafts[:1])
    assert [(fact.device, fact.seq) for fact in made] == [(DESK, 1), (DESK, 2), (DESK, 3)]
    assert [each.fact for each in store.facts("alder-17") if each.fact.device == DESK] == made
    assert store.verify() == ()


def test_of_drafts_all_or_none_are_stored(store: Store) -> None:
    good = Draft("alder-17", FactKind.JOB, {"keys": {}}, NOON.isoformat(), "desk")
    with pytest.raises(FactError, match="float"):
        store.write_down([good, replace(good, payload={"depth_m": 0.9})])
    assert store.all_after(0, 10) == []
    assert [fact.seq for fact in store.write_down([good])] == [1]


def test_many_facts_in_one_batch(store: Store, send, pen) -> None:
    facts = pen.facts(1_203)
    assert send(*facts)[-1] == ("stored", 1_204)
    assert send(*facts[:700], *facts[650:])[-1] == ("already there", 1_204)
    assert len(store.all_after(0, 5_000)) == 1_203


def spoil(store: Store, statement: str) -> list[str]:
    with store.database.writing() as connection:
        assert connection.execute(text(statement)).rowcount > 0
    return [str(finding) for finding in store.verify()]


@pytest.mark.parametrize(
    ("statement", "where", "what"),
    [
        (
            "UPDATE facts SET body = replace(body, 'lunch', 'tea') WHERE seq = 2",
            2,
            "changed after it was stored",
        ),
        ("UPDATE facts SET job = 'birch-2' WHERE seq = 2", 2, "its columns are not what it says"),
        ("UPDATE facts SET body = 'x' WHERE seq = 2", 2, "cannot be read"),
        ("UPDATE facts SET body = '[]' WHERE seq = 2", 2, "cannot be read"),
        ("DELETE FROM facts WHERE seq = 2 AND device = '{}'", 3, "comes after fact 1"),
        ("DELETE FROM facts WHERE seq = 1 AND device = '{}'", 2, "comes after fact 0"),
    ],
)
def test_what_was_changed_behind_its_back_is_found(
    store: Store, send, pen, another_pen, statement: str, where: int, what: str
) -> None:
    send(*pen.facts(3))
    send(another_pen.fact())
    *missing, last = spoil(store, statement.format(pen.device))
    assert last.startswith(f"fact {where} of device {pen.device}: ")
    assert what in last
    assert missing == (["journal: 4 facts came in, and 3 are there"] if "DELETE" in statement else [])


def test_the_end_of_a_chain_that_was_taken_off_is_found_unless_it_was_the_last(
    store: Store, send, pen, another_pen
) -> None:
    send(*pen.facts(3))
    send(another_pen.fact())
    assert spoil(store, f"DELETE FROM facts WHERE seq = 3 AND device = '{pen.device}'") == [
        "journal: 4 facts came in, and 3 are there"
    ]
    assert (
        spoil(store, f"DELETE FROM facts WHERE device = '{another_pen.device}'") == []
    )  # as docs/store.md says


def test_a_fact_that_was_replaced_with_another_is_found(store: Store, send, pen) -> None:
    """A forger who makes the hash right as well leaves the chain broken at the next fact."""
    send(*pen.facts(3))
    second = store.all_after(1, 1)[0].fact
    forged = replace(second, payload={"why": "tea"})
    forged = replace(forged, hash=fact_hash(to_wire(forged)))
    with store.database.writing() as connection:
        words = "UPDATE facts SET body = replace(replace(body, 'lunch', 'tea'), :old, :new), hash = :new"
        connection.execute(text(words + " WHERE seq = 2"), {"old": second.hash, "new": forged.hash})
    (only,) = store.verify()
    assert only.where.startswith("fact 3 of")
    assert only.what == "does not follow the one before it"


def test_a_pen_is_what_it_says(pen, send: Callable[..., list[tuple[str, int]]]) -> None:
    """The oracle of this file: its chain is made by hand here once."""
    first, second = pen.facts(2)
    assert (first.seq, first.prev, second.seq, second.prev) == (1, "", 2, first.hash)
    assert send(second, first, second) == [("refused", 1), ("stored", 2), ("stored", 3)]
