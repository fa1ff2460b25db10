"""What the guide shows: what do I do now, why, and what does good look like?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from plumbmark.model.screen_parts import Go


class StepState(StrEnum):
    """Whether a step is done, and who says so."""

    DONE = "done"
    BY_HAND = "ticked by hand"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class GuideStep:
    """One step.

    Attributes
    ----------
    id : str
        As in a tick.
    title, why, good : str
        What to do, why, and what good looks like.
    state : StepState
    because : tuple of str
        The data that tick it, or what is missing.
    may_tick : bool
        Whether a tick by hand counts: not where the data themselves say, or say otherwise.
    go : Go
        Where it is done.
    """

    id: str
    title: str
    why: str
    good: str
    state: StepState
    because: tuple[str, ...]
    may_tick: bool
    go: Go


@dataclass(frozen=True, slots=True)
class GuideScreen:
    """The guide: danger first, then one step at a time.

    Attributes
    ----------
    danger : tuple of str
        Gas, a struck or an energised line: before anything else, always there; all of it in a breath first,
        then one by one.
    now : int or None
        Index of the step to do now; None where all are done.
    headline : str
    steps : tuple of GuideStep
        In the order in which they are done.
    """

    job: str
    title: str
    danger: tuple[str, ...]
    now: int | None
    headline: str
    steps: tuple[GuideStep, ...]
