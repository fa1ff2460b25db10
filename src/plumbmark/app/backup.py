"""Copy a store into a file, and take such a file into an empty store."""

from __future__ import annotations

from pathlib import Path

from plumbmark.app.solve import Outcome
from plumbmark.base.errors import StoreError
from plumbmark.store import open_store
from plumbmark.store.backup import Held, backup, restore_store


def backup_store(address: str, file: Path) -> Outcome:
    """Copy a store into a file; others may go on writing meanwhile.

    Parameters
    ----------
    address : str
        Of a store that is there: ``sqlite:///FILE`` or ``postgresql://USER@HOST/DATABASE``.
    file : Path
        Ending ``.zip`` or ``.sqlite``; never written over.

    Returns
    -------
    Outcome
        A copy that SQLite makes of a store that is not as it was stored is warned of.
    """
    try:
        with open_store(address, create=False) as store:
            held = backup(store, file)
            wrong = store.verify() if file.suffix == ".sqlite" else ()
    except StoreError as error:
        return Outcome(None, (str(error),))
    warnings = tuple(f"the store is not as it was stored, and so is its copy: {finding}" for finding in wrong)
    return Outcome(f"Copied: {_told(held)}.\n", (), warnings, (file,))


def restore_backup(file: Path, address: str) -> Outcome:
    """Take a backup into an empty store, all of it or nothing.

    Parameters
    ----------
    file : Path
        A zip that `backup_store` wrote.
    address : str
        Of the store; it is made if there is none.

    Returns
    -------
    Outcome
    """
    try:
        held = restore_store(file, address)
    except StoreError as error:
        return Outcome(None, (str(error),))
    return Outcome(
        f"Taken in: {_told(held)}.\nEvery fact, file and answer has its hash, and each chain is whole.\n"
    )


def _told(held: Held) -> str:
    """What a backup holds, in words.

    Examples
    --------
    >>> _told(Held(facts=1200, files=1, answers=0, devices=2, settings=1))
    '1,200 facts, 1 file, 0 answers as they were said, 2 devices, 1 setting'
    """
    named = [
        (held.facts, "fact", "facts"),
        (held.files, "file", "files"),
        (held.answers, "answer as it was said", "answers as they were said"),
        (held.devices, "device", "devices"),
        (held.settings, "setting", "settings"),
    ]
    return ", ".join(f"{count:,} {one if count == 1 else many}" for count, one, many in named)
