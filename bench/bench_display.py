"""Displays over image lines: ours compiled, ours as plain Python, and the search a user would write.

    python bench/bench_display.py

A scene is a line over conducting ground with none, one or two other currents beside it; asked for are peak,
null, both half points and the depth shown. The user would minimise and solve on numpy sums over the image
lines with `scipy.optimize` (`minimize_scalar`, `brentq`, to 1e-9). Microseconds a scene, median of five runs,
one core. Where several half points exist the nearest counts in all three.
"""

from __future__ import annotations

import math
import os
import platform
import subprocess
import sys
import time
from collections.abc import Callable
from statistics import median

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from plumbmark.base.compiled import kernel
from plumbmark.physics.display import depth_at, half_of, null_of, peak_of
from plumbmark.physics.halfspace import HALFSPACE_IMAGES, halfspace_images

LOWER, SPACING = 0.05, 0.4
SCENES = 300
Scene = tuple[np.ndarray, np.ndarray, np.ndarray]


def scenes(others: int) -> list[Scene]:
    """Lines 0.4 to 2 m deep, skin depths 5 to 200 m; others to 2 depths aside, 0.1 to 0.33 as strong."""
    rng = np.random.default_rng(others)
    out = []
    for _ in range(SCENES):
        deep = rng.uniform(0.4, 2.0)
        skin = math.exp(rng.uniform(math.log(5.0), math.log(200.0)))
        at, depth, current = [], [], []
        for n in range(1 + others):
            p, c = np.empty(HALFSPACE_IMAGES, complex), np.empty(HALFSPACE_IMAGES, complex)
            halfspace_images(deep * (1.0 if n == 0 else rng.uniform(0.8, 1.5)), 1.0 / skin, p, c)
            side = 0.0 if n == 0 else deep * rng.uniform(0.5, 2.0) * rng.choice([-1.0, 1.0])
            turn = complex(math.cos(phase := rng.uniform(-0.4, 0.4)), math.sin(phase))
            share = 1.0 if n == 0 else rng.uniform(0.1, 0.33) * rng.choice([-1.0, 1.0]) * turn
            at.append(np.full(HALFSPACE_IMAGES, side))
            depth.append(p)
            current.append(c * share)
        out.append((np.concatenate(at), np.concatenate(depth), np.concatenate(current)))
    return out


@kernel
def shown(at: np.ndarray, depth: np.ndarray, current: np.ndarray, out: np.ndarray) -> None:
    """Peak, null, half points left and right, and depth of many scenes, one a row."""
    n = at.shape[1]
    for i in range(at.shape[0]):
        a, d, c = at[i], depth[i], current[i]
        peak = peak_of(0.0, LOWER, a, d, c, n)
        out[i, 0] = peak
        out[i, 1] = null_of(peak, LOWER, 0, a, d, c, n)
        out[i, 2] = half_of(peak, -1.0, LOWER, a, d, c, n)
        out[i, 3] = half_of(peak, 1.0, LOWER, a, d, c, n)
        out[i, 4] = depth_at(peak, LOWER, SPACING, 0.0, 0.0, a, d, c, n)


def by_scipy(at: np.ndarray, depth: np.ndarray, current: np.ndarray) -> list[float]:
    """The same for one scene."""
    scale = LOWER + float(depth[0].real)

    def field(x: float, height: float) -> tuple[complex, complex]:
        d, dx = height + depth, x - at
        q = current / (d * d + dx * dx)
        return complex((q * d).sum()), complex((q * dx).sum())

    def across(x: float) -> float:
        return abs(field(x, LOWER)[0])

    def in_phase(x: float) -> float:
        h, v = field(x, LOWER)
        return (v * h.conjugate()).real

    bounds = (-0.6 * scale, 0.6 * scale)
    peak = float(
        minimize_scalar(lambda x: -across(x), bounds=bounds, method="bounded", options={"xatol": 1e-9}).x
    )
    step, reach = 0.25 * scale, 0.0
    while in_phase(peak - reach) * in_phase(peak + reach) >= 0.0:
        reach += step
    null = float(brentq(in_phase, peak - reach, peak + reach, xtol=1e-9))
    halves, goal = [], 0.5 * across(peak)
    for side in (-1.0, 1.0):
        w = 0.0
        while across(peak + side * w) > goal:
            w += step
        halves.append(float(brentq(lambda q, s=side: across(peak + s * q) - goal, w - step, w, xtol=1e-9)))
    low, high = abs(field(peak, LOWER)[0]), abs(field(peak, LOWER + SPACING)[0])
    return [peak, null, *halves, SPACING * high / (low - high) - LOWER]


def seconds(call: Callable[[], object], runs: int = 5) -> float:
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return median(times)


def ours(others: int) -> tuple[float, np.ndarray]:
    """Microseconds a scene, and what is shown."""
    at, depth, current = (np.array(a) for a in zip(*scenes(others), strict=True))
    out = np.empty((SCENES, 5))
    shown(at, depth, current, out)
    return 1e6 * seconds(lambda: shown(at, depth, current, out)) / SCENES, out


def main() -> None:
    if "plain" in sys.argv:
        print(*(f"{ours(others)[0]:.0f}" for others in range(3)))
        return
    plain = subprocess.run(
        [sys.executable, __file__, "plain"],
        env=os.environ | {"NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    print("python bench/bench_display.py")
    print(f"Python {platform.python_version()}, {platform.machine()}, {SCENES} scenes a row\n")
    print("| other currents | ours us | plain Python us | scipy us | scipy / ours | largest difference m |")
    print("|---|---|---|---|---|---|")
    for others in range(3):
        us, out = ours(others)
        rows = scenes(others)
        theirs = np.array([by_scipy(*s) for s in rows])
        scipy_us = 1e6 * seconds(lambda rows=rows: [by_scipy(*s) for s in rows], 3) / SCENES
        apart = np.abs(out - theirs).max()
        cells = [f"{us:.2f}", plain[others], f"{scipy_us:.0f}", f"{scipy_us / us:.0f}", f"{apart:.0e}"]
        print(f"| {others} | {' | '.join(cells)} |")
        if apart > 1e-6:
            raise SystemExit("the two do not show the same")


if __name__ == "__main__":
    main()
