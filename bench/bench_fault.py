"""Broken wires placed from both ends: 200 simulated faults, how far off, and how often the band holds.

    OMP_NUM_THREADS=1 PYTHONPATH=src python bench/bench_fault.py [--faults 200] [--seed 1]

The faults are made here, with formulas of their own: two lines of lumped cells (the wire and a grounded
neighbour that couples to it), Wedepohl and Wilcox's impedance, a coating that is worse in patches, soil that
changes along the way, bare ends at the break with the soil between them, a transmitter held back by its
voltage, readings every 4 to 12 m with 4 % of error, one in forty copied wrong, none where the signal is too
weak. As many sites again have a branch or nothing, to count what is claimed falsely. The goals: median error
of the place at most 5 % of the length, the band holding 93 to 97 %.
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import dataclass

import numpy as np

from plumbmark.model.conductors import conductor_kinds
from plumbmark.model.linefit import CurrentRun, Lack
from plumbmark.model.network import Conductor
from plumbmark.planning.linefit import fit_line

CELL_M = 1.0
MU_0 = 4e-7 * math.pi
LEAST_A = 2e-4


@dataclass
class Site:
    """One line as it really is."""

    length: float
    lack: Lack
    at: float
    frequency: float
    runs: tuple[CurrentRun, ...]


def earth(f: float, rho: np.ndarray, apart: float, depths: float) -> np.ndarray:
    """Wedepohl and Wilcox 1973, for each cell [ohm/m]."""
    m = np.sqrt(2j * math.pi * f * MU_0 / rho)
    return 1j * f * MU_0 * (-np.log(1.7810724 * m * apart / 2) + 0.5 - 2 / 3 * m * depths)


def make(rng: np.random.Generator, lack: Lack) -> Site:
    """Draw a site and read it from both ends."""
    length = math.exp(rng.uniform(math.log(60.0), math.log(300.0)))
    cells = round(length / CELL_M)
    x = (np.arange(cells) + 0.5) * length / cells
    h = length / cells
    f = float(rng.choice([500.0, 1e3, 3e3, 1e4]))
    rho = (
        60.0
        * 3.0 ** rng.normal()
        * np.exp(0.3 * np.sin(2 * math.pi * x / rng.uniform(30, 200) + rng.uniform(0, 6)))
    )
    # 14 AWG wire in 0.76 mm of plastic, worse in patches
    z_wire = 1.724e-8 / (math.pi * 0.000814**2) + earth(f, rho, 0.000814, 1.6)
    z_other = 2e-4 + earth(f, rho, 0.008, 1.2)
    z_both = earth(f, rho, rng.uniform(0.5, 4.0), 1.4)
    z = np.array([[z_wire, z_both], [z_both, z_other]]) * h  # (2, 2, cells)
    leak = 2 * math.pi * 0.000814 / (1e5 * 10.0 ** rng.uniform(-1, 1)) * np.exp(0.8 * rng.normal(size=cells))
    y = np.array([leak + 2j * math.pi * f * 131e-12, np.full(cells, 1e-4 + 2j * math.pi * f * 500e-12)]) * h
    at = rng.uniform(0.05, 0.95) * length
    k = min(max(round(at / h), 2), cells - 2)
    at = k * h
    ends = [
        math.exp(rng.uniform(math.log(8.0), math.log(400.0))) if rng.uniform() < 0.5 else 1e7
        for _ in range(2)
    ]
    bare, gap = 600.0 * math.exp(1.0 * rng.normal()), 3000.0 * math.exp(1.2 * rng.normal())
    branch = 40.0 * math.exp(1.2 * rng.normal())
    other_ends = [math.exp(rng.uniform(math.log(5.0), math.log(100.0))) for _ in range(2)]
    runs = []
    for side in (0, 1):
        current = ladder(
            z, y, k, lack, (bare, bare * math.exp(0.5 * rng.normal()), gap, branch), ends, other_ends, side
        )
        runs.append(read(rng, x, np.abs(current), length, side, f))
    return Site(length, lack, at, f, tuple(runs))


def ladder(z, y, k, lack, ohms, ends, other_ends, side) -> np.ndarray:  # type: ignore[no-untyped-def]
    """Current of the wire in each cell for 40 V through 200 ohm of stake at one end; dense nodal sums."""
    cells = z.shape[2]
    size = 2 * (cells + 2)  # nodes of the wire, one more for the far side of a break; then of the neighbour
    g = np.zeros((size, size), complex)
    inverse = np.linalg.inv(np.moveaxis(z, 2, 0))
    broken = lack is Lack.BROKEN

    def wire(n: int, right: bool) -> int:
        return n + 1 if broken and (n > k or (n == k and right)) else n

    pairs = []
    for n in range(cells):
        a = np.array([wire(n, True), cells + 2 + n])
        b = np.array([wire(n + 1, False), cells + 3 + n])
        pairs.append((a, b))
        g[np.ix_(a, a)] += inverse[n]
        g[np.ix_(b, b)] += inverse[n]
        g[np.ix_(a, b)] -= inverse[n]
        g[np.ix_(b, a)] -= inverse[n]
        g[a, a] += y[:, n] / 2
        g[b, b] += y[:, n] / 2
    bare, bare_too, gap, branch = ohms
    first, last = 0, wire(cells, False)
    if broken:
        left, right = k, k + 1
        g[left, left] += 1 / bare + 1 / gap
        g[right, right] += 1 / bare_too + 1 / gap
        g[left, right] -= 1 / gap
        g[right, left] -= 1 / gap
    elif lack is Lack.BRANCH:
        g[k, k] += 1 / branch
    driven, far = (first, last) if side == 0 else (last, first)
    g[driven, driven] += 1 / 200.0
    g[far, far] += 1 / ends[1 - side]
    g[cells + 2, cells + 2] += 1 / other_ends[0]
    g[2 * cells + 2, 2 * cells + 2] += 1 / other_ends[1]
    unused = np.flatnonzero(np.abs(np.diag(g)) == 0)
    g[unused, unused] = 1.0
    source = np.zeros(size, complex)
    source[driven] = 40.0 / 200.0
    v = np.linalg.solve(g, source)
    return np.array([(inverse[n] @ (v[a] - v[b]))[0] for n, (a, b) in enumerate(pairs)])


def read(rng, x, current, length, side, f) -> CurrentRun:  # type: ignore[no-untyped-def]
    """Walk from the connection until the signal is lost twice."""
    s, step = [], rng.uniform(4.0, 12.0)
    here = 3.0
    while here < length - 2.0:
        s.append(here if side == 0 else length - here)
        here += step * rng.uniform(0.8, 1.2)
    true = np.interp(s, x, current)
    noise = 0.04 * rng.normal(size=len(s))
    shown = np.hypot(true, 0.1 * LEAST_A) * np.exp(noise)
    slips = rng.uniform(size=len(s)) < 1 / 40
    shown = np.where(slips, shown * rng.choice([10.0, 0.1, 2.0], size=len(s)), shown)
    shown = np.where(true < LEAST_A, np.nan, shown)
    lost = np.flatnonzero(np.isnan(shown))
    if lost.size > 2:
        keep = lost[1] + 1
        s, shown = s[:keep], shown[:keep]
    return CurrentRun(0.0 if side == 0 else length, f, np.asarray(s), np.asarray(shown))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--faults", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    kind = conductor_kinds()["copper-tracer-14"]
    rng = np.random.default_rng(options.seed)
    for lack in (Lack.BROKEN, Lack.BRANCH, Lack.NOTHING):
        errors, held, widths, said = [], [], [], []
        start = time.process_time()
        count = options.faults if lack is Lack.BROKEN else options.faults // 2
        for _ in range(count):
            site = make(rng, lack)
            wire = Conductor("wire", kind, ((0.0, 0.0, 0.8), (site.length, 0.0, 0.8)))
            fit = fit_line(wire, site.runs, least_current_a=LEAST_A)
            said.append(fit.likeliest)
            if lack is not Lack.NOTHING:
                place = fit.position_m[lack]
                errors.append(abs(place.value - site.at) / site.length)
                held.append(place.low <= site.at <= place.high)
                widths.append((place.high - place.low) / site.length)
        spent = (time.process_time() - start) / count
        told = ", ".join(f"{kind.value} {said.count(kind)}" for kind in Lack)
        print(f"{lack.value}: {count} sites, {spent:.2f} s each; told as {told}")
        if errors:
            print(
                f"  place: median error {100 * np.median(errors):.1f} % of the length, 9 in 10 within "
                f"{100 * np.quantile(errors, 0.9):.1f} %; band held {100 * np.mean(held):.1f} %, "
                f"median width {100 * np.median(widths):.1f} %"
            )


if __name__ == "__main__":
    main()
