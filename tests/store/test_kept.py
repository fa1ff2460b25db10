"""Files, answers as said, devices and settings; on both engines."""

from __future__ import annotations

import hashlib
import uuid
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import text

from plumbmark.base.errors import PairingError, StoreError
from plumbmark.store import DESK, Said, Store, open_store

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
PHONE = "6f1d7c1e-0000-4000-8000-000000000001"


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.mark.parametrize("data", [b"", b"\0\xff" * 1000, bytes(3_000_000)], ids=len)
def test_a_file_is_kept_under_its_hash(store: Store, address: str, data: bytes) -> None:
    assert not store.has_blob(sha(data))
    store.put_blob(sha(data), data)
    store.put_blob(sha(data), data)
    with open_store(address) as again:
        assert again.has_blob(sha(data))
        assert again.blob(sha(data)) == data
        assert again.verify() == ()


def test_a_file_that_is_not_what_was_announced_is_not_kept(store: Store) -> None:
    with pytest.raises(StoreError, match="not what was announced"):
        store.put_blob(sha(b"one"), b"other")
    assert not store.has_blob(sha(b"one"))
    with pytest.raises(StoreError, match="has come in yet"):
        store.blob(sha(b"one"))


def test_an_answer_stays_as_it_was_said(store: Store, address: str) -> None:
    store.remember("alder-17", "d1", "0.1.0", "answer", NOON, b"3 ft")
    store.remember("alder-17", "d1", "0.1.0", "answer", NOON + MINUTE, b"4 ft")
    store.remember("alder-17", "d1", "0.2.0", "answer", NOON + 2 * MINUTE, b"2 ft 11 in")
    store.remember("alder-17", "d2", "0.1.0", "clearance", NOON - MINUTE, b"")
    store.remember("birch-2", "d1", "0.1.0", "answer", NOON, b"other job")
    with open_store(address) as again:
        first = Said("alder-17", "d1", "0.1.0", "answer", NOON, 4)
        assert again.recalled("alder-17", "d1", "0.1.0", "answer") == (first, b"3 ft")
        assert again.recalled("alder-17", "d1", "0.1.0", "clearance") is None
        assert again.said("alder-17") == [
            Said("alder-17", "d2", "0.1.0", "clearance", NOON - MINUTE, 0),
            first,
            Said("alder-17", "d1", "0.2.0", "answer", NOON + 2 * MINUTE, 10),
        ]
        assert again.said("cedar") == []


@pytest.mark.parametrize("table", ["blobs", "solutions"])
def test_spoilt_bytes_are_found(store: Store, table: str) -> None:
    store.put_blob(sha(b"one"), b"one")
    store.remember("alder-17", "d1", "0.1.0", "answer", NOON, b"3 ft")
    assert store.verify() == ()
    with store.database.writing() as connection:
        connection.execute(text(f"UPDATE {table} SET data = :other"), {"other": b"other"})
    (only,) = store.verify()
    assert "is not what was stored" in only.what


def test_a_phone_is_paired_once_with_a_code(store: Store) -> None:
    code = store.new_pairing(at=NOON)
    assert len(code) == 9
    typed = f" {code.lower().replace('-', ' ')} "
    token = store.pair(typed, device=PHONE, name="her phone", at=NOON + 9 * MINUTE)
    assert store.device_of(token, at=NOON + 9 * MINUTE) == PHONE
    assert store.device_of(token + "x") is None
    assert store.device_of("") is None
    with pytest.raises(PairingError, match="used already"):
        store.pair(code, device=str(uuid.uuid4()), at=NOON + 9 * MINUTE)
    (device,) = store.devices()
    assert (device.id, device.name, device.paired_at, device.revoked_at) == (
        PHONE,
        "her phone",
        NOON + 9 * MINUTE,
        None,
    )


def test_a_code_ends_after_ten_minutes(store: Store) -> None:
    code = store.new_pairing(at=NOON)
    other = store.new_pairing(at=NOON + 9 * MINUTE)
    with pytest.raises(PairingError, match="older than ten minutes"):
        store.pair(code, device=PHONE, at=NOON + 10 * MINUTE + timedelta(seconds=1))
    store.pair(other, device=PHONE, at=NOON + 10 * MINUTE)


@pytest.mark.parametrize("code", ["", "AAAA-AAAA", "\0", "\ud800", "x" * 10_000, "' OR 1=1 --"])
def test_a_guessed_code_pairs_nothing(store: Store, code: str) -> None:
    store.new_pairing(at=NOON)
    with pytest.raises(PairingError, match="never given out"):
        store.pair(code, device=PHONE, at=NOON)
    assert store.devices() == []


@pytest.mark.parametrize("device", [DESK, "", "my phone", PHONE.upper()])
def test_only_a_device_can_be_paired_and_the_code_stays(store: Store, device: str) -> None:
    code = store.new_pairing(at=NOON)
    with pytest.raises(PairingError, match="UUID"):
        store.pair(code, device=device, at=NOON)
    assert store.pair(code, device=PHONE, at=NOON)


def test_a_revoked_token_counts_no_more(store: Store) -> None:
    token = store.pair(store.new_pairing(at=NOON), device=PHONE, at=NOON)
    assert store.revoke(PHONE, at=NOON + MINUTE)
    assert not store.revoke(PHONE)
    assert not store.revoke(str(uuid.uuid4()))
    assert store.device_of(token) is None
    assert [device.revoked_at for device in store.devices()] == [NOON + MINUTE]
    again = store.pair(store.new_pairing(at=NOON), device=PHONE, at=NOON)
    assert (store.device_of(token, at=NOON), store.device_of(again, at=NOON)) == (None, PHONE)
    assert len(store.devices()) == 1


def test_pairing_anew_ends_the_earlier_token(store: Store) -> None:
    tokens = [store.pair(store.new_pairing(at=NOON), device=PHONE, at=NOON) for _ in range(2)]
    assert tokens[0] != tokens[1]
    assert [store.device_of(token, at=NOON) for token in tokens] == [None, PHONE]


def test_when_a_device_was_last_seen_is_noted_every_ten_minutes(store: Store) -> None:
    token = store.pair(store.new_pairing(at=NOON), device=PHONE, at=NOON)
    seen = []
    for minutes in (9, 11, 12, 300):
        store.device_of(token, at=NOON + minutes * MINUTE)
        seen.append((store.devices()[0].seen_at - NOON) / MINUTE)
    assert seen == [0, 11, 11, 300]


def test_neither_code_nor_token_can_be_read_from_the_store(store: Store) -> None:
    code, other = store.new_pairing(at=NOON), store.new_pairing(at=NOON)
    token = store.pair(code, device=PHONE, at=NOON)
    with store.database.reading() as connection:
        held = str([connection.execute(text(f"SELECT * FROM {t}")).all() for t in ("devices", "pairings")])
    assert PHONE in held
    for secret in (token, code, other, other.replace("-", "")):
        assert secret not in held


def test_a_setting_takes_the_place_of_the_one_before(store: Store, address: str) -> None:
    assert store.setting("columns") is None
    for value in ("", '{"Tiefe": "depth"}', "é \u2028 😀"):
        store.set_setting("columns", value)
        with open_store(address) as again:
            assert again.setting("columns") == value
    assert store.setting("other") is None


@pytest.mark.parametrize("bad", ["a\0b", "\ud800"])
def test_what_no_database_can_hold_is_refused_in_words(store: Store, bad: str) -> None:
    with pytest.raises(StoreError, match=r"the setting .* holds a character"):
        store.set_setting("columns", bad)
    with pytest.raises(StoreError, match="the name"):
        store.pair(store.new_pairing(), device=PHONE, name=bad)
    with pytest.raises(StoreError, match="the origin"):
        store.append([], received_at=NOON, origin=bad)


def test_a_time_without_an_offset_is_refused(store: Store) -> None:
    with pytest.raises(Exception, match="has no offset"):
        store.remember("alder-17", "d1", "0.1.0", "answer", datetime(2026, 11, 25, 12, 0), b"")
    assert store.said("alder-17") == []
