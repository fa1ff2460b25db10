"""A hook-up from three answers follows from the sites that fit them, not from sayings."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from plumbmark.handover.advice_text import advice_cautions, advice_sentences, advice_text
from plumbmark.model.job import Hookup
from plumbmark.model.network import EndKind
from plumbmark.model.questions import Advice, Bonded, MadeOf, Reached
from plumbmark.planning.questions import advise
from plumbmark.planning.questions_prior import UNKNOWN_MADE, draw_site

SITES = 12


@cache
def advice(made_of: str, reached: str, bonded: str) -> Advice:
    return advise(
        MadeOf(made_of),
        tuple(Reached(word) for word in reached.split()),
        tuple(Bonded(word) for word in bonded.split()),
        sites=SITES,
    )


def test_plastic_without_a_wire_is_told_at_once() -> None:
    (said,) = advice_sentences(advice("plastic", "end", "nothing"), "ft-in")
    assert "sonde" in said
    assert "*could not locate*" in said


def test_electric_cables_are_never_connected_to() -> None:
    found = advice("electric-cable", "end middle", "water")
    assert {o.connection for o in found.options} == {"clamp", "induction"}


def test_nowhere_to_connect_leaves_induction_and_says_that_it_may_be_plastic() -> None:
    found = advice("unknown", "nowhere", "unknown")
    assert {o.connection for o in found.options} == {"induction"}
    assert 0.0 < found.metal < 1.0
    assert any("plastic without a wire" in said for said in advice_sentences(found, "m"))


def test_bonds_take_signal_away() -> None:
    alone, joined = advice("copper", "end", "nothing"), advice("copper", "end", "electric water phone")
    best = [a.options[0] for a in (alone, joined)]
    assert best[1].on_others > best[0].on_others + 0.1
    assert any("disconnect a bond" in said for said in advice_sentences(joined, "ft-in"))


def test_an_insulated_wire_with_an_open_end_needs_a_higher_frequency_than_a_grounded_pipe() -> None:
    wire, pipe = advice("plastic-with-wire", "end", "nothing"), advice("copper", "end", "nothing")
    assert wire.options[0].frequency_hz > pipe.options[0].frequency_hz
    low = [o for o in wire.options if o.connection == wire.options[0].connection and o.frequency_hz == 500.0]
    assert low[0].given_a is not None
    assert wire.options[0].given_a is not None
    assert low[0].given_a < wire.options[0].given_a


def test_the_same_answers_the_same_words() -> None:
    answers = (MadeOf.STEEL, (Reached.END,), (Bonded.UNKNOWN,))
    assert advice_text(advise(*answers, sites=6), "m") == advice_text(advise(*answers, sites=6), "m")


def test_what_is_said_twice_counts_once() -> None:
    once = advise(MadeOf.COPPER, [Reached.END], [Bonded.GAS], sites=8)
    twice = advise(MadeOf.COPPER, [Reached.END] * 3, [Bonded.GAS] * 2, sites=8)
    assert twice == once


@pytest.mark.parametrize("units", ["ft-in", "m"])
def test_text_fits_a_terminal_and_opens_with_what_to_do(units: str) -> None:
    said = advice_text(advice("copper", "end middle", "electric"), units)
    assert all(len(line) < 80 for line in said.splitlines())
    assert said.startswith("Connect to the metal")
    assert "start at" in said.replace("\n", " ").split(". ")[0]


def test_cautions_stand_where_they_matter() -> None:
    quiet = advice_cautions(advice("copper", "end", "nothing"))
    assert not any(c.startswith(("Electric", "Gas")) for c in quiet)
    assert any("shock" in c for c in quiet)
    loud = advice_cautions(advice("electric-cable", "end middle", "water"))
    assert any(c.startswith("Electric") for c in loud)


def test_drawn_sites_are_as_answered() -> None:
    rng = np.random.default_rng(1)
    nothing = 0
    for _ in range(200):
        site = draw_site(rng, MadeOf.UNKNOWN, (Reached.END, Reached.CLAMP), (Bonded.WATER,))
        if site is None:
            nothing += 1
            continue
        assert [b.other for b in site.bonds] == ["water"]
        assert {c.kind for c in site.connections} == {Hookup.DIRECT, Hookup.CLAMP, Hookup.INDUCTION}
        assert site.conductor("water").end.kind is EndKind.GROUNDED
    # three standard deviations of a count of 200
    share = UNKNOWN_MADE[MadeOf.PLASTIC]
    assert abs(nothing - 200 * share) < 3 * np.sqrt(200 * share * (1 - share))
