"""What must hold of any journal: the order in which devices reach the server changes nothing they said."""

from __future__ import annotations

import uuid
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from plumbmark.exchange.journal import Folded, folded, solvable
from plumbmark.exchange.journal.sheet import Sheet, read_sheet, with_rows
from plumbmark.model.fact import Draft, Fact, FactKind, sealed

AT = "2026-11-25T14:03:22+01:00"
CELLS = st.sampled_from(["3 ft 1 in", "0.92 m", "", "abc", '"', "a,b", "x\ny", "1..2 m", " 7 "])
ACTIONS = st.lists(
    st.tuples(
        st.sampled_from([1, 2]), st.sampled_from(["new", "correct", "remove"]), st.integers(0, 30), CELLS
    ),
    max_size=25,
)


class Phone:
    """One device: what it knows of the journal, and its chain."""

    def __init__(self, number: int) -> None:
        self.number, self.mine = number, list[Fact]()

    def say(self, kind: FactKind, payload: dict[str, Any], over: str | None) -> Fact:
        last = self.mine[-1] if self.mine else None
        ident = str(uuid.UUID(int=1000 * self.number + len(self.mine)))
        draft = Draft("j", kind, payload, AT, "", over)
        device = str(uuid.UUID(int=self.number))
        fact = sealed(draft, ident, device, len(self.mine) + 1, last.hash if last else "")
        self.mine.append(fact)
        return fact


def spoken(actions: list[tuple[int, str, int, str]], shared: bool) -> list[list[Fact]]:
    """Chains of two phones; each knows its own facts, and of the other's the first two if they met before."""
    phones = {1: Phone(1), 2: Phone(2)}
    met: list[Fact] = []
    for number, what, pick, cell in actions:
        phone = phones[number]
        known = phone.mine + ([f for f in met if f not in phone.mine] if shared else [])
        if what == "new" or not known:
            key = f"{number}-{len(phone.mine)}"
            payload = {"table": "readings", "key": key, "rows": [{"depth": cell}]}
            fact = phone.say(FactKind.ENTRY, payload, None)
            if len(met) < 2:
                met.append(fact)
            continue
        target = known[pick % len(known)]
        if what == "remove":
            phone.say(FactKind.REMOVE, {}, target.id)
        elif target.kind is FactKind.ENTRY:
            phone.say(FactKind.ENTRY, {**target.payload, "rows": [{"depth": cell}]}, target.id)
    return [met, *(([f for f in p.mine if f not in met]) for p in phones.values())]


def merged(chains: list[list[Fact]], order: list[bool]) -> list[Fact]:
    """Both chains in one, each in its own order; what both knew first."""
    met, one, other = chains
    one, other, out = list(one), list(other), list(met)
    for first in order:
        take = one if (first and one) or not other else other
        if take:
            out.append(take.pop(0))
    return [*out, *one, *other]


def said(fold: Folded) -> dict[str, Any]:
    rows = {key: [dict(row) for row in entry.rows] for key, entry in fold.rows.get("readings", {}).items()}
    return {"rows": rows, "asked": {c.question for c in fold.conflicts}}


@settings(deadline=None, max_examples=200)
@given(ACTIONS, st.lists(st.booleans(), max_size=40), st.lists(st.booleans(), max_size=40))
def test_phones_that_never_met_fold_alike_in_any_order(
    actions: list[tuple[int, str, int, str]], one: list[bool], other: list[bool]
) -> None:
    chains = spoken(actions, shared=False)
    first, second = (folded(merged([[], *_apart(chains)], order), {}.__getitem__) for order in (one, other))
    assert said(first) == said(second)


def _apart(chains: list[list[Fact]]) -> list[list[Fact]]:
    """Each phone's whole chain."""
    every = [fact for chain in chains for fact in chain]
    devices = sorted({fact.device for fact in every})
    ordered = [sorted((f for f in every if f.device == d), key=lambda f: f.seq) for d in devices]
    return [*ordered, [], []][:2]


@settings(deadline=None, max_examples=200)
@given(ACTIONS, st.lists(st.booleans(), max_size=40), st.lists(st.booleans(), max_size=40))
def test_where_phones_changed_one_thing_the_order_only_settles_which_of_them_shows(
    actions: list[tuple[int, str, int, str]], one: list[bool], other: list[bool]
) -> None:
    chains = spoken(actions, shared=True)
    first, second = (folded(merged(chains, order), {}.__getitem__) for order in (one, other))
    assert set(said(first)["rows"]) == set(said(second)["rows"])
    assert said(first)["asked"] == said(second)["asked"]
    asked = {c.shown.payload["key"] for c in first.conflicts}
    for key, rows in said(first)["rows"].items():
        if key not in asked:
            assert said(second)["rows"][key] == rows


@settings(deadline=None, max_examples=100)
@given(ACTIONS)
def test_nothing_that_shows_is_lost_on_the_way_to_a_job(actions: list[tuple[int, str, int, str]]) -> None:
    """Each reading is in the job or set aside, and none is in both."""
    facts = merged(spoken(actions, shared=True), [])
    fold = folded([Phone(3).say(FactKind.JOB, {"keys": {}}, None), *facts], {}.__getitem__)
    job, _, aside = solvable(fold)
    assert job is not None
    read = [reading.id for reading in job.readings]
    kept = [one.key for one in aside]
    assert sorted(read + kept) == sorted(fold.rows.get("readings", {}))


TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=8).map(str.strip)


@settings(deadline=None, max_examples=200)
@given(
    st.dictionaries(
        st.text("abc", min_size=1, max_size=2), st.lists(TEXT, min_size=2, max_size=2), min_size=1, max_size=5
    ),
    st.sampled_from(["\n", "\r\n"]),
    st.sampled_from([",", ";", "\t"]),
    st.booleans(),
)
def test_a_sheet_put_together_is_the_sheet_taken_apart(
    rows: dict[str, list[str]], newline: str, separator: str, told: bool
) -> None:
    head = f"sep={separator}{newline}" if separator != "," or told else ""
    empty = Sheet("readings.csv", head=head, separator=separator, newline=newline)
    entries = {key: [{"note": note, "by": by}] for key, (note, by) in rows.items()}
    data = with_rows(empty, entries)
    sheet = read_sheet(data, "readings.csv")
    assert sheet is not None
    cells = {
        k: [{n: r.get(n, "") for n in ("note", "by")} for r in held] for k, held in sheet.keyed().items()
    }
    assert cells == entries
    assert with_rows(sheet, {}) == data
    for key in rows:
        left = read_sheet(with_rows(sheet, {key: ()}), "readings.csv")
        assert left is not None
        assert set(left.keyed()) == set(rows) - {key}
