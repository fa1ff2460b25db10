"""The database under a store: opened, its tables made, one writer at a time, its errors in our words."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event, inspect, select, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, ProgrammingError

from plumbmark.base.errors import StoreError, StoreFullError
from plumbmark.store.tables import meta, metadata

#: How long a writer waits for another one [s]; long enough for any append, short enough to be told about.
WAIT_S: Final = 10
#: Steps from one version of the tables to the next: the first leads from 1 to 2. None yet.
STEPS: tuple[Callable[[Connection], None], ...] = ()
#: A number of ours among the locks of a PostgreSQL database.
_LOCK: Final = 0x706C756D62
_FORMS: Final = "sqlite:///FILE or postgresql://USER@HOST/DATABASE"


class Database:
    """An engine and the lock of its one writer.

    Attributes
    ----------
    engine : sqlalchemy.Engine
    name : str
        The address without its password, for messages.
    is_sqlite : bool
        Whether the store is a file.
    """

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.name = engine.url.render_as_string(hide_password=True)
        self.is_sqlite = engine.dialect.name == "sqlite"
        self._writer = engine.execution_options(plumbmark_writes=True)
        # On SQLite every transaction sees one state; PostgreSQL has to be asked for it.
        self._reader = (
            engine
            if self.is_sqlite
            else engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
        )
        self._lock = threading.Lock()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees one state of the store.

        Raises
        ------
        StoreError
            The database refused.
        """
        with self._in_our_words(), self._reader.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A connection that alone writes; what was done is on disk when the block has ended.

        Raises
        ------
        StoreFullError
            No room: nothing of the block was stored.
        StoreError
            The database refused: nothing of the block was stored.
        """
        with self._in_our_words(), self._lock, self._writer.connect() as connection, connection.begin():
            if not self.is_sqlite:
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
            yield connection

    @contextmanager
    def _in_our_words(self) -> Iterator[None]:
        try:
            yield
        except (IntegrityError, ProgrammingError):
            raise  # a mistake of ours, not of the machine
        except DBAPIError as error:
            cause = error.orig
            if _is_full(cause):
                raise StoreFullError(
                    f"the disk of the store {self.name} is full: nothing of this was stored; make room, then "
                    f"send it again"
                ) from error
            said = " ".join(str(cause).split())
            raise StoreError(f"the store {self.name} did not do what it was asked for: {said}") from error


def _is_full(cause: BaseException | None) -> bool:
    if isinstance(cause, sqlite3.Error):
        return getattr(cause, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL
    return getattr(cause, "sqlstate", None) == "53100"  # disk_full, PostgreSQL manual, appendix A


def open_database(address: str, *, create: bool = True) -> Database:
    """Open the database at an address, and bring its tables to this version.

    Parameters
    ----------
    address : str
        ``sqlite:///FILE`` or ``postgresql://USER@HOST/DATABASE``.
    create : bool
        Whether a store is made where there is none.

    Returns
    -------
    Database

    Raises
    ------
    StoreError
        An address that is none, no store there, something else there, or tables of a newer version.
    """
    url = _url(address)
    if url.get_backend_name() == "sqlite":
        engine = _sqlite(url, create)
    else:
        engine = _postgresql(url)
    database = Database(engine)
    try:
        _prepare(database, create)
    except BaseException:
        engine.dispose()
        raise
    return database


def _url(address: str) -> URL:
    try:
        url = make_url(address)
    except ArgumentError:
        raise StoreError(f"{address!r} is not the address of a store; one is {_FORMS}") from None
    if url.drivername in {"postgresql", "postgresql+psycopg"}:
        return url.set(drivername="postgresql+psycopg")
    if url.drivername != "sqlite":
        raise StoreError(f"the kind {url.drivername!r} is not one a store can be in; allowed is {_FORMS}")
    if not url.database or url.database == ":memory:" or url.database.startswith("file:") or url.query:
        raise StoreError(f"{address!r} names no plain file; a store in a file is sqlite:///FILE")
    return url


def _sqlite(url: URL, create: bool) -> Engine:
    path = Path(str(url.database))
    if not path.exists():
        if not create:
            raise StoreError(f"there is no store at '{path}'")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            # It will hold people's names and places; SQLite gives the files beside it the same rights.
            os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
        except OSError as error:
            raise StoreError(f"no store can be made at '{path}': {error.strerror or error}") from error
    engine = create_engine(url, connect_args={"timeout": WAIT_S})

    @event.listens_for(engine, "connect")
    def _set_up(connection: sqlite3.Connection, _: Any) -> None:
        connection.isolation_level = None  # BEGIN is ours to send
        for pragma in (
            f"busy_timeout = {WAIT_S * 1000}",
            "journal_mode = WAL",
            "synchronous = FULL",
            "foreign_keys = ON",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("plumbmark_writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _postgresql(url: URL) -> Engine:
    connecting = {
        "options": f"-c synchronous_commit=on -c lock_timeout={WAIT_S}s -c timezone=UTC",
        "client_encoding": "utf8",
        "connect_timeout": WAIT_S,
    }
    try:
        return create_engine(url, pool_pre_ping=True, connect_args=connecting)
    except ModuleNotFoundError as error:
        raise StoreError(
            "a store on PostgreSQL needs the extra `team`: pip install plumbmark[team]"
        ) from error


def _prepare(database: Database, create: bool) -> None:
    """Make the tables where there are none, and take the steps to this version."""
    newest = 1 + len(STEPS)
    with database.writing() as connection:
        there = set(inspect(connection).get_table_names())
        if "meta" not in there:
            if there & set(metadata.tables):
                raise StoreError(
                    f"{database.name} holds tables of something else; name a database of its own"
                )
            if not create:
                raise StoreError(f"there is no store at {database.name}")
            _only_utf8(connection)
            metadata.create_all(connection)
            connection.execute(meta.insert().values(name="schema", value=str(newest)))
            return
        value = connection.scalar(select(meta.c.value).where(meta.c.name == "schema"))
        if value is None or not value.isdecimal():
            raise StoreError(f"{database.name} is not a store, or a spoilt one: its version is {value!r}")
        version = int(value)
        if version > newest:
            raise StoreError(
                f"the store {database.name} was written by a newer plumbmark (its tables have version "
                f"{version}, this one knows up to {newest}): use that, nothing was changed"
            )
        for step in STEPS[version - 1 :]:
            step(connection)
        if version < newest:
            connection.execute(meta.update().where(meta.c.name == "schema").values(value=str(newest)))


def _only_utf8(connection: Connection) -> None:
    if connection.dialect.name == "sqlite":
        return
    encoding = connection.scalar(text("SHOW server_encoding"))
    if encoding != "UTF8":
        raise StoreError(
            f"the database keeps its text as {encoding}, and a store needs UTF8: make one that does"
        )
