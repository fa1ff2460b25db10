"""Lines out of files of other programs, as they stand there, before anything is made of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from plumbmark.base.errors import PlumbmarkError

Path2 = tuple[tuple[float, float], ...]

MAX_LINES: Final = 100_000
MAX_TEXT_BYTES: Final = 64 * 1024 * 1024
MAX_BYTES: Final = 1024 * 1024 * 1024


class UnreadableFileError(PlumbmarkError, ValueError):
    """A file that is not what its ending says, or that is too large."""


@dataclass(frozen=True, slots=True)
class LineIn:
    """One line.

    Attributes
    ----------
    where : str
        Where it stands: layer or sheet, and row or feature.
    path : tuple of (float, float)
        In the file's own system and unit, easting or longitude first.
    cells : mapping of str to object
        What stands beside it, names in small letters.
    crs : str or None
        ``"EPSG:…"``, ``"local"``, or None where the file does not say.
    """

    where: str
    path: Path2
    cells: Mapping[str, object]
    crs: str | None = None


@dataclass(slots=True)
class LinesIn:
    """All lines of a file.

    Attributes
    ----------
    lines : list of LineIn
    layers : list of str
        Names of all layers that hold lines, read or not.
    passed_over : dict of str to int
        What was not read, and how often.
    metres_per_unit : float or None
        Of the file, where it says; 1 for metres.
    """

    lines: list[LineIn] = field(default_factory=list)
    layers: list[str] = field(default_factory=list)
    passed_over: dict[str, int] = field(default_factory=dict)
    metres_per_unit: float | None = None

    def add(self, line: LineIn) -> None:
        """Take in one more line.

        Raises
        ------
        UnreadableFileError
            Where there are too many.
        """
        if len(self.lines) >= MAX_LINES:
            raise UnreadableFileError(f"has more than {MAX_LINES:,} lines, which is the most that are read")
        self.lines.append(line)

    def pass_over(self, what: str) -> None:
        """Count something that is not read."""
        self.passed_over[what] = self.passed_over.get(what, 0) + 1

    def wanted(self, layer: str, layers: tuple[str, ...]) -> bool:
        """Whether a layer is read; it is told of either way."""
        if layer not in self.layers:
            self.layers.append(layer)
        return not layers or layer in layers


def text_of(data: bytes) -> str:
    """A file's text.

    Raises
    ------
    UnreadableFileError
        If it is not UTF-8 or too large.
    """
    if len(data) > MAX_TEXT_BYTES:
        raise UnreadableFileError(f"is {len(data):,} bytes, and at most {MAX_TEXT_BYTES:,} (64 MiB) are read")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UnreadableFileError(
            f"is not UTF-8 text: byte 0x{data[error.start]:02x} at {error.start:,} (save it as UTF-8)"
        ) from None
