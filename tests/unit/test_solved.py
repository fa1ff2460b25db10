"""A job asked about twice in one process is solved once, and never answered with another job's findings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from plumbmark.app import solved as module
from plumbmark.app.solved import solved
from plumbmark.model.estimate import Solution
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Job, Line
from plumbmark.model.reading import Place, Reading


@pytest.fixture
def solves(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[tuple[Job, frozenset[str]]]]:
    seen: list[tuple[Job, frozenset[str]]] = []

    def solve(job: Job, cannot: frozenset[str]) -> tuple[Solution, None]:
        seen.append((job, cannot))
        return Solution(job.id, (), None, job.findings), None

    monkeypatch.setattr("plumbmark.inference.solve.solve_with_posterior", solve)
    module._kept.cache_clear()
    yield seen
    module._kept.cache_clear()


def job(count: int = 2) -> Job:
    rows = tuple(Reading(str(k), "A", Place(float(k), 0.0), k) for k in range(count))
    return Job("j", lines=(Line("A"),), readings=rows)


def test_the_same_job_is_solved_once(solves: list[tuple[Job, frozenset[str]]]) -> None:
    assert solved(job())[0] is solved(job())[0]
    assert len(solves) == 1


def test_what_makes_another_answer_is_solved_anew(solves: list[tuple[Job, frozenset[str]]]) -> None:
    warned = replace(job(), findings=(Finding(Severity.WARNING, "readings.csv", "something"),))
    solved(job())
    assert solved(warned)[0].warnings == warned.findings
    solved(job(), frozenset({"raise"}))
    solved(job(3))
    assert len(solves) == 4


def test_a_large_job_is_not_kept(solves: list[tuple[Job, frozenset[str]]]) -> None:
    solved(job(200))
    solved(job(200))
    assert len(solves) == 2
