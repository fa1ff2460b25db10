"""How a job's answer stands at a moment, and what a screen is shown with."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, TypeVar

from plumbmark.model.finding import Finding

T = TypeVar("T")


class State(StrEnum):
    """What became of the newest facts of a job."""

    SOLVING = "solving"
    ANSWERED = "answered"
    NOTHING = "nothing to solve yet"
    FINDINGS = "findings"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Standing:
    """How the answer of a job stands.

    `order` is that of the newest fact of the job. `answered_order` that of the newest fact in the answer that
    is shown, None where there is none or it was said before the last start; it may be behind `order`, and
    `words` says so. `since`: when the solve that is under way was asked for. Times are ISO 8601 with offset.
    """

    state: State
    words: str
    order: int
    answered_order: int | None = None
    answered_at: str | None = None
    since: str | None = None
    digest: str | None = None
    version: str = ""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Shown(Generic[T]):
    """A screen with the standing of the answer behind it.

    `screen` is None where nothing can be shown yet. `note` says what is still being made for it, or why it
    cannot be made; empty where it is whole.
    """

    standing: Standing
    screen: T | None
    note: str = ""
