"""A store as one file: a zip that either engine takes in again, and the copy that SQLite makes of itself.

In the zip: ``facts.jsonl`` (a line for each fact, with what the store knows of it), ``blobs/SHA256``,
``solutions.jsonl`` and ``solutions/NUMBER``, ``devices.jsonl``, ``settings.jsonl``, and last ``backup.json``
with the format and the counts. Open pairing codes are left out: they last ten minutes.
"""

from __future__ import annotations

import json
import os
import sqlite3
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any, Final, cast

from sqlalchemy import Connection, Table, func, select
from sqlalchemy.exc import SQLAlchemyError

from plumbmark.base.canonical import canonical_json
from plumbmark.base.errors import StoreError
from plumbmark.model.fact import fact_from_wire
from plumbmark.store import journal, kept
from plumbmark.store.store import Store, open_store
from plumbmark.store.tables import blobs, devices, facts, settings, solutions

FORMAT: Final = "plumbmark-backup/1"
_TIMES: Final = {"received_at", "said_at", "paired_at", "seen_at", "revoked_at"}
#: What the store knows of a fact beside it.
_OF_THE_STORE: Final = ("received_at", "clock_offset_s", "late", "origin")
#: Every entry has this time, so that one state of a store makes one file.
_WHEN: Final = (1980, 1, 1, 0, 0, 0)
_AT_ONCE: Final = 500


@dataclass(frozen=True, slots=True)
class Held:
    """How much a backup holds."""

    facts: int
    files: int
    answers: int
    devices: int
    settings: int


def backup(store: Store, path: Path) -> Held:
    """Write one state of a store to a file, whole or not at all, while others go on writing.

    Parameters
    ----------
    store : Store
    path : Path
        Ending ``.zip``: the form that either engine takes in. Ending ``.sqlite``: SQLite's own copy,
        which is a store itself.

    Returns
    -------
    Held

    Raises
    ------
    StoreError
        Another ending, a file that is there, a store on PostgreSQL asked for ``.sqlite``, or no room. A store
        that is not as it was stored makes no zip, since nobody could take it in; SQLite's own copy is made.
    """
    if path.suffix not in {".zip", ".sqlite"}:
        raise StoreError(f"'{path}': the ending of a backup is .zip or .sqlite, not {path.suffix!r}")
    if path.exists():
        raise StoreError(
            f"'{path}' is there already, and a backup is never written over: choose another name"
        )
    if path.suffix == ".sqlite" and not store.database.is_sqlite:
        raise StoreError(
            f"'{path}': a store on PostgreSQL is copied into a .zip, which either engine takes in"
        )
    if path.suffix == ".zip":
        for spoilt in store.verify():
            raise StoreError(
                f"the store is not as it was stored, and nobody could take it in again: {spoilt}"
            )
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        held = _sqlite_copy(store, part) if path.suffix == ".sqlite" else _zipped(store, part)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.replace(path)
    except (OSError, sqlite3.Error) as error:
        raise StoreError(f"'{path}' cannot be written: {error}") from error
    finally:
        part.unlink(missing_ok=True)
    return held


def restore_store(path: Path, url: str) -> Held:
    """Take a backup into an empty store, all of it or nothing.

    Parameters
    ----------
    path : Path
        A zip that `backup` wrote.
    url : str
        Where; a store is made there if there is none.

    Returns
    -------
    Held

    Raises
    ------
    StoreError
        The store is not empty, or the file is no whole backup.
    """
    try:
        archive = zipfile.ZipFile(path)
    except (OSError, zipfile.BadZipFile) as error:
        raise StoreError(f"'{path}' cannot be read as a backup: {error}") from error
    with archive, open_store(url) as store:
        try:
            with store.database.writing() as connection:
                held = _taken_in(archive, connection)
                wrong = [*journal.broken(connection), *kept.spoilt(connection)]
                if wrong:
                    raise StoreError(f"{wrong[0][0]}: {wrong[0][1]}")
        except (
            OSError,
            zipfile.BadZipFile,
            zlib.error,
            SQLAlchemyError,
            ValueError,
            LookupError,
            TypeError,
        ) as error:
            raise StoreError(f"'{path}' is no whole backup, nothing was taken in: {error}") from error
    return held


def _sqlite_copy(store: Store, part: Path) -> Held:
    with store.database.reading() as connection:
        own = cast(sqlite3.Connection, connection.connection.dbapi_connection)
        held = _held(connection)  # read first: from here on the connection sees this one state
        os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        with closing(sqlite3.connect(part)) as target:
            target.execute("PRAGMA journal_mode = OFF")  # half a copy is thrown away, not rolled back
            own.backup(target)
    return held


def _held(connection: Connection) -> Held:
    tables = (facts, blobs, solutions, devices, settings)
    return Held(*(connection.scalar(select(func.count()).select_from(table)) or 0 for table in tables))


def _zipped(store: Store, part: Path) -> Held:
    descriptor = os.open(part, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600)  # names, places, hashes of tokens
    with (
        os.fdopen(descriptor, "wb") as file,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive,
        store.database.reading() as connection,
    ):
        return _written(archive, connection)


def _written(archive: zipfile.ZipFile, connection: Connection) -> Held:
    """Write every table out, never holding more than some rows of it."""
    counts = {}
    for table, label in ((facts, "facts"), (devices, "devices"), (settings, "settings")):
        with _entry(archive, f"{label}.jsonl") as out:
            counts[label] = _lines(out, _rows(connection, table))
    counts["files"] = 0
    for row in _rows(connection, blobs):
        with _entry(archive, f"blobs/{row['sha256']}") as out:
            out.write(row["data"])
        counts["files"] += 1
    counts["answers"] = 0
    heads = []
    for row in _rows(connection, solutions):
        counts["answers"] += 1
        with _entry(archive, f"solutions/{counts['answers']}") as out:
            out.write(row.pop("data"))
        heads.append(row)
    with _entry(archive, "solutions.jsonl") as out:
        _lines(out, iter(heads))
    with _entry(archive, "backup.json") as out:
        out.write(json.dumps({"format": FORMAT, "held": counts}, indent=1).encode())
    return Held(**counts)


def _entry(archive: zipfile.ZipFile, name: str) -> IO[bytes]:
    info = zipfile.ZipInfo(name, _WHEN)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = 0o600 << 16
    return archive.open(info, "w", force_zip64=True)


def _rows(connection: Connection, table: Table) -> Iterator[dict[str, Any]]:
    few = 16 if "data" in table.c else _AT_ONCE
    rows = connection.execution_options(yield_per=few).execute(
        select(table).order_by(*table.primary_key.columns)
    )
    return (dict(row._mapping) for row in rows)


def _lines(out: IO[bytes], rows: Iterator[dict[str, Any]]) -> int:
    count = 0
    for row in rows:
        if "body" in row:  # a fact stands in the file as itself; the columns beside it follow from it
            row = {"fact": json.loads(row["body"])} | {k: row[k] for k in ("ordinal", *_OF_THE_STORE)}
        told = {k: v.isoformat() if isinstance(v, datetime) else v for k, v in row.items()}
        out.write(json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode() + b"\n")
        count += 1
    return count


def _taken_in(archive: zipfile.ZipFile, connection: Connection) -> Held:
    told = json.loads(archive.read("backup.json"))
    if told["format"] != FORMAT:
        raise StoreError(f"its format is {told['format']!r}, and this program reads {FORMAT!r}")
    for table in (facts, blobs, solutions, devices, settings):
        if connection.execute(select(table).limit(1)).first() is not None:
            raise StoreError(
                "a backup is taken into an empty store only, and this one holds something already"
            )
    for some in _batches(map(_fact_row, _read_lines(archive, "facts.jsonl"))):
        connection.execute(facts.insert(), some)
    for table, label in ((devices, "devices"), (settings, "settings")):
        for some in _batches(_read_lines(archive, f"{label}.jsonl")):
            connection.execute(table.insert(), some)
    for name in archive.namelist():
        if name.startswith("blobs/"):
            kept.put_blob(connection, name.removeprefix("blobs/"), archive.read(name))
    for number, row in enumerate(_read_lines(archive, "solutions.jsonl"), 1):
        connection.execute(solutions.insert().values(**row, data=archive.read(f"solutions/{number}")))
    held = _held(connection)
    if held != Held(**told["held"]):
        raise StoreError(f"it should hold {told['held']}, and it holds {held}")
    return held


def _fact_row(line: Mapping[str, Any]) -> dict[str, Any]:
    fact = fact_from_wire(line["fact"])
    body = canonical_json(line["fact"]).decode()
    return journal.row_of(fact, body) | {k: line[k] for k in ("ordinal", *_OF_THE_STORE)}


def _read_lines(archive: zipfile.ZipFile, name: str) -> Iterator[dict[str, Any]]:
    with archive.open(name) as lines:
        for line in lines:
            row = json.loads(line)
            for name in _TIMES & row.keys():
                row[name] = row[name] and datetime.fromisoformat(row[name])
            yield row


def _batches(rows: Iterator[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    some: list[dict[str, Any]] = []
    for row in rows:
        some.append(row)
        if len(some) == _AT_ONCE:
            yield some
            some = []
    if some:
        yield some
