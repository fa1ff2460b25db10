"""One place against the best possible: the posterior of `inference.place` and plain counting, side by side.

    PYTHONPATH=src nice -n 5 python bench/bench_place.py --draws 2000000 --places 150

The other route shares nothing with the code it judges but the table of priors: scenes are drawn from the
prior and weighed by how well they fit, with no guess and no adaptation; fields and displays are written here
anew, in numpy, for many scenes at once. Lines in air (the job says so: resistivity known and high, frequency
low), so that the plain formulas hold. Errors of both on the same places; the ratio is what counts.
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference import priors as p
from plumbmark.inference.place import solve_place
from plumbmark.inference.place_data import place_data
from plumbmark.inference.second import Known
from plumbmark.inference.stations import Station
from plumbmark.model.job import Line, Setup
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading

FLOATS = NDArray[np.float64]

RAISE_M = 0.30
SETS = {
    "depth": ("depth",),
    "gap": ("depth", "gap"),
    "gap, raise": ("depth", "gap", "raised"),
    "gap, half points": ("depth", "gap", "left", "right"),
    "all": ("depth", "gap", "left", "right", "raised"),
}


@dataclass
class Scenes:
    """Many scenes: currents, places, depths (shape (n, 3), the first the line's), coils, scatter."""

    at: FLOATS
    deep: FLOATS
    amps: NDArray[np.complex128]
    lower: FLOATS
    spacing: FLOATS
    error: FLOATS
    least: NDArray[np.bool_]
    scatter: FLOATS

    def fields(self, x: FLOATS, h: FLOATS) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
        """Across and upright at one point of each scene."""
        dx, d = x[:, None] - self.at, h[:, None] + self.deep
        q = self.amps / (d * d + dx * dx)
        return (q * d).sum(axis=1), (q * dx).sum(axis=1)


def draw_scenes(n: int, rng: np.random.Generator) -> Scenes:
    """Scenes from the priors, air."""
    lines = rng.choice(3, n, p=p.LINES_ODDS)
    there = np.arange(2) < lines[:, None]
    angled = rng.random((n, 2)) < p.SECOND_ANGLED_ODDS
    q = rng.uniform(np.where(angled, 0.0, p.SECOND_NEAR_M), p.SECOND_FAR_M) * rng.choice([-1.0, 1.0], (n, 2))
    z = np.clip(p.SECOND_DEPTH_LOG_SIGMA * rng.normal(size=(n, 2)), -2.1, 1.8)
    size = p.RATIO_MEAN + p.RATIO_SIGMA * rng.normal(size=(n, 2))
    while (size < 0.03).any():
        size = np.where(size < 0.03, p.RATIO_MEAN + p.RATIO_SIGMA * rng.normal(size=(n, 2)), size)
    large = p.RATIO_LARGE_MEDIAN * np.exp(p.RATIO_LARGE_LOG_SIGMA * rng.normal(size=(n, 2)))
    size = np.clip(np.where(rng.random((n, 2)) < p.RATIO_LARGE_ODDS, large, size), 0.031, 5.9)
    phase = p.RATIO_PHASE_SIGMA * rng.normal(size=(n, 2))
    ratio = size * (np.cos(phase) * rng.choice([-1.0, 1.0], (n, 2)) + 1j * np.sin(phase))
    own = p.DEPTH_MEDIAN_M * np.exp(p.DEPTH_LOG_SIGMA * rng.normal(size=n))
    return Scenes(
        np.column_stack([np.zeros(n), q]),
        np.column_stack([own, np.exp(z)]),
        np.column_stack([np.ones(n), np.where(there, ratio, 0.0)]),
        rng.uniform(*p.LOWER_COIL_M, n),
        rng.uniform(*p.COIL_SPACING_M, n),
        p.COIL_ERROR_SIGMA * rng.normal(size=n),
        rng.random(n) < 0.5,
        np.exp(p.SCATTER_LOG_SIGMA * rng.normal(size=n)),
    )


def climb(s: Scenes, start: FLOATS, step: float = 0.04) -> FLOATS:
    """Walk uphill in small steps from `start` to a peak of the across signal, then halve the steps."""
    x = start.copy()
    here = np.abs(s.fields(x, s.lower)[0])
    stride = np.full(len(x), step)
    for _ in range(400):
        moving = stride > 2e-4
        if not moving.any():
            break
        part = Scenes(*(getattr(s, f)[moving] for f in Scenes.__dataclass_fields__))
        ahead, behind = x[moving] + stride[moving], x[moving] - stride[moving]
        up, down = np.abs(part.fields(ahead, part.lower)[0]), np.abs(part.fields(behind, part.lower)[0])
        best = np.maximum(up, down)
        better = best > here[moving]
        x[moving] = np.where(better, np.where(up > down, ahead, behind), x[moving])
        here[moving] = np.where(better, best, here[moving])
        stride[moving] = np.where(better, stride[moving], 0.5 * stride[moving])
    return x


def marked(s: Scenes) -> FLOATS:
    """The peak climbed to from above the line."""
    return climb(s, np.zeros(len(s.at)))


def null_near(s: Scenes, peak: FLOATS) -> FLOATS:
    """Upright null nearest the peak: outward to a change of sign (or least amplitude), then finer."""
    n = len(peak)
    reach = np.arange(0.0, 4.0, 0.05)
    found = np.full(n, np.nan)

    def value(x: FLOATS) -> FLOATS:
        h, v = s.fields(x, s.lower)
        return np.asarray(np.where(s.least, np.abs(v), (v * np.conj(h)).real))

    before = {side: value(peak) for side in (-1.0, 1.0)}
    falling = {side: np.zeros(n, bool) for side in (-1.0, 1.0)}
    for r in reach[1:]:
        for side in (-1.0, 1.0):
            here = value(peak + side * r)
            turn = np.where(s.least, falling[side] & (here > before[side]), here * before[side] <= 0.0)
            if r < 0.06:  # between the first points on both sides
                first = s.least & (here > before[side]) & (value(peak - side * r) > before[side])
                turn = np.where(s.least, first, turn)
            new = np.isnan(found) & turn
            found[new] = (peak + side * (r - 0.05))[new]
            falling[side] = here < before[side]
            before[side] = here
        if not np.isnan(found).any():
            break
    found = np.where(np.isnan(found), peak, found)
    for stride in (0.025, 0.0125, 0.006, 0.003, 0.0015, 0.0008):
        sides = np.stack([np.abs(value(found + k * stride)) for k in (-2, -1, 0, 1, 2)])
        found = found + stride * (sides.argmin(axis=0) - 2)
    return found


def halves(s: Scenes, mark: FLOATS, side: float) -> FLOATS:
    """Distance to half the signal, by steps outward and bisection."""
    goal = 0.5 * np.abs(s.fields(mark, s.lower)[0])
    high = 0.25 * (s.deep[:, 0] + s.lower)
    grow = high.copy()
    for _ in range(28):
        above = np.abs(s.fields(mark + side * high, s.lower)[0]) > goal
        if not above.any():
            break
        high = np.where(above, high + grow, high)
    low = high - grow
    for _ in range(14):
        middle = 0.5 * (low + high)
        above = np.abs(s.fields(mark + side * middle, s.lower)[0]) > goal
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.asarray(0.5 * (low + high))


def depth_of(s: Scenes, mark: FLOATS, raised: float) -> FLOATS:
    """Displayed depth, counted from the raised foot; 50 m where there is none."""
    low = np.abs(s.fields(mark, s.lower + raised)[0])
    top = np.abs(s.fields(mark, s.lower + raised + s.spacing)[0]) * (1.0 + s.error)
    with np.errstate(divide="ignore", invalid="ignore"):
        depth = s.spacing * top / (low - top) - s.lower
    return np.clip(np.where(low > top, depth, 50.0), 1e-3, 50.0)


def displays(n: int, rng: np.random.Generator) -> dict[str, FLOATS]:
    """Truth and display of `n` places: columns by name, the mark's own error in them."""
    parts = []
    for first in range(0, n, 50000):
        s = draw_scenes(min(50000, n - first), rng)
        peak = marked(s)
        sigma = s.scatter * (p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * np.minimum(s.deep[:, 0], 6.0))
        mark = peak + sigma * rng.normal(size=len(peak))
        null = null_near(s, peak)
        parts.append(
            {
                "true": s.deep[:, 0],
                "mark": mark,
                "scatter": s.scatter,
                "sigma": sigma,
                "gap": null - mark,
                "left": halves(s, mark, -1.0),
                "right": halves(s, mark, 1.0),
                "depth": depth_of(s, mark, 0.0),
                "raised": depth_of(s, mark, RAISE_M),
            }
        )
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def taken(d: dict[str, FLOATS], rng: np.random.Generator) -> dict[str, FLOATS]:
    """What crews write down of displays: noise, no slips."""
    e = {
        name: rng.normal(size=len(d["true"])) for name in ("gap", "left", "right", "depth", "raised", "block")
    }
    by = np.hypot(p.DEPTH_SIGMA, p.RAISE_SIGMA_M / d["raised"])
    return {
        "gap": d["gap"] + d["sigma"] * e["gap"],
        "left": d["left"] + d["scatter"] * p.HALF_SIGMA_M * e["left"],
        "right": d["right"] + d["scatter"] * p.HALF_SIGMA_M * e["right"],
        "depth": d["depth"] * np.exp(d["scatter"] * p.DEPTH_SIGMA * e["depth"]),
        "raised": d["raised"] * np.exp(d["scatter"] * by * e["raised"]),
    }


def log_fit(d: dict[str, FLOATS], got: dict[str, float], use: tuple[str, ...]) -> FLOATS:
    """Log likelihood of what one crew took under every place; slips as the priors say, roughly."""

    def cell(e: FLOATS, sigma: FLOATS, anything: float, flipped: FLOATS | None = None) -> FLOATS:
        right = np.exp(-0.5 * (e / sigma) ** 2) / (math.sqrt(2.0 * math.pi) * sigma)
        other = 0.0
        if flipped is not None:
            other = p.FLIP_ODDS * np.exp(-0.5 * (flipped / sigma) ** 2) / (math.sqrt(2.0 * math.pi) * sigma)
        return np.asarray(np.log((1.0 - p.SLIP_ODDS) * right + other + p.SLIP_ODDS * anything))

    total = np.zeros(len(d["true"]))
    if "gap" in use:
        total += cell(got["gap"] - d["gap"], d["sigma"], p.ANYTHING_PER_M, got["gap"] + d["gap"])
    for side in ("left", "right"):
        if side in use:
            total += cell(got[side] - d[side], d["scatter"] * p.HALF_SIGMA_M, p.ANYTHING_PER_M)
    if "depth" in use:
        shown = np.log(got["depth"] / d["depth"])
        sigma = d["scatter"] * p.DEPTH_SIGMA
        density = np.full(len(shown), p.SLIP_ODDS * p.ANYTHING_SHARE * p.ANYTHING_PER_LN)
        factors = ((1.0, (1.0 - p.SLIP_ODDS) / p.SLIP_ODDS), *((f, share) for _, f, share in p.DEPTH_SLIPS))
        for factor, share in factors:
            e = (shown - math.log(factor)) / sigma
            density += p.SLIP_ODDS * share * np.exp(-0.5 * e * e) / (math.sqrt(2.0 * math.pi) * sigma)
        past = 1.0 / (1.0 + (p.REFUSED_FROM_M / d["depth"]) ** (1.0 / p.REFUSED_LN_SCALE))
        total += np.log(density * (1.0 - past))
    if "raised" in use:
        sigma = d["scatter"] * np.hypot(p.DEPTH_SIGMA, p.RAISE_SIGMA_M / d["raised"])
        total += cell(np.log(got["raised"] / d["raised"]), sigma, p.ANYTHING_PER_LN)
    return total


def median_of(values: FLOATS, weights: FLOATS) -> float:
    """Weighted median."""
    order = np.argsort(values)
    below = np.cumsum(weights[order])
    return float(np.interp(0.5 * below[-1], below - 0.5 * weights[order], values[order]))


def band_of(values: FLOATS, weights: FLOATS) -> tuple[float, float]:
    """Ends of the central interval that holds 19 in 20."""
    order = np.argsort(values)
    below = np.cumsum(weights[order]) - 0.5 * weights[order]
    low, high = np.interp(np.array([0.025, 0.975]) * weights.sum(), below, values[order])
    return float(low), float(high)


def as_reading(got: dict[str, float], use: tuple[str, ...]) -> Station:
    """The same numbers as a station of a job."""
    cells = {name: Measured(got[name]) for name in use}
    reading = Reading(
        "1", "E", Place(0.0, 0.0), 2, bearing_deg=0.0, depth_m=cells.get("depth"),
        null_offset_m=cells.get("gap"), half_left_m=cells.get("left"), half_right_m=cells.get("right"),
        raised_by_m=Measured(RAISE_M) if "raised" in use else None, raised_depth_m=cells.get("raised"),
    )  # fmt: skip
    return Station("reading", "1", reading.place, 0.0, "", 2, 0.0, reading)


def main() -> None:
    """Draw places, solve them both ways, print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--draws", type=int, default=2_000_000)
    parser.add_argument("--places", type=int, default=150)
    parser.add_argument("--seed", type=int, default=5)
    args = parser.parse_args()
    rng = np.random.default_rng([args.seed, 0])
    started = time.perf_counter()
    prior = displays(args.draws, rng)
    print(f"{args.draws} places drawn from the prior in {time.perf_counter() - started:.0f} s")
    rng = np.random.default_rng([args.seed, 1])
    truth = displays(args.places, rng)
    crews = taken(truth, rng)
    # in air, the coils and the null kind not known
    coils = (*p.LOWER_COIL_M, *p.COIL_SPACING_M)
    known = Known(math.log(10000.0), math.log(1.01), *coils, -1.0, 1.0, np.empty((0, 7)))
    setup = Setup("", "E", frequency_hz=50.0)
    shown = np.median(np.abs(crews["depth"] / truth["true"] - 1.0))
    print(f"display: median depth error {100 * shown:.1f} %")
    print("                     median depth error, %        held, %      band  across  effective     time")
    print("                 ours  counting  ratio   ours  counting   ±%     ±cm   ours counting    ms")
    for name, use in SETS.items():
        rows = []
        for i in range(args.places):
            got = {cell: float(crews[cell][i]) for cell in crews}
            began = time.perf_counter()
            d = place_data(as_reading(got, use), Line("E"), setup)
            found = solve_place(d, known, [args.seed, i])
            took = time.perf_counter() - began
            fit = log_fit(prior, got, use)
            w = np.exp(fit - fit.max())
            w /= w.sum()
            true = float(truth["true"][i])
            ours, own = (
                np.exp(median_of(found.ln_depth, found.weights)),
                band_of(found.ln_depth, found.weights),
            )
            best, other = median_of(prior["true"], w), band_of(prior["true"], w)
            across = band_of(found.shift, found.weights)
            rows.append(
                (
                    abs(ours / true - 1.0), abs(best / true - 1.0),
                    own[0] < math.log(true) < own[1], other[0] < true < other[1],
                    0.5 * (math.exp(own[1]) - math.exp(own[0])) / ours, 0.5 * (across[1] - across[0]),
                    float((found.chances * found.effective).sum()), 1.0 / float((w * w).sum()), took,
                )
            )  # fmt: skip
        r = np.array(rows, dtype=float)
        m = np.median(r, axis=0)
        print(
            f"{name:<17} {100 * m[0]:4.1f}  {100 * m[1]:7.1f}  {m[0] / m[1]:6.3f} {100 * r[:, 2].mean():5.1f}"
            f" {100 * r[:, 3].mean():8.1f} {100 * m[4]:6.0f} {100 * m[5]:6.0f} {m[6]:7.0f} {m[7]:7.0f}"
            f" {1e3 * m[8]:7.0f}   mean {r[:, 0].mean() / r[:, 1].mean():.3f}"
        )


if __name__ == "__main__":
    main()
