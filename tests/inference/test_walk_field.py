"""Amplitudes of a walk against the public fields, and every derivative by halving the step."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbmark.inference import walk_field as w
from plumbmark.physics.halfspace import line_over_ground_field

OFFSET = np.linspace(-2.0, 2.0, 12)
HEIGHT = np.where(np.arange(12) % 3 == 0, math.nan, 0.05)
FREQUENCY = 33000.0
STATES = {
    "alone": [0.053, 0.1, 4.0, 0.07],
    "one more": [0.053, 0.1, 4.0, 0.07, 0.9, -0.2, -0.3, 0.1],
    "two more, clay": [-0.2, -0.4, 1.5, 0.07, -1.3, 0.3, 0.5, -0.2, 0.6, 0.1, -0.4, 0.05],
}


def amplitudes(state: np.ndarray, ease: float = 0.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Amplitudes, their slopes along the walk and by every unknown."""
    n = len(OFFSET)
    lines = (len(state) - w.FIRST) // w.PER
    height = np.empty(n)
    work, sums, total = np.empty((w.WORK, n)), np.empty((lines + 1, w.ROWS, n)), np.empty((w.ROWS, n))
    size, steep, slopes = np.empty((2, n)), np.empty((2, n)), np.empty((len(state), 2, n))
    w.heights_of(HEIGHT, state[w.LOWER], height)
    w.walk_sums(state, FREQUENCY, OFFSET, height, True, work, sums, total)
    e = ease * math.exp(-state[w.LN_DEPTH])
    w.amplitudes(total, e, size, steep)
    w.amplitude_slopes(state, HEIGHT, sums, total, e, size, steep, slopes)
    return size, steep, slopes


@pytest.mark.parametrize("case", STATES)
def test_amplitudes_are_those_of_the_public_field(case: str) -> None:
    state = np.array(STATES[case])
    skin = 503.2921210448704 * math.sqrt(math.exp(state[w.SOIL]) / FREQUENCY)
    height = np.where(np.isnan(HEIGHT), state[w.LOWER], HEIGHT)
    lines = [(state[0], math.exp(state[1]), 1.0 + 0.0j)]
    for q, z, re, im in state[w.FIRST :].reshape(-1, w.PER):
        lines.append((state[0] + q, math.exp(z), complex(re, im)))
    fields = [
        line_over_ground_field(OFFSET, height, line_easting=x, depth=d, current=c, skin_depth=skin)
        for x, d, c in lines
    ]
    exact = np.abs(np.sum(fields, axis=0)) / 2e-7
    assert amplitudes(state)[0] == pytest.approx(exact, rel=1e-11)


@pytest.mark.kernel
@pytest.mark.parametrize("ease", [0.0, 0.05])
@pytest.mark.parametrize("case", STATES)
def test_error_of_every_derivative_falls_with_the_square_of_the_step(case: str, ease: float) -> None:
    """Taylor: what a first-order step leaves is four times less for half the step."""
    state = np.array(STATES[case])
    size, _steep, slopes = amplitudes(state, ease)
    for k in range(len(state)):
        left = []
        for step in (2e-3, 1e-3, 5e-4):
            moved = state.copy()
            moved[k] += step
            left.append(np.abs(amplitudes(moved, ease)[0] - size - step * slopes[k]).max())
        assert left[0] / left[1] == pytest.approx(4.0, rel=0.08), k
        assert left[1] / left[2] == pytest.approx(4.0, rel=0.08), k


@pytest.mark.parametrize("case", STATES)
def test_slopes_along_the_walk_are_those_of_a_line_moved_the_other_way(case: str) -> None:
    _size, steep, slopes = amplitudes(np.array(STATES[case]))
    assert steep == pytest.approx(-slopes[w.SHIFT], rel=1e-12)


def test_below_the_lowest_tabulated_ground_derivatives_hold_too() -> None:
    """Ground that conducts next to nothing: images in proportion to depth over skin depth."""
    state = np.array([0.1, 0.0, 10.5, 0.07, 0.8, 0.2, 0.4, 0.1])
    size, _steep, slopes = amplitudes(state)
    for k in range(len(state)):
        moved, back = state.copy(), state.copy()
        moved[k] += 1e-5
        back[k] -= 1e-5
        between = (amplitudes(moved)[0] - amplitudes(back)[0]) / 2e-5
        assert slopes[k] == pytest.approx(between, abs=1e-7 * size.max())
