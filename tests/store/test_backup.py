"""A store goes into one file and comes out whole, on either engine; a spoilt file is taken in nowhere."""

from __future__ import annotations

import hashlib
import json
import os
import stat
import threading
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from plumbmark.base.errors import StoreError
from plumbmark.model.fact import FactKind
from plumbmark.store import Store, open_store
from plumbmark.store.backup import Held, backup, restore_store

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
PHOTO = bytes(range(256)) * 300
PHOTO_SHA = hashlib.sha256(PHOTO).hexdigest()


def fill(store: Store, pen, another_pen, count: int) -> None:
    """Something of everything into a store."""
    store.append(pen.facts(count), received_at=NOON, clock_offset_s=-86_400.25, origin="phone é")
    store.append([another_pen.fact(FactKind.FREEZE)], received_at=NOON)
    odd = pen.fact(payload={"odd": "\0\u2028😀"}, by="\0")
    store.append([odd], received_at=NOON + timedelta(microseconds=1))
    store.put_blob(PHOTO_SHA, PHOTO)
    store.put_blob(hashlib.sha256(b"").hexdigest(), b"")
    for version in ("0.1.0", "0.2.0"):
        store.remember("alder-17", "d1", version, "answer", NOON, b"\0" + version.encode())
    store.pair(store.new_pairing(), device=pen.device, name="her phone", at=NOON)
    store.pair(store.new_pairing(), device=another_pen.device, at=NOON)
    store.revoke(another_pen.device, at=NOON)
    store.set_setting("columns", '{"Tiefe": "depth"}')


@pytest.fixture
def filled(store: Store, pen, another_pen) -> Store:
    """A store with more facts than are written at once."""
    fill(store, pen, another_pen, 1_100)
    return store


HELD = Held(facts=1_102, files=2, answers=2, devices=2, settings=1)


def everything(store: Store) -> list[object]:
    """Every row of every table but the open codes."""
    found: list[object] = [store.all_after(0, 10_000), store.devices(), store.said("alder-17")]
    with store.database.reading() as connection:
        for columns in (
            "ordinal, id, hash, body FROM facts",
            "sha256, data FROM blobs",
            "version, digest, data FROM solutions",
            "id, token_hash FROM devices",
            "name, value FROM settings",
        ):
            rows = connection.execute(text(f"SELECT {columns} ORDER BY 1")).all()
            found.append([tuple(row) for row in rows])
    return found


@pytest.fixture(params=["sqlite", "postgresql"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a backup can be taken in, on each engine."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'new' / 'store.sqlite'}"
    address: str = request.getfixturevalue("cluster").new_database()
    return address


def test_a_zip_goes_from_each_engine_into_each(filled: Store, empty: str, tmp_path: Path, pen) -> None:
    path = tmp_path / "all.zip"
    assert backup(filled, path) == HELD
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert restore_store(path, empty) == HELD
    with open_store(empty) as again:
        assert everything(again) == everything(filled)
        assert again.verify() == ()
        assert again.is_frozen("alder-17")
        assert again.blob(PHOTO_SHA) == PHOTO
        assert again.facts("alder-17", after=1_101)[0].fact.by == "\0"
        # It goes on where the other stopped, and its copy is the same file.
        twin = tmp_path / "twin.zip"
        backup(again, twin)
        assert twin.read_bytes() == path.read_bytes()
        (receipt,) = again.append([pen.fact()], received_at=NOON)
        assert (str(receipt.state), again.all_after(1_102, 2)[0].order) == ("stored", 1_103)


def test_the_zip_can_be_read_without_plumbmark(filled: Store, tmp_path: Path) -> None:
    backup(filled, tmp_path / "all.zip")
    with zipfile.ZipFile(tmp_path / "all.zip") as archive:
        assert archive.testzip() is None
        lines = archive.read("facts.jsonl").decode().split("\n")
        photo = archive.read(f"blobs/{PHOTO_SHA}")
    first = json.loads(lines[0])["fact"]
    unsealed = {k: v for k, v in first.items() if k != "hash"}
    written = json.dumps(unsealed, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
    assert hashlib.sha256(written).hexdigest() == first["hash"] == json.loads(lines[1])["fact"]["prev"]
    assert (len(lines), photo) == (1_103, PHOTO)


def test_the_copy_of_sqlite_is_a_store(tmp_path: Path, pen) -> None:
    path = tmp_path / "copy.sqlite"
    with open_store(f"sqlite:///{tmp_path / 'store.sqlite'}") as store:
        store.append(pen.facts(50), received_at=NOON)
        assert backup(store, path).facts == 50
        with open_store(f"sqlite:///{path}", create=False) as again:
            assert everything(again) == everything(store)
            assert again.verify() == ()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.parametrize("ending", [".zip", ".sqlite"])
def test_a_copy_is_one_state_while_others_write(tmp_path: Path, pen, ending: str) -> None:
    path = tmp_path / f"all{ending}"
    with open_store(f"sqlite:///{tmp_path / 'store.sqlite'}") as store:
        store.append(pen.facts(2_000), received_at=NOON)
        stop = threading.Event()

        def write() -> None:
            while not stop.is_set():
                store.append(pen.facts(2), received_at=NOON)

        writer = threading.Thread(target=write)
        writer.start()
        try:
            held = backup(store, path)
        finally:
            stop.set()
            writer.join()
        assert store.last_of(pen.device)[0] > held.facts >= 2_000
        address = f"sqlite:///{path}"
        if ending == ".zip":
            address = f"sqlite:///{tmp_path / 'again.sqlite'}"
            restore_store(path, address)
        with open_store(address) as again:
            assert again.all_after(0, 100_000) == store.all_after(0, held.facts)
            assert again.verify() == ()


def test_a_backup_goes_into_an_empty_store_only(filled: Store, address: str, tmp_path: Path) -> None:
    path = tmp_path / "all.zip"
    backup(filled, path)
    before = everything(filled)
    with pytest.raises(StoreError, match="empty store only"):
        restore_store(path, address)
    assert everything(filled) == before


def test_no_backup_is_written_over_or_in_a_wrong_form(store: Store, tmp_path: Path) -> None:
    taken = tmp_path / "taken.zip"
    taken.write_text("mine")
    with pytest.raises(StoreError, match="never written over"):
        backup(store, taken)
    with pytest.raises(StoreError, match=r"is \.zip or \.sqlite, not '\.tar'"):
        backup(store, tmp_path / "all.tar")
    with pytest.raises(StoreError, match="cannot be written"):
        backup(store, tmp_path / "none" / "all.zip")
    if not store.database.is_sqlite:
        with pytest.raises(StoreError, match=r"into a \.zip"):
            backup(store, tmp_path / "all.sqlite")
    assert taken.read_text() == "mine"
    assert [p.name for p in tmp_path.iterdir() if not p.name.startswith("store.sqlite")] == ["taken.zip"]


def test_a_spoilt_store_makes_no_zip_but_a_copy(tmp_path: Path, pen) -> None:
    with open_store(f"sqlite:///{tmp_path / 'store.sqlite'}") as store:
        store.append(pen.facts(3), received_at=NOON)
        with store.database.writing() as connection:
            connection.execute(text("UPDATE facts SET body = '{}' WHERE seq = 2"))
        with pytest.raises(StoreError, match=r"not as it was stored.*fact 2 of"):
            backup(store, tmp_path / "all.zip")
        assert not (tmp_path / "all.zip").exists()
        assert backup(store, tmp_path / "all.sqlite").facts == 3


Change = Callable[[dict[str, bytes]], None]


def in_line(name: str, number: int, old: str, new: str) -> Change:
    def change(entries: dict[str, bytes]) -> None:
        lines = entries[name].decode().split("\n")
        assert old in lines[number]
        lines[number] = lines[number].replace(old, new, 1)
        entries[name] = "\n".join(lines).encode()

    return change


def without(name: str, number: int | None = None) -> Change:
    def change(entries: dict[str, bytes]) -> None:
        if number is None:
            del entries[name]
        else:
            lines = entries[name].split(b"\n")
            del lines[number]
            entries[name] = b"\n".join(lines)

    return change


def other_photo(entries: dict[str, bytes]) -> None:
    entries[f"blobs/{PHOTO_SHA}"] = b"other"


def uncounted(entries: dict[str, bytes]) -> None:
    without("facts.jsonl", 5)(entries)
    told = json.loads(entries["backup.json"])
    told["held"]["facts"] -= 1
    entries["backup.json"] = json.dumps(told).encode()


def no_photo(entries: dict[str, bytes]) -> None:
    del entries[f"blobs/{PHOTO_SHA}"]


CHANGES = {
    "a word": (in_line("facts.jsonl", 5, "lunch", "tea"), "hash"),
    "a fact left out": (without("facts.jsonl", 5), "it should hold"),
    "a fact left out and not counted": (uncounted, "10 facts came in, and 9 are there"),
    "the last fact left out": (without("facts.jsonl", 9), "it should hold"),
    "half a line": (in_line("facts.jsonl", 5, '"late":false', '"late":fal'), "no whole backup"),
    "a time without offset": (in_line("facts.jsonl", 5, "+00:00", ""), "no whole backup"),
    "one number twice": (in_line("facts.jsonl", 5, '"ordinal":6', '"ordinal":5'), "no whole backup"),
    "facts left out": (without("facts.jsonl"), "no whole backup"),
    "a device left out": (without("devices.jsonl", 0), "it should hold"),
    "another photograph": (other_photo, "not what was announced"),
    "no photograph": (no_photo, "it should hold"),
    "another answer": (lambda e: e.update({"solutions/1": b"other"}), "not what was stored"),
    "an answer left out": (without("solutions/2"), "no whole backup"),
    "another format": (in_line("backup.json", 1, "backup/1", "backup/2"), "its format is"),
    "no end": (without("backup.json"), "no whole backup"),
}


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory, new_pen) -> Path:
    """A whole backup of a few facts."""
    folder = tmp_path_factory.mktemp("good")
    with open_store(f"sqlite:///{folder / 'store.sqlite'}") as store:
        fill(store, new_pen(), new_pen(), 8)
        backup(store, folder / "all.zip")
    return folder / "all.zip"


def test_a_cut_or_foreign_file_is_no_backup(good: Path, empty: str, tmp_path: Path) -> None:
    path = tmp_path / "all.zip"
    whole = good.read_bytes()
    for data in (whole[: len(whole) // 2], whole[:-30], b"", b"hello"):
        path.write_bytes(data)
        with pytest.raises(StoreError, match="cannot be read as a backup"):
            restore_store(path, empty)
    with pytest.raises(StoreError, match="cannot be read as a backup"):
        restore_store(tmp_path / "none.zip", empty)
    with open_store(empty) as still:
        assert still.all_after(0, 10) == []


@pytest.mark.parametrize("place", range(70, 1_200, 190))
def test_a_flipped_byte_is_found(good: Path, tmp_path: Path, place: int) -> None:
    """In the packed facts, which begin at byte 61 and are over a thousand bytes long."""
    data = bytearray(good.read_bytes())
    data[place] ^= 0xFF
    (tmp_path / "all.zip").write_bytes(data)
    with pytest.raises(StoreError, match="no whole backup"):
        restore_store(tmp_path / "all.zip", f"sqlite:///{tmp_path / 'new.sqlite'}")


@pytest.mark.parametrize("name", CHANGES)
def test_a_changed_backup_is_taken_in_nowhere(good: Path, empty: str, tmp_path: Path, name: str) -> None:
    change, what = CHANGES[name]
    changed = tmp_path / "changed.zip"
    with zipfile.ZipFile(good) as archive:
        entries = {each: archive.read(each) for each in archive.namelist()}
    change(entries)
    with zipfile.ZipFile(changed, "w") as archive:
        for each, data in entries.items():
            archive.writestr(each, data)
    with pytest.raises(StoreError, match=what):
        restore_store(changed, empty)
    with open_store(empty) as still:
        assert still.all_after(0, 10) == still.devices() == still.said("alder-17") == []
    assert restore_store(good, empty).facts == 10


@pytest.mark.parametrize("ending", [".zip", ".sqlite"])
def test_no_room_for_a_backup_leaves_nothing(small_disk: Path, pen, tmp_path: Path, ending: str) -> None:
    with open_store(f"sqlite:///{tmp_path / 'store.sqlite'}") as store:
        store.append([pen.fact(payload={"x": os.urandom(5_000_000).hex()})], received_at=NOON)
        with pytest.raises(StoreError, match="cannot be written"):
            backup(store, small_disk / f"all{ending}")
        assert list(small_disk.iterdir()) == []
        assert store.append([pen.fact()], received_at=NOON)[0].state == "stored"
