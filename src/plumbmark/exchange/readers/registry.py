"""Which reader a file is for: those of other packages first, for each knows one kind of log; then ours."""

from __future__ import annotations

import logging
from importlib.metadata import EntryPoint, entry_points
from typing import Final

from plumbmark.exchange.readers import delimited, gpx, nmea, photograph, workbook
from plumbmark.exchange.readers.log import MAX_BYTES, Log, LogError, Reader, told
from plumbmark.model.finding import Finding

GROUP: Final = "plumbmark.readers"
#: In the order they are asked; the last takes every text that is a table.
OWN: Final = (photograph.READER, workbook.READER, gpx.READER, nmea.READER, delimited.READER)
_log: Final = logging.getLogger("plumbmark.readers")


def read_log(name: str, data: bytes) -> Log:
    """Read a log, whatever its kind.

    Parameters
    ----------
    name : str
        Of the file.
    data : bytes

    Returns
    -------
    Log
        With a finding for each reader of another package that failed.

    Raises
    ------
    LogError
        No reader knows it, or it cannot be read; the message tells why.
    """
    if not data:
        raise LogError("is empty")
    if len(data) > MAX_BYTES:
        raise LogError(f"is {len(data):,} bytes, and at most {MAX_BYTES:,} are read: split it")
    failed: list[Finding] = []
    for entry in entry_points(group=GROUP):
        found = _asked(entry, name, data, failed)
        if found is not None:
            return _with(found, failed)
    for reader in OWN:
        if reader.reads(name, data):
            return _with(reader.read(name, data), failed)
    raise LogError(
        "is no kind of log that is read here (a table as CSV or XLSX, NMEA 0183, GPX, a photograph)"
    )


def _asked(entry: EntryPoint, name: str, data: bytes, failed: list[Finding]) -> Log | None:
    """What the reader of another package gives; what it does wrong is told and stops nobody."""
    try:
        reader = entry.load()
        if not isinstance(reader, Reader):
            raise TypeError(f"{entry.value} is not a Reader")
        if not reader.reads(name, data):
            return None
        found = reader.read(name, data)
        if not isinstance(found, Log) or not found.parts:
            raise TypeError("it gave no Log with a part")
    except LogError:
        raise
    except Exception as error:
        _log.exception("reader %s", entry.name)
        failed.append(told(name, f"the reader {entry.name} failed on it ({type(error).__name__}: {error})"))
        return None
    return found


def _with(found: Log, failed: list[Finding]) -> Log:
    return Log(found.kind, found.parts, (*failed, *found.findings), found.pictures)
