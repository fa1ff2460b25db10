"""Evidence of one station against brute force, and draws of the prior against its density."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from plumbmark.inference.evidence import LN_DEPTH_0, weigh_stations
from plumbmark.inference.prepare import known_of, prepare
from plumbmark.inference.priors import DEPTH_LOG_SIGMA
from plumbmark.inference.sampler import Effort, priors_of, states_of
from plumbmark.inference.scene import FIRST_RAISED, fill_node
from plumbmark.inference.second import Known, draw_prior
from plumbmark.inference.stations import stations_of
from plumbmark.inference.stretch import FIRST_LINE, Stretch
from plumbmark.inference.table import MOST_IMAGES
from plumbmark.model.job import Job

NO_WALKS = np.zeros((1, 3, 3)), np.zeros((1, 3))
NO_CANDIDATES = np.empty((0, 7))


def one_station(job: Job) -> tuple[Stretch, Known]:
    line = job.lines[0]
    ready = prepare(job, line, stations_of(job, line, []), line.setups[0])
    return ready.stretch, known_of(job, line.setups[0], NO_CANDIDATES, 1.0)


def brute(theta: np.ndarray, d: Stretch) -> tuple[float, int]:
    """Log of the integral over ln depth of likelihood x prior, and the number of its humps that count.

    The place of the mark is folded in by the same `weigh_stations` as there.
    """
    at = np.empty(MOST_IMAGES)
    deep, current = np.empty(MOST_IMAGES, dtype=complex), np.empty(MOST_IMAGES, dtype=complex)
    nodes = np.zeros((1, 2, FIRST_RAISED + len(d.raises)))
    fits, marks = np.empty((1, 3)), np.empty((1, 2))

    def log_density(z: float) -> float:
        how = (float(d.frequency_hz[0]), d.raises, d.has_halves, d.has_null_marks)
        fill_node(theta, z, 0.0, *how, at, deep, current, nodes[0, 0])
        weigh_stations(d, math.exp(2.0 * theta[0]), np.array([z]), nodes, *NO_WALKS, fits, marks)
        mean, var = marks[0]
        # across the leg: N(0, 2 m) for the line itself, then the mark and its fix
        v = 4.0 + var + d.fix_var[0]
        across = -0.5 * (d.across[0] - mean) ** 2 / v - 0.5 * math.log(2.0 * math.pi * v)
        prior = -0.5 * ((z - LN_DEPTH_0) / DEPTH_LOG_SIGMA) ** 2 - math.log(
            DEPTH_LOG_SIGMA * math.sqrt(2.0 * math.pi)
        )
        return float(fits[0, 0] + across + prior)

    z = np.linspace(-2.2, 1.65, 771)
    y = np.array([log_density(q) for q in z])
    top, mode = float(y.max()), float(z[y.argmax()])
    concave = (np.diff(y, 2) < 0.0) & (y[1:-1] > top - 5.0)  # a shoulder counts as a hump of its own
    humps = int((np.diff(concave.astype(int), prepend=0) > 0).sum())
    near = [mode - 0.1, mode, mode + 0.1]
    total, _ = quad(lambda q: math.exp(log_density(q) - top), -2.2, 1.65, points=near, limit=200)
    return top + math.log(total), humps


CASES = {
    "alone": {},
    "deep": {"depth": 2.2},
    "raised": {"raised": 0.3},
    "second line": {"second": (0.9, 1.1, -0.35), "raised": 0.4},
}


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("lines", [0, 1])
def test_evidence_of_one_station_is_the_integral(case: str, lines: int, make_job) -> None:  # type: ignore[no-untyped-def]
    """To 0.03 nat for half of the globals of 400 drawn from the prior that fit best, to 0.4 for all.

    What differs is curvature: that of the displays themselves is left out, and where the peak runs fast with
    depth the parabola between nodes is not it. Where readings contradict each other under the globals the
    depth has two humps; the evidence is then that of the one it climbed, less than the whole.
    """
    d, known = one_station(make_job(stations=1, **CASES[case]))
    thetas = draw_prior(400, lines, known, np.random.default_rng(8))
    starts = np.full((len(thetas), 1), float(d.ln_depth[0]))
    got = states_of(thetas, d, starts, Effort(rounds=8, threads=1)).log_evidence
    off = []
    for i in np.argsort(-got)[:16]:
        exact, humps = brute(thetas[i], d)
        assert got[i] < exact + 0.2
        if humps == 1:
            off.append(abs(got[i] - exact))
    assert len(off) >= 6
    assert np.median(off) < 0.03
    assert max(off) < 0.4


def test_evidence_of_a_station_where_only_depth_was_read(make_job, spoil) -> None:  # type: ignore[no-untyped-def]
    job = spoil(make_job(stations=1), 0, null_offset_m=None, half_left_m=None, half_right_m=None)
    d, known = one_station(job)
    theta = draw_prior(1, 0, known, np.random.default_rng(0))
    got = states_of(theta, d, d.ln_depth[None].copy(), Effort(rounds=8, threads=1)).log_evidence[0]
    assert got == pytest.approx(brute(theta[0], d)[0], abs=0.1)


# --- the prior -----------------------------------------------------------------------------------

OTHER_LINE = np.array([[1.2, 0.3, 0.02, 0.05, -0.1, 0.45, 0.6]])
EDGES = {  # number of a second line: bins well away from the eased edges of its offset
    0: (-5.0, -3.0, -2.0, -1.0, 0.0, 1.0, 1.5, 2.5, 5.0),
    1: (-1.2, -0.2, -0.05, -0.01, 0.0, 0.01, 0.05, 0.2, 1.2),
    2: (-2.2, -0.8, -0.4, 0.0, 0.4, 0.8, 1.9),
    3: (-5.5, -0.7, -0.4, -0.2, 0.0, 0.2, 0.4, 0.7, 5.5),
    4: (-3.0, -0.2, -0.05, 0.0, 0.05, 0.2, 3.0),
    5: (-0.3, -0.03, 0.0, 0.03, 0.3),
    6: (-0.1, -0.01, 0.0, 0.01, 0.1),
}


@pytest.mark.parametrize("number", EDGES)
@pytest.mark.parametrize("candidates", [NO_CANDIDATES, OTHER_LINE], ids=["alone", "other-line"])
def test_draws_follow_the_density(number: int, candidates: np.ndarray) -> None:
    """The share of draws in a bin is the mean chance that the density gives it, all else as drawn.

    Holds for draws of the density and, number by number, for little else. Bound: four standard deviations
    of a share among that many draws.
    """
    known = Known(4.1, 1.1, 0.03, 0.12, 0.3, 0.6, -1.0, 20.0, candidates)
    draws = draw_prior(2500, 1, known, np.random.default_rng(21))
    k, edges = FIRST_LINE + number, np.array(EDGES[number])
    parts = 48
    chance = np.zeros((len(draws), len(edges) - 1))
    grid = [a + (b - a) * (np.arange(parts) + 0.5) / parts for a, b in pairwise(edges)]
    for j, x in enumerate(grid):
        every = np.repeat(draws, parts, axis=0)
        every[:, k] = np.tile(x, len(draws))
        density = np.exp(priors_of(every, known)).reshape(len(draws), parts)
        chance[:, j] = density.mean(axis=1) * (edges[j + 1] - edges[j])
    chance /= chance.sum(axis=1, keepdims=True)
    expected = chance.mean(axis=0)
    share = np.histogram(draws[:, k], edges)[0] / len(draws)
    bound = 4.0 * np.sqrt(expected * (1.0 - expected) / len(draws))
    assert np.all(np.abs(share - expected) < bound), (share - expected) / bound


def test_all_draws_are_within_what_can_be() -> None:
    known = Known(4.1, 1.1, 0.03, 0.12, 0.3, 0.6, -1.0, 20.0, OTHER_LINE)
    draws = draw_prior(5000, 2, known, np.random.default_rng(2))
    assert np.all(priors_of(draws, known) > -1e29)
    fixed = known._replace(lower_low=0.05, lower_high=0.05)
    assert np.ptp(draw_prior(50, 1, fixed, np.random.default_rng(2))[:, 3]) == 0.0
