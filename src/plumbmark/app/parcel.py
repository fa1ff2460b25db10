"""A job's files as they are dropped on the page: a zip, or files one by one, bounded in every way."""

from __future__ import annotations

import io
import lzma
import zipfile
import zlib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from plumbmark.base.errors import PlumbmarkError

MIB: Final = 2**20
MOST_BYTES: Final = 64 * MIB
MOST_FILES: Final = 2000
#: Folders in folders, the job's own counted.
MOST_DEEP: Final = 4
#: What is packed smaller than this is packed to do harm: tables of numbers come to a tenth, one row over and
#: over to some three hundredth.
MOST_RATIO: Final = 1000
_RATIO_FROM: Final = MIB
JOB: Final = "job.toml"
#: What unpacking raises on a zip that is none, is spoilt (by bzip2 as an OSError), locked or packed oddly.
_SPOILT: Final = (
    *(zipfile.BadZipFile, zlib.error, lzma.LZMAError, OSError, EOFError),
    *(NotImplementedError, RuntimeError, ValueError),
)
#: What systems lay beside files of their own accord.
_CLUTTER: Final = (".DS_Store", "Thumbs.db", "desktop.ini")


class ParcelError(PlumbmarkError):
    """Files that are not taken in, and why."""


def unpacked(data: bytes) -> dict[str, bytes]:
    """The files of a zip, by their names in the job's folder.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    dict of str to bytes

    Raises
    ------
    ParcelError
        It is no zip, is spoilt or locked, or holds too much, links, or names that no job has.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as parcel:
            return as_job(list(_members(parcel)))
    except _SPOILT as error:
        raise ParcelError(f"the zip cannot be read ({error}); pack it again") from error


def as_job(files: Sequence[tuple[str, bytes]]) -> dict[str, bytes]:
    """Files with the names they came by, as those of one job's folder.

    Parameters
    ----------
    files : sequence of (str, bytes)
        Names may have a folder round all of them, which is taken off.

    Returns
    -------
    dict of str to bytes

    Raises
    ------
    ParcelError
        There is no `job.toml` or there are several, a name leads out of the folder or comes twice, or it is
        too much.

    Examples
    --------
    >>> as_job([("alder/job.toml", b""), ("alder/photos/1.jpg", b"..")])
    {'job.toml': b'', 'photos/1.jpg': b'..'}
    """
    if len(files) > MOST_FILES:
        raise ParcelError(f"there are {len(files):,} files, and at most {MOST_FILES:,} are taken in")
    total = sum(len(data) for _, data in files)
    if total > MOST_BYTES:
        raise ParcelError(_too_much(total))
    named = [(_name(name), data) for name, data in files]
    named = [(name, data) for name, data in named if name[-1] not in _CLUTTER and "__MACOSX" not in name]
    roots = [name[:-1] for name, _ in named if name[-1] == JOB]
    if not roots:
        raise ParcelError(f"there is no {JOB} among the files: a job is a folder with one in it")
    if len(roots) > 1:
        where = ", ".join("/".join((*root, JOB)) for root in roots[:4])
        raise ParcelError(f"there are several jobs in it ({where}): bring them one by one")
    root = roots[0]
    found: dict[str, bytes] = {}
    folded: set[str] = set()
    for name, data in named:
        if name[: len(root)] != root:
            raise ParcelError(f"'{_shown(name)}' lies outside of the job's folder '{_shown(root)}'")
        inside = "/".join(name[len(root) :])
        if inside.lower() in folded:
            raise ParcelError(f"'{inside}' is there twice, small and capital letters not told apart")
        folded.add(inside.lower())
        found[inside] = data
    return found


def folder_files(folder: Path) -> dict[str, bytes]:
    """All files of a job's folder on this machine.

    Raises
    ------
    ParcelError
        As `as_job`; a link among them, or a file that cannot be read.
    """
    files: list[tuple[str, bytes]] = []
    total = 0
    try:
        for path in sorted(folder.rglob("*")):
            if path.is_symlink():
                raise ParcelError(f"'{path}' is a link (put the file itself there)")
            if path.is_file():
                total += path.stat().st_size
                if total > MOST_BYTES:
                    raise ParcelError(_too_much(total))
                files.append((path.relative_to(folder).as_posix(), path.read_bytes()))
            if len(files) > MOST_FILES:
                raise ParcelError(f"'{folder}' has more than {MOST_FILES:,} files in it")
    except OSError as error:
        raise ParcelError(f"'{folder}' cannot be read: {error.strerror or error}") from error
    if not any(name == JOB for name, _ in files):
        raise ParcelError(f"'{folder}' has no {JOB} in it, so it is not the folder of a job")
    return as_job(files)


def _members(parcel: zipfile.ZipFile) -> Iterable[tuple[str, bytes]]:
    """Files of a zip, never more of them in memory than is allowed, whatever its list of contents claims."""
    members = [member for member in parcel.infolist() if not member.is_dir()]
    if len(members) > MOST_FILES:
        raise ParcelError(
            f"there are {len(members):,} files in the zip, and at most {MOST_FILES:,} are taken"
        )
    left = MOST_BYTES
    for member in members:
        kind = member.external_attr >> 28  # the kind of file, where a system of that family packed it
        if kind not in (0, 8):
            raise ParcelError(f"'{_printable(member.filename)}' is a link or device, not a plain file")
        if member.flag_bits & 1:
            raise ParcelError(f"'{_printable(member.filename)}' is locked by a password; pack it without")
        with parcel.open(member) as file:
            data = file.read(left + 1)
        if len(data) > left:
            raise ParcelError(_too_much(max(MOST_BYTES + 1, sum(m.file_size for m in members))))
        if len(data) > _RATIO_FROM and len(data) > MOST_RATIO * max(member.compress_size, 1):
            raise ParcelError(f"'{_printable(member.filename)}' is packed smaller than any job's file can be")
        left -= len(data)
        yield member.filename, data


def _name(name: str) -> tuple[str, ...]:
    """The parts of a name, if it stays where it is put."""
    parts = name.replace("\\", "/").split("/")
    bad = any(part in ("", ".", "..") for part in parts) or not name.isprintable()
    if bad or ":" in parts[0] or any(len(part.encode(errors="replace")) > 255 for part in parts):
        raise ParcelError(f"'{_printable(name)}' is not the name of a file inside a job's folder")
    if len(parts) - 1 > MOST_DEEP:
        raise ParcelError(f"'{_printable(name)}' lies more than {MOST_DEEP} folders deep")
    return tuple(parts)


def _shown(parts: Sequence[str]) -> str:
    return "/".join(parts)


def _printable(name: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in name[:200])


def _too_much(total: int) -> str:
    return f"the files come to {total / MIB:,.1f} MiB unpacked, and at most {MOST_BYTES // MIB} are taken in"
