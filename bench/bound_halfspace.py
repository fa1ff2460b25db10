r"""The error of the image lines over their whole domain, enclosed and not only sampled.

    OPENBLAS_NUM_THREADS=1 python bench/bound_halfspace.py

Domain: depth 0.1 to 6 m, to 7 m aside, heights to 1.5 m, depth over skin depth k from 5e-4 to 0.5. With
G and F the integral and its images (see plumbmark.physics.halfspace), E = G - F and a bar for the value at
the conjugate of zeta, the error of the field relative to the field is the root of

    (|E|^2 + |E_|^2) / (|G|^2 + |G_|^2)  <=  (|E|^2 + |E_|^2) / (2 |G| |G_|).

1. For every depth the points zeta = (height - j offset) / depth lie in R = [0, 15] x [-70, 70] j. E and the
   conjugate of E_ are analytic there, so the logarithm of the right side is subharmonic where G has no zero
   in R (its winding number round R is 0, counted below), and the right side is largest on the rim of R.
2. The rim is cut into panels, the table of images into its cells of s = log k. Round each, in an ellipse with
   sum of half-axes rho (half-lengths as unit), E and the slopes of G are analytic and bounded by a crude M
   (below), so that a polynomial of degree n comes within eps = 2 M rho^-n / (rho - 1) (Bernstein). A
   polynomial, of vectors too, is at most 1 / cos(pi n / 2 N) times its largest value at N Chebyshev points
   (Ehlich & Zeller 1964). Hence sup |E| <= (max |E| + eps) / cos(pi n / 2 N) + eps, first along s, then
   along the panel.
3. |G| is at least its value at the nearest point less the way there times the bound of its slope, and turns
   by less than a right angle on that way where this is above 0.

Crude bounds, with phi the half-height of the ellipse of s, |phi| <= 0.2: Re u >= l - sqrt(2 sin 2 phi) k,
|l + u| >= l and >= |u| >= sqrt(2 cos 2 phi) k. So |2 l / (l + u)| <= 2, and with g = 2 exp(0.9 k) and
m = 1 + Re zeta: |G| <= g / m, |dG/dzeta| <= g / m^2, |dG/ds| <= (1.1 + 1.5 k) g / m. The images are cubics
of s and are bounded as such.

What is left to trust is double precision and the quadrature of G, on a path turned away from the branch
point, which is compared with `line_over_ground_field_quadrature`.
"""

from __future__ import annotations

import math
import time
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.polynomial.legendre import leggauss

from plumbmark.physics import halfspace
from plumbmark.physics.halfspace import line_over_ground_field_quadrature

ASIDE, UP = 70.0, 15.0  # 7 m and 1.5 m over the least depth, 0.1 m
K_LEAST, K_MOST = 5e-4, 0.5
TURN = math.radians(20.0)  # of the path of integration
LEFT = -0.6  # how far left the ellipses of the panels reach
PHI = 0.2
DEGREE, POINTS, ROUGH = 26, 156, 39  # along a panel; the last for slopes
DEGREE_S, POINTS_S, ROUGH_S = 11, 44, 17  # along a cell of log k
GAUSS, GAUSS_WEIGHTS = leggauss(20)


def panels() -> list[tuple[complex, complex]]:
    """Ends of the pieces of the upper half of the rim, one after another clockwise from 0."""
    corners = [complex(0, y) for y in range(71)]
    corners += [complex(x, ASIDE) for x in (1, 3, 7, UP)]
    corners += [complex(UP, y) for y in np.linspace(ASIDE, 0, 8)[1:]]
    return list(pairwise(corners))


def rho_of(a: complex, b: complex) -> float:
    """Sum of half-axes of the largest ellipse about a piece that stays right of LEFT."""
    half = abs(b - a) / 2
    room = (a.real + b.real) / 2 - LEFT
    if a.real == b.real:  # an upright piece: the ellipse is as wide as there is room
        return room / half + math.sqrt((room / half) ** 2 + 1)
    return room / half + math.sqrt((room / half) ** 2 - 1)


def rule(size: float, below: bool) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and weights for |zeta| in [size / 2, size]; `below`: the imaginary part is below 0."""
    turn = np.exp(1j * (TURN if below else -TURN))
    top = 45.0 / (math.cos(TURN) + 0.5 * size * math.sin(TURN))
    edges = [0.0, 1e-6]
    while edges[-1] < top:
        edges.append(edges[-1] + min(edges[-1], 10.0 / max(size, 1.0)))
    low, high = np.array(edges[:-1]), np.array(edges[1:])
    t = (0.5 * (high - low)[:, None] * (GAUSS + 1) + low[:, None]).ravel()
    w = (0.5 * (high - low)[:, None] * GAUSS_WEIGHTS).ravel()
    return t * turn, w * turn


@lru_cache(maxsize=8)
def falling(a: complex, b: complex, points: int, size: float, below: bool) -> np.ndarray:
    """exp(-l zeta) at the points of a panel and at its ends: shape (points + 2, nodes)."""
    zeta = np.concatenate([[a], (a + b) / 2 + (b - a) / 2 * chebyshev(points), [b]])
    return np.asarray(np.exp(-zeta[:, None] * rule(size, below)[0]))


@lru_cache(maxsize=512)
def rest(size: float, below: bool, k: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What stands beside it in G and in its slopes by zeta and by log k: shape (nodes, k)."""
    wave, weight = (a[:, None] for a in rule(size, below))
    u = np.sqrt(wave**2 + 2j * np.square(k))
    kernel = weight * 2 * wave / (wave + u) * np.exp(-u)
    return kernel, -wave * kernel, -kernel * (1 / (wave + u) + 1) * 2j * np.square(k) / u


def images(cell: int, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Positions b and residues r of the images at places t (0 to 1) of a cell: shape (t, images)."""
    c = cubics(cell)
    powers = (np.asarray(t)[:, None] - 0.5) ** np.arange(4)
    return powers @ c[0], powers @ c[1]


def cubics(cell: int) -> np.ndarray:
    """Coefficients of b and of r in powers of t - 1/2: shape (2, 4, images)."""
    table, step = halfspace._TABLE, halfspace._LOG_K_STEP
    values = []
    for row in (0, 2):
        y0, y1 = table[cell, row], table[cell + 1, row]
        d0, d1 = step * table[cell, row + 1], step * table[cell + 1, row + 1]
        values.append(
            [
                0.5 * (y0 + y1) + 0.125 * (d0 - d1),
                1.5 * (y1 - y0) - 0.25 * (d0 + d1),
                0.5 * (d1 - d0),
                2.0 * (y0 - y1) + d0 + d1,
            ]
        )
    return np.array(values)


def most_of_images(cell: int, reach: float, left: float) -> float:
    """Bound of |F| where |t - 1/2| <= reach and Re zeta >= left."""
    c = cubics(cell)
    aside = (np.abs(c[:, 1:]) * reach ** np.arange(1, 4)[:, None]).sum(1)
    nearest = 1 + left + c[0, 0].real - aside[0]
    if nearest.min() <= 0 or 1 + left <= 0:
        raise SystemExit("an image comes too near")
    return float(1 / (1 + left) + ((np.abs(c[1, 0]) + aside[1]) / nearest).sum())


def sup(sampled: np.ndarray, ms: tuple[float, float], rhos: tuple[float, float]) -> float:
    """Bound over a panel and a cell from |f| at the Chebyshev points of both, shape (zeta, k).

    `ms` and `rhos`: bound in the ellipse and its size, first along s, then along the panel.
    """
    worst = float(sampled.max())
    for m, r, n, points in zip(ms, rhos, (DEGREE_S, DEGREE), sampled.shape[::-1], strict=True):
        eps = 2 * m * r**-n / (r - 1)
        worst = (worst + eps) / math.cos(math.pi * n / (2 * points)) + eps
    return worst


def check_quadrature() -> float:
    """Largest difference of the turned path from the straight one, relative."""
    worst = 0.0
    for y, a, k in ((0.3, 0.0, 5e-4), (9.0, 1.0, 0.03), (70.0, 0.0, 0.5), (35.0, 15.0, 0.1)):
        b_e, b_u = line_over_ground_field_quadrature(y, a, depth=1.0, current=1.0, skin_depth=1 / k)
        h, v = b_e / 2e-7, -b_u / 2e-7
        for sign in (1, -1):
            size = size_of(abs(complex(a, y)))
            path = np.exp(-complex(a, sign * y) * rule(size, sign < 0)[0])
            got = path @ rest(size, sign < 0, (k,))[0][:, 0]
            worst = max(worst, abs(got - (h - sign * 1j * v)) / abs(got))
    return worst


def size_of(most: float) -> float:
    """The power of two from which on a rule is made for |zeta|."""
    return float(2.0 ** math.ceil(math.log2(max(most, 1.0))))


def chebyshev(points: int) -> np.ndarray:
    """Zeros of the Chebyshev polynomial, from -1 to 1."""
    return -np.cos(math.pi * (np.arange(points) + 0.5) / points)


def one_side(
    ends: tuple[complex, complex], cell: int, rho_s: float
) -> tuple[np.ndarray, float, float, float, float]:
    """|E| at the points of a panel and a cell, its bounds along each, the least |G|, and what G turns by."""
    a, b = ends
    step = halfspace._LOG_K_STEP
    size, below = size_of(max(abs(a), abs(b))), a.imag + b.imag < 0
    left, rho = min(a.real, b.real), rho_of(a, b)

    def k_at(points: int) -> tuple[float, ...]:
        at = halfspace._LOG_K_LOW + step * (cell + 0.5 + 0.5 * chebyshev(points))
        return tuple(np.exp(at).tolist())

    k = k_at(POINTS_S)
    with_ends = falling(a, b, POINTS, size, below) @ rest(size, below, k)[0]
    g = with_ends[1:-1]
    zeta = (a + b) / 2 + (b - a) / 2 * chebyshev(POINTS)
    at, r = images(cell, 0.5 + 0.5 * chebyshev(POINTS_S))
    f = 1 / (zeta + 1)[:, None] + (r / (zeta[:, None, None] + 1 + at)).sum(-1)
    grow, m, m_left, by = 2 * math.exp(0.9 * max(k)), 1 + left, 1 + LEFT, 1.1 + 1.5 * max(k)
    reach = 0.5 * math.hypot(1, PHI / (step / 2))
    rough = falling(a, b, ROUGH, size, below)[1:-1]
    by_zeta, by_s = (rough @ other for other in rest(size, below, k_at(ROUGH_S))[1:])
    most_zeta = sup(np.abs(by_zeta), (grow / m**2, grow / m_left**2), (rho_s, rho))
    most_s = sup(np.abs(by_s), (by * grow / m, by * grow / m_left), (rho_s, rho))
    # no point is further from one of N Chebyshev points than pi / 2 N of half a length
    way, way_s = abs(b - a) / 2 * math.pi / (2 * POINTS), 0.5 * step * math.pi / (2 * POINTS_S)
    least = float(np.abs(g).min()) - way * most_zeta - way_s * most_s
    if least <= 0:
        raise SystemExit(f"no bound of 1 / G at {a}, k = {k[0]:.3g}: take more points")
    turned = float(np.angle(with_ends[1:, 0] / with_ends[:-1, 0]).sum())
    in_s, in_zeta = (
        grow / m + most_of_images(cell, reach, left),
        grow / m_left + most_of_images(cell, 0.5, LEFT),
    )
    return np.abs(g - f), in_s, in_zeta, least, turned


def main() -> None:
    began = time.perf_counter()
    print(f"two quadratures apart by at most {check_quadrature():.0e}")
    step, low = halfspace._LOG_K_STEP, halfspace._LOG_K_LOW
    cells = range(int((math.log(K_LEAST) - low) / step), math.ceil((math.log(K_MOST) - low) / step))
    rho_s = PHI / (step / 2) + math.sqrt((PHI / (step / 2)) ** 2 + 1)
    bound, turned = dict.fromkeys(cells, 0.0), dict.fromkeys(cells, 0.0)
    for a, b in panels():
        for cell in cells:
            above, s1, z1, least, turn = one_side((a, b), cell, rho_s)
            below, s2, z2, least_below, turn_below = one_side((a.conjugate(), b.conjugate()), cell, rho_s)
            most = sup(
                np.hypot(above, below), (math.hypot(s1, s2), math.hypot(z1, z2)), (rho_s, rho_of(a, b))
            )
            bound[cell] = max(bound[cell], most / math.sqrt(2 * least * least_below))
            turned[cell] += turn_below - turn
    if max(abs(w) for w in turned.values()) > 1e-6:
        raise SystemExit("G has a zero in the domain")
    print("| depth / skin depth | error at most |\n|---|---|")
    for cell in [*list(cells)[::8], cells[-1]]:
        print(f"| {math.exp(low + step * cell):.4f} | {bound[cell]:.1e} |")
    print(f"\nover the domain at most {max(bound.values()):.2e}")
    print(
        f"G turns by {max(abs(w) for w in turned.values()):.0e} round it; {time.perf_counter() - began:.0f} s"
    )
    if max(bound.values()) > 1e-4:
        raise SystemExit("the bound is above 1e-4")


if __name__ == "__main__":
    main()
