"""One walk across: error against the least possible, and a posterior against least squares from 18 starts.

    PYTHONPATH=src python bench/bench_walk.py --walks 200

The walks of the first table are one line in air, 21 points over ±2 m, noise 1 % of the peak, against the
Cramér-Rao bound from derivatives by differences. Those of the others have a line and a second one within 3 m
(current ratio 0.1 to 0.7, either way), 17 points over ±2 m, noise 2 % + 0.5 % of the largest, unknown ground.
`scipy.optimize.least_squares` minimises the very sum of squares that our descent does, on our compiled
fields, from 18 starts; times of processor, one core each, in one run.
"""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from plumbmark.inference import walk_fit as fit
from plumbmark.inference.second import Known
from plumbmark.inference.walk import Walk, make_walk
from plumbmark.inference.walk_batch import WalkBands, solve_walks
from plumbmark.inference.walk_field import FIRST, PER, ROWS, WORK, amplitudes, walk_sums
from plumbmark.inference.walk_scan import scan, scan_weak
from plumbmark.inference.walk_solve import Looks, solve_walk
from plumbmark.physics.halfspace import line_over_ground_field
from plumbmark.physics.line import infinite_line_field

FLOATS = NDArray[np.float64]
NONE = np.empty((0, 7))
FREQUENCY = 8000.0


def timed(call: Callable[..., Any], *args: object, **options: object) -> tuple[float, Any]:
    start = time.process_time()
    found = call(*args, **options)
    return time.process_time() - start, found


def one_line(depth: float, draws: int, rng: np.random.Generator) -> list[float]:
    """RMS error over the bound, of position, depth and current."""
    x, height = np.linspace(-2.0, 2.0, 21), np.zeros(21)

    def exact(p: FLOATS) -> FLOATS:
        e, u = infinite_line_field(x, 0.0, line_easting=p[0], line_up=-p[1], current=p[2])
        return np.abs(np.stack([e, u])) / 2e-7

    truth = np.array([0.0137, depth, 1.0])  # off the points, where an upright amplitude has a kink
    size = exact(truth)
    noise = 0.01 * size.max()
    step = 1e-6
    jacobian = [(exact(truth + step * e) - exact(truth - step * e)).ravel() / (2 * step) for e in np.eye(3)]
    bound = np.sqrt(np.diag(np.linalg.inv(np.array(jacobian) @ np.array(jacobian).T))) * noise
    known = Known(10.9, 1e-4, 0.0, 0.0, 0.4, 0.4, -1.0, 1.0, NONE)
    errors = []
    for _ in range(draws):
        level = np.abs(size + noise * rng.normal(size=size.shape))
        walk = make_walk(x, height, level, np.zeros_like(level), 1.0)
        top = level.max()
        state = fit.start_state(0, known)
        sigma = np.full_like(level, noise / top)
        _cost, gain = fit.descend(state, walk, known, sigma, 60, np.empty((FIRST, FIRST)))
        errors.append([state[0] - truth[0], math.exp(state[1]) - depth, gain * top - 1.0])
    rms = np.sqrt(np.mean(np.square(errors), axis=0))
    return [float(v) for v in rms / bound]


def two_lines(rng: np.random.Generator) -> tuple[Walk, float, float]:
    """A walk over two lines; shift and depth of the line."""
    offset, height = np.linspace(-2.0, 2.0, 17), np.full(17, 0.05)
    shift, depth = rng.normal(0.0, 0.05), math.exp(rng.normal(0.0, 0.4))
    skin = 503.2921210448704 * math.sqrt(math.exp(rng.normal(math.log(60.0), math.log(3.0))) / FREQUENCY)
    q = rng.choice([-1.0, 1.0]) * rng.uniform(0.3, 3.0)
    ratio = rng.choice([-1.0, 1.0]) * rng.uniform(0.1, 0.7) * np.exp(1j * rng.normal(0.0, 0.3))
    fields = [
        line_over_ground_field(offset, height, line_easting=e, depth=d, current=c, skin_depth=skin)
        for e, d, c in ((shift, depth, 1.0), (shift + q, math.exp(rng.normal(0.0, 0.4)), ratio))
    ]
    size = np.abs(np.sum(fields, axis=0))
    noise = 0.005 * size.max() * rng.normal(size=size.shape)
    level = np.abs(size * (1.0 + 0.02 * rng.normal(size=size.shape)) + noise)
    return make_walk(offset, height, level, np.zeros_like(level), FREQUENCY), shift, depth


def residual(state: FLOATS, walk: Walk, known: Known) -> FLOATS:
    """Data and prior in units of their sigmas, as the descent has them."""
    m = len(walk.offset)
    sums, total = np.empty((2, ROWS, m)), np.empty((ROWS, m))
    size, steep = np.empty((2, m)), np.empty((2, m))
    walk_sums(state, walk.frequency_hz, walk.offset, walk.height, False, np.empty((WORK, m)), sums, total)
    amplitudes(total, fit.EASE * math.exp(-state[1]), size, steep)
    w = walk.sigma**-2
    gain = (w * walk.level * size).sum() / (w * size**2).sum()
    goal = np.array([fit._goal(k, known) for k in range(len(state))])
    return np.concatenate(
        [((walk.level - gain * size) / walk.sigma).ravel(), (state - goal[:, 0]) / goal[:, 1]]
    )


def from_18_starts(walk: Walk, known: Known) -> float:
    best = math.inf
    for q in (-2.2, -1.2, -0.5, 0.5, 1.2, 2.2):
        for ratio, z in ((-0.35, 0.0), (0.35, 0.0), (-0.35, -0.5)):
            start = np.array([0.0, 0.0, known.soil_ln, known.lower_low, q, z, ratio, 0.0])
            best = min(best, least_squares(residual, start, args=(walk, known), method="lm").cost)
    return float(best)


def our_best(walk: Walk, known: Known, search: tuple[int, int, int]) -> float:
    """Least sum of squares that the search comes to."""
    weak, strong, keep = search
    alone = fit.start_state(0, known)
    fit.descend(alone, walk, known, walk.sigma, 60, np.empty((FIRST, FIRST)))
    starts = np.empty((weak + strong, FIRST + PER))
    count = scan_weak(alone, walk, known, walk.sigma, starts[:weak])
    count += scan(walk, known, starts[count : count + strong])
    modes, costs = np.empty((2 * keep, FIRST + PER)), np.empty(2 * keep)
    fit.settle(starts, count, walk, known, walk.sigma, keep, modes, costs)
    return float(costs[0])


def fits(count: int, known: Known, rng: np.random.Generator) -> list[tuple[Walk, float, float]]:
    """Best fits and the batch against least squares from 18 starts, in one run; the walks and their truth."""
    drawn = [two_lines(rng) for _ in range(count)]
    walks = [w for w, _s, _d in drawn]
    search, theirs, worse, better = 0.0, 0.0, 0, 0
    batch, _found = timed(solve_walks, walks, known, most_lines=1, threads=1)
    for walk in walks:
        took, best = timed(our_best, walk, known, (8, 16, 8))
        search += took
        took, cost = timed(from_18_starts, walk, known)
        theirs += took
        worse += best > cost + 1e-6 * (1.0 + cost)
        better += best < cost - 1e-6 * (1.0 + cost)
    print(f"two lines, {count} walks: best fit {1e3 * search / count:.1f} ms, posterior in a batch"
          f" {1e3 * batch / count:.1f} ms, least_squares from 18 starts {1e3 * theirs / count:.0f} ms:"
          f" {theirs / search:.0f} and {theirs / batch:.0f} times")  # fmt: skip
    print(f"  best fit worse than theirs in {worse}, better in {better}")
    start = time.perf_counter()
    solve_walks(walks, known, most_lines=1, threads=2)
    print(f"  batch on two threads: {count / (time.perf_counter() - start):.0f} a second by the clock")
    return drawn


def held(found: list[WalkBands], drawn: list[tuple[Walk, float, float]]) -> str:
    """How often the truth is in the band of depth and of place, and the median error of depth."""
    depth = [b.ln_depth[0] < math.log(d) < b.ln_depth[2] for b, (_w, _s, d) in zip(found, drawn, strict=True)]
    place = [b.shift[0] < s < b.shift[2] for b, (_w, s, _d) in zip(found, drawn, strict=True)]
    error = [abs(math.exp(b.ln_depth[1]) / d - 1.0) for b, (_w, _s, d) in zip(found, drawn, strict=True)]
    return (f"depth off by {100 * np.median(error):.1f} % (median); truth in the band 19 in 20: depth"
            f" {100 * np.mean(depth):.1f} %, place {100 * np.mean(place):.1f} %")  # fmt: skip


def quantiles(values: FLOATS, weights: FLOATS) -> FLOATS:
    order = np.argsort(values)
    w = weights[order]
    return np.asarray(np.interp((0.025, 0.5, 0.975), np.cumsum(w) - 0.5 * w, values[order]))


def full(drawn: list[tuple[Walk, float, float]], known: Known) -> None:
    """The posterior of one walk at a time, and the batch against it."""
    quick = solve_walks([w for w, _s, _d in drawn], known, most_lines=1)
    slow, took = [], 0.0
    for k, (walk, _s, _d) in enumerate(drawn):
        one, found = timed(solve_walk, walk, known, [k], looks=Looks(threads=1), most_lines=1)
        took += one
        place, depth = (quantiles(v, found.weights) for v in (found.shift, found.ln_depth))
        slow.append(WalkBands(place, depth, found.chances, float(found.effective[-1]), not found.steady))
    print(f"one at a time: {1e3 * took / len(drawn):.0f} ms; {held(slow, drawn)}")
    off = [
        np.abs(a.ln_depth - b.ln_depth) * 4.0 / (b.ln_depth[2] - b.ln_depth[0])
        for a, b in zip(quick, slow, strict=True)
        if not a.loose
    ]
    print("  the batch off it, in quarters of the band: median "
          + ", ".join(f"{v:.2f}" for v in np.median(off, axis=0)) + "; nine in ten within "
          + ", ".join(f"{v:.2f}" for v in np.quantile(off, 0.9, axis=0)))  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--walks", type=int, default=1000, help="against least squares")
    parser.add_argument("--full", type=int, default=25, help="of these also one at a time")
    parser.add_argument("--batch", type=int, default=2000, help="more walks, in one batch")
    parser.add_argument("--draws", type=int, default=2000, help="of the one-line table")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    rng = np.random.default_rng(args.seed)
    if args.draws:
        print(f"one line: RMS error over the bound, of position, depth, current ({args.draws} walks each)")
        for depth in (0.5, 1.0, 2.0):
            print(f"  {depth} m: " + ", ".join(f"{v:.3f}" for v in one_line(depth, args.draws, rng)))
    known = Known(math.log(60.0), math.log(3.0), 0.05, 0.05, 0.4, 0.4, -1.0, 1.0, NONE)
    walk, _s, _d = two_lines(rng)
    solve_walks([walk, walk], known, most_lines=1)  # compiles
    our_best(walk, known, (1, 2, 1))
    drawn = fits(args.walks, known, rng)
    full(drawn[: args.full], known)
    drawn = [two_lines(rng) for _ in range(args.batch)]
    start = time.perf_counter()
    found = solve_walks([w for w, _s, _d in drawn], known, most_lines=1)
    took = time.perf_counter() - start
    loose = np.mean([b.loose for b in found])
    print(f"batch of {args.batch}: {args.batch / took:.0f} a second, {100 * loose:.1f} % loose")
    print(f"  {held(found, drawn)}")


if __name__ == "__main__":
    main()
