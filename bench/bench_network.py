"""Time of a hook-up plan: 30 segments, 12 frequencies, 6 connections; and ten times the segments.

    OMP_NUM_THREADS=1 PYTHONPATH=src python bench/bench_network.py

The network is a street: three mains that run along it, services square to them and slanting ones between,
bonds at every house. Ten times the segments is ten such streets. Median of five runs, processor time on one
core; the first run, which compiles, is told apart. The goals: 2 s, and 12 times for 10 times the segments.
"""

from __future__ import annotations

import platform
import time
from statistics import median

import numpy as np

from plumbmark.model.conductors import conductor_kinds
from plumbmark.model.job import Hookup
from plumbmark.model.network import Bond, Conductor, Connection, End, EndKind, Network, Stake
from plumbmark.planning.hookup import try_connections
from plumbmark.planning.runs import cut_runs

FREQUENCIES = tuple(float(f) for f in np.geomspace(300.0, 1e5, 12))


def street(number: int) -> tuple[list[Conductor], list[Bond]]:
    """Thirty segments: three mains of two legs, eight houses with gas, water and a slanting phone line."""
    kinds = conductor_kinds()
    north = 80.0 * number
    ground = End(EndKind.GROUNDED, 10.0)

    def name(text: str) -> str:
        return f"{text}{number}"

    def main_line(text: str, kind: str, at: float, depth: float, start: End) -> Conductor:
        places = ((0.0, at, depth), (60.0, at, depth), (120.0, at + 2, depth))
        return Conductor(name(text), kinds[kind], places, start, End() if text == "gas" else ground)

    mains = [
        main_line("gas", "steel-gas-main", north, 1.0, ground),
        main_line("water", "iron-water-main", north + 4, 1.3, ground),
        main_line("phone", "telephone-cable", north + 2, 0.6, ground),
    ]

    def service(text: str, kind: str, on: int, start: tuple, end: tuple, last: End) -> Conductor:
        return Conductor(name(text), kinds[kind], (start, end), End(EndKind.TEE, on=mains[on].id), last)

    lines, bonds = list(mains), []
    for k in range(8):
        east = 8.0 + 6.0 * k
        top = north + 14
        gas = service(f"g{k}-", "steel-gas-service", 0, (east, north, 1.0), (east, top, 0.6), End())
        start = (east + 1, north + 4, 1.3)
        water = service(f"w{k}-", "copper-water-service", 1, start, (east + 1, top, 1.0), ground)
        start = (east + 4, north + 2, 0.6)
        phone = service(f"p{k}-", "coaxial-cable", 2, start, (east + 2, top, 0.5), End())
        lines += [gas, water, phone]
        bonds.append(Bond(name(f"b{k}-"), gas.id, gas.length_m, water.id, water.length_m, 0.1))
        bonds.append(Bond(name(f"c{k}-"), phone.id, phone.length_m, water.id, water.length_m, 0.1))
    return lines, bonds


def network(streets: int) -> Network:
    lines: list[Conductor] = []
    bonds: list[Bond] = []
    for number in range(streets):
        more, joints = street(number)
        lines += more
        bonds += joints
    connections = (
        Connection("post", Hookup.DIRECT, "gas0", 0.0, "verge"),
        Connection("post-far", Hookup.DIRECT, "gas0", 0.0, "far"),
        Connection("meter", Hookup.DIRECT, "g3-0", 13.9, "verge"),
        Connection("clamp-meter", Hookup.CLAMP, "g3-0", 13.0),
        Connection("clamp-phone", Hookup.CLAMP, "phone0", 30.0),
        Connection("coil", Hookup.INDUCTION, easting_m=30.0, northing_m=0.0, bearing_deg=90.0),
    )
    stakes = (Stake("verge", -2.0, -8.0), Stake("far", -2.0, -20.0))
    return Network(
        "bench", "gas0", tuple(lines), tuple(bonds), stakes=stakes, connections=connections,
        resistivity_ohm_m=60.0, frequencies_hz=FREQUENCIES,
    )  # fmt: skip


def seconds(case: Network) -> float:
    runs = []
    for _ in range(5):
        start = time.process_time()
        try_connections(case)
        runs.append(time.process_time() - start)
    return median(runs)


def main() -> None:
    print(platform.platform(), platform.python_version())
    start = time.perf_counter()
    try_connections(network(1))
    print(f"first run {time.perf_counter() - start:.1f} s")
    times = {}
    for streets in (1, 10):
        case = network(streets)
        legs = sum(len(c.vertices_m) - 1 for c in case.conductors)
        times[streets] = seconds(case)
        pieces = len(cut_runs(case).conductor)
        print(f"{legs} segments ({pieces} pieces), 12 frequencies, 6 connections: {times[streets]:.2f} s")
    print(f"ten times the segments: {times[10] / times[1]:.1f} times the time")


if __name__ == "__main__":
    main()
