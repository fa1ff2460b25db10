"""A line read at one place only, from the job to the answer."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from plumbmark.inference.solve import solve_job, solve_with_posterior
from plumbmark.model.job import Job
from plumbmark.model.measured import Measured

Maker = Callable[..., Job]


def one(job: Job, **cells: object) -> Job:
    """The job with other cells in its one reading."""
    (reading,) = job.readings
    return replace(job, readings=(replace(reading, **cells),))  # type: ignore[arg-type]


def test_one_line_alone(make_job: Maker) -> None:
    job = make_job(stations=1, depth=1.1, raised=0.3)
    (line,) = solve_job(job).lines
    (station,) = line.stations
    assert station.depth_m.value == pytest.approx(1.1, rel=0.05)
    assert station.depth_m.low < 1.1 < station.depth_m.high
    assert abs(station.lateral_shift_m.value) < 0.04
    assert station.lateral_shift_m.low < 0.0 < station.lateral_shift_m.high
    assert solve_job(job).lines[0].stations == line.stations


def test_a_slip_is_asked_about(make_job: Maker) -> None:
    job = make_job(stations=1, depth=0.9, raised=0.3)
    (reading,) = job.readings
    assert reading.depth_m is not None
    assert reading.raised_depth_m is not None
    tenfold = {
        name: Measured(10.0 * value.value, 0.0, 0.1)
        for name, value in (("depth_m", reading.depth_m), ("raised_depth_m", reading.raised_depth_m))
    }
    (station,) = solve_job(one(job, **tenfold)).lines[0].stations
    assert "decimal point" in station.because[0]
    assert station.depth_m.value == pytest.approx(0.9, rel=0.12)
    (honest,) = solve_job(job).lines[0].stations
    assert not any("slip" in words for words in honest.because)


def test_without_a_bearing_the_interval_is_round(make_job: Maker) -> None:
    job = make_job(stations=1, second=(1.0, 1.0, -0.4))
    (station,) = solve_job(one(job, bearing_deg=None)).lines[0].stations
    assert station.lateral_shift_m.value == 0.0
    assert station.lateral_shift_m.low == -station.lateral_shift_m.high


def test_joint_samples_are_those_of_the_answer(make_job: Maker) -> None:
    job = make_job(stations=1, second=(1.0, 1.0, -0.3), raised=0.3)
    solution, posterior = solve_with_posterior(job)
    (station,) = solution.lines[0].stations
    draws = posterior.draw(400, 3)[solution.lines[0].line]
    middle = int(np.abs(np.asarray(draws.chainage_m) - station.chainage_m).argmin())
    deep = np.asarray(draws.depth_m)[:, middle]
    assert math.log(float(np.median(deep)) / station.depth_m.value) == pytest.approx(0.0, abs=0.08)
    inside = np.mean((deep > station.depth_m.low) & (deep < station.depth_m.high))
    assert inside > 0.9
