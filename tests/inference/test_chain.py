"""Smooth states along a line against dense linear algebra; quantiles of mixtures against draws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbmark.inference.blend import chance_within, quantiles
from plumbmark.inference.chain import random_walk_chain, smooth_slope_chain

pytestmark = pytest.mark.kernel

Dense = tuple[np.ndarray, np.ndarray, float]


def dense(cov: np.ndarray, mean: float, value: np.ndarray, precision: np.ndarray) -> Dense:
    """Posterior mean, variance and log evidence of a Gaussian with one noisy datum a station (or none)."""
    seen = precision > 0.0
    if not seen.any():
        return np.full(len(value), mean), np.diag(cov).copy(), 0.0
    s = cov[np.ix_(seen, seen)] + np.diag(1.0 / precision[seen])
    e = value[seen] - mean
    gain = np.linalg.solve(s, cov[seen]).T
    evidence = -0.5 * (e @ np.linalg.solve(s, e) + np.linalg.slogdet(2.0 * math.pi * s)[1])
    return mean + gain @ e, np.diag(cov - gain @ cov[seen]).copy(), float(evidence)


def turning_slope(at: np.ndarray, var0: float, slope0: float, slope_var: float, length: float) -> np.ndarray:
    """Covariance of a value whose slope is an Ornstein-Uhlenbeck process that starts with variance slope0.

    The slope's covariance, e^-(u+v)/L (slope0 - slope_var) + slope_var e^-|u-v|/L, integrated over
    [0, t] x [0, t'] by hand.
    """
    t = at - at[0]
    a, b = np.minimum.outer(t, t), np.maximum.outer(t, t)
    run = length * -np.expm1(-t / length)
    square = 2.0 * length * a + length**2 * (
        np.exp(-a / length) + np.exp(-b / length) - np.exp(-(b - a) / length) - 1.0
    )
    return var0 + (slope0 - slope_var) * np.outer(run, run) + slope_var * square


def free_slope(at: np.ndarray, var0: float, slope0: float, rate: float) -> np.ndarray:
    """Covariance of an integrated random walk: rate (a^2 b / 2 - a^3 / 6), a <= b."""
    t = at - at[0]
    a, b = np.minimum.outer(t, t), np.maximum.outer(t, t)
    return var0 + slope0 * np.outer(t, t) + rate * (a * a * b / 2.0 - a**3 / 6.0)


def smoothed(at: np.ndarray, value: np.ndarray, precision: np.ndarray, *rest: float) -> Dense:
    n = len(at)
    mean, var = np.empty(n), np.empty(n)
    evidence = smooth_slope_chain(at, value, precision, *rest, np.empty((n, 12)), mean, var)
    return mean, var, evidence


@st.composite
def data(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Places with gaps of 0 to 6 m, values, precisions; some stations have no datum."""
    n = draw(st.integers(1, 14))
    gaps = draw(st.lists(st.one_of(st.just(0.0), st.floats(0.05, 6.0)), min_size=n, max_size=n))
    values = draw(st.lists(st.floats(-2.0, 2.0), min_size=n, max_size=n))
    sigmas = draw(st.lists(st.one_of(st.none(), st.floats(0.02, 1.0)), min_size=n, max_size=n))
    precision = np.array([0.0 if s is None else s**-2.0 for s in sigmas])
    return np.cumsum(gaps) - 3.0, np.array(values), precision


def agree(one: Dense, other: Dense, scale: float) -> None:
    np.testing.assert_allclose(one[0], other[0], atol=1e-8 * scale)
    np.testing.assert_allclose(one[1], other[1], atol=1e-8 * scale, rtol=1e-8)
    assert one[2] == pytest.approx(other[2], abs=1e-8 * scale, rel=1e-8)


@given(data(), st.floats(0.5, 40.0), st.floats(0.005, 0.3), st.floats(0.005, 0.3))
def test_value_with_a_turning_slope(
    d: tuple[np.ndarray, np.ndarray, np.ndarray], length: float, slope0: float, slope: float
) -> None:
    at, value, precision = d
    cov = turning_slope(at, 0.3, slope0**2, slope**2, length)
    got = smoothed(at, value, precision, 0.1, 0.3, slope0**2, slope**2, length)
    agree(got, dense(cov, 0.1, value, precision), 10.0)


@given(data(), st.floats(0.003, 0.3), st.floats(0.005, 0.1))
def test_value_with_a_free_slope(
    d: tuple[np.ndarray, np.ndarray, np.ndarray], slope0: float, rate: float
) -> None:
    at, value, precision = d
    cov = free_slope(at, 4.0, slope0**2, rate**2)
    got = smoothed(at, value, precision, 0.0, 4.0, slope0**2, rate**2, 1e9)
    agree(got, dense(cov, 0.0, value, precision), 100.0)


@given(data(), st.floats(0.001, 0.5))
def test_random_walk(d: tuple[np.ndarray, np.ndarray, np.ndarray], rate: float) -> None:
    at, value, precision = d
    t = at - at[0]
    cov = 2.25 + rate * np.minimum.outer(t, t)
    mean, var = np.empty(len(at)), np.empty(len(at))
    evidence = random_walk_chain(at, value, precision, -0.2, 2.25, rate, mean, var)
    agree((mean, var, evidence), dense(cov, -0.2, value, precision), 10.0)


def test_slope_that_forgets_slowly_is_nearly_free() -> None:
    """The two kinds of chain meet: over 20 m, a length of 2 km with variance rate x length / 2.

    They differ by the share of the slope that is forgotten, 20 m / 2 km: one in a hundred.
    """
    at = np.linspace(0.0, 20.0, 11)
    value, precision = np.sin(at / 4.0), np.full(11, 100.0)
    slow = smoothed(at, value, precision, 0.0, 1.0, 0.01, 1e-3 * 2e3 / 2.0, 2e3)
    free = smoothed(at, value, precision, 0.0, 1.0, 0.01, 1e-3, 1e9)
    np.testing.assert_allclose(slow[0], free[0], atol=0.01)
    np.testing.assert_allclose(slow[1], free[1], rtol=0.01)
    assert slow[2] == pytest.approx(free[2], rel=0.01)


# --- mixtures ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spread", "uneven"), [(0.0, 0.0), (0.3, 0.5), (3.0, 0.5)], ids=["one-hump", "blurred", "apart"]
)
def test_quantiles_of_a_mixture_are_those_of_draws_from_it(spread: float, uneven: float) -> None:
    """Bound: 3 per cent of the mixture's standard deviation; the draws themselves are good to a half.

    With one hump a band of 19 in 20 that stops short at 1.66 sigma, say, holds only 18 in 20.
    """
    rng = np.random.default_rng(11)
    particles = 60
    mean = spread * rng.normal(size=(particles, 1)) + 0.4
    var = rng.uniform(1.0 - uneven, 1.0 + uneven, (particles, 1))
    weights = rng.dirichlet(np.full(particles, 5.0))
    pick = rng.choice(particles, 400_000, p=weights)
    draws = rng.normal(mean[pick, 0], np.sqrt(var[pick, 0]))
    levels = (0.025, 0.25, 0.5, 0.75, 0.975)
    got = quantiles(mean, var, weights, levels)[:, 0]
    np.testing.assert_allclose(got, np.quantile(draws, levels), atol=0.03 * draws.std())


def test_chance_between_two_ends_is_the_normal_distribution() -> None:
    """Two thirds and nineteen in twenty: 0.6827 within one sigma, 0.95 within 1.959964 (any table)."""
    mean, var = np.array([[0.0, 2.0]]), np.array([[1.0, 0.25]])
    ends = np.array([1.0, 0.5 * 1.959964])
    out = np.empty((1, 2))
    chance_within(mean, var, mean[0] - ends, mean[0] + ends, out)
    np.testing.assert_allclose(out[0], [0.682689, 0.95], atol=1e-6)
