"""Opening the journal that a server works on, and bringing folders in as it starts."""

from __future__ import annotations

import os
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

from plumbmark.app import journal
from plumbmark.app.parcel import JOB, ParcelError, folder_files
from plumbmark.base.errors import StoreError
from plumbmark.model.finding import Severity
from plumbmark.store import Store, open_store


@dataclass(frozen=True, slots=True)
class Opened:
    """A folder that was brought in, or whose job was there: its id, and what is to be said."""

    job: str
    words: str


def open_journal(url: str) -> Store:
    """Open a store, and make it where there is none.

    Raises
    ------
    StoreError
        It cannot be opened.
    """
    return open_store(url)


def data_folder() -> Path:
    """The folder of the user's own for what this program keeps, which is made.

    Raises
    ------
    StoreError
        It cannot be made.
    """
    if "XDG_DATA_HOME" in os.environ:
        base = Path(os.environ["XDG_DATA_HOME"])
    elif sys.platform == "win32" and "LOCALAPPDATA" in os.environ:
        base = Path(os.environ["LOCALAPPDATA"])
    else:
        base = Path.home() / ".local" / "share"
    folder = base / "plumbmark"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"the folder '{folder}' for the journal cannot be made ({error.strerror}); name a store with "
            "--store sqlite:///PATH"
        ) from error
    return folder


def default_store() -> str:
    """Address of the store where nobody names one: a file in the user's data folder.

    Raises
    ------
    StoreError
        The folder cannot be made.
    """
    return f"sqlite:///{data_folder() / 'journal.db'}"


def open_folder(store: Store, folder: Path, by: str) -> Opened:
    """Bring in a folder, unless its job is there already.

    Parameters
    ----------
    store : Store
    folder : Path
    by : str
        Who brings it.

    Returns
    -------
    Opened

    Raises
    ------
    ParcelError
        It is not the folder of a job, or cannot be read.
    """
    files = folder_files(folder)
    there = _id_in(files)
    if there is not None and there in store.jobs():
        return Opened(there, f"Job {there} is in the journal already, so '{folder}' was not brought in again")
    outcome = journal.import_files(store, files, by)
    if outcome.job is None:
        said = "; ".join(str(f) for f in outcome.findings if f.severity is Severity.ERROR)
        raise ParcelError(f"'{folder}' cannot be brought in: {said}")
    return Opened(outcome.job, f"Job {outcome.job} was brought in from '{folder}'")


def _id_in(files: dict[str, bytes]) -> str | None:
    try:
        said = tomllib.loads(files[JOB].decode("utf-8-sig")).get("job", {})
    except (ValueError, AttributeError):
        return None
    found = said.get("id") if isinstance(said, dict) else None
    return found if isinstance(found, str) else None
