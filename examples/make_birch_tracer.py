"""Makes examples/birch-tracer: an invented gas main of plastic, its tracer wire broken. The same every time.

    PYTHONPATH=src python examples/make_birch_tracer.py

The wire runs 190 m between two risers and is broken 118 m from the first: two bare ends in the soil, a hand
apart. A crew connects at either riser and walks until the signal is lost. The currents are those of a ladder
of lumped cells with a leaky coating in patches, of this file's own making.
"""

from __future__ import annotations

import cmath
import csv
import math
from itertools import pairwise
from pathlib import Path

import numpy as np

FOLDER = Path(__file__).parent / "birch-tracer"
SEED = 118
CORNERS = ((0.0, 0.0), (95.0, 4.0), (190.0, 10.0))
BREAK_M = 118.0
FREQUENCY = 1000.0
RHO = 95.0
LEAST_A = 2e-4
JOB = """\
[job]
id = "birch-tracer"
title = "Invented: plastic gas main, tracer wire broken"
display_units = "m"
[soil]
resistivity_ohm_m = 80
[[receivers]]
id = "R1"
lower_coil_height_m = 0.05
coil_spacing_m = 0.40
[[lines]]
id = "G1"
utility = "gas"
material = "plastic with a tracer wire"
outside_diameter_m = 0.114
identity = ["connected"]
[[setups]]
id = "west"
line = "G1"
hookup = "direct"
frequency_hz = 1000
receiver = "R1"
transmitter_easting_m = 0.0
transmitter_northing_m = 0.0
[[setups]]
id = "east"
line = "G1"
hookup = "direct"
frequency_hz = 1000
receiver = "R1"
transmitter_easting_m = 190.0
transmitter_northing_m = 10.0
"""


def length() -> float:
    """Of the wire, in plan."""
    return sum(math.dist(a, b) for a, b in pairwise(CORNERS))


def point(s: float) -> tuple[float, float, float]:
    """Easting, northing and bearing in degrees at a chainage."""
    for a, b in pairwise(CORNERS):
        leg = math.dist(a, b)
        if s <= leg or b == CORNERS[-1]:
            t = s / leg
            bearing = math.degrees(math.atan2(b[0] - a[0], b[1] - a[1]))
            return a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), bearing
        s -= leg
    raise ValueError(s)


def currents(rng: np.random.Generator, side: int, leak: np.ndarray) -> np.ndarray:
    """Current in each cell of a metre for 40 V through 210 ohm of stake at one riser [A]."""
    cells = len(leak)
    omega = 2 * math.pi * FREQUENCY
    m = cmath.sqrt(1j * omega * 4e-7 * math.pi / RHO)
    z = 8.28e-3 + 2e-7j * omega * (-cmath.log(1.7811 * m * 0.000814 / 2) + 0.5 - 4 / 3 * m * 0.9)
    y = leak + 1j * omega * 131e-12
    k = round(BREAK_M)
    g = np.zeros((cells + 2, cells + 2), complex)
    for n in range(cells):
        a, b = (n + (n >= k), n + 1 + (n >= k))  # the far side of the break is a node of its own
        g[[a, b], [a, b]] += 1 / z + y[n] / 2
        g[[a, b], [b, a]] -= 1 / z
    near, far = k, k + 1
    g[near, near] += 1 / 700.0 + 1 / 5000.0
    g[far, far] += 1 / 900.0 + 1 / 5000.0
    g[[near, far], [far, near]] -= 1 / 5000.0
    first, last = (0, cells + 1) if side == 0 else (cells + 1, 0)
    g[first, first] += 1 / 210.0
    g[last, last] += 1 / 35.0  # the other riser is grounded while nobody is there
    source = np.zeros(cells + 2, complex)
    source[first] = 40.0 / 210.0
    v = np.linalg.solve(g, source)
    nodes = np.arange(cells)
    return np.abs((v[nodes + (nodes >= k)] - v[nodes + 1 + (nodes >= k)]) / z)


def main() -> None:
    """Write the folder anew; README.md and network.toml in it stay."""
    rng = np.random.default_rng(SEED)
    FOLDER.mkdir(exist_ok=True)
    (FOLDER / "job.toml").write_text(JOB, encoding="utf-8")
    whole = length()
    leak = 5e-8 * np.exp(0.7 * rng.normal(size=round(whole)))
    rows = []
    for side, setup in ((0, "west"), (1, "east")):
        amperes = currents(rng, side, leak)
        here, lost = 4.0, 0
        while here < whole - 3.0 and lost < 2:
            s = here if side == 0 else whole - here
            true = float(np.interp(s, np.arange(len(amperes)) + 0.5, amperes))
            e, n, bearing = point(s)
            heard = true >= LEAST_A
            lost += not heard
            rows.append(
                {
                    "reading": f"{setup[0]}{len(rows) + 1}",
                    "line": "G1",
                    "setup": setup,
                    "easting_m": f"{e + 0.03 * rng.normal():.2f}",
                    "northing_m": f"{n + 0.05 * rng.normal():.2f}",
                    "bearing_deg": f"{bearing:.0f}",
                    "depth_m": f"{0.9 * (1 + 0.03 * rng.normal()):.2f}" if heard else "",
                    "current_ma": f"{1e3 * true * (1 + 0.04 * rng.normal()):.3g}" if heard else "",
                    "depth_refused": "" if heard else "yes",
                }
            )
            here += rng.uniform(8.0, 13.0)
    with (FOLDER / "readings.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
