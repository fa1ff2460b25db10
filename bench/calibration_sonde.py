"""Sondes for the frame of calibration: places along a duct drawn from the model's own prior."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import brentq

from calibration import FLOATS, Kind, resampled
from plumbmark.inference import priors as p
from plumbmark.inference import sonde_model as m
from plumbmark.inference.cells import SLIP_LOG_SIGMA, SLIP_MEDIAN_M
from plumbmark.physics.sonde import sonde_field

STEP_M = 0.01


def _along(s: float, height: float, pitch: float) -> float:
    """Field along the duct, `s` ahead and `height` above, of a sonde pitched up ahead by `pitch`."""
    c, q = math.cos(pitch), math.sin(pitch)
    ahead, _right, up = sonde_field(s * c + height * q, 0.0, height * c - s * q, moment=1.0)
    return float(ahead * c - up * q)


def _peak(height: float, pitch: float) -> float:
    def slope(s: float) -> float:
        return _along(s + 1e-5, height, pitch) - _along(s - 1e-5, height, pitch)

    return float(brentq(slope, -0.5 * height, 0.5 * height))


def _row(rng: np.random.Generator, s: m.SondeState, k: int, line_mode: bool, stated: bool) -> FLOATS:
    """One place as written down."""
    lower, spacing, scatter = float(s.lower[0]), float(s.spacing[0]), float(s.scatter[0])
    depth = math.exp(s.ln_depth[0, k])
    height = depth + lower
    pitch = math.inf
    while abs(pitch) > m.PITCH_MOST:
        pitch = rng.normal(0.0, m.PITCH_STEEP if rng.random() < m.PITCH_STEEP_ODDS else m.PITCH_SIGMA)
    peak = _peak(height, pitch)
    ahead = brentq(_along, peak, 2.5 * height, args=(height, pitch))
    behind = brentq(_along, -2.5 * height, peak, args=(height, pitch))
    at_null = rng.random() < m.MARK_AT_NULL_ODDS
    mark = (ahead if rng.random() < 0.5 else behind) if at_null else peak
    sigma = scatter * (p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * depth)
    off = sigma * rng.normal()
    row = np.full(m.CELLS, math.nan)
    row[m.LINE_MODE] = 0.0 if stated else 1.0

    def put(cell: int, value: float, slipped: bool) -> None:
        if slipped:
            value = SLIP_MEDIAN_M * math.exp(SLIP_LOG_SIGMA * rng.normal())
        row[cell : cell + 2] = STEP_M * round(value / STEP_M), 0.5 * STEP_M

    def shown(raised: float) -> float:
        mode = line_mode != (rng.random() < m.OTHER_MODE_ODDS / (1.0 - p.SLIP_ODDS))
        h = height + raised
        ratio = abs(_along(mark, h, pitch) / _along(mark, h + spacing, pitch))
        ratio /= 1.0 + float(s.coil_error[0])
        ratio = ratio if mode else ratio ** (1.0 / 3.0)
        value = 50.0 if ratio <= 1.0 + spacing / 50.0 else max(spacing / (ratio - 1.0) - lower, 0.01)
        noise = math.hypot(0.03 * scatter * value, p.RAISE_SIGMA_M if raised else 0.0)
        return value + noise * rng.normal()

    if rng.random() < 0.7:
        put(m.AHEAD, ahead - mark - off + sigma * rng.normal(), rng.random() < p.SLIP_ODDS)
    if rng.random() < 0.7:
        put(m.BEHIND, mark - behind + off + sigma * rng.normal(), rng.random() < p.SLIP_ODDS)
    if rng.random() < 0.7:
        put(m.DEPTH, shown(0.0), at_null or rng.random() < p.SLIP_ODDS)
    if rng.random() < 0.3:
        row[m.RAISED_BY] = 0.3
        put(m.RAISED, shown(0.3), at_null or rng.random() < p.SLIP_ODDS)
    return row


def simulate(rng: np.random.Generator) -> tuple[m.SondeData, FLOATS]:
    """One to five places of a duct, mode stated or not; cells rounded, left out and slipped now and then."""
    n = int(rng.integers(1, 6))
    along = np.sort(rng.uniform(0.0, 10.0, n))
    coils = (0.05, 0.05, 0.4, 0.4) if rng.random() < 0.5 else (*p.LOWER_COIL_M, *p.COIL_SPACING_M)
    stated = rng.random(n) < 0.5
    blank = m.SondeData(along, np.full((n, m.CELLS), math.nan), np.full((n, 3), math.nan), coils)
    s = m.states_of(blank, rng.normal(size=(1, m.unknowns_of(blank))))
    doubted = bool(rng.random() < m.LINE_MODE_ODDS)
    rows = np.array([_row(rng, s, k, doubted and not stated[k], bool(stated[k])) for k in range(n)])
    data = m.SondeData(along, rows, blank.seen, coils)
    return data, np.array([s.ln_depth[0, 0], s.ln_depth[0, -1], s.spacing[0], s.scatter[0]])


def posterior(data: m.SondeData, rng: np.random.Generator) -> FLOATS:
    """ln depth at the first and the last place, coil spacing, scatter."""
    found = m.solve_sonde(data, rng)
    s = found.state
    values = np.stack([s.ln_depth[:, 0], s.ln_depth[:, -1], s.spacing, s.scatter])
    # a spacing that is known has nothing to rank: it ties, and ties are broken at random
    values[2] = np.where(data.coils[2] == data.coils[3], data.coils[2], values[2])
    return resampled(values, found.weights, 400, rng)


KIND = Kind(
    ("ln depth, first", "ln depth, last", "coil spacing", "scatter"),
    simulate,
    posterior,
    "One to five places of a sonde along 10 m of duct, mode and coils known or not, nulls, depths and raised "
    "depths rounded, missing and slipped.",
)
