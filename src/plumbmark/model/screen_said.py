"""What was said of a job at the time, apart from what a solve of today says."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SaidThen:
    """An answer as it was said.

    `at` in ISO 8601 with its offset, `when` in words; `digest` stands for everything it was computed from,
    `version` for the program that computed it. `now`: it is of the facts as they stand now. `lines` are the
    sentences that stood first, for each line.
    """

    at: str
    when: str
    digest: str
    version: str
    now: bool
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SaidScreen:
    """Answers of a job, the newest first. `older`: so many more are kept and not listed."""

    job: str
    sentence: str
    answers: tuple[SaidThen, ...]
    older: int
