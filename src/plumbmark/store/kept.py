"""What a store keeps beside facts: photographs and plans, answers as they were said, devices, settings."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

from sqlalchemy import Connection, select

from plumbmark.base.errors import PairingError, StoreError
from plumbmark.store.tables import blobs, devices, pairings, settings, solutions

#: A pairing code: nobody takes one of these letters or figures for another, not even in the sun.
_LETTERS: Final = "23456789ABCDEFGHJKMNPQRTUVWXYZ"
_LENGTH: Final = 8
PAIRING_LASTS: Final = timedelta(minutes=10)
#: When a device was last seen is noted no more often than this.
_SEEN_EVERY: Final = timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class Said:
    """An answer as it was said.

    Attributes
    ----------
    job, digest : str
        The job, and the digest of its files.
    version : str
        Of the program that said it.
    what : str
        Which of its answers: ``answer``, ``clearance`` and so on.
    at : datetime
        In UTC.
    size : int, [bytes]
    """

    job: str
    digest: str
    version: str
    what: str
    at: datetime
    size: int


@dataclass(frozen=True, slots=True)
class Device:
    """A phone that was paired; times are in UTC, `revoked_at` is None while it may send."""

    id: str
    name: str
    paired_at: datetime
    seen_at: datetime
    revoked_at: datetime | None


def plain(text: str, what: str) -> str:
    """A text that both engines can hold.

    Raises
    ------
    StoreError
        A NUL in it, or half of a surrogate pair.

    Examples
    --------
    >>> plain("R. Vale", "the name")
    'R. Vale'
    """
    if "\0" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        raise StoreError(f"{what} {text!r:.80} holds a character that is none: write it without")
    return text


def is_uuid(text: str) -> bool:
    """Whether a text is a UUID as devices write theirs.

    Examples
    --------
    >>> is_uuid("00000000-0000-4000-8000-00000000000a"), is_uuid("desk")
    (True, False)
    """
    try:
        return str(UUID(text)) == text
    except ValueError:
        return False


def put_blob(connection: Connection, sha256: str, data: bytes) -> None:
    """Keep bytes under their SHA-256; twice is once."""
    found = hashlib.sha256(data).hexdigest()
    if sha256 != found:
        raise StoreError(f"the file is not what was announced: its SHA-256 is {found}, not {sha256!r:.70}")
    if not has_blob(connection, sha256):
        connection.execute(blobs.insert().values(sha256=sha256, data=data))


def has_blob(connection: Connection, sha256: str) -> bool:
    """Whether bytes with this SHA-256 are kept."""
    return connection.scalar(select(blobs.c.sha256).where(blobs.c.sha256 == sha256)) is not None


def remember(connection: Connection, said: Said, data: bytes) -> None:
    """Keep an answer, unless there is one of the same kind, digest and version: that stays."""
    if recalled(connection, said.job, said.digest, said.version, said.what) is None:
        connection.execute(
            solutions.insert().values(
                job=said.job,
                digest=said.digest,
                version=said.version,
                what=said.what,
                said_at=said.at,
                sha256=hashlib.sha256(data).hexdigest(),
                size=len(data),
                data=data,
            )
        )


def recalled(
    connection: Connection, job: str, digest: str, version: str, what: str
) -> tuple[Said, bytes] | None:
    """The answer with the same job, digest, version and kind."""
    row = connection.execute(
        select(solutions.c.said_at, solutions.c.data).where(
            solutions.c.job == job,
            solutions.c.digest == digest,
            solutions.c.version == version,
            solutions.c.what == what,
        )
    ).first()
    if row is None:
        return None
    return Said(job, digest, version, what, row.said_at, len(row.data)), row.data


def all_said(connection: Connection, job: str) -> list[Said]:
    """What was said of a job, the earliest first."""
    rows = connection.execute(
        select(
            solutions.c.job,
            solutions.c.digest,
            solutions.c.version,
            solutions.c.what,
            solutions.c.said_at,
            solutions.c.size,
        )
        .where(solutions.c.job == job)
        .order_by(solutions.c.said_at, solutions.c.digest, solutions.c.version, solutions.c.what)
    )
    return [Said(*row) for row in rows]


def new_pairing(connection: Connection, at: datetime) -> str:
    """A code that pairs one device within ten minutes; only its hash is kept."""
    connection.execute(pairings.delete().where(pairings.c.expires_at < at))
    code = "".join(secrets.choice(_LETTERS) for _ in range(_LENGTH))
    connection.execute(pairings.insert().values(code_hash=_hash(code), expires_at=at + PAIRING_LASTS))
    return f"{code[:4]}-{code[4:]}"


def pair(connection: Connection, code: str, device: str, name: str, at: datetime) -> str:
    """Use a code up; the token by which the device is known from now on, of which only the hash is kept."""
    typed = "".join(letter for letter in code.upper() if letter.isalnum())
    expires_at = connection.scalar(select(pairings.c.expires_at).where(pairings.c.code_hash == _hash(typed)))
    connection.execute(pairings.delete().where(pairings.c.code_hash == _hash(typed)))
    if expires_at is None or at > expires_at:
        raise PairingError(
            "this pairing code was never given out, was used already, or is older than ten minutes: have a "
            "new one shown and type that"
        )
    if not is_uuid(device):
        raise PairingError(f"a device is named by a UUID in lower case, and {device!r:.60} is none")
    token = secrets.token_urlsafe(32)
    connection.execute(devices.delete().where(devices.c.id == device))  # paired anew: the old token ends
    connection.execute(
        devices.insert().values(
            id=device,
            name=plain(name, "the name"),
            token_hash=_hash(token),
            paired_at=at,
            seen_at=at,
            revoked_at=None,
        )
    )
    return token


def device_of(connection: Connection, token: str, at: datetime) -> tuple[str | None, bool]:
    """The device of a token, None where it does not count; and whether to note that it was seen."""
    row = connection.execute(
        select(devices.c.id, devices.c.seen_at).where(
            devices.c.token_hash == _hash(token), devices.c.revoked_at.is_(None)
        )
    ).first()
    return (None, False) if row is None else (row.id, at - row.seen_at > _SEEN_EVERY)


def seen(connection: Connection, device: str, at: datetime) -> None:
    """Note when a device was last seen."""
    connection.execute(devices.update().where(devices.c.id == device).values(seen_at=at))


def revoke(connection: Connection, device: str, at: datetime) -> bool:
    """End a device's token; False where no such device has one."""
    done = connection.execute(
        devices.update().where(devices.c.id == device, devices.c.revoked_at.is_(None)).values(revoked_at=at)
    )
    return done.rowcount > 0


def all_devices(connection: Connection) -> list[Device]:
    """Every device that was ever paired, by name."""
    columns = (devices.c.id, devices.c.name, devices.c.paired_at, devices.c.seen_at, devices.c.revoked_at)
    found = [Device(*row) for row in connection.execute(select(*columns))]
    return sorted(found, key=lambda device: (device.name, device.id))


def set_setting(connection: Connection, name: str, value: str) -> None:
    """Keep a setting in place of the one of its name."""
    connection.execute(settings.delete().where(settings.c.name == name))
    connection.execute(
        settings.insert().values(name=plain(name, "the name"), value=plain(value, "the setting"))
    )


def spoilt(connection: Connection) -> list[tuple[str, str]]:
    """Bytes that are no longer what was kept: where, and what."""
    found = []
    for table, label in ((blobs, "file"), (solutions, "answer")):
        rows = connection.execution_options(yield_per=16).execute(select(table.c.sha256, table.c.data))
        found += [
            (f"{label} {row.sha256}", "is not what was stored: its SHA-256 is another")
            for row in rows
            if hashlib.sha256(row.data).hexdigest() != row.sha256
        ]
    return found


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode(errors="replace")).hexdigest()
