"""Facts to what a job holds now: the files of a job folder, and what is known besides."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Final

from tomlkit.exceptions import TOMLKitError

from plumbmark.base.errors import FactError, PlumbmarkError
from plumbmark.exchange.jobfolder.files import JOB, KNOWN
from plumbmark.exchange.journal import payload
from plumbmark.exchange.journal.drawing import FILES as DRAWINGS
from plumbmark.exchange.journal.drawing import feature_of, with_features
from plumbmark.exchange.journal.jobdoc import JobDoc
from plumbmark.exchange.journal.questions import conflict_of, refused, row_name, same_key
from plumbmark.exchange.journal.rows import placed_rows
from plumbmark.exchange.journal.sheet import TABLES, Sheet, read_sheet, with_rows
from plumbmark.exchange.journal.shown import Shown, shown, taken_in
from plumbmark.model.fact import Fact, FactKind
from plumbmark.model.folded import Cells, Conflict, Entry, Folded, SetAside

Blob = Callable[[str], bytes]
#: Tables in which two devices may give one key to two things: the later one is kept under a key of its own.
_NUMBERED: Final = ("readings", "profiles", "side_readings", "test_holes", "passes", "marks", "things")


@dataclass(slots=True)
class _Said:
    """What shows, sorted by what it is about, each sort in its order."""

    keys: list[tuple[Fact, str, dict[str, Any]]] = field(default_factory=list)
    items: list[tuple[Fact, str, str, dict[str, Any] | None]] = field(default_factory=list)
    entries: list[tuple[Shown, str, str, list[Cells]]] = field(default_factory=list)
    shapes: list[tuple[Fact, str, str, dict[str, Any] | None]] = field(default_factory=list)
    files: dict[str, tuple[Fact, str]] = field(default_factory=dict)
    settled: dict[str, str] = field(default_factory=dict)
    ticks: dict[str, bool] = field(default_factory=dict)
    cannot: set[str] = field(default_factory=set)
    told: list[Fact] = field(default_factory=list)
    set_aside: list[SetAside] = field(default_factory=list)
    conflicts: list[Conflict | None] = field(default_factory=list)


def folded(facts: Sequence[Fact], blob: Blob) -> Folded:
    """What the facts of a job come to.

    Parameters
    ----------
    facts : sequence of Fact
        All of one job, in the order they came in.
    blob : callable
        The content of a file by its SHA-256; raises a `PlumbmarkError` or a `LookupError` where it has not
        come in.

    Returns
    -------
    Folded
        Files that no later fact is about are as they came, byte for byte. No fact makes this fail: what
        cannot be put into a file is set aside.
    """
    taken = taken_in(facts)
    said = _Said()
    for one in shown(taken.facts):
        said.conflicts.append(conflict_of(one))
        try:
            _sort(one, said)
        except FactError as error:
            said.set_aside.append(refused(one.fact, str(error)))
    files, attached, missing = _files(said, blob)
    sheets = {file: sheet for file in files if _is_table(file) and (sheet := read_sheet(files[file], file))}
    there = {file.removesuffix(".csv"): sheet.keyed() for file, sheet in sheets.items()}
    entries = _settle(said, there)
    doc = JobDoc(files.get(JOB), facts[0].job if facts else "")
    _put_keys(doc, said)
    unplaced = _put_rows(files, sheets, there, entries, doc, said)
    _put_shapes(files, doc, said)
    if JOB not in files or doc.is_readable:
        files[JOB] = doc.written()
    conflicts = (c for c in said.conflicts if c is not None and c.question not in said.settled)
    return Folded(
        job=facts[0].job if facts else "",
        files=files,
        attached=attached,
        rows=_all_rows(said, there, entries),
        cannot=frozenset(said.cannot),
        settled=said.settled,
        ticks=said.ticks,
        told=tuple(said.told),
        frozen=taken.frozen,
        late=taken.late,
        conflicts=tuple(conflicts),
        set_aside=tuple(said.set_aside),
        unplaced=frozenset(unplaced),
        missing=missing,
    )


def _sort(one: Shown, said: _Said) -> None:
    """Put what a fact says where it belongs; a FactError tells what is wrong with it."""
    fact = one.fact
    if fact.kind in (FactKind.JOB, FactKind.SOIL, FactKind.TICKET):
        said.keys.append((fact, fact.kind.value, payload.keys(fact)))
    elif fact.kind is FactKind.ITEM:
        said.items.append((fact, *payload.item(fact)))
    elif fact.kind is FactKind.ENTRY:
        said.entries.append((one, *payload.entry(fact)))
    elif fact.kind is FactKind.SHAPE:
        file, key, text = payload.shape(fact)
        said.shapes.append((fact, file, key, feature_of(text, key)))
    elif fact.kind is FactKind.FILE:
        name, digest = payload.file(fact)
        said.files[name] = (fact, digest)
    elif fact.kind is FactKind.CANNOT:
        said.cannot.update(payload.texts(fact, "actions"))
    elif fact.kind is FactKind.SETTLED:
        said.settled[payload.text(fact, "question")] = payload.text(fact, "answer")
    elif fact.kind is FactKind.TICK:
        said.ticks[payload.text(fact, "step")] = fact.payload.get("done") is not False
    elif fact.kind is FactKind.TOLD:
        said.told.append(fact)


def _files(said: _Said, blob: Blob) -> tuple[dict[str, bytes], dict[str, str], tuple[str, ...]]:
    """Files that are read, hashes of the others, and names of those that have not come in."""
    files: dict[str, bytes] = {}
    attached: dict[str, str] = {}
    missing: list[str] = []
    for name, (_, digest) in said.files.items():
        if name not in KNOWN:
            attached[name] = digest
            continue
        try:
            files[name] = blob(digest)
        except (PlumbmarkError, LookupError):
            missing.append(name)
    return files, attached, tuple(missing)


def _is_table(file: str) -> bool:
    return file.endswith(".csv") and file.removesuffix(".csv") in TABLES


def _settle(said: _Said, there: Mapping[str, Mapping[str, Any]]) -> dict[str, dict[str, Entry]]:
    """Rows of facts under the keys they have now.

    Two devices that never met number their readings alike. What the second one calls 7 is another place than
    the first one's 7: it is kept as 7-2, with its walks across and what it names by that key.
    """
    entries: dict[str, dict[str, Entry]] = defaultdict(dict)
    by: dict[tuple[str, str], Fact] = {}
    own: dict[tuple[str, str, str], str] = {}
    for one, table, key, rows in said.entries:
        device, name = one.root.device, key
        kept = own.get(("readings" if table == "profiles" else table, device, key))
        if kept is not None:
            name = kept
        first = by.get((table, name))
        if first is not None and first.device != device:
            if table in _NUMBERED and name not in there.get(table, {}):
                name = _free(name, entries[table], there.get(table, {}))
                own[table, device, key] = name
            else:
                said.conflicts.append(same_key(first, one.fact))
        by[table, name] = one.root if one.root.kind is FactKind.ENTRY else one.fact
        named = [
            {c: own.get((_MEANT[c], device, v), v) if c in _MEANT else v for c, v in r.items()} for r in rows
        ]
        entries[table][name] = Entry(one.fact.id, tuple(named))
    return entries


#: Cells that name a row of another table.
_MEANT: Final = {"from_thing": "things", "toward_thing": "things", "thing": "things", "mark": "marks"}


def _free(key: str, *used: Mapping[str, Any]) -> str:
    number = 2
    while any(f"{key}-{number}" in names for names in used):
        number += 1
    return f"{key}-{number}"


def _put_keys(doc: JobDoc, said: _Said) -> None:
    """Keys of the job file."""
    for fact, table, keys in said.keys:
        _edit(doc, fact, said, partial(doc.set_head, table, keys))
    for fact, table, key, held in said.items:
        _edit(doc, fact, said, partial(doc.set_entry, table, key, held))


def _edit(doc: JobDoc, fact: Fact, said: _Said, work: Callable[[], None]) -> None:
    try:
        if doc.is_readable:
            work()
            return
        what = "job.toml is not TOML, so nothing can be set in it"
    except (TOMLKitError, TypeError, ValueError) as error:
        what = f"cannot be set in job.toml ({error})"
    said.set_aside.append(refused(fact, what))


def _put_rows(
    files: dict[str, bytes],
    sheets: Mapping[str, Sheet],
    there: Mapping[str, Mapping[str, Sequence[Cells]]],
    entries: Mapping[str, Mapping[str, Entry]],
    doc: JobDoc,
    said: _Said,
) -> set[tuple[str, str]]:
    """Rows into their files; gives those whose place is known by words only."""
    good: dict[str, dict[str, tuple[Cells, ...]]] = {}
    for table, held in entries.items():
        file = f"{table}.csv"
        if file in files and file not in sheets:
            what = f"{file} cannot be split into rows, so none can be put into it"
            said.set_aside += [
                SetAside(f"aside:{entry.fact}", f"{row_name(table, key)}: {what}", table, key, entry.rows)
                for key, entry in held.items()
            ]
        else:
            good[table] = {key: entry.rows for key, entry in held.items()}
    placed = placed_rows(good, there, doc.ids("lines"), doc.ids("baselines"), doc.crs)
    for table, rows in placed.rows.items():
        file = f"{table}.csv"
        if file in sheets or any(rows.values()):  # entries of no rows make no file
            files[file] = with_rows(sheets.get(file, Sheet(file)), rows)
    if doc.is_readable:
        for line in placed.lines:
            doc.set_entry("lines", line, {})
        for name, baseline in placed.baselines.items():
            doc.set_baseline(name, *baseline)
    return placed.unplaced


def _put_shapes(files: dict[str, bytes], doc: JobDoc, said: _Said) -> None:
    for name, file in DRAWINGS.items():
        mine = {key: feature for _, which, key, feature in said.shapes if which == name}
        if not mine:
            continue
        try:
            files[file] = with_features(files.get(file), mine, doc.crs)
        except FactError as error:
            said.set_aside += [
                refused(fact, str(error)) for fact, which, _, _ in said.shapes if which == name
            ]


def _all_rows(
    said: _Said,
    there: Mapping[str, Mapping[str, Sequence[Cells]]],
    entries: Mapping[str, Mapping[str, Entry]],
) -> dict[str, dict[str, Entry]]:
    """Rows of files and facts, under their tables and keys."""
    rows: dict[str, dict[str, Entry]] = {}
    for table, held in there.items():
        fact = said.files[f"{table}.csv"][0].id
        rows[table] = {key: Entry(fact, tuple(cells)) for key, cells in held.items()}
    for table, put in entries.items():
        rows.setdefault(table, {}).update(put)
    return {table: {k: e for k, e in held.items() if e.rows} for table, held in rows.items()}
