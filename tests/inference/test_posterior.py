"""Joint samples: as the particles say at stations, as a dense Gaussian between them, the same for a seed."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbmark.inference.chain import chain_step
from plumbmark.inference.posterior import _sample_many
from plumbmark.inference.solve import solve_job, solve_with_posterior
from plumbmark.inference.stretch import DEPTH_MEAN, DEPTH_VAR


def dense(at, value, precision, scales):  # type: ignore[no-untyped-def]
    """Mean and covariance of the chain given its data, by one dense Gaussian over all states."""
    mean0, var0, slope0, slope_var, length = scales
    n = len(at)
    step = np.eye(2 * n)
    noise = np.zeros((2 * n, 2 * n))
    noise[0, 0], noise[1, 1] = var0, slope0
    for s in range(1, n):
        f, a, q00, q01, q11 = chain_step.py_func(at[s] - at[s - 1], slope_var, length)
        step[2 * s : 2 * s + 2, 2 * s - 2 : 2 * s] = -np.array([[1.0, f], [0.0, a]])
        noise[2 * s : 2 * s + 2, 2 * s : 2 * s + 2] = [[q00, q01], [q01, q11]]
    inverse = np.linalg.inv(step)
    prior = (inverse @ noise @ inverse.T)[::2, ::2]
    mean = np.full(n, mean0)
    real = precision > 0
    gain = prior[:, real] @ np.linalg.inv(prior[np.ix_(real, real)] + np.diag(1.0 / precision[real]))
    return mean + gain @ (value[real] - mean0), prior - gain @ prior[real]


@pytest.mark.parametrize("length", [5.0, 1e9])
def test_sampled_paths_have_the_mean_and_covariance_of_the_chain(length: float) -> None:
    at = np.array([0.0, 1.0, 1.5, 4.0, 9.0])
    value = np.array([0.1, 0.0, -0.2, 0.0, 0.3])
    precision = np.array([400.0, 0.0, 100.0, 0.0, 25.0])
    scales = np.array([-0.1, 0.3, 2.5e-4, 2.5e-4, length])
    n = 40000
    noise = np.random.default_rng(4).normal(size=(n, 3, 5))
    sample, mean, var = (np.empty((n, 5)) for _ in range(3))
    _sample_many(at, np.tile(value, (n, 1)), np.tile(precision, (n, 1)), scales, noise, sample, mean, var)
    want, cov = dense(at, value, precision, scales)
    assert mean[0] == pytest.approx(want, abs=1e-9)
    assert var[0] == pytest.approx(np.diag(cov), rel=1e-6)
    sd = np.sqrt(np.diag(cov))
    assert np.abs((sample.mean(axis=0) - want) / sd).max() < 4.5 / math.sqrt(n)
    assert np.cov(sample.T) / np.outer(sd, sd) == pytest.approx(
        cov / np.outer(sd, sd), abs=4.5 / math.sqrt(n)
    )


def test_samples_at_a_station_are_those_of_the_particles(make_job) -> None:  # type: ignore[no-untyped-def]
    _solution, posterior = solve_with_posterior(make_job(stations=8, second=(0.9, 1.1, -0.35)))
    (part,) = posterior.parts["E1"]
    drawn = posterior.draw(6000, 3)["E1"]
    k = int(np.abs(drawn.chainage_m - part.ready.middle_m - part.ready.stretch.at[4]).argmin())
    mean = part.blend.weights @ part.blend.states.of(DEPTH_MEAN)[:, 4]
    spread = part.blend.states.of(DEPTH_VAR)[:, 4] + (part.blend.states.of(DEPTH_MEAN)[:, 4] - mean) ** 2
    sd = math.sqrt(part.blend.weights @ spread + 0.03**2)
    z = np.log(drawn.depth_m[:, k])
    assert z.mean() == pytest.approx(mean, abs=5.0 * sd / math.sqrt(6000))
    assert z.std() == pytest.approx(sd, rel=0.06)


def test_samples_reach_over_the_whole_line_and_repeat(make_job) -> None:  # type: ignore[no-untyped-def]
    job = make_job(stations=6)
    solution, posterior = solve_with_posterior(job)
    assert solution == solve_job(job)
    a, b = posterior.draw(5, 7, 0.4)["E1"], posterior.draw(5, 7, 0.4)["E1"]
    assert np.array_equal(a.depth_m, b.depth_m)
    assert np.array_equal(a.easting_m, b.easting_m)
    stations = [s.chainage_m for s in solution.lines[0].stations]
    assert a.chainage_m[0] < stations[0]
    assert a.chainage_m[-1] > stations[-1]
    assert np.diff(a.chainage_m).max() <= 0.4 + 1e-9
    assert a.depth_m.shape == a.easting_m.shape == (5, len(a.chainage_m))


def test_no_samples_and_no_spacing_are_refused(make_job) -> None:  # type: ignore[no-untyped-def]
    _solution, posterior = solve_with_posterior(make_job(stations=2))
    with pytest.raises(ValueError, match="at least one"):
        posterior.draw(0, 1)
    with pytest.raises(ValueError, match="positive spacing"):
        posterior.draw(5, 1, 0.0)
