"""One number that stands for everything a job was read from."""

from __future__ import annotations

import hashlib
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
    digest = hashlib.sha256()
    for name in sorted(KNOWN):
        path = folder / name
        if path.is_file():
            data = path.read_bytes()
            digest.update(name.encode() + b"\0" + str(len(data)).encode() + b"\0" + data)
    return digest.hexdigest()
