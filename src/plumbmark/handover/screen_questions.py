"""Questions that wait for an answer: rows set aside, two phones, swaps, slips. None of them blocks."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from plumbmark.handover import answer, words
from plumbmark.handover.moments import moment
from plumbmark.model.estimate import LineEstimate, Solution, StationEstimate
from plumbmark.model.fact import Fact, FactKind
from plumbmark.model.folded import Conflict, SetAside
from plumbmark.model.screen_answer import Choice, Question, QuestionKind
from plumbmark.model.screen_parts import JobState

#: Which cell a question is about: how its words go, the cell, and what a sheet is opened at to change it.
#: A reason that holds a question mark is a question to the crew; the first that fits counts.
SLIPS: Final = (
    (re.compile(r"Written down twice\?"), "row", ""),
    (re.compile(r"mA here"), "current_ma", "current"),
    (re.compile(r"^The mark lies"), "place", "place"),
    (re.compile(r"^The raised depth"), "raised_depth", "raise"),
    (re.compile(r"^The nulls "), "null_ahead", ""),
    (re.compile(r"^The null |distance from mark to null"), "null_offset", "null"),
    (re.compile(r"^Distance "), "distance", "distance"),
    (re.compile(r"^Depth |^The display showed"), "depth", "depth"),
)
_MOST_CELLS: Final = 3
_KEPT: Final = "It is right as written"
_SHEETS: Final = {"readings": "read", "profiles": "walk", "side_readings": "side", "test_holes": "hole"}
#: Tables by the source of a station.
TABLES: Final = {"reading": "readings", "profile": "profiles", "side_reading": "side_readings"}


def sheet_route(table: str, key: str, ask: str = "") -> str:
    """Where an entry is opened to be looked at or corrected, at one question of its sheet.

    Examples
    --------
    >>> sheet_route("readings", "7", "depth"), sheet_route("owners", "North Gas")
    ('read/7/depth', '')
    """
    sheet = _SHEETS.get(table)
    return "/".join(part for part in (sheet, key, ask) if part) if sheet else ""


def plain_reasons(station: StationEstimate, state: JobState) -> tuple[str, ...]:
    """Reasons of a station as sentences: without what is asked, and with what was kept as written."""
    said = []
    for text in station.because:
        question = _slip("", station, text)
        if question is None:
            said.append(words.sentence(text))
        elif state.settled.get(question.id) == "kept":
            said.append(f"You kept it as written. It was asked: {words.sentence(text)}")
    return tuple(said)


def questions_of(solution: Solution | None, state: JobState) -> tuple[Question, ...]:
    """Everything that is asked and not settled, what is missing from the answer first.

    Parameters
    ----------
    solution : Solution or None
    state : JobState
        What was settled is not asked again; a value that was corrected and still does not fit is.

    Returns
    -------
    tuple of Question
    """
    found = [_aside(row) for row in state.set_aside] + [_conflict(c, state) for c in state.conflicts]
    for line in solution.lines if solution is not None else ():
        found += _swaps(line)
    for line in solution.lines if solution is not None else ():
        for station in line.stations:
            asked = (_slip(line.line, station, text) for text in station.because)
            found += [q for q in asked if q is not None]
    return tuple(q for q in found if state.settled.get(q.id) != "kept")


def _aside(row: SetAside) -> Question:
    return Question(
        row.question,
        QuestionKind.SET_ASIDE,
        f"{words.sentence(row.words)} It is kept as it was typed, and is not in the answer.",
        None,
        row.table,
        row.key,
        (Choice("corrected", "Correct it", sheet_route(row.table, row.key)), Choice("kept", "Leave it out")),
    )


def _conflict(conflict: Conflict, state: JobState) -> Question:
    shown, others = conflict.shown, conflict.others
    payload = shown.payload
    table, key = str(payload.get("table", payload.get("file", shown.kind.value))), str(payload.get("key", ""))
    choices = [Choice("kept", f"As it shows: {_whose(shown, state)}{_own(shown, others)}")]
    for other in others:
        gone = tuple(fact.id for fact in (shown, *others) if fact is not other)
        if other.kind is FactKind.REMOVE:
            gone = (shown.id,)
        instead = f"Instead: {_whose(other, state)}{_own(other, (shown, *others))}"
        choices.append(Choice("corrected", instead, take_back=gone))
    choices.append(Choice("corrected", "Neither: correct it", sheet_route(table, key)))
    said = words.sentence(conflict.words)
    return Question(conflict.question, QuestionKind.CONFLICT, said, None, table, key, tuple(choices))


def _whose(fact: Fact, state: JobState) -> str:
    when = moment(datetime.fromisoformat(fact.at), state.now)
    who = fact.by or "somebody"
    return f"taken back by {who} {when}" if fact.kind is FactKind.REMOVE else f"what {who} wrote {when}"


def _own(fact: Fact, others: Sequence[Fact]) -> str:
    """What a fact says otherwise than others, as it was typed."""
    cells, rest = _cells(fact), [_cells(other) for other in others if other is not fact]
    own = [name for name in cells if any(other.get(name) != cells[name] for other in rest)]
    told = [f"{name.replace('_', ' ')} {cells[name]}" for name in own if name not in ("taken_at", "by")]
    return f": {', '.join(told[:_MOST_CELLS])}" if told else ""


def _cells(fact: Fact) -> dict[str, Any]:
    """The first row of a fact, or its keys."""
    rows = fact.payload.get("rows")
    held = rows[0] if isinstance(rows, list) and rows else fact.payload.get("keys")
    return dict(held) if isinstance(held, Mapping) else {}


def _swaps(line: LineEstimate) -> list[Question]:
    return [
        Question(
            f"swap:{before}:{after}",
            QuestionKind.SWAP,
            f"Lines swapped between readings {before} and {after}? Until that is settled no number of "
            f"{line.line} can be leaned on.",
            line.line,
            "readings",
            after,
            (
                Choice("kept", "It is one line; show me what would prove it", f"which/{line.line}"),
                Choice("corrected", f"From {after} on it is another", sheet_route("readings", after, "line")),
            ),
        )
        for before, after in line.unsettled
    ]


def _slip(line: str, station: StationEstimate, text: str) -> Question | None:
    """What a reason asks; None where it asks nothing."""
    match = next(((cell, ask) for pattern, cell, ask in SLIPS if pattern.search(text)), None)
    if "?" not in text or match is None:
        return None
    cell, ask = match
    table = TABLES[station.source]
    name = answer.station_name(station)
    key = station.id if table == "readings" else f"{table}/{station.id}"
    return Question(
        f"slip:{key}:{cell}",
        QuestionKind.SLIP,
        f"{name[0].upper()}{name[1:]}: {words.sentence(text)}",
        line,
        table,
        station.id,
        (Choice("kept", _KEPT), Choice("corrected", "Correct it", sheet_route(table, station.id, ask))),
    )
