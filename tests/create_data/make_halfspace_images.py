"""Makes the table of complex image lines that `plumbmark.physics.halfspace` reads.

The field of a line buried in conducting ground, seen in air, is the two values G(z), G(z*) of

    G(z) = int_0^inf 2 l / (l + u) exp(-u - l z) dl,   u^2 = l^2 + 2 j k^2,   k = depth / skin depth,

at z = (height - j * offset) / depth. Here G is fitted, for each k of a grid uniform in log k, by

    G(z) ~ 1 / (z + 1) + sum_j r_j / (z + 1 + b_j),

the line itself and seven images below it. G has no singularity right of z = -1, so by the maximum
principle a fit on the imaginary axis (receiver on the ground) holds above it. The error is measured
against the whole field, both components. First the positions are found by non-linear least squares, step
by step in k, each from its neighbour. They wander a little from k to k, so then all are fitted together
with positions that follow low polynomials in log k. Residues solve a linear problem and are as smooth as
the positions: a cubic spline between grid points costs nothing.

    PYTHONPATH=src python tests/create_data/make_halfspace_images.py     (some minutes)
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.polynomial import chebyshev
from numpy.polynomial.legendre import leggauss
from scipy.interpolate import CubicSpline
from scipy.optimize import least_squares

OUT = Path(__file__).parents[2] / "src/plumbmark/physics/_tables/halfspace_images.npz"

IMAGES = 7  # besides the line itself
K_LOW, K_HIGH = 2e-4, 1.0
GRID = 96  # intervals of the table in log k
SPARE = 4  # further ones fitted at either end and not kept: splines are worst there
REACH = 70.5  # largest |offset| / depth: 7 m from a line 0.1 m down
RAISE = 15.2  # largest height / depth: 1.5 m over the same
DEGREE = 15  # of the polynomials in log k that the positions follow
FLOOR = 2e-6  # no k is asked for more
TETHER = 2.0  # pull towards a quartic through the free positions, so that no two images merge

NODES, WEIGHTS = leggauss(24)


def exact(z, k):
    """G by composite Gauss-Legendre quadrature, panels short against the oscillation; 1e-12."""
    reach = max(1.0, float(np.abs(z).max()))
    edges = [0.0, 1e-4 * min(k, 1 / reach)]
    while edges[-1] < 60.0:
        edges.append(edges[-1] + min(0.6 * edges[-1], 2.0, 12.0 / reach))
    low, high = np.array(edges[:-1]), np.array(edges[1:])
    x = (0.5 * (high - low)[:, None] * (NODES + 1.0) + low[:, None]).ravel()
    w = (0.5 * (high - low)[:, None] * WEIGHTS).ravel()
    u = np.sqrt(x * x + 2j * k * k)
    return np.exp(-np.outer(z, x)) @ (w * 2.0 * x / (x + u) * np.exp(-u))


def domain():
    """Points z with offset to one side; the other side is their conjugates."""
    y = np.concatenate([[0.0], np.geomspace(0.03, REACH, 70), np.linspace(20.0, REACH, 21)])
    rim = [h + 1j * REACH * f for h in (0.3, RAISE / 3, RAISE) for f in (0.0, 0.03, 0.1, 0.3, 1.0)]
    return np.concatenate([1j * y, rim])


class Fit:
    """Values of G on the domain for one k, and the best residues for given positions."""

    def __init__(self, k, z):
        left, right = exact(z.conj(), k), exact(z, k)
        self.z = np.concatenate([z.conj(), z])
        self.w = np.tile(1.0 / np.sqrt((np.abs(left) ** 2 + np.abs(right) ** 2) / 2.0), 2)
        self.y = (np.concatenate([left, right]) - 1.0 / (1.0 + self.z)) * self.w

    def residues(self, b):
        """Residues, and the weighted misfit at each point."""
        a = self.w[:, None] / (self.z[:, None] + 1.0 + b)
        size = np.linalg.norm(a, axis=0)
        r = np.linalg.lstsq(a / size, self.y, rcond=1e-15)[0]
        return r / size, a / size @ r - self.y

    def worst(self, b, r=None):
        """Largest error over the domain, relative to the field there."""
        miss = self.residues(b)[1] if r is None else self.w * (r / (self.z[:, None] + 1 + b)).sum(1) - self.y
        half = len(miss) // 2
        return np.sqrt((np.abs(miss[:half]) ** 2 + np.abs(miss[half:]) ** 2) / 2.0).max()

    def refine(self, b):
        """Positions moved to the least-squares optimum nearby."""
        scale = 1.0 / self.worst(b)

        def misfit(p):
            m = self.residues(np.exp(p[:IMAGES] + 1j * p[IMAGES:]))[1] * scale
            return np.concatenate([m.real, m.imag])

        start = np.concatenate([np.log(np.abs(b)), np.angle(b)])
        p = least_squares(misfit, start, xtol=1e-13, ftol=1e-13, gtol=1e-13, max_nfev=120).x
        return np.exp(p[:IMAGES] + 1j * p[IMAGES:])


def one_by_one(fits, t):
    """Best positions for each k, by continuation from k = 0.1 both ways."""
    middle = int(np.searchsorted(t, np.log(0.1)))
    b = np.empty((len(fits), IMAGES), complex)
    start = np.geomspace(1.0, 40.0, IMAGES) * np.exp(-0.25j * np.pi)
    for _ in range(4):
        start = fits[middle].refine(start)
    b[middle] = start[np.argsort(np.abs(start))]
    for i in range(middle + 1, len(fits)):
        b[i] = fits[i].refine(b[i - 1])
    for i in range(middle - 1, -1, -1):
        b[i] = fits[i].refine(b[i + 1])
    return b


def all_together(fits, b, weights, rounds=60):
    """Positions whose logarithms are polynomials in log k, fitted to all k at once.

    Gauss-Newton with damping; the residues are projected out (Kaufman's form of variable projection).
    Each k is weighted by what its own best fit reaches, or the floor.
    """
    v = chebyshev.chebvander(np.linspace(-1.0, 1.0, len(fits)), DEGREE)
    free, quartic = np.log(np.abs(b)) + 1j * np.angle(b), v[:, :5].astype(complex)
    target = quartic @ np.linalg.lstsq(quartic, free, rcond=None)[0]
    c = np.linalg.lstsq(v.astype(complex), target, rcond=None)[0]

    def misfit(c):
        parts = [f.residues(p)[1] * w for f, p, w in zip(fits, np.exp(v @ c), weights, strict=True)]
        return np.concatenate([*parts, TETHER * (v @ c - target).ravel()])

    tether = TETHER * (v[:, None, :, None] * np.eye(IMAGES)[None, :, None, :]).reshape(b.size, -1)

    def slopes(c):
        rows = []
        for f, p, w, row in zip(fits, np.exp(v @ c), weights, v, strict=True):
            a = f.w[:, None] / (f.z[:, None] + 1.0 + p)
            q = np.linalg.qr(a / np.linalg.norm(a, axis=0))[0]
            d = -a / (f.z[:, None] + 1.0 + p) * f.residues(p)[0] * p
            d = (d - q @ (q.conj().T @ d)) * w
            rows.append((d[:, None, :] * row[None, :, None]).reshape(len(f.z), -1))
        return np.concatenate([*rows, tether])

    damping, m = 1e-2, misfit(c)
    for _ in range(rounds):
        jacobian = slopes(c)
        normal, gradient = jacobian.conj().T @ jacobian, jacobian.conj().T @ m
        scale = np.diag(normal.diagonal().real)
        before = np.linalg.norm(m)
        for _ in range(12):
            trial = c - np.linalg.solve(normal + damping * scale, gradient).reshape(c.shape)
            after = misfit(trial)
            if np.linalg.norm(after) < before:
                break
            damping *= 4.0
        else:
            break
        c, m, damping = trial, after, max(damping / 3.0, 1e-9)
        if np.linalg.norm(m) > (1.0 - 1e-5) * before:
            break
    return np.exp(v @ c)


def main():
    z = domain()
    step = np.log(K_HIGH / K_LOW) / GRID
    t = np.log(K_LOW) + step * np.arange(-SPARE, GRID + SPARE + 1)
    fits = [Fit(k, z) for k in np.exp(t)]
    free = one_by_one(fits, t)
    best = np.array([max(f.worst(p), FLOOR) for f, p in zip(fits, free, strict=True)])
    weights = 1.0 / best
    for _ in range(3):  # where the common fit loses most against its own, it counts for more
        b = all_together(fits, free, weights)
        now = np.array([f.worst(p) for f, p in zip(fits, b, strict=True)])
        weights = weights * np.sqrt(np.maximum(now, FLOOR) / best) / 1.2
    r = np.array([f.residues(p)[0] for f, p in zip(fits, b, strict=True)])
    for name, positions in (("free", free), ("smooth", b)):
        print(f"worst error, {name} positions: {max(map(Fit.worst, fits, positions)):.2e}")
    print(f"largest residue {np.abs(r).max():.3f}; least Re b / |b| {(b.real / np.abs(b)).min():.3f}")

    spline_b, spline_r = CubicSpline(t, b), CubicSpline(t, r)
    half = (0.5 * (t[1:] + t[:-1]))[SPARE:-SPARE]
    between = [Fit(np.exp(x), z).worst(spline_b(x), spline_r(x)) for x in half]
    for x, e in zip(half[::8], between[::8], strict=True):
        print(f"    k = {np.exp(x):.5f}: {e:.1e}")
    print(f"worst error half-way between grid points {max(between):.2e}")
    # per grid point: positions, their slopes, residues, their slopes (per unit of log k)
    table = np.stack([b, spline_b(t, 1), r, spline_r(t, 1)], axis=1)[SPARE:-SPARE]
    OUT.parent.mkdir(exist_ok=True)
    np.savez_compressed(OUT, log_k_low=np.log(K_LOW), log_k_step=step, table=table)


if __name__ == "__main__":
    main()
