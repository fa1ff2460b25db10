"""One number that stands for everything a job was read from."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

from plumbmark.exchange.jobfolder.files import KNOWN


def job_digest(folder: Path) -> str:
    """SHA-256 over the files that a job is read from.

    Parameters
    ----------
    folder : Path
        Of a job that was read without an error.

    Returns
    -------
    str
        64 hexadecimal digits. It changes with the name or any byte of any file that is read, and with
        nothing else: not with a file's time, and not with files that are not read.

    Notes
    -----
    Hashed is, for each file in the order of names: its name, a zero byte, its length in decimal, a zero
    byte, its bytes.
    """
    paths = {name: folder / name for name in KNOWN}
    return files_digest({name: path.read_bytes() for name, path in paths.items() if path.is_file()})


def files_digest(files: Mapping[str, bytes]) -> str:
    """SHA-256 over the files of a job that are in memory: the same as `job_digest` of them in a folder.

    Parameters
    ----------
    files : mapping of str to bytes
        By name; those that are not read do not count.

    Returns
    -------
    str
    """
    digest = hashlib.sha256()
    for name in sorted(set(KNOWN) & set(files)):
        digest.update(name.encode() + b"\0" + str(len(files[name])).encode() + b"\0" + files[name])
    return digest.hexdigest()
