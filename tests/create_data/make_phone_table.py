"""Makes src/plumbmark/inference/_tables/phone_table.json: the posterior of one place, tabulated.

    PYTHONPATH=src nice -n 5 python tests/create_data/make_phone_table.py --draws 100000

For each kind of soil and each displayed depth, scenes are drawn about that depth as `inference.place` draws
them and given what a display would show over them; each cell of the table weighs them by how well they fit
its gap, raised reading and half points. What the model leaves out is added and ends of bands are moved out as
for a full answer, so that the phone says what the program would.
"""

from __future__ import annotations

import argparse
import base64
import json
import math
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference import phone_table as t
from plumbmark.inference import place
from plumbmark.inference import priors as p
from plumbmark.inference.answer import SMALL_LN, SMALL_M
from plumbmark.inference.place_data import PlaceData, place_data
from plumbmark.inference.place_fit import cell_density
from plumbmark.inference.place_scene import MOST_IMAGES
from plumbmark.inference.scene import put_scene, skin_depth_of
from plumbmark.inference.second import Known
from plumbmark.inference.stations import Station
from plumbmark.model.job import Line, Setup
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading
from plumbmark.physics.display import depth_at, half_of, null_of

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

DEPTHS = [0.4, 0.7, 1.2, 2.0]
GAPS = [0.0, 0.05, 0.10, 0.16, 0.24, 0.35, 0.50]  # of the displayed depth
EXCESSES = [-0.20, -0.10, -0.05, 0.0, 0.05, 0.12, 0.25]
HALVES = [0.6, 0.72, 0.84, 0.92, 1.0, 1.08, 1.18, 1.32, 1.6]
FEWEST = 12.0  # effective draws behind a cell; fewer: the numbers hardly ever go together
#: Nodes stand for their surroundings, so that what lies between them is spoken for: of gap and halves, over
#: depth; of ln of the raised depth.
BLUR, BLUR_RAISED = 0.03, 0.025
BINS = 4 * 512
LOW, HIGH = SMALL_LN
BAND_STRETCH = p.BAND_STRETCH
OUT = Path(__file__).parents[2] / "src" / "plumbmark" / "inference" / "_tables" / "phone_table.json"


@kernel
def show(theta: FLOATS, z: FLOATS, t_at: FLOATS, lines: INTS, hertz: float, out: FLOATS) -> None:
    """Gap, mean half points, depth and raised depth over each scene, for its mark; out shape (n, 4)."""
    at = np.empty(MOST_IMAGES)
    deep = np.empty(MOST_IMAGES, dtype=np.complex128)
    current = np.empty(MOST_IMAGES, dtype=np.complex128)
    for i in range(len(z)):
        row = theta[i, : 6 + 7 * lines[i]]
        n = put_scene(row, z[i], 0.0, skin_depth_of(row, hertz), at, deep, current)
        null = null_of(t_at[i], row[3], 0 if row[5] < 0.5 else 1, at, deep, current, n)
        left = half_of(t_at[i], -1.0, row[3], at, deep, current, n)
        right = half_of(t_at[i], 1.0, row[3], at, deep, current, n)
        out[i, 0] = null - t_at[i]
        out[i, 1] = 0.5 * (left + right)
        out[i, 2] = depth_at(t_at[i], row[3], row[4], 0.0, row[1], at, deep, current, n)
        out[i, 3] = depth_at(t_at[i], row[3], row[4], t.RAISE_M, row[1], at, deep, current, n)


@kernel
def densities(low: float, high: float, mean: FLOATS, sigma: FLOATS, anything: float, out: FLOATS) -> None:
    """Density of a cell written as `low` to `high`, slips included, for every scene."""
    for i in range(len(mean)):
        right = cell_density(low, high, mean[i], sigma[i])
        out[i] = (1.0 - p.SLIP_ODDS) * right + p.SLIP_ODDS * anything


def depth_alone(depth: float) -> PlaceData:
    """A place where nothing but the depth was read."""
    reading = Reading("1", "E", Place(0.0, 0.0), 2, bearing_deg=0.0, depth_m=Measured(depth, rounding=0.01))
    station = Station("reading", "1", reading.place, 0.0, "", 2, 0.0, reading)
    return place_data(station, Line("E"), Setup("", "E"))


def scenes(soil: t.SoilClass, depth: float, n: int) -> tuple[dict[str, FLOATS], FLOATS]:
    """Draws of the posterior given the depth alone, and what would be shown over them."""
    ohm, factor = t.SOIL_CLASSES[soil]
    coils = (*p.LOWER_COIL_M, *p.COIL_SPACING_M)
    known = Known(math.log(ohm), math.log(factor), *coils, -1.0, 1.0, np.empty((0, 7)))
    looks = place.Looks((n // 6, n // 3, n // 2), (10, 10, 10), 0, 1.0)
    found = place.solve_place(depth_alone(depth), known, [7], looks)
    keep = np.flatnonzero((found.weights > 1e-9) | (found.band_weights > 1e-9))
    theta = np.zeros((len(keep), 20))
    theta[:, :6] = found.globals[keep]
    for line in (0, 1):
        k = 6 + 7 * line
        theta[:, k] = np.nan_to_num(found.offset[keep, line])
        theta[:, k + 2] = np.nan_to_num(found.second_ln_depth[keep, line])
        theta[:, k + 3] = np.nan_to_num(found.ratio[keep, line].real)
        theta[:, k + 4] = np.nan_to_num(found.ratio[keep, line].imag)
    seen = np.empty((len(keep), 4))
    show(theta, found.ln_depth[keep], -found.shift[keep], found.lines[keep], p.FREQUENCY_HZ, seen)
    rng = np.random.default_rng(8)
    spread = np.sqrt(p.MODEL_LATERAL_SIGMA_M**2 + p.FIX_SIGMA_M**2 + (p.SHIFT_SIGMA * found.shift[keep]) ** 2)
    told = {
        "shift": found.shift[keep] + spread * rng.normal(size=len(keep)),
        "ln_depth": found.ln_depth[keep] + p.MODEL_DEPTH_SIGMA * rng.normal(size=len(keep)),
        "alone": found.alone[keep],
        "weights": found.weights[keep],
        "band": found.band_weights[keep],
        "scatter": np.exp(found.globals[keep, 0]),
        "deep": np.exp(found.ln_depth[keep]),
    }
    return told, seen


def fits(told: dict[str, FLOATS], seen: FLOATS, depth: float) -> tuple[list[FLOATS], ...]:
    """Density of every node of gap, raised reading and half points under every scene."""
    scatter = told["scatter"]
    ones = np.ones(len(scatter))

    def all_of(
        cells: list[tuple[float, float]], mean: FLOATS, sigma: FLOATS, anything: float
    ) -> list[FLOATS]:
        out = [ones]
        for low, high in cells:
            value = np.empty(len(ones))
            densities(low, high, mean, sigma, anything, value)
            out.append(value)
        return out

    peak = scatter * (p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * np.minimum(told["deep"], 6.0))
    gaps = all_of(
        [*t.GAP_CLASSES.values(), *((g * depth - 0.005, g * depth + 0.005) for g in GAPS)],
        np.ascontiguousarray(seen[:, 0]), np.hypot(peak, BLUR * depth), p.ANYTHING_PER_M,
    )  # fmt: skip
    raised = [math.log(depth + t.RAISE_M + e * depth) for e in EXCESSES]
    step = 0.005 / depth
    noise = np.hypot(scatter * np.hypot(p.DEPTH_SIGMA, p.RAISE_SIGMA_M / seen[:, 3]), BLUR_RAISED)
    excesses = all_of([(r - step, r + step) for r in raised], np.log(seen[:, 3]), noise, p.ANYTHING_PER_LN)
    half = np.hypot(scatter * p.HALF_SIGMA_M / math.sqrt(2.0), BLUR * depth)
    cells = [(h * depth + t.COIL_M - 0.005, h * depth + t.COIL_M + 0.005) for h in HALVES]
    halves = all_of(cells, np.ascontiguousarray(seen[:, 1]), half, p.ANYTHING_PER_M)
    return gaps, excesses, halves


@kernel
def level_of(bins: FLOATS, total: float, level: float) -> float:
    """Where the mass in bins reaches a level, in bins."""
    below = 0.0
    for k in range(len(bins)):
        if below + bins[k] >= level * total:
            return k + (level * total - below) / max(bins[k], 1e-300)
        below += bins[k]
    return float(len(bins))


@kernel
def answers(
    gaps: FLOATS,
    excesses: FLOATS,
    halves: FLOATS,
    band: FLOATS,
    weights: FLOATS,
    shift: FLOATS,
    ln_depth: FLOATS,
    alone: FLOATS,
    out: FLOATS,
) -> None:
    """Every cell of one soil and depth, out shape (gaps, excesses, halves, 8).

    Shift is in depths, ln depth from that of the display; filled with low, middle and high of both, as told,
    and the two chances; the first is NaN where too few scenes are behind a cell. Quantiles come from bins of
    a quarter of the table's steps.
    """
    n = len(band)
    fit = np.empty(n)
    bins = np.empty((2, BINS))
    for g in range(len(gaps)):
        for e in range(len(excesses)):
            for h in range(len(halves)):
                bins[:] = 0.0
                total = 0.0
                square = 0.0
                for i in range(n):
                    fit[i] = gaps[g, i] * excesses[e, i] * halves[h, i]
                    v = band[i] * fit[i]
                    total += v
                    square += v * v
                    bins[0, min(max(int(BINS // 2 + 4.0 * shift[i] / t.SHIFT_STEP), 0), BINS - 1)] += v
                    bins[1, min(max(int(BINS // 2 + 4.0 * ln_depth[i] / t.LN_STEP), 0), BINS - 1)] += v
                cell = out[g, e, h]
                cell[0] = math.nan
                if not total * total > FEWEST * square:
                    continue
                for k in range(2):
                    step = 0.25 * (t.SHIFT_STEP if k == 0 else t.LN_STEP)
                    for j in range(3):
                        level = 0.025 + 0.475 * j
                        cell[3 * k + j] = step * (level_of(bins[k], total, level) - BINS // 2)
                    middle = cell[3 * k + 1]
                    for j in range(3):
                        cell[3 * k + j] = middle + BAND_STRETCH * (cell[3 * k + j] - middle)
                mass = 0.0
                lone = 0.0
                near = 0.0
                for i in range(n):
                    v = weights[i] * fit[i]
                    mass += v
                    lone += v * alone[i]
                    away = ln_depth[i] - cell[4]
                    if abs(shift[i] - cell[1]) < cell[7] and LOW < away < HIGH:
                        near += v
                cell[6] = lone / mass
                cell[7] = near / mass


def encoded(cells: FLOATS) -> NDArray[np.uint8]:
    """Cells as bytes."""
    told = np.concatenate(
        [
            t.ZERO + cells[..., :3] / t.SHIFT_STEP,
            t.ZERO + cells[..., 3:6] / t.LN_STEP,
            cells[..., 6:] / t.CHANCE_STEP,
        ],
        axis=-1,
    )
    empty = np.isnan(cells[..., 0])
    told[empty] = 0.0
    told = np.clip(np.rint(told), 0, 254).astype(np.uint8)
    told[empty, 6] = t.NOTHING
    return told


def main() -> None:
    """Make the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--draws", type=int, default=100_000)
    parser.add_argument("--out", type=Path, default=OUT)
    args = parser.parse_args()
    parts = []
    for soil, depth in product(t.SoilClass, DEPTHS):
        told, seen = scenes(soil, depth, args.draws)
        gaps, excesses, halves = (np.array(rows) for rows in fits(told, seen, depth))
        out = np.zeros((len(gaps), len(excesses), len(halves), t.VALUES))
        out[..., 7] = SMALL_M / depth
        across, away = told["shift"] / depth, told["ln_depth"] - math.log(depth)
        weighed = (told["band"], told["weights"])
        answers(gaps, excesses, halves, *weighed, across, away, told["alone"], out)
        parts.append(encoded(out))
        empty = np.isnan(out[..., 0]).mean()
        print(f"{soil}, {depth} m: {len(away)} scenes, {100 * empty:.0f} % of the cells empty", flush=True)
    made = {
        "about": "posterior of one place; read by docs/phone-table.md",
        "made_with": {"BAND_STRETCH": p.BAND_STRETCH, "BAND_ODDS": p.BAND_ODDS, "LINES_ODDS": p.LINES_ODDS},
        "soil": [str(s) for s in t.SoilClass],
        "gap_class_m": {str(k): v for k, v in t.GAP_CLASSES.items()},
        "depth_m": DEPTHS, "gap": GAPS, "excess": EXCESSES, "half": HALVES,
        "cells": base64.b64encode(np.array(parts).tobytes()).decode(),
    }  # fmt: skip
    args.out.write_text(json.dumps(made) + "\n")
    print(f"{args.out}: {args.out.stat().st_size} bytes")


if __name__ == "__main__":
    main()
