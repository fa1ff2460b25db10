"""The plan screen: three questions with all their answers, the sentence first, and the picture to scale."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import TypeAdapter

from plumbmark.app.screens_of_job import answered_questions, plan_of
from plumbmark.base.errors import QuestionError
from plumbmark.exchange.jobfolder import read_job
from plumbmark.exchange.jobfolder.network import read_network, read_network_files
from plumbmark.handover.screen_plan import EMPTY, QUESTIONS, plan_answer, plan_screen
from plumbmark.model.questions import Advice, Bonded, MadeOf, Option, Reached
from plumbmark.model.screen_plan import PlanScreen

FORM = TypeAdapter(PlanScreen)
FOLDER = Path(__file__).parents[2] / "examples" / "alder-lateral"


@pytest.fixture(scope="module")
def screen() -> PlanScreen:
    """The plan of the example."""
    job, _ = read_job(FOLDER)
    assert job is not None
    return plan_of(job, {p.name: p.read_bytes() for p in FOLDER.iterdir()})


def test_every_answer_can_be_given_once() -> None:
    assert [c.answer for c in QUESTIONS.made_of] == [m.value for m in MadeOf]
    assert [c.answer for c in QUESTIONS.reached] == [m.value for m in Reached]
    assert [c.answer for c in QUESTIONS.bonded] == [m.value for m in Bonded]
    for choices in (QUESTIONS.made_of, QUESTIONS.reached, QUESTIONS.bonded):
        assert len({c.words for c in choices}) == len(choices)


def test_the_sentence_first_then_what_fails() -> None:
    options = (
        Option("direct-end-square-away", 500.0, 0.9, 0.8, 0.95, 0.02, 0.2),
        Option("induction", 1e4, 0.5, 0.2, 0.5, 0.3, None),
    )
    advice = Advice(MadeOf.COPPER, (Reached.END,), (Bonded.UNKNOWN,), options, 1.0, 40)
    said = plan_answer(advice, "ft-in")
    assert said.says.startswith("Connect to the metal at its end; drive the stake 30 ft off")
    assert said.says.endswith("and start at 500 Hz.")
    assert [r.connection for r in said.rows] == ["end, 30 ft square", "induction"]
    assert "plumbmark" not in said.tried
    assert said.cautions


def test_plastic_without_a_wire_gets_no_hookup() -> None:
    advice = Advice(MadeOf.PLASTIC, (Reached.NOWHERE,), (Bonded.NOTHING,), (), 0.0, 40)
    said = plan_answer(advice, "m")
    assert said.says.startswith("No signal follows plastic without a wire")
    assert (said.more, said.rows, said.tried, said.cautions) == ((), (), "", ())


def test_answers_that_contradict_each_other_are_refused() -> None:
    with pytest.raises(QuestionError, match="reached: 'nowhere' goes with no other answer"):
        answered_questions(MadeOf.COPPER, (Reached.NOWHERE, Reached.END), (), "m")
    with pytest.raises(QuestionError, match="bonded: 'nothing'"):
        answered_questions(MadeOf.COPPER, (), (Bonded.GAS, Bonded.NOTHING), "m")


def test_the_picture_is_that_of_the_sketch(screen) -> None:
    network, _ = read_network(FOLDER)
    assert network is not None
    best = screen.hookups[0]
    assert screen.says.startswith(best.says.removesuffix("."))
    for drawn, c in zip(best.conductors, network.conductors, strict=True):
        assert drawn.path == tuple((round(e, 3), round(n, 3)) for e, n, _ in c.vertices_m)
        assert drawn.target is (c.id == network.target)
    assert max(c.width for c in best.conductors) == 1.0
    assert {s.kind for s in screen.signs} == {"clamp", "coil", "bond", "ground"}
    assert screen.extent is not None
    for s in screen.signs:
        assert screen.extent.west_m < s.place[0] < screen.extent.east_m
    assert best.places[0].chainage_m < best.places[-1].chainage_m


def test_cautions_and_what_the_readings_say_are_there(screen) -> None:
    assert any("shock" in text for text in screen.cautions)
    assert screen.after_readings
    assert all("disconnect" not in text or "qualified" in text for text in screen.changes)


def test_without_a_sketch_the_questions_are_there() -> None:
    screen = plan_screen("j", "m")
    assert (screen.empty, screen.hookups) == (EMPTY, ())
    assert screen.questions == QUESTIONS


def test_a_sketch_with_mistakes_is_told_and_the_questions_stay() -> None:
    job, _ = read_job(FOLDER)
    assert job is not None
    files = {"network.toml": b'[network]\ntarget = "E9"\n'}
    told = plan_of(job, files)
    assert told.hookups == ()
    assert told.questions == QUESTIONS
    assert any("network.toml" in text for text in told.warnings)
    assert plan_of(job, {}).warnings == ()


def test_a_network_in_memory_reads_as_the_one_in_the_folder() -> None:
    files = {p.name: p.read_bytes() for p in FOLDER.iterdir()}
    assert read_network_files(files) == read_network(FOLDER)
    network, findings = read_network_files({})
    assert network is None
    assert [f.where for f in findings] == ["network.toml"]


def test_it_stays_small_and_comes_back_as_it_was(screen) -> None:
    data = FORM.dump_json(screen)
    assert len(data) < 100_000
    assert FORM.validate_json(data) == screen
