"""The plan screen: clip where, stake where, which frequency?"""

from __future__ import annotations

import math
from typing import Final

from plumbmark.handover.advice_text import advice_cautions, advice_sentences, compared, tried
from plumbmark.handover.linefit_text import linefit_sentences
from plumbmark.handover.plan_page import place_of
from plumbmark.handover.plan_words import (
    HOLDS_MEANING,
    cautions,
    change_words,
    first_sentence,
    hookup_row,
    how_to_connect,
    milliamperes,
    what_to_expect,
)
from plumbmark.handover.screen_drawn import digits4, extent_of, ink_of, metres, path_of
from plumbmark.handover.words import along, sentence
from plumbmark.model.job import Hookup
from plumbmark.model.linefit import LineFit
from plumbmark.model.network import Connection, Network
from plumbmark.model.plan import HookupPlan, PlanStation, Trial
from plumbmark.model.questions import Advice, Bonded, MadeOf, Reached
from plumbmark.model.screen_plan import (
    PlanAnswer,
    PlanChoice,
    PlanConductor,
    PlanHookup,
    PlanPlace,
    PlanQuestions,
    PlanRow,
    PlanScreen,
    PlanSign,
)

EMPTY: Final = (
    "Answer the three questions for where to connect and which frequency to start at. With a sketch of what "
    "lies there (network.toml in the job), your own site is worked out and drawn here."
)
#: So many connections are drawn, the rest are told in a row each; of a long target so many places.
_DRAWN: Final = 3
_PLACES: Final = 80

QUESTIONS: Final = PlanQuestions(
    made_of_words="What is it made of?",
    made_of=(
        PlanChoice(MadeOf.PLASTIC.value, "Plastic, no wire along it"),
        PlanChoice(MadeOf.PLASTIC_WITH_WIRE.value, "Plastic with a tracer wire"),
        PlanChoice(MadeOf.COPPER.value, "Copper pipe"),
        PlanChoice(MadeOf.STEEL.value, "Steel pipe"),
        PlanChoice(MadeOf.IRON.value, "Iron pipe"),
        PlanChoice(MadeOf.ELECTRIC_CABLE.value, "Electric cable"),
        PlanChoice(MadeOf.PHONE_CABLE.value, "Telephone or television cable"),
        PlanChoice(MadeOf.UNKNOWN.value, "I do not know"),
    ),
    reached_words="Where can you get at it?",
    reached=(
        PlanChoice(Reached.END.value, "Bare metal at an end of it"),
        PlanChoice(Reached.MIDDLE.value, "Bare metal at a fitting part way"),
        PlanChoice(Reached.CLAMP.value, "A clamp goes round it"),
        PlanChoice(Reached.NOWHERE.value, "Nowhere"),
    ),
    bonded_words="What else is joined to it?",
    bonded=(
        PlanChoice(Bonded.ELECTRIC.value, "Electric"),
        PlanChoice(Bonded.WATER.value, "Water"),
        PlanChoice(Bonded.GAS.value, "Gas"),
        PlanChoice(Bonded.PHONE.value, "Telephone or television"),
        PlanChoice(Bonded.NOTHING.value, "Nothing"),
        PlanChoice(Bonded.UNKNOWN.value, "I do not know"),
    ),
)


def plan_answer(advice: Advice, units: str) -> PlanAnswer:
    """The answer to the three questions.

    Parameters
    ----------
    advice : Advice
    units : str
        ``"ft-in"`` or ``"m"``.

    Returns
    -------
    PlanAnswer
        The sentence first: where to connect, where to drive the stake, which frequency to start at.
    """
    first, *more = (text.replace("*", '"') for text in advice_sentences(advice, units))
    return PlanAnswer(
        says=first,
        more=tuple(more),
        rows=tuple(
            PlanRow(how, at, goes, traced, holds, "", others)
            for how, at, goes, traced, holds, others in compared(advice, units)
        ),
        tried=tried(advice) if advice.options else "",
        cautions=advice_cautions(advice) if advice.options else (),
    )


def plan_screen(
    job: str, units: str, plan: HookupPlan | None = None, fit: LineFit | None = None
) -> PlanScreen:
    """The questions, and the hook-ups of a job's own sketch.

    Parameters
    ----------
    job : str
        Id of the job.
    units : str
        ``"ft-in"`` or ``"m"``.
    plan : HookupPlan, optional
        None where the job has no sketch.
    fit : LineFit, optional
        What the currents read along the target say.

    Returns
    -------
    PlanScreen
    """
    if plan is None:
        return PlanScreen(job, units, QUESTIONS, "", EMPTY, "", None, (), (), (), (), (), (), (), "")
    network = plan.network
    hookups = tuple(_hookup(trial, network) for trial in plan.ranked[:_DRAWN])
    core = [(v[0], v[1]) for c in network.conductors for v in c.vertices_m]
    signs = _signs(network)
    return PlanScreen(
        job=job,
        units=units,
        questions=QUESTIONS,
        says=first_sentence(plan),
        empty="",
        target=network.target,
        extent=extent_of(core + [s.place for s in signs]),
        signs=signs,
        hookups=hookups,
        others=tuple(PlanRow(*hookup_row(trial, network)) for trial in plan.ranked[_DRAWN:]),
        changes=tuple(change_words(plan, k) for k in range(len(plan.changes))),
        after_readings=() if fit is None else tuple(linefit_sentences(fit, network)),
        cautions=cautions(network),
        warnings=tuple(map(str, plan.warnings)),
        holds_meaning=HOLDS_MEANING,
    )


def _hookup(trial: Trial, network: Network) -> PlanHookup:
    carried = dict(trial.other_currents_a)
    own = max((s.current_a for s in trial.stations), default=None)
    strongest = max([own or 0.0, *carried.values(), 1e-12])
    conductors = []
    for c in network.conductors:
        amperes = own if c.id == network.target else carried.get(c.id)
        said = c.id if amperes is None else f"{c.id}, up to {milliamperes(amperes)}"
        conductors.append(
            PlanConductor(
                id=c.id,
                ink=ink_of(c.utility),
                path=path_of(c.vertices_m),
                target=c.id == network.target,
                current_ma=None if amperes is None else digits4(1e3 * amperes),
                width=0.0 if amperes is None else round(math.sqrt(amperes / strongest), 3),
                words=said,
            )
        )
    stake = next((s for s in network.stakes if s.id == trial.connection.stake), None)
    return PlanHookup(
        row=PlanRow(*hookup_row(trial, network)),
        says=sentence(how_to_connect(trial.connection, network)),
        expect=what_to_expect(trial, network),
        conductors=tuple(conductors),
        connect=_connection(trial.connection, network),
        stake=None
        if stake is None
        else PlanSign(stake.id, "stake", path_of([(stake.easting_m, stake.northing_m)])[0], "the stake"),
        places=tuple(_place(s) for s in trial.stations[:: max(1, math.ceil(len(trial.stations) / _PLACES))]),
    )


def _place(s: PlanStation) -> PlanPlace:
    return PlanPlace(
        chainage_m=metres(s.chainage_m),
        depth_m=metres(s.depth_m),
        shown_depth_m=metres(s.shown_depth_m),
        shift_m=metres(s.shift_m),
        current_ma=digits4(1e3 * s.current_a),
        followed=s.followed,
        holds=s.holds,
    )


def _connection(connection: Connection, network: Network) -> PlanSign:
    kind = "coil" if connection.kind is Hookup.INDUCTION else connection.kind.value
    place = path_of([place_of(network, connection.id)])[0]
    return PlanSign(connection.id, kind, place, sentence(how_to_connect(connection, network)))


def _signs(network: Network) -> tuple[PlanSign, ...]:
    """Every connection, stake, bond and ground of the sketch."""
    units = network.display_units
    signs = [_connection(c, network) for c in network.connections]
    for stake in network.stakes:
        place = path_of([(stake.easting_m, stake.northing_m)])[0]
        signs.append(PlanSign(stake.id, "stake", place, f"Stake {stake.id}."))
    for bond in network.bonds:
        place = path_of([network.conductor(bond.conductor).point_at(bond.at_m)])[0]
        said = f"Bond {bond.id}: {bond.conductor}, {along(bond.at_m, units)} along it, to {bond.other}."
        signs.append(PlanSign(bond.id, "bond", place, said))
    for ground in network.grounds:
        place = path_of([network.conductor(ground.conductor).point_at(ground.at_m)])[0]
        said = f"Ground {ground.id}: {ground.conductor}, {along(ground.at_m, units)} along it."
        signs.append(PlanSign(ground.id, "ground", place, said))
    return tuple(signs)
