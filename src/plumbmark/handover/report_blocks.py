"""What a report is made of, whatever it is written to: sections of words, facts, tables and pictures."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Audience(StrEnum):
    """For whom a report is."""

    CREW = "crew"
    EXCAVATOR = "excavator"
    OWNER = "owner"


class Tone(StrEnum):
    """How words are set."""

    PLAIN = "plain"
    LEAD = "lead"
    STRONG = "strong"
    NOTE = "note"
    CAUTION = "caution"


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph."""

    text: str
    tone: Tone = Tone.PLAIN


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and what they are, one to a row."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head that is repeated on every page. `widths` are shares of the page's width."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]

    def filled(self) -> Table:
        """The same without columns that nobody filled; the first one stays."""
        keep = [i for i in range(len(self.head)) if i == 0 or any(row[i] for row in self.rows)]
        return Table(
            tuple(self.head[i] for i in keep),
            tuple(tuple(row[i] for i in keep) for row in self.rows),
            tuple(self.widths[i] for i in keep),
        )


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing in SVG at its true size on paper; `says` stands for it where it cannot be seen.

    `alone`: it has a stylesheet of its own, which must not be mixed with that of others.
    """

    svg: str
    says: str
    width_mm: float
    height_mm: float
    caption: str = ""
    alone: bool = False


@dataclass(frozen=True, slots=True)
class Photograph:
    """A photograph as JPEG."""

    name: str
    jpeg: bytes
    caption: str


@dataclass(frozen=True, slots=True)
class Signatures:
    """Space for names, dates and signatures, one to a role."""

    roles: tuple[str, ...]


Block = Words | Facts | Table | Drawing | Photograph | Signatures


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a report under its heading."""

    heading: str
    blocks: tuple[Block, ...]
    new_page: bool = False


@dataclass(frozen=True, slots=True)
class Report:
    """A whole report.

    `foot` stands at the bottom of every page, `mark` beside the page's number. `dated` is the time of the
    last reading in seconds since 1970, by which the same input gives the same file.
    """

    title: str
    kind: str
    foot: str
    mark: str
    dated: int
    sections: tuple[Section, ...]
