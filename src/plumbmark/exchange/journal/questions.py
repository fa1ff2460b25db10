"""What is asked of people about facts: two devices that disagree, rows that cannot be read."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from plumbmark.exchange.journal.shown import Shown
from plumbmark.model.fact import Fact, FactKind
from plumbmark.model.finding import Finding
from plumbmark.model.folded import Cells, Conflict, SetAside

_NAMES: Final = {
    "readings": "Reading",
    "profiles": "Walk across",
    "side_readings": "Reading from the side",
    "test_holes": "Test hole",
    "ties": "Swing tie",
    "passes": "Pass",
    "marks": "Mark",
    "owners": "Owner",
    "things": "Thing seen",
    "photos": "Photograph",
    "receivers": "Receiver",
    "lines": "Line",
    "setups": "Setup",
    "trenches": "Trench",
    "baselines": "Baseline",
    "corners": "Corner",
    "searches": "Search",
    "dig": "Dig area",
    "records": "Record",
    "job": "The job",
    "soil": "The soil",
    "ticket": "The ticket",
    "sweep": "The sweep",
}
_UNIT: Final = re.compile(r"_(?:m|ft|in|cm|mm|ma|deg|hz|db|ohm_m)$")


def row_name(table: str, key: str) -> str:
    """What people call a row: "Reading 7".

    Examples
    --------
    >>> row_name("readings", "7"), row_name("soil", "")
    ('Reading 7', 'The soil')
    """
    return f"{_NAMES.get(table, table)} {key}".strip()


def column_words(column: str) -> str:
    """A column as people say it, without its unit.

    Examples
    --------
    >>> column_words("null_offset_m"), column_words("depth")
    ('null offset', 'depth')
    """
    return _UNIT.sub("", column).replace("_", " ")


def refused(fact: Fact, what: str) -> SetAside:
    """A fact that cannot be put into a file."""
    table, key = subject(fact)
    rows = fact.payload.get("rows")
    cells = [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
    typed = tuple({str(name): str(cell) for name, cell in row.items()} for row in cells)
    return SetAside(f"aside:{fact.id}", f"{row_name(table, key)}: {what}", table, key, typed)


def unread(table: str, key: str, rows: Sequence[Cells], findings: Sequence[tuple[str, Finding]]) -> SetAside:
    """Rows that the reader refuses; each finding comes with the column it is about."""
    said = "; ".join(f"{column_words(column)} {finding.what}".strip() for column, finding in findings)
    words = f"{row_name(table, key)}: {said}"
    return SetAside(f"aside:{table}:{key}", words, table, key, tuple(rows), tuple(f for _, f in findings))


def subject(fact: Fact) -> tuple[str, str]:
    """Table and key that a fact is about; its kind and nothing where it is about no row."""
    table = fact.payload.get("table", fact.payload.get("file", fact.kind.value))
    key = fact.payload.get("key", fact.payload.get("name", ""))
    return str(table), key if isinstance(key, str) else ""


def conflict_of(one: Shown) -> Conflict | None:
    """Whether what came in last is right; None where one device changed its mind, or all agree."""
    name = row_name(*subject(one.fact))
    question = f"conflict:{one.root.id}"
    others = tuple(fact for fact in one.others if fact.payload != one.fact.payload)
    if others:
        words = f"{name} was changed on two phones: {_differences(others[-1], one.fact)}?"
        return Conflict(question, words, one.fact, others)
    if one.denied_by is not None:
        words = f"{name} was taken back on one phone and changed on another: does it stand?"
        return Conflict(question, words, one.fact, (one.denied_by,))
    return None


def _differences(first: Fact, second: Fact) -> str:
    """What two facts say differently, the one that came in first before the other."""
    one, other = _cells(first.payload), _cells(second.payload)
    names = [name for name in dict.fromkeys([*one, *other]) if one.get(name, "") != other.get(name, "")]
    said = [f"{column_words(n)} {one.get(n) or 'blank'} or {other.get(n) or 'blank'}" for n in names[:4]]
    if len(names) > 4:
        said.append(f"and {len(names) - 4} more")
    return ", ".join(said) or f"as on the one at {first.at} or as on the other at {second.at}"


def _cells(payload: Mapping[str, Any]) -> dict[str, str]:
    """All that a payload says, cell by cell; rows after the first are counted."""
    rows = payload.get("rows")
    if isinstance(rows, list):
        return {
            (str(name) if i == 0 else f"{name} of row {i + 1}"): str(cell)
            for i, row in enumerate(rows)
            if isinstance(row, dict)
            for name, cell in row.items()
        }
    keys = payload.get("keys", payload)
    return {str(name): str(held) for name, held in keys.items()} if isinstance(keys, dict) else {}


def same_key(first: Fact, later: Fact) -> Conflict | None:
    """The question where two devices wrote under one key of a table in which a key stands for one thing."""
    return conflict_of(Shown(later, later, (first,))) if first.kind is FactKind.ENTRY else None
