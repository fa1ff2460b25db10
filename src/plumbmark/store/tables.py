"""The tables of a store, the same on SQLite and on PostgreSQL.

A fact stands in `facts.body` as the canonical JSON that its hash is made of; the columns beside it are copies
to find it by, and `Store.verify` compares them.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    DateTime,
    Dialect,
    Float,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.types import TypeDecorator


class UtcTime(TypeDecorator[datetime]):
    """A time with its offset. SQLite forgets offsets, so times are brought to UTC and are UTC when read."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Bring a time to UTC.

        Raises
        ------
        ValueError
            A time without an offset: nobody could say when it was.
        """
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"the time {value.isoformat()} has no offset")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give a time back in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


metadata: Final = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

facts: Final = Table(
    "facts",
    metadata,
    # Counted under the writer's lock, not by a sequence: whoever has read up to a number has missed none.
    Column("ordinal", BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=False),
    Column("id", Text, nullable=False, unique=True),
    Column("job", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("device", Text, nullable=False),
    Column("seq", BigInteger, nullable=False),
    Column("hash", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("received_at", UtcTime, nullable=False),
    Column("clock_offset_s", Float, nullable=False),
    Column("late", Boolean, nullable=False),
    Column("origin", Text, nullable=False),
    UniqueConstraint("device", "seq"),
    Index(None, "job", "ordinal"),
)
_FREEZES: Final = facts.c.kind.in_(["freeze", "reopen"])
Index("ix_facts_freezes", facts.c.job, facts.c.ordinal, sqlite_where=_FREEZES, postgresql_where=_FREEZES)

blobs: Final = Table(
    "blobs",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("data", LargeBinary, nullable=False),
)

solutions: Final = Table(
    "solutions",
    metadata,
    Column("job", Text, primary_key=True),
    Column("digest", Text, primary_key=True),
    Column("version", Text, primary_key=True),
    Column("what", Text, primary_key=True),
    Column("said_at", UtcTime, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("size", Integer, nullable=False),
    Column("data", LargeBinary, nullable=False),
)

devices: Final = Table(
    "devices",
    metadata,
    Column("id", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("token_hash", Text, nullable=False, unique=True),
    Column("paired_at", UtcTime, nullable=False),
    Column("seen_at", UtcTime, nullable=False),
    Column("revoked_at", UtcTime),
)

pairings: Final = Table(
    "pairings",
    metadata,
    Column("code_hash", Text, primary_key=True),
    Column("expires_at", UtcTime, nullable=False),
)

settings: Final = Table(
    "settings",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)

#: What the store knows of itself: `schema`, the version of these tables.
meta: Final = Table(
    "meta",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)
