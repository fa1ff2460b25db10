"""Rows of a log to rows of a job folder, by a mapping that somebody confirmed."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from plumbmark.base.errors import UnitError
from plumbmark.base.units import parse_number, shown
from plumbmark.exchange.jobfolder.columns import Column, read_columns
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.schema import YES_NO
from plumbmark.exchange.jobfolder.table import Table
from plumbmark.exchange.readers import cells as c
from plumbmark.exchange.readers import fields as f
from plumbmark.exchange.readers import moments
from plumbmark.exchange.readers.asking import Meant
from plumbmark.exchange.readers.guess import is_blank
from plumbmark.exchange.readers.log import Part, told
from plumbmark.exchange.readers.places import Given, Row, brought, thinned
from plumbmark.model.finding import Finding
from plumbmark.model.ticket import ThingKind

_NOT_ID: Final = re.compile(r"[^A-Za-z0-9._-]+")
_WORDS: Final = {"y": "yes", "true": "yes", "1": "yes", "n": "no", "false": "no", "0": "no"}
_TOLD_AT_MOST: Final = 12  # findings of one column
PASS_STEP_M: Final = 0.25  # rows of a pass nearer to each other say nothing more

Cell = tuple[str, str]  # name of the column, text


@dataclass(frozen=True, slots=True)
class Mapped:
    """Rows as they would be written down.

    Attributes
    ----------
    table : str
        Of the journal, or ``positions``.
    entries : tuple of (str, tuple of dict)
        Key and rows of each entry.
    frequencies : tuple of (str, str)
        Of readings: key, and frequency in Hz as text.
    findings : tuple of Finding
    """

    table: str
    entries: tuple[tuple[str, tuple[Row, ...]], ...]
    frequencies: tuple[tuple[str, str], ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(slots=True)
class _Work:
    """One part on its way."""

    part: Part
    where: str
    answers: Mapping[str, str]
    rows: list[Row]
    notes: list[list[str]]
    findings: list[Finding] = field(default_factory=list)

    def say(self, number: int, name: str, what: str) -> None:
        self.findings.append(told(f"{self.where} {self.part.row_word} {number} {name}", what))


def mapped_rows(
    part: Part, use: str, columns: Sequence[Meant], answers: Mapping[str, str], given: Given, file: str
) -> Mapped:
    """Turn the rows of a part into entries.

    Parameters
    ----------
    part : Part
    use : str
    columns : sequence of Meant
        What its columns hold, every unit settled.
    answers : mapping of str to str
        To every question that `asking.questions` has of it.
    given : Given
    file : str
        Name of the log, for findings and for the name of a pass.

    Returns
    -------
    Mapped
        No cell of a mapped column is lost: one that cannot be read stands in the note, and a finding says so.
    """
    where = f"{file} sheet {part.name}" if part.name else file
    work = _Work(part, where, answers, [{} for _ in part.rows], [[] for _ in part.rows])
    table = "readings" if use == f.POSITIONS else use
    _moments(work, columns)
    _notes(work, columns)
    for meant in columns:
        if meant.field.holds is not f.Holds.MOMENT and meant.field.name not in (f.ID, f.NOTE):
            _column(work, meant)
    for name in ("line", "baseline", "method"):
        if answers.get(name):
            for k, row in enumerate(work.rows):
                if name != "method" or k == 0:
                    row.setdefault(name, answers[name])
    for row, said in zip(work.rows, work.notes, strict=True):
        if said:
            row["note"] = "; ".join(dict.fromkeys(said))
    rows, findings = brought(work.rows, answers, given, where)
    work.findings += findings
    if use == f.POSITIONS:
        return Mapped(use, (("", tuple(rows)),), (), tuple(work.findings))
    noted = any(column.name == "note" for column in _schema_of(table))
    for row in rows if not noted else ():
        row.pop("note", None)  # told of already; the log itself is kept
    entries, frequencies = _keyed(work, rows, use, columns, file)
    return Mapped(table, tuple(entries), tuple(frequencies), tuple(work.findings))


def _schema_of(table: str) -> list[Column]:
    return [field.column for field in f.fields_of(table).values() if field.column is not None]


def _moments(work: _Work, columns: Sequence[Meant]) -> None:
    """The one time of each row, from one column or from two."""
    at = {m.field.name: m for m in columns if m.field.holds is f.Holds.MOMENT}
    if not at:
        return
    column = next(iter(at.values())).field.column
    assert column is not None
    order, zone = work.answers.get("dates", ""), work.answers.get("zone", "")
    done: dict[tuple[str, str], tuple[str, str]] = {}
    wrong = 0
    for k, cells in enumerate(work.part.rows):
        day = cells[at[f.DAY].at] if f.DAY in at else ""
        clock = next((cells[at[name].at] for name in (f.TIME, f.CLOCK) if name in at), "")
        if is_blank(clock) and is_blank(day):
            continue
        if (day, clock) not in done:
            said_day = moments.split_moment(day)[0] or work.answers.get(
                "day", ""
            )  # a date cell may show 00:00
            try:
                done[day, clock] = (moments.moment_text(clock or day, order, zone, said_day), "")
            except UnitError as error:
                done[day, clock] = ("", str(error))
        text, what = done[day, clock]
        if text:
            work.rows[k][column.name] = text
        else:
            wrong += 1
            work.notes[k].append(f"time: {day} {clock}".strip())
            _say_wrong(work, k, "time", what, wrong)


def _notes(work: _Work, columns: Sequence[Meant]) -> None:
    """Columns of remarks, by name where there are several."""
    remarks = [m for m in columns if m.field.name == f.NOTE]
    for k, cells in enumerate(work.part.rows):
        for m in remarks:
            if cells[m.at]:
                said = cells[m.at].replace("\n", " ")
                work.notes[k].append(said if len(remarks) == 1 else f"{work.part.columns[m.at]}: {said}")


def _column(work: _Work, meant: Meant) -> None:
    """Cells of one column into their rows; what cannot be read into the notes."""
    name = work.part.columns[meant.at]
    done: dict[str, tuple[Cell | None, str]] = {}
    blank_zero = work.answers.get("zero") == "blank"
    wrong = blanks = 0
    for k, cells in enumerate(work.part.rows):
        text = cells[meant.at]
        if not text:
            continue
        if is_blank(text):
            blanks += 1
            continue
        if text not in done:
            done[text] = _read(meant, text, work.answers.get("decimal", "."), blank_zero)
        cell, what = done[text]
        if cell is not None:
            work.rows[k][cell[0]] = cell[1]
        if what:
            wrong += 1
            work.notes[k].append(f"{name}: {text}")
            _say_wrong(work, k, name, what, wrong)
    if wrong > _TOLD_AT_MOST:
        work.say(work.part.numbers[-1], name, f"and {wrong - _TOLD_AT_MOST:,} more like these further up")
    if blanks:
        what = f"{blanks:,} cell{'s say' if blanks > 1 else ' says'} that nothing was taken"
        work.findings.append(told(f"{work.where} {name}", what))


def _say_wrong(work: _Work, k: int, name: str, what: str, count: int) -> None:
    if count <= _TOLD_AT_MOST:
        work.say(work.part.numbers[k], name, f"{what}; it was put into the remark")


def _read(meant: Meant, text: str, decimal: str, blank_zero: bool) -> tuple[Cell | None, str]:
    """The cell of a job folder, or none; and what is to be told."""
    field, column = meant.field, meant.field.column
    try:
        header, cell, said = _turned(field, meant.unit, text, decimal)
    except UnitError as error:
        return None, str(error)
    if column is None:
        return (header, cell), said
    if blank_zero and field.holds in (f.Holds.LENGTH, f.Holds.SCALED) and _reads_zero(cell):
        return None, ""
    remarks = Remarks()
    read_columns(Table("", (header,), (2,), ((cell,),)), (replace(column, required=False),), remarks)
    if remarks.failed:
        return None, remarks.all()[0].what
    return (header, cell), said


def _reads_zero(cell: str) -> bool:
    digits = [character for character in cell if character.isdigit()]
    return bool(digits) and set(digits) == {"0"}


def _turned(field: f.Field, unit: str, text: str, decimal: str) -> tuple[str, str, str]:
    """Name of the column, cell, and what was changed in it that somebody should know."""
    column = field.column
    if field.holds is f.Holds.LENGTH and column is not None:
        length = c.length_text(text, decimal)
        if c.has_unit(length):
            return column.stem, length, ""
        if unit == f.CELLS:
            raise UnitError(f"{shown(text)} states no unit, and the others do")
        return f"{column.stem}_{unit}", length, ""
    if field.holds is f.Holds.SCALED:
        power = {**f.CURRENTS, **f.FREQUENCIES}[unit]
        bare = re.sub(r"\s*(?:ma|a|ua|hz|khz|mhz)$", "", text, flags=re.IGNORECASE)
        stated = text[len(bare) :].strip().lower()
        if stated and stated in field.units:
            power = {**f.CURRENTS, **f.FREQUENCIES}[stated]
        scaled = c.scaled_text(bare, decimal, power)
        if column is not None:
            return column.name, scaled, ""
        if ".." in scaled or parse_number(scaled) <= 0.0:
            raise UnitError(f"{shown(text)} is not a frequency above 0")
        return f.FREQUENCY, f"{parse_number(scaled):.15g}", ""
    assert column is not None
    if field.name in ("longitude_deg", "latitude_deg"):
        letters = ("E", "W") if field.name == "longitude_deg" else ("N", "S")
        return column.name, c.degrees_text(text, decimal, *letters), ""
    if field.holds is f.Holds.ANGLE:
        return column.name, c.number_text(text.rstrip("° "), decimal), ""
    if field.holds is f.Holds.CHOICE:
        return column.name, *_choice(column, text)
    if field.holds is f.Holds.ID:
        name = ident(text)
        if not name:
            raise UnitError(f"{shown(text)} has nothing in it that an id can be made of")
        return column.name, name, ("" if name == text else f"{shown(text)} was turned into the id {name}")
    return column.name, text.replace("\n", " "), ""


def _choice(column: Column, text: str) -> tuple[str, str]:
    """One of a few words; of things seen the kind that the text names, with the text kept beside it."""
    plain = "-".join(text.lower().split())
    if column.choices is YES_NO:
        plain = _WORDS.get(plain, plain)
    if plain in column.choices:
        return plain, ""
    if set(column.choices) == {str(kind) for kind in ThingKind}:
        words = set(re.split(r"[^a-z]+", plain))
        kind = next((str(k) for k in ThingKind if str(k) in words), str(ThingKind.OTHER))
        return kind, f"{shown(text)} counts as {kind}"
    raise UnitError(f"{shown(text)} is not one of {', '.join(column.choices)}")


def ident(text: str) -> str:
    """An id made of a text, empty where nothing of it can stand in one.

    Examples
    --------
    >>> ident("Gas main 1"), ident("§")
    ('Gas-main-1', '')
    """
    return _NOT_ID.sub("-", text.strip()).strip(".-")[:48].strip(".-")


def _keyed(
    work: _Work, rows: Sequence[Row], use: str, columns: Sequence[Meant], file: str
) -> tuple[list[tuple[str, tuple[Row, ...]]], list[tuple[str, str]]]:
    """Rows under their keys; the frequencies of readings apart, since a hook-up has them."""
    at = next((m.at for m in columns if m.field.name == f.ID), None)
    said = ["" if at is None else cells[at] for cells in work.part.rows]
    if use == "passes":
        return _passes(work, rows, said, file), []
    is_text = f.fields_of(use)[f.ID].column is not None and f.fields_of(use)[f.ID].holds is f.Holds.TEXT
    entries: list[tuple[str, tuple[Row, ...]]] = []
    frequencies: list[tuple[str, str]] = []
    used: set[str] = set()
    stated = {name if is_text else ident(name) for name in said}
    empty = [work.part.numbers[k] for k, row in enumerate(rows) if not row]
    if empty:
        some = ", ".join(map(str, empty[:_TOLD_AT_MOST])) + (
            " and others" if len(empty) > _TOLD_AT_MOST else ""
        )
        work.findings.append(told(work.where, f"nothing to take in {work.part.row_word} {some}"))
    for k, row in enumerate(rows):
        if not row:
            continue
        wanted = said[k] if is_text else ident(said[k])
        if said[k] and wanted != said[k]:
            row["note"] = "; ".join(p for p in (row.get("note", ""), f"called {said[k]!r} in the log") if p)
        key = free_key(wanted, used) if wanted else free_key(str(len(entries) + 1), used | stated)
        if wanted and key != wanted:
            work.say(work.part.numbers[k], work.part.columns[at or 0], f"comes twice, so it is kept as {key}")
        used.add(key)
        if row.get(f.FREQUENCY):
            frequencies.append((key, row.pop(f.FREQUENCY)))
        entries.append((key, (row,)))
    return entries, frequencies


def _passes(
    work: _Work, rows: Sequence[Row], said: Sequence[str], file: str
) -> list[tuple[str, tuple[Row, ...]]]:
    """Rows gathered into passes, those that stand on one spot left out."""
    stem = ident(file.rsplit("/", 1)[-1].rsplit(".", 1)[0]) or "pass"
    several = len({name for name in said if name}) > 1
    walks: dict[str, list[Row]] = defaultdict(list)
    for row, name in zip(rows, said, strict=True):
        if row:
            walks[f"{stem}-{ident(name)}" if several and ident(name) else stem].append(row)
    found = []
    for key, walk in walks.items():
        kept = thinned(walk, PASS_STEP_M)
        if len(kept) < len(walk):
            what = (
                f"{len(kept):,} of {len(walk):,} places of pass {key} were taken: those {PASS_STEP_M} m apart"
            )
            work.findings.append(told(work.where, what))
        own = {name: walk[0][name] for name in ("method", "by", "note") if walk[0].get(name)}
        own.setdefault("method", work.answers.get("method", ""))
        bare = [{n: v for n, v in row.items() if n not in ("method", "by", "note")} for row in kept]
        if bare:
            found.append((key, ({**bare[0], **{n: v for n, v in own.items() if v}}, *bare[1:])))
    return found


def free_key(key: str, used: set[str] | frozenset[str]) -> str:
    """A key nobody has: itself, or with the next number behind it.

    Examples
    --------
    >>> free_key("7", {"7", "7-2"})
    '7-3'
    """
    if key not in used:
        return key
    number = 2
    while f"{key}-{number}" in used:
        number += 1
    return f"{key}-{number}"
