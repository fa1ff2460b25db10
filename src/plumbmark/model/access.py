"""Who may ask a server: phones that were paired with it, and codes to pair another."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PairedDevice:
    """A phone that was paired; `revoked_at` is None while it may send. Times are ISO 8601 in UTC."""

    id: str
    name: str
    paired_at: str
    seen_at: str
    revoked_at: str | None


@dataclass(frozen=True, slots=True)
class DevicesBody:
    """Paired phones; `asking` is the one that asks, None at the server itself.

    `lan` tells whether phones can reach this server at all, `address` where.
    """

    devices: tuple[PairedDevice, ...]
    asking: str | None
    lan: bool
    address: str | None


@dataclass(frozen=True, slots=True)
class PairedBody:
    """A phone is paired from now on; its token came as a cookie that no page can read."""

    device: str
    name: str


@dataclass(frozen=True, slots=True)
class CodeBody:
    """A code that pairs one phone, and for how long it does."""

    code: str
    minutes: int
