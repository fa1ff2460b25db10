"""The guide: one step at a time, why, what good looks like; ticked by the data themselves.

The steps and their order are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from plumbmark.handover.guide_data import (
    Seen,
    answered,
    checked,
    connected,
    counted,
    fittings_walked,
    gear,
    pinpointed,
    round_walked,
    swept_passive,
    traced,
)
from plumbmark.handover.plan_words import CAUTION_ELECTRIC, CAUTION_GAS
from plumbmark.handover.screen_today import DANGER as AT_ONCE
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job
from plumbmark.model.screen_guide import GuideScreen, GuideStep, StepState
from plumbmark.model.screen_parts import Go, JobState

DANGER: Final = (
    AT_ONCE,
    CAUTION_GAS,
    "A line is struck or damaged: stop, get everybody away, and call the emergency number where gas, fire or "
    "anybody hurt is about. Then call the line's owner. Do not touch, cover or mend it.",
    CAUTION_ELECTRIC,
)


@dataclass(frozen=True, slots=True)
class _Step:
    """A step and how the data are asked about it."""

    id: str
    title: str
    why: str
    good: str
    go: Go
    seen: Callable[[Job, Solution | None, JobState], Seen]


_STEPS: Final = (
    _Step(
        "gear",
        "Check the gear",
        "A receiver that reads wrong on a line you know reads wrong on all of them.",
        "Over a line whose place and depth you know: peak and null in one place, the depth as it is, and a "
        "foot more of it when the receiver is raised by a foot.",
        Go("Tick it here", "guide"),
        gear,
    ),
    _Step(
        "fittings",
        "Walk the ground for fittings",
        "Every meter, valve, pedestal and patch has a line to it. Look before you listen.",
        "Each one written down where it stands; the paint of others too.",
        Go("Write down what is seen", "site"),
        fittings_walked,
    ),
    _Step(
        "passive",
        "Sweep for power and radio",
        "Lines that nobody told you of carry power and radio currents. Find those first.",
        "Passes in two directions over the whole dig area; every signal traced, or written down.",
        Go("Walk the sweep", "sweep"),
        swept_passive,
    ),
    _Step(
        "connect",
        "Connect",
        "Where and how the signal goes on decides everything after. On the line itself is best, induction "
        "worst. Only qualified people connect to what may be energised.",
        "The lowest frequency that carries, the stake far off and square to the line, a current that stays.",
        Go("Three questions about the hook-up", "plan"),
        connected,
    ),
    _Step(
        "trace",
        "Trace",
        "One place says nothing of where a line goes.",
        "Followed from fitting to fitting, a mark every ten paces and at each bend.",
        Go("Take a reading", "read"),
        traced,
    ),
    _Step(
        "pinpoint",
        "Pinpoint",
        "A peak alone cannot show that another current draws it aside; the null can.",
        "Peak and null at each mark, in the same place or the gap written down.",
        Go("Take a reading", "read"),
        pinpointed,
    ),
    _Step(
        "check",
        "Check",
        "Peak, null and depth each pass now and then where the mark is wrong; together they seldom do.",
        "Raised by a foot the depth grows by a foot; nothing that was asked about is left open.",
        Go("See what is asked", ""),
        checked,
    ),
    _Step(
        "round",
        "Once the marks are down, sweep round the dig",
        "Any line that enters the dig crosses that round.",
        "Every signal met has its mark, and every mark its signal.",
        Go("Walk the round", "sweep"),
        round_walked,
    ),
    _Step(
        "count",
        "Count marks against fittings",
        "A fitting without a mark is a line that was missed.",
        "Each fitting has a mark that leads to it.",
        Go("See what was seen where", "site"),
        counted,
    ),
    _Step(
        "answer",
        "Answer for each owner",
        "Nobody may take silence for an answer.",
        "Marked, no conflict, or could not locate and why, for every owner on the ticket.",
        Go("Answer for the owners", ""),
        answered,
    ),
)


def guide_screen(job: Job, solution: Solution | None, state: JobState) -> GuideScreen:
    """What to do now.

    Parameters
    ----------
    job : Job
    solution : Solution or None
    state : JobState
        Its ticks count where the data cannot tell.

    Returns
    -------
    GuideScreen
    """
    steps = tuple(_told(step, step.seen(job, solution, state), state) for step in _STEPS)
    now = next((k for k, step in enumerate(steps) if step.state is StepState.OPEN), None)
    headline = "Every step is done." if now is None else f"{steps[now].title}."
    return GuideScreen(job.id, job.title, DANGER, now, headline, steps)


def _told(step: _Step, seen: Seen, state: JobState) -> GuideStep:
    how = StepState.OPEN
    if seen.done:
        how = StepState.DONE
    elif seen.may_tick and state.ticks.get(step.id, False):
        how = StepState.BY_HAND
    go = step.go if seen.go is None else seen.go
    return GuideStep(step.id, step.title, step.why, step.good, how, seen.because, seen.may_tick, go)
