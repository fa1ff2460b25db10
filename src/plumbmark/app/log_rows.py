"""What a log comes to in a job: drafts of facts, under keys that nobody has, nothing written down twice."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from plumbmark.base.canonical import canonical_json
from plumbmark.exchange.readers.joined import STANDING_M_PER_S, WITHIN_S, fixes_of, nearest
from plumbmark.exchange.readers.mapped import Mapped, free_key
from plumbmark.exchange.readers.places import PLACED, Given
from plumbmark.model.fact import Fact, FactKind
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.folded import Folded

if TYPE_CHECKING:
    from plumbmark.exchange.jobfolder.jobtoml import JobFile

#: Tables whose rows can be given the place of the same time, and where their time stands.
_TIMED: Final = {"readings": "taken_at", "things": "seen_at", "marks": "painted_at", "photos": "taken_at"}
_TOLD_AT_MOST: Final = 12
_FAR_WORDS: Final = ("from_thing", "place_words")

Payload = dict[str, Any]


@dataclass(slots=True)
class Drafted:
    """Facts to be: kind, payload, what each takes the place of; how many entries, how many there already."""

    facts: list[tuple[FactKind, Payload, str | None]] = field(default_factory=list)
    recorded: int = 0
    already_there: int = 0
    findings: list[Finding] = field(default_factory=list)

    def tell(self, where: str, what: str) -> None:
        """Something that keeps nothing from being taken."""
        self.findings.append(Finding(Severity.WARNING, where, what))


def given_by(fold: Folded | None, job: JobFile | None) -> Given:
    """What a log's rows have to fit."""
    if fold is None or job is None:
        return Given()
    own = any(
        any(name.startswith(PLACED) and cell for name, cell in row.items())
        for entries in fold.rows.values()
        for entry in entries.values()
        for row in entry.rows
    )
    drawn = any(name in fold.files for name in ("dig.geojson", "records.geojson"))
    real = [name for name in job.baselines if not name.startswith(("words-", "along-"))]
    has_places = own or drawn or bool(job.corners) or bool(real)
    return Given(job.crs, has_places, tuple(job.lines), tuple(real))


def add_entries(
    drafted: Drafted, mapped: Mapped, fold: Folded | None, facts: Sequence[Fact], file: str
) -> None:
    """Rows of a log as entries of their own.

    A row that was written down before under its key, or under a number after it, is there already; a key that
    something else has is not taken from it.
    """
    there = _written(facts, mapped.table)
    shown = set() if fold is None else set(fold.rows.get(mapped.table, {}))
    used = shown | set(there)
    moved: list[str] = []
    for key, rows in mapped.entries:
        held = [{name: cell for name, cell in row.items() if cell} for row in rows]
        text = canonical_json(held)
        if _has(there, key, text):
            drafted.already_there += 1
            continue
        name = free_key(key, used)
        if name != key:
            moved.append(f"{key} as {name}")
        used.add(name)
        payload = {"table": mapped.table, "key": name, "rows": held}
        drafted.facts.append((FactKind.ENTRY, payload, None))
        drafted.recorded += 1
    if moved:
        some = ", ".join(moved[:_TOLD_AT_MOST]) + (" and others" if len(moved) > _TOLD_AT_MOST else "")
        drafted.tell(file, f"the job has others by these names, so they are kept as: {some}")


def _written(facts: Sequence[Fact], table: str) -> dict[str, set[bytes]]:
    """Rows that were ever written down, by key, those taken back left out."""
    gone = {fact.supersedes for fact in facts if fact.kind is FactKind.REMOVE}
    found: dict[str, set[bytes]] = defaultdict(set)
    for fact in facts:
        held = fact.payload
        if fact.kind is FactKind.ENTRY and fact.id not in gone and held.get("table") == table:
            found[str(held.get("key"))].add(canonical_json(held.get("rows")))
    return found


def _has(there: Mapping[str, set[bytes]], key: str, text: bytes) -> bool:
    name, number = key, 1
    while name in there:
        if text in there[name]:
            return True
        number += 1
        name = f"{key}-{number}"
    return False


def add_hookups(drafted: Drafted, mapped: Mapped, job: JobFile | None, file: str) -> None:
    """Frequencies of readings to the hook-up they were read at: a reading has none of its own.

    A line without a frequency gets the only one; one read at several gets a hook-up for each. Where the job
    says another frequency, that stays and the log's goes into the remark.
    """
    rows = {key: entry_rows[0] for key, entry_rows in mapped.entries if entry_rows}
    only = next(iter(job.lines)) if job is not None and len(job.lines) == 1 else "1"
    by_line: dict[str, dict[str, str]] = defaultdict(dict)
    for key, frequency in mapped.frequencies:
        by_line[rows[key].get("line", only)][key] = frequency
    for line, read in by_line.items():
        mine = [key for key, row in rows.items() if row.get("line", only) == line]
        there = _setups(job, line)
        counts = Counter(read.values())
        missing = [value for value in counts if value not in there]
        if not missing:
            for key, value in read.items():
                if there[value]:
                    rows[key].setdefault("setup", there[value])
        elif not there and len(counts) == 1:
            keys = {"frequency_hz": next(iter(counts))}
            drafted.facts.append((FactKind.ITEM, {"table": "lines", "key": line, "keys": keys}, None))
        elif not there and len(read) == len(mine):
            for value in counts:
                name = f"{line}-{value}"[:64]
                held = {"line": line, "frequency_hz": value}
                drafted.facts.append((FactKind.ITEM, {"table": "setups", "key": name, "keys": held}, None))
                for key in (k for k, v in read.items() if v == value):
                    rows[key].setdefault("setup", name)
        else:
            for key, value in read.items():
                row = rows[key]
                row["note"] = "; ".join(p for p in (row.get("note", ""), f"read at {value} Hz") if p)
            what = (
                f"line {line} was read at {', '.join(counts)} Hz, and that does not go with its hook-ups as "
                "they are written down; the frequency is in the remarks, so set the hook-ups right"
            )
            drafted.tell(file, what)


def _setups(job: JobFile | None, line: str) -> dict[str, str]:
    """Hook-ups of a line by frequency as a log writes it, those that say one; ids are empty for its own."""
    if job is None:
        return {}
    setups = job.setups.get(line) or ([job.own_setups[line]] if line in job.own_setups else [])
    return {f"{s.frequency_hz:.15g}": s.id for s in setups if s.frequency_hz is not None}


def add_places(
    drafted: Drafted, mapped: Mapped, fold: Folded | None, facts: Sequence[Fact], file: str
) -> None:
    """The places of a log to what has a time and no place; what has a place keeps it."""
    column = next(iter(_TIMED.values()))
    fixes = fixes_of([row for _, rows in mapped.entries for row in rows], column)
    if not fixes:
        drafted.findings.append(
            Finding(Severity.ERROR, file, "has no place with a time, so none can be joined")
        )
        return
    by_id = {fact.id: fact for fact in facts}
    joined: list[tuple[float, float | None]] = []
    apart: list[str] = []
    for table, time_column in _TIMED.items():
        for key, entry in {} if fold is None else fold.rows.get(table, {}).items():
            at = _moment(entry.rows[0].get(time_column, ""))
            if at is None or len(entry.rows) != 1:
                continue
            words = f"{'reading' if table == 'readings' else table.removesuffix('s')} {key}"
            near = nearest(fixes, at)
            if _is_placed(entry.rows[0]):
                if near is not None:
                    apart.append(words)
                continue
            if near is None:
                drafted.tell(words, f"nothing in {file} is within {WITHIN_S:g} s of its time")
                continue
            side = "after" if near.later_s > 0.0 else "before"
            when = "the same moment" if abs(near.later_s) < 0.05 else f"{abs(near.later_s):.1f} s {side}"
            said = f"place from {file}, of {when}"
            note = "; ".join(part for part in (entry.rows[0].get("note", ""), said) if part)
            fact = by_id.get(entry.fact)
            own = fact is not None and fact.kind is FactKind.ENTRY
            row = {**entry.rows[0], **near.cells(), "note": note}
            name = str(fact.payload.get("key")) if own and fact is not None else key
            payload = {"table": table, "key": name, "rows": [row]}
            drafted.facts.append((FactKind.ENTRY, payload, entry.fact if own else None))
            drafted.recorded += 1
            joined.append((abs(near.later_s), near.fix.speed_m_per_s))
            if drafted.recorded <= _TOLD_AT_MOST:
                drafted.tell(words, f"got the place of {when}")
    _tell_joined(drafted, joined, apart, file)


def _tell_joined(
    drafted: Drafted, joined: Sequence[tuple[float, float | None]], apart: Sequence[str], file: str
) -> None:
    if joined:
        most = max(seconds for seconds, _ in joined)
        count = "1 place was" if len(joined) == 1 else f"{len(joined):,} places were"
        drafted.tell(file, f"{count} joined by time, at most {most:.1f} s apart")
        moving = sum(1 for _, speed in joined if speed is not None and speed > STANDING_M_PER_S)
        if 2 * moving > len(joined):
            what = (
                f"the receiver was walking at {moving} of {len(joined)} of them: is one of the clocks wrong?"
            )
            drafted.tell(file, what)
    else:
        drafted.tell(file, "nothing in the job has a time near that of a place, and no place of its own yet")
    if apart:
        some = ", ".join(apart[:_TOLD_AT_MOST]) + (" and others" if len(apart) > _TOLD_AT_MOST else "")
        drafted.tell(file, f"these have a place already and keep it: {some}")


def _is_placed(row: Mapping[str, str]) -> bool:
    from plumbmark.exchange.journal.spots import PLACE

    return any(row.get(name) for name in (*PLACE, *_FAR_WORDS))


def _moment(text: str) -> datetime | None:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return None
    return at if at.tzinfo is not None else None
