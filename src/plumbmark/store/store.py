"""The store: a journal of facts, and what is kept beside it, in one database."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime
from types import TracebackType

from sqlalchemy import func, select, text

from plumbmark.base.errors import StoreError
from plumbmark.model.fact import Draft, Fact
from plumbmark.model.finding import Finding, Severity
from plumbmark.store import journal, kept
from plumbmark.store.database import Database, open_database
from plumbmark.store.journal import Arrival, Receipt, StoredFact
from plumbmark.store.kept import Device, Said, plain
from plumbmark.store.tables import blobs, facts, settings
from plumbmark.store.together import Together


def open_store(url: str, *, create: bool = True) -> Store:
    """Open a store, and make it where there is none.

    Parameters
    ----------
    url : str
        ``sqlite:///FILE`` or ``postgresql://USER@HOST/DATABASE``.
    create : bool
        False: a store that is not there is an error.

    Returns
    -------
    Store

    Raises
    ------
    StoreError
        An address that is none, no store there, something else there, or a store of a newer version.
    """
    return Store(open_database(url, create=create))


class Store:
    """A journal of facts with photographs, answers, devices and settings; open one with `open_store`.

    Any number of threads may use one store at a time, and any number of processes may open the same. What a
    writing method was asked for is on disk when it returns, or it raises and nothing of it is there:
    `StoreFullError` where the disk is full, `StoreError` where the database refuses.
    """

    def __init__(self, database: Database) -> None:
        self.database = database
        self._together = Together(database)
        #: Held by whoever reads facts to decide what the desk writes down: two taps on one button are one.
        self.at_the_desk = threading.Lock()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.database.engine.dispose()

    # -- the journal

    def append(
        self,
        facts: Sequence[Fact],
        *,
        received_at: datetime,
        clock_offset_s: float = 0.0,
        origin: str = "",
    ) -> list[Receipt]:
        """Take in facts that devices sent, all in one transaction: when this returns they are on the disk.

        Parameters
        ----------
        facts : sequence of Fact
            Those of one device in the order of their chain.
        received_at : datetime
            With its offset, by the store's clock.
        clock_offset_s : float, [s]
            Store's clock minus the device's.
        origin : str
            Where they came from, in words.

        Returns
        -------
        list of Receipt
            One for each fact, in the order given. A fact that is there already is fine. Refused is one whose
            hash is wrong, whose id is taken by another, or which does not continue its device's chain; later
            facts of that device are refused with it, facts of other devices are not. Facts for a frozen job
            are stored and marked late, but for a reopening and who was told.
        """
        return self._together.append(facts, Arrival(received_at, clock_offset_s, plain(origin, "the origin")))

    def write_down(
        self, drafts: Sequence[Draft], *, received_at: datetime | None = None, origin: str = ""
    ) -> list[Fact]:
        """Seal drafts into the chain of the store's own desk and store them, all or none.

        Parameters
        ----------
        drafts : sequence of Draft
        received_at : datetime, optional
            Now, if not given.
        origin : str

        Returns
        -------
        list of Fact

        Raises
        ------
        FactError
            Something in a draft cannot stand in a fact.
        """
        with self.database.writing() as connection:
            arrival = Arrival(received_at or _now(), 0.0, plain(origin, "the origin"))
            return journal.write_down(connection, drafts, arrival)

    def facts(self, job: str, after: int = 0) -> list[StoredFact]:
        """Facts of a job, those that came in after an order number, in the order they came in."""
        with self.database.reading() as connection:
            return journal.stored(
                connection, select(facts).where(facts.c.job == job, facts.c.ordinal > after)
            )

    def all_after(self, order: int, limit: int) -> list[StoredFact]:
        """The first facts of all jobs after an order number, at most `limit`.

        Order numbers have no gaps, and whoever was given one has been given all below it.
        """
        with self.database.reading() as connection:
            return journal.stored(connection, select(facts).where(facts.c.ordinal > order).limit(limit))

    def jobs(self) -> list[str]:
        """Ids of all jobs, in the order of their first facts."""
        with self.database.reading() as connection:
            return list(
                connection.scalars(
                    select(facts.c.job).group_by(facts.c.job).order_by(func.min(facts.c.ordinal))
                )
            )

    def last_of(self, device: str) -> tuple[int, str]:
        """Number and hash of a device's last fact; 0 and an empty text where it has none."""
        with self.database.reading() as connection:
            return journal.last_of(connection, device)

    def is_frozen(self, job: str) -> bool:
        """Whether facts that come in for a job now are marked late."""
        with self.database.reading() as connection:
            return journal.is_frozen(connection, job)

    def verify(self) -> tuple[Finding, ...]:
        """Everything in the store that is not as it was stored.

        Returns
        -------
        tuple of Finding
            Empty where each fact, file and answer has its hash and each chain is whole. Facts taken off the
            end of the journal do not show: only the devices know that they had written more.
        """
        with self.database.reading() as connection:
            found = [*journal.broken(connection), *kept.spoilt(connection)]
            if self.database.is_sqlite:
                said = connection.scalars(text("PRAGMA integrity_check"))
                found += [("database", str(what)) for what in said if what != "ok"]
        return tuple(Finding(Severity.ERROR, where, what) for where, what in found)

    # -- files

    def put_blob(self, sha256: str, data: bytes) -> None:
        """Keep a file under its SHA-256; twice is once.

        Raises
        ------
        StoreError
            The SHA-256 is not that of the data.
        """
        with self.database.writing() as connection:
            kept.put_blob(connection, sha256, data)

    def blob(self, sha256: str) -> bytes:
        """A file by its SHA-256.

        Raises
        ------
        StoreError
            There is none.
        """
        with self.database.reading() as connection:
            data: bytes | None = connection.scalar(select(blobs.c.data).where(blobs.c.sha256 == sha256))
        if data is None:
            raise StoreError(f"no file with the SHA-256 {sha256!r:.70} has come in yet")
        return data

    def has_blob(self, sha256: str) -> bool:
        """Whether a file with this SHA-256 is there."""
        with self.database.reading() as connection:
            return kept.has_blob(connection, sha256)

    # -- answers as they were said

    def remember(self, job: str, digest: str, version: str, what: str, at: datetime, data: bytes) -> None:
        """Keep an answer as it was said. One with the same job, digest, version and kind stays as it is."""
        said = Said(job, digest, plain(version, "the version"), plain(what, "the kind"), at, len(data))
        with self.database.writing() as connection:
            kept.remember(connection, said, data)

    def recalled(self, job: str, digest: str, version: str, what: str) -> tuple[Said, bytes] | None:
        """An answer that was said before, with when; None where there is none."""
        with self.database.reading() as connection:
            return kept.recalled(connection, job, digest, version, what)

    def said(self, job: str) -> list[Said]:
        """What was said of a job, the earliest first."""
        with self.database.reading() as connection:
            return kept.all_said(connection, job)

    # -- devices

    def new_pairing(self, *, at: datetime | None = None) -> str:
        """A code to type into one device within ten minutes, as ``K7QP-3MXT``."""
        with self.database.writing() as connection:
            return kept.new_pairing(connection, at or _now())

    def pair(self, code: str, *, device: str, name: str = "", at: datetime | None = None) -> str:
        """Use a pairing code up.

        Parameters
        ----------
        code : str
            As typed: small letters, blanks and the dash do not matter.
        device : str
            The UUID under which the device writes its facts.
        name : str
            What people call it.
        at : datetime, optional
            Now, if not given.

        Returns
        -------
        str
            The token by which the device is known; only its hash is kept. An earlier one of the device ends.

        Raises
        ------
        PairingError
            The code was never given out, was used, or is older than ten minutes.
        """
        with self.database.writing() as connection:
            token = kept.pair(connection, code, device, name, at or _now())
        return token

    def device_of(self, token: str, *, at: datetime | None = None) -> str | None:
        """The device of a token, None where it was revoked or never given; notes that it was seen."""
        now = at or _now()
        with self.database.reading() as connection:
            device, to_note = kept.device_of(connection, token, now)
        if device is not None and to_note:
            # A disk without room for this note is no reason to send a phone away.
            with suppress(StoreError), self.database.writing() as connection:
                kept.seen(connection, device, now)
        return device

    def revoke(self, device: str, *, at: datetime | None = None) -> bool:
        """End a device's token, for good; False where the device has none."""
        with self.database.writing() as connection:
            return kept.revoke(connection, device, at or _now())

    def devices(self) -> list[Device]:
        """Every device that was ever paired, by name."""
        with self.database.reading() as connection:
            return kept.all_devices(connection)

    # -- settings

    def setting(self, name: str) -> str | None:
        """A setting, None where nobody has set it."""
        with self.database.reading() as connection:
            return connection.scalar(select(settings.c.value).where(settings.c.name == name))

    def set_setting(self, name: str, value: str) -> None:
        """Keep a setting in place of the one of its name."""
        with self.database.writing() as connection:
            kept.set_setting(connection, name, value)


def _now() -> datetime:
    return datetime.now(UTC)
