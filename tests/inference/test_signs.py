"""Reversals of the current from directions that were read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from plumbmark.inference.signs import reversals_of
from plumbmark.inference.stations import stations_of
from plumbmark.model.job import Job


def found(make_job: Callable[..., Job], signs: list[int | None], turn: list[float] | None = None):  # type: ignore[no-untyped-def]
    job = make_job(stations=len(signs))
    rows = tuple(replace(r, current_sign=s) for r, s in zip(job.readings, signs, strict=True))
    job = replace(job, readings=rows)
    stations = stations_of(job, job.lines[0], [])
    current = np.full(len(signs), 0.01)
    return reversals_of(stations, np.ones(len(signs)) if turn is None else np.array(turn), current)


def test_direction_that_turns_round_is_an_event_between_the_two_readings(
    make_job: Callable[..., Job],
) -> None:
    (event,) = found(make_job, [1, 1, 1, -1, -1, -1])
    assert event.kind == "reversal"
    assert event.chainage_m == pytest.approx(7.5)
    assert event.change_db == 0.0
    assert event.probability > 0.99


@pytest.mark.parametrize("signs", [[1, 1, -1, 1, 1], [None] * 5, [1, None, -1, None, None], [1] * 6])
def test_one_odd_direction_or_none_is_no_reversal(
    make_job: Callable[..., Job], signs: list[int | None]
) -> None:
    assert found(make_job, signs) == ()


def test_rows_that_look_back_turn_their_direction_with_them(make_job: Callable[..., Job]) -> None:
    assert found(make_job, [1, 1, -1, -1], [1.0, 1.0, -1.0, -1.0]) == ()
