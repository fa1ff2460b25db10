"""Field of a line over conducting ground: eight image lines against adaptive quadrature.

    python bench/bench_halfspace.py

The user would otherwise take `scipy.integrate.quad` on the textbook integral, four calls a point (real and
imaginary part, across and upright), or a Gauss-Legendre rule with panels, which is our own judge, to 1e-12.
The images are timed twice: through the public function on arrays, and as one point at a time from compiled
code, new images for each, which is how a fit uses them. Error is relative to the field at the point, both
components together, worst over the points of the row. Median of five runs each, one core.
"""

from __future__ import annotations

import platform
import time
import warnings
from collections.abc import Callable
from statistics import median

import numpy as np
from scipy.integrate import IntegrationWarning, quad

from plumbmark.base.compiled import kernel
from plumbmark.physics.halfspace import (
    HALFSPACE_IMAGES,
    halfspace_images,
    line_over_ground_field,
    line_over_ground_field_quadrature,
)
from plumbmark.physics.images import across_upright

OFFSETS = np.array([0.0, 0.3, 1.0, 2.5, 7.0])
HEIGHTS = np.array([0.0, 0.05, 0.45, 0.9])
CASES = [(1.0, 0.001), (1.0, 0.01), (1.0, 0.05), (1.0, 0.1), (1.0, 0.2), (1.0, 0.5), (0.1, 0.02), (3.0, 0.3)]


def by_quad(x: float, a: float, d: float, skin: float) -> tuple[complex, complex]:
    """(across, up) in teslas for 1 A by QUADPACK to 1e-6."""

    def integral(trig: Callable[[float], float]) -> complex:
        def f(w: float) -> complex:
            u = np.sqrt(w * w + 2j / skin**2)
            return w / (w + u) * np.exp(-u * d - w * a) * trig(w * x)

        real = quad(lambda w: f(w).real, 0.0, 30.0 / d, epsabs=1e-9, epsrel=1e-6, limit=200)[0]
        imag = quad(lambda w: f(w).imag, 0.0, 30.0 / d, epsabs=1e-9, epsrel=1e-6, limit=200)[0]
        return complex(real, imag)

    return 4e-7 * integral(np.cos), -4e-7 * integral(np.sin)


@kernel
def many_points(x, a, d, inverse_skin, rounds):
    """A sum of fields, so that nothing is optimised away; the depth differs at every point."""
    at = np.zeros(HALFSPACE_IMAGES)
    p = np.empty(HALFSPACE_IMAGES, np.complex128)
    c = np.empty(HALFSPACE_IMAGES, np.complex128)
    total = 0.0
    for n in range(rounds):
        for i in range(x.size):
            for k in range(a.size):
                halfspace_images(d * (1.0 + 1e-9 * n), inverse_skin, p, c)
                h, v = across_upright(x[i], a[k], at, p, c, HALFSPACE_IMAGES)
                total += h.real + v.real
    return total


def seconds(call: Callable[[], object]) -> float:
    runs = []
    for _ in range(5):
        start = time.perf_counter()
        call()
        runs.append(time.perf_counter() - start)
    return median(runs)


def row(d: float, k: float, x: np.ndarray, a: np.ndarray) -> tuple[list[float], float]:
    """Microseconds a point of the four ways, and the error of the images."""
    skin = d / k
    many_x, many_a = np.tile(x, 500), np.tile(a, 500)
    ground = {"depth": d, "current": 1.0, "skin_depth": skin}
    ways: list[tuple[Callable[[], object], int]] = [
        (lambda: [by_quad(*point, d, skin) for point in zip(x, a, strict=True)], x.size),
        (lambda: line_over_ground_field_quadrature(x, a, **ground), x.size),
        (lambda: line_over_ground_field(many_x, many_a, **ground), many_x.size),
        (lambda: many_points(OFFSETS, HEIGHTS, d, 1.0 / skin, 2000), 2000 * x.size),
    ]
    ours, exact = line_over_ground_field(x, a, **ground), line_over_ground_field_quadrature(x, a, **ground)
    miss = np.hypot(np.abs(ours[0] - exact[0]), np.abs(ours[1] - exact[1]))
    error = (miss / np.hypot(np.abs(exact[0]), np.abs(exact[1]))).max()
    return [1e6 * seconds(call) / points for call, points in ways], float(error)


def main() -> None:
    warnings.simplefilter("ignore", IntegrationWarning)
    x, a = (g.ravel() for g in np.meshgrid(OFFSETS, HEIGHTS))
    print("python bench/bench_halfspace.py")
    print(f"Python {platform.python_version()}, {platform.machine()}, {x.size} points a row\n")
    print("| depth m | d/skin | quad us | our quadrature us | images, arrays us | images, one by one us |"
          " quad / one by one | error of images |")  # fmt: skip
    print("|---|---|---|---|---|---|---|---|")
    many_points(OFFSETS, HEIGHTS, 1.0, 0.1, 1)  # compiles
    line_over_ground_field(x, a, depth=1.0, current=1.0, skin_depth=10.0)
    for d, k in CASES:
        us, error = row(d, k, x, a)
        times = us[0] / us[3]
        cells = [
            f"{us[0]:.0f}",
            f"{us[1]:.0f}",
            f"{us[2]:.3f}",
            f"{us[3]:.3f}",
            f"{times:.0f}",
            f"{error:.0e}",
        ]
        print(f"| {d} | {k} | {' | '.join(cells)} |")
        if error > 1e-4 or times < 200:
            raise SystemExit("the images are no longer 200 times faster at 1e-4")


if __name__ == "__main__":
    main()
