"""Phones that may ask a server: pair one, list them, end one."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Final

from plumbmark.app.solve import Outcome
from plumbmark.base.errors import StoreError
from plumbmark.model.access import CodeBody, PairedDevice
from plumbmark.store import Store, open_store
from plumbmark.store.kept import PAIRING_LASTS

MINUTES: Final = int(PAIRING_LASTS.total_seconds() // 60)


def new_code(store: Store) -> CodeBody:
    """A code that pairs one phone."""
    return CodeBody(store.new_pairing(), MINUTES)


def pair(store: Store, code: str, device: str, name: str) -> str:
    """Use a code up.

    Parameters
    ----------
    store : Store
    code : str
        As typed.
    device : str
        UUID under which the phone writes its facts.
    name : str
        What people call it.

    Returns
    -------
    str
        The token by which it is known; the store keeps its hash only.

    Raises
    ------
    PairingError
        The code was never given out, was used, or is too old.
    """
    return store.pair(code, device=device, name=name)


def device_of(store: Store, token: str) -> str | None:
    """The device of a token, None where it does not count."""
    return store.device_of(token)


def listed(store: Store) -> tuple[PairedDevice, ...]:
    """Every phone that was ever paired, by name."""
    return tuple(
        PairedDevice(
            d.id,
            d.name,
            _time(d.paired_at),
            _time(d.seen_at),
            None if d.revoked_at is None else _time(d.revoked_at),
        )
        for d in store.devices()
    )


def revoke(store: Store, device: str) -> bool:
    """End a phone's token at once; False where it has none."""
    return store.revoke(device)


def tell_devices(url: str) -> Outcome:
    """All phones that were paired with a store, as lines of text."""
    try:
        with open_store(url, create=False) as store:
            rows = [_line(device) for device in listed(store)]
    except StoreError as error:
        return Outcome(None, (str(error),))
    return Outcome("\n".join(rows or ["No phone was paired with this store yet."]) + "\n")


def revoke_device(url: str, device: str) -> Outcome:
    """End the token of a phone, named by its id or by a name that no other has."""
    try:
        with open_store(url, create=False) as store:
            counting = [d for d in listed(store) if d.revoked_at is None]
            found = [d for d in counting if device in (d.id, d.name)]
            if len(found) != 1:
                why = "several phones have that name: say which by its id" if found else "no paired phone is"
                return Outcome(None, (f"'{device}': {why}; `plumbmark devices` lists them",))
            revoke(store, found[0].id)
    except StoreError as error:
        return Outcome(None, (str(error),))
    said = f"{found[0].name or found[0].id} is refused from now on. What it had sent stays.\n"
    return Outcome(said)


def tell_code(url: str) -> Outcome:
    """A new pairing code, as text."""
    try:
        with open_store(url, create=False) as store:
            made = new_code(store)
    except StoreError as error:
        return Outcome(None, (str(error),))
    return Outcome(f"{made.code}\nPairs one phone within {made.minutes} minutes.\n")


def token_for_script(url: str, name: str) -> Outcome:
    """A device for a program that asks the server, with its id and token, told this once."""
    device = str(uuid.uuid4())
    try:
        with open_store(url, create=False) as store:
            token = pair(store, store.new_pairing(), device, name)
    except StoreError as error:
        return Outcome(None, (str(error),))
    return Outcome(
        f"device {device}\ntoken  {token}\nSend it as `Authorization: Bearer`. It is not told again.\n"
    )


def _time(at: datetime) -> str:
    return at.isoformat(timespec="seconds")


def _line(device: PairedDevice) -> str:
    """One phone in a line.

    Examples
    --------
    >>> _line(PairedDevice("id-1", "Van 2", "2026-11-25T14:03:22+00:00", "2026-11-26T08:00:00+00:00", None))
    'id-1  Van 2, paired 2026-11-25, last seen 2026-11-26'
    """
    end = f", refused since {device.revoked_at[:10]}" if device.revoked_at else ""
    name = device.name or "without a name"
    return f"{device.id}  {name}, paired {device.paired_at[:10]}, last seen {device.seen_at[:10]}{end}"
