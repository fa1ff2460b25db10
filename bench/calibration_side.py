"""Readings from the side for the frame of calibration: shots drawn from the model's own prior."""

from __future__ import annotations

import math

import numpy as np

from calibration import FLOATS, Kind, resampled
from plumbmark.inference import priors as p
from plumbmark.inference.cells import SLIP_LOG_SIGMA, SLIP_MEDIAN_M
from plumbmark.inference.scene import put_line
from plumbmark.inference.second import Known
from plumbmark.inference.side_model import TOWARD_SIGMA, SideData, SideModel, SideState, solve_side
from plumbmark.inference.side_shot import TILT_SIGMA
from plumbmark.physics.side import side_at

PARTICLES = 400
STEP_M = 0.02


def _display(s: SideState, k: int, tilt: float) -> tuple[float, float]:
    """What shot `k` shows, by the public display of `physics.side`."""
    at, deep, current = np.empty(64), np.empty(64, complex), np.empty(64, complex)
    skin = float(s.skin[0])
    n = put_line(0, 0.0, math.exp(s.ln_depth[0, k]), 1.0, 0.0, skin, at, deep, current)
    if len(s.second):
        n = put_line(n, *(float(v) for v in s.second[0]), skin, at, deep, current)
    stand, lower = float(s.stand[0, k]), float(s.lower[0])
    shown = side_at(stand, lower, float(s.spacing[0]), tilt, float(s.coil_error[0]), at, deep, current, n)
    return max(shown[0], 0.01), max(shown[1], 0.01)


def simulate(rng: np.random.Generator) -> tuple[SideData, FLOATS]:
    """One to five shots of one line; cells rounded, left out and slipped now and then."""
    m = int(rng.integers(1, 6))
    given_soil, given_coils = rng.random(2) < 0.5
    known = Known(
        math.log(60.0 if not given_soil else math.exp(rng.normal(3.0, 1.0))),
        math.log(3.0 if not given_soil else 1.5),
        *((0.05, 0.05, 0.4, 0.4) if given_coils else (*p.LOWER_COIL_M, *p.COIL_SPACING_M)),
        -1.0,
        10.0,
        np.empty((0, 5)),
    )
    along = np.sort(rng.uniform(0.0, 12.0, m))
    fix = np.full(m, float(rng.choice([0.02, 0.05, 0.3])))
    blank, unseen = np.full((m, 4), math.nan), np.full((m, 5), math.nan)
    frequency = float(rng.choice([1000.0, 8000.0, 33000.0, 80000.0]))
    data = SideData(
        along, rng.normal(0.0, 3.0, m), np.full(m, math.nan), fix, blank, unseen, known, frequency
    )
    model = SideModel.of(data)
    with_second = bool(rng.random() > p.LINES_ODDS[0])
    s = model.states(rng.normal(size=(1, model.unknowns(with_second))), with_second)
    shots = np.zeros((m, 4))
    toward = np.empty(m)
    scatter = float(s.scatter[0])
    for k in range(m):
        faces = (math.pi if s.stand[0, k] > 0.0 else 0.0) + math.atan(s.slope[0, k])
        toward[k] = faces + TOWARD_SIGMA * scatter * rng.normal()
        if rng.random() < p.SLIP_ODDS:
            toward[k] = rng.uniform(0.0, 2.0 * math.pi)
        for c, shown in enumerate(_display(s, k, TILT_SIGMA * rng.normal())):
            value = shown * (1.0 + 0.03 * scatter * rng.normal())
            if rng.random() < p.SLIP_ODDS:
                value = SLIP_MEDIAN_M * math.exp(SLIP_LOG_SIGMA * rng.normal())
            shots[k, 2 * c : 2 * c + 2] = STEP_M * round(value / STEP_M), 0.5 * STEP_M
            if rng.random() < 0.1:
                shots[k, 2 * c] = math.nan
    toward[rng.random(m) < 0.1] = math.nan
    filled = SideData(along, data.right, toward, fix, shots, unseen, known, frequency)
    return filled, np.array([s.across[0, 0], s.ln_depth[0, 0], s.slope[0, -1], math.log(s.skin[0])])


def posterior(data: SideData, rng: np.random.Generator) -> FLOATS:
    """Place across, ln depth, slope and ln skin depth at a shot."""
    found = solve_side(data, rng, PARTICLES)
    rows = [
        np.stack([s.across[:, 0], s.ln_depth[:, 0], s.slope[:, -1], np.log(s.skin)]) for s in found.states()
    ]
    return resampled(np.concatenate(rows, axis=1), found.weights(False), 400, rng)


KIND = Kind(
    ("place across", "ln depth", "slope", "ln skin depth"),
    simulate,
    posterior,
    "One to five readings from the side over 12 m of a line, ground and coils known or not, a second line "
    "or none, receivers that lean, cells rounded, missing and slipped.",
)
