"""How long logs take to be understood and taken in, from a day's work up to the largest that are read.

    PYTHONPATH=src python bench/bench_logs.py [ROWS ...]

A table of readings with nine columns, and an NMEA 0183 log with three sentences a fix, both invented. Three
times are printed, in seconds of the clock: the first look, the look with every question answered, and the
writing down on SQLite.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable

from plumbmark.app import logs
from plumbmark.model.log import LogMapping
from plumbmark.store import open_store

ANSWERS = {"zone": "+00:00", "grid": "EPSG:32631", "sigma": "0.02"}


def table(rows: int) -> bytes:
    lines = ["No,Time,Line,Depth (m),Current (mA),Lat,Lon,Crew,Note"]
    for k in range(rows):
        clock = f"2026-11-{1 + k // 86400:02d} {k // 3600 % 24:02d}:{k // 60 % 60:02d}:{k % 60:02d}"
        depth, current = 0.5 + (7 * k % 151) / 100.0, 5.0 + (13 * k % 451) / 10.0
        place = f"{52.0 + 1e-6 * k:.8f},{4.9 + 1e-6 * k:.8f}"
        lines.append(f"{k},{clock},E{k % 5},{depth:.2f},{current:.1f},{place},R. Vale,at {k}")
    return "\n".join(lines).encode()


def sentence(body: str) -> str:
    checksum = 0
    for byte in body.encode():
        checksum ^= byte
    return f"${body}*{checksum:02X}"


def fixes(rows: int) -> bytes:
    lines = []
    for k in range(rows):
        at = f"{k // 3600 % 24:02d}{k // 60 % 60:02d}{k % 60:02d}.00"
        place = f"52{k // 5000 % 60:02d}.{2 * k % 10000:04d},N,00454.1000,E"
        lines.append(sentence(f"GNRMC,{at},A,{place},0.0,0.0,251126,,,A"))
        lines.append(sentence(f"GNGGA,{at},{place},4,12,0.8,2.1,M,46.9,M,,"))
        lines.append(sentence(f"GNGST,{at},0.1,0.02,0.02,0,0.012,0.015,0.03"))
    return "\r\n".join(lines).encode()


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    for rows in [int(word) for word in sys.argv[1:]] or [100, 3600, 100_000]:
        with tempfile.TemporaryDirectory() as folder, open_store(f"sqlite:///{folder}/journal.db") as store:
            for name, data, use in (
                ("log.csv", table(rows), "readings"),
                ("log.nmea", fixes(rows), "positions"),
            ):
                said = LogMapping(use, answers=ANSWERS)
                look = seconds(lambda: logs.look(store, "bench", name, data))  # noqa: B023
                settled = seconds(lambda: logs.look(store, "bench", name, data, said))  # noqa: B023
                take = seconds(lambda: logs.take(store, "bench", name, data, said, "R. Vale"))  # noqa: B023
                size = len(data) / 1e6
                print(
                    f"{rows:7,} rows, {size:5.1f} MB {name}: {look:.2f} {settled:.2f} {take:.2f}", flush=True
                )


if __name__ == "__main__":
    main()
