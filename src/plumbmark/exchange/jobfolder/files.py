"""Getting at the files of a job folder: plain files of a sensible size inside it, and nothing else."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final

from plumbmark.exchange.jobfolder.remarks import Remarks

MAX_BYTES: Final = 64 * 1024 * 1024
JOB: Final = "job.toml"
TABLES: Final = (
    "readings.csv",
    "profiles.csv",
    "side_readings.csv",
    "test_holes.csv",
    "ties.csv",
    "passes.csv",
    "marks.csv",
    "owners.csv",
    "things.csv",
    "photos.csv",
)
DRAWINGS: Final = ("records.geojson", "dig.geojson")
NETWORK: Final = "network.toml"  # for the hook-up plan; a solve does not look at it
KNOWN: Final = (JOB, NETWORK, *TABLES, *DRAWINGS)
IGNORED: Final = ("truth.csv",)  # the truth of an invented site: none of the reader's business
_DATA_SUFFIXES: Final = (".csv", ".toml", ".geojson")


def survey_folder(folder: Path, remarks: Remarks) -> frozenset[str]:
    """Which of the known files are there to be read.

    Parameters
    ----------
    folder : Path
    remarks : Remarks
        Told of a missing folder or job file, of links that leave the folder, of known names that are no
        plain files, and of data files with unknown names.

    Returns
    -------
    frozenset of str
    """
    try:
        entries = sorted(os.scandir(folder), key=lambda entry: entry.name)
    except FileNotFoundError:
        remarks.error(str(folder), "there is no such folder")
        return frozenset()
    except NotADirectoryError:
        remarks.error(str(folder), "is not a folder (a job is a folder with job.toml in it)")
        return frozenset()
    except (OSError, ValueError) as error:
        remarks.error(str(folder), f"cannot be read ({_reason(error)})")
        return frozenset()
    names = {entry.name for entry in entries if _is_fit(entry, folder, remarks)}
    _tell_names(names, {entry.name for entry in entries}, remarks)
    return frozenset(names & set(KNOWN))


def survey_files(files: Mapping[str, bytes], remarks: Remarks) -> dict[str, bytes]:
    """Which of the known files are among some that are in memory, and fit to be read.

    Parameters
    ----------
    files : mapping of str to bytes
        By name; names with a slash are of files in folders of their own, which are not read.
    remarks : Remarks
        Told as by `survey_folder`, and of files that are too large.

    Returns
    -------
    dict of str to bytes
    """
    _tell_names((name for name in files if "/" not in name), files, remarks)
    fit: dict[str, bytes] = {}
    for name in KNOWN:
        if name in files and len(files[name]) > MAX_BYTES:
            remarks.error(name, _too_large(len(files[name])))
        elif name in files:
            fit[name] = files[name]
    return fit


def _tell_names(fit: Iterable[str], there: Iterable[str], remarks: Remarks) -> None:
    """Warn of data files with unknown names, miss the job file."""
    for name in sorted(set(fit) - {*KNOWN, *IGNORED}):
        if name.lower().endswith(_DATA_SUFFIXES):
            meant = f"; {name.lower()} is read" if name.lower() in KNOWN else ""
            remarks.warn(_printable(name), f"is not a file of a job folder, so it was not read{meant}")
    if JOB not in set(there):
        remarks.error(JOB, "is missing (a job folder needs one)")


def read_bytes(folder: Path, name: str, remarks: Remarks) -> bytes | None:
    """Content of one file, None (and an error) if it cannot be had or is too large."""
    try:
        # The link was followed before, so a file swapped for a link or pipe since then is refused.
        handle = os.open((folder / name).resolve(), os.O_RDONLY | os.O_NONBLOCK | os.O_NOFOLLOW)
        with open(handle, "rb") as stream:
            status = os.fstat(handle)
            if not stat.S_ISREG(status.st_mode):
                remarks.error(name, "is not a plain file")
                return None
            if status.st_size > MAX_BYTES:
                remarks.error(name, _too_large(status.st_size))
                return None
            data = stream.read(MAX_BYTES + 1)
    except OSError as error:
        remarks.error(name, f"cannot be read ({_reason(error)})")
        return None
    if len(data) > MAX_BYTES:
        remarks.error(name, _too_large(len(data)))
        return None
    return data


def decode(data: bytes, name: str, remarks: Remarks) -> str | None:
    """UTF-8 text with or without byte-order mark; None (and an error) for any other."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        remarks.error(name, "is UTF-16 text (save it as UTF-8)")
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        what = f"is not UTF-8 text: byte 0x{data[error.start]:02x} in line {row} (save it as UTF-8)"
        remarks.error(name, what)
        return None
    nul = text.find("\0")
    if nul >= 0:
        remarks.error(name, f"has a NUL byte in line {text.count(chr(10), 0, nul) + 1} (not a text file)")
        return None
    return text


def _is_fit(entry: os.DirEntry[str], folder: Path, remarks: Remarks) -> bool:
    name = _printable(entry.name)
    try:
        if entry.is_symlink():
            target = Path(entry.path).resolve()
            if not target.is_relative_to(folder.resolve()):
                remarks.error(name, "is a link that leaves the job folder (put the file itself there)")
                return False
            if not target.exists():
                remarks.error(name, "is a link to nothing")
                return False
        mode = entry.stat().st_mode
    except (OSError, RuntimeError) as error:
        remarks.error(name, f"cannot be read ({_reason(error)})")
        return False
    if stat.S_ISREG(mode):
        return True
    if not stat.S_ISDIR(mode) or entry.name in KNOWN:
        remarks.error(name, "is not a plain file")
    return False


def _too_large(size: int) -> str:
    return f"is {size:,} bytes, and at most {MAX_BYTES:,} (64 MiB) are read"


def _reason(error: BaseException) -> str:
    return (error.strerror if isinstance(error, OSError) and error.strerror else str(error)).lower()


def _printable(name: str) -> str:
    return name if name.isprintable() else ascii(name)[1:-1]
