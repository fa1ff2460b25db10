"""Questions about facts, answered as the page answers them: by further facts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from plumbmark.exchange.journal import folded, solvable
from plumbmark.handover.screen_answer import answer_screen
from plumbmark.model.fact import Draft, Fact, FactKind, sealed
from plumbmark.model.folded import Folded
from plumbmark.model.screen_answer import Choice, Question, QuestionKind
from plumbmark.model.screen_parts import JobState

NOW = datetime.fromisoformat("2026-11-25T14:03:00+01:00")
PHONES = ("11111111-1111-4111-8111-111111111111", "22222222-2222-4222-8222-222222222222")


class Crew:
    """Facts of two phones in the order they came in."""

    def __init__(self) -> None:
        self.facts: list[Fact] = []

    def writes(
        self, phone: int, kind: FactKind, payload: dict[str, Any], supersedes: str | None = None
    ) -> Fact:
        mine = [f for f in self.facts if f.device == PHONES[phone]]
        at = f"2026-11-25T1{phone}:00:{len(mine):02d}+01:00"
        draft = Draft("alder-17", kind, payload, at, ("R. Vale", "M. Ott")[phone], supersedes)
        name = str(UUID(int=len(self.facts) + 1, version=4))
        fact = sealed(draft, name, PHONES[phone], len(mine) + 1, mine[-1].hash if mine else "")
        self.facts.append(fact)
        return fact

    def reads(self, phone: int, depth: str, supersedes: str | None = None, key: str = "7") -> Fact:
        row = {"line": "E1", "easting_m": "1", "northing_m": "2", "depth": depth}
        payload = {"table": "readings", "key": key, "rows": [row]}
        return self.writes(phone, FactKind.ENTRY, payload, supersedes)

    def chooses(self, question: Question, choice: Choice) -> None:
        """What the page does with an answer."""
        for fact in choice.take_back:
            self.writes(0, FactKind.REMOVE, {}, fact)
        self.writes(0, FactKind.SETTLED, {"question": question.id, "answer": choice.answer})

    def fold(self) -> Folded:
        return folded(self.facts, lambda _: b"")

    def depths(self) -> list[str]:
        rows = self.fold().rows.get("readings", {})
        return [entry.rows[0]["depth"] for entry in rows.values()]

    def questions(self) -> Sequence[Question]:
        fold = self.fold()
        job, _, aside = solvable(fold)
        state = JobState(NOW, settled=fold.settled, conflicts=fold.conflicts, set_aside=tuple(aside))
        return answer_screen(fold.job, job, None, state).questions


def begun() -> Crew:
    crew = Crew()
    crew.writes(0, FactKind.JOB, {"keys": {"title": "Alder Street 17"}})
    return crew


def corrected_twice() -> Crew:
    crew = begun()
    first = crew.reads(0, "3 ft")
    crew.reads(0, "3 ft 1 in", first.id)
    crew.reads(1, "4 ft", first.id)
    return crew


def test_two_phones_are_asked_and_either_answer_settles_it() -> None:
    for chosen, left in ((0, "4 ft"), (1, "3 ft 1 in")):
        crew = corrected_twice()
        (question,) = crew.questions()
        assert question.kind is QuestionKind.CONFLICT
        assert (question.table, question.key) == ("readings", "7")
        assert "M. Ott wrote today 11:00" in question.choices[0].words
        assert "R. Vale wrote today 10:00" in question.choices[1].words
        crew.chooses(question, question.choices[chosen])
        assert crew.questions() == ()
        assert crew.depths() == [left]


def test_taken_back_on_one_phone_and_changed_on_the_other() -> None:
    for chosen, left in ((0, ["4 ft"]), (1, [])):
        crew = begun()
        first = crew.reads(0, "3 ft")
        crew.writes(0, FactKind.REMOVE, {}, first.id)
        crew.reads(1, "4 ft", first.id)
        (question,) = crew.questions()
        assert question.choices[1].words.startswith("Instead: taken back by R. Vale")
        crew.chooses(question, question.choices[chosen])
        assert crew.depths() == left


def test_a_row_that_cannot_be_read_is_asked_about_and_kept() -> None:
    crew = begun()
    crew.reads(0, "abc")
    crew.reads(0, "3 ft", key="8")
    (question,) = crew.questions()
    assert question.kind is QuestionKind.SET_ASIDE
    assert question.words.startswith("Reading 7: depth 'abc' is not a length")
    assert question.choices[0].route == "read/7"
    crew.chooses(question, question.choices[1])
    assert crew.questions() == ()
    assert crew.depths() == ["abc", "3 ft"]
