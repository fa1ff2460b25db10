"""The next step: what each possible action would do to the band, weighed before it is done.

Each particle of the posterior says what the action would read if it were the truth; the others, weighted
by how well they agree with that, say what would then be left of the band. The mean over particles is the
promise.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference import priors as p
from plumbmark.inference.answer import Numbers
from plumbmark.inference.asking import ask_next
from plumbmark.inference.blend import Blend
from plumbmark.inference.prepare import Prepared
from plumbmark.inference.scene import fill_node
from plumbmark.inference.stations import Station
from plumbmark.inference.stretch import DEPTH_MEAN, thetas_at
from plumbmark.model.estimate import NextStep, Trust
from plumbmark.model.job import Line

FLOATS = NDArray[np.float64]

RAISE_M = 0.30
PAYS = 0.80  # an action that leaves more than this share of the band is not worth the walk
TRUTHS = 60


@kernel
def _predict_many(
    thetas: FLOATS, z: FLOATS, along: float, frequency_hz: float, raises: FLOATS, halves: bool, out: FLOATS
) -> None:
    at = np.empty(64)
    deep = np.empty(64, dtype=np.complex128)
    current = np.empty(64, dtype=np.complex128)
    for i in range(thetas.shape[0]):
        fill_node(thetas[i], z[i], along, frequency_hz, raises, halves, False, at, deep, current, out[i])


def _left_over(ln_depth: FLOATS, own_var: FLOATS, seen: FLOATS, sigma: FLOATS, weights: FLOATS) -> float:
    """Expected share of the spread of ln depth that is left after reading `seen` (particles, kinds)."""
    mean = float(weights @ ln_depth)
    before = math.sqrt(float(weights @ (own_var + (ln_depth - mean) ** 2)))
    order = np.linspace(0, len(weights) - 1, min(TRUTHS, len(weights))).astype(int)
    rank = np.searchsorted(np.cumsum(weights), (np.arange(len(order)) + 0.5) / len(order)).clip(
        0, len(weights) - 1
    )
    after = 0.0
    for m in rank:
        e = (seen - seen[m]) / sigma
        w = weights * np.exp(-0.25 * (e * e).sum(axis=1))  # noise on both sides of the comparison
        w /= w.sum()
        middle = float(w @ ln_depth)
        after += math.sqrt(float(w @ (own_var + (ln_depth - middle) ** 2)))
    return after / len(rank) / before


def best_step(
    line: Line,
    stations: list[Station],
    ready: Prepared,
    blend: Blend,
    numbers: Numbers,
    first: int,
    last: int,
    cannot: frozenset[str] = frozenset(),
) -> tuple[float, NextStep] | None:
    """The action at the worst station of a stretch that shrinks its band most, with its gain in metres.

    Actions of `cannot` are not offered; where nothing is left that pays, that is said.
    """
    width = numbers.depth[2] - numbers.depth[0]
    worth = [
        (float(1.0 - numbers.within[i]) * float(width[i]), i)
        for i in range(first, last)
        if stations[i].source == "reading" and not stations[i].repeat_of
    ]
    if not worth:
        return None
    _score, i = max(worth)
    s = stations[i]
    r = s.reading
    assert r is not None
    if numbers.within[i] >= 0.97:
        return 0.0, NextStep("none", "Enough: every reading of this line holds. Go on.", line.id)
    d = ready.stretch
    seen = np.empty((len(blend.weights), 8))
    row = 0
    for population in blend.populations:
        count = len(population.thetas)
        _predict_many(
            thetas_at(population.thetas, d, i),
            np.ascontiguousarray(population.states.of(DEPTH_MEAN)[:, i]),
            float(d.at[i]),
            float(d.frequency_hz[d.setup[i]]),
            np.array([RAISE_M]),
            True,
            seen[row : row + count],
        )
        row += count
    z = blend.states.of(DEPTH_MEAN)[:, i]
    own = numbers.depth_particles_var[:, i]
    half_sigma = np.array([0.045, 0.045])
    options: list[tuple[str, float, float | None]] = []
    if r.raised_depth_m is None:
        sigma = np.array([math.hypot(p.DEPTH_SIGMA, p.RAISE_SIGMA_M)])
        options.append(("raise", _left_over(z, own, seen[:, 7:8], sigma, blend.weights), RAISE_M))
    halves = np.column_stack([seen[:, 0] - seen[:, 2], seen[:, 3] - seen[:, 0]])
    if r.half_left_m is None and r.half_right_m is None:
        options.append(("half points", _left_over(z, own, halves, half_sigma, blend.weights), None))
    if s.profile is None:
        both = np.column_stack([halves, seen[:, 1] - seen[:, 0]])
        # some fifteen points fix these three places about three times better than single marks do
        sharp = np.array([0.02, 0.02, 0.02])
        options.append(("walk across", _left_over(z, own, both, sharp, blend.weights), None))
    options = [o for o in options if o[0] not in cannot]
    options.sort(key=lambda o: o[1] + (0.10 if o[0] == "walk across" else 0.0))
    if (not options or options[0][1] > PAYS) and "test hole" in cannot:
        words = f"Nothing that can be done narrows reading {s.id} much. Its band stands; go on."
        return 0.0, NextStep("none", words, line.id, s.id)
    if not options or options[0][1] > PAYS:
        return float(width[i]) * 0.5, NextStep(
            "test hole",
            f"Nothing read from the surface narrows reading {s.id} much. A test hole there settles it.",
            line.id,
            s.id,
            None,
            s.place.easting_m,
            s.place.northing_m,
            float(width[i]),
            0.06,
        )
    action, left, raise_m = options[0]
    after = left * float(width[i])
    words = {
        "raise": f"At reading {s.id} set the receiver on a 12 in (0.30 m) block and read the depth again.",
        "half points": f"At reading {s.id} find where the signal falls to half, left and right of the mark, "
        "and measure both.",
        "walk across": f"At reading {s.id} walk square across the line "
        "and write the signal down at fifteen points.",
    }[action]
    return float(width[i]) - after, NextStep(
        action, words, line.id, s.id, raise_m, s.place.easting_m, s.place.northing_m, float(width[i]), after
    )


def step_words(s: Station, trust: Trust, line: Line) -> str:
    """What to do next at this one station."""
    if trust is Trust.HOLDS:
        return "Enough here, go on."
    return ask_next(s.reading, s.profile is not None)[1]
