"""How long facts take to become the files of a job, and these to be read.

    PYTHONPATH=src python bench/bench_journal.py

Readings with a place and nine cells, one fact each, every tenth corrected: as phones write them, and put into
a folder that was brought in. Beside it what reading the files takes, which every answer needs anyway.
Milliseconds of the clock, the median of the runs.
"""

from __future__ import annotations

import statistics
import time
import uuid
from collections.abc import Callable
from functools import partial
from hashlib import sha256

from plumbmark.exchange.journal import folded, solvable
from plumbmark.model.fact import Draft, Fact, FactKind, sealed

TOML = b'[job]\nid = "bench"\n[[lines]]\nid = "E1" # the feed\nutility = "electric"\n'


def cells(number: int) -> dict[str, str]:
    return {
        "line": "E1",
        "easting_m": f"{0.5 * number:.2f}",
        "northing_m": "0.00",
        "depth": f"3 ft {number % 12} in",
        "null_offset": "1 in..2 in",
        "half_left": "3 ft 2 in",
        "half_right": "3 ft 3 in",
        "current_ma": "8.0",
        "taken_at": "2026-11-25T14:03:22+01:00",
    }


def journal(count: int, files: dict[str, bytes]) -> list[Fact]:
    device, made = str(uuid.UUID(int=1)), list[Fact]()

    def say(kind: FactKind, payload: dict[str, object], over: Fact | None = None) -> Fact:
        draft = Draft("bench", kind, payload, "2026-11-25T14:03:22+01:00", "", over and over.id)
        prev = made[-1].hash if made else ""
        made.append(sealed(draft, str(uuid.UUID(int=len(made))), device, len(made) + 1, prev))
        return made[-1]

    for name, data in files.items():
        say(FactKind.FILE, {"name": name, "sha256": sha256(data).hexdigest()})
    for number in range(count):
        payload = {"table": "readings", "key": f"n{number}", "rows": [cells(number)]}
        first = say(FactKind.ENTRY, payload)
        if number % 10 == 0:
            say(FactKind.ENTRY, payload, first)
    return made


def csv(count: int) -> bytes:
    head = "reading,line,easting_m,northing_m,depth_ft,current_ma\n"
    return (head + "".join(f"r{i},E1,{0.5 * i:.2f},1.00,3.1,8.0\n" for i in range(count))).encode()


def timed(work: Callable[[], object], runs: int) -> float:
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return 1e3 * statistics.median(taken)


def main() -> None:
    for count, runs in ((1, 50), (40, 50), (1000, 10), (10_000, 3)):
        files = {"job.toml": TOML, "readings.csv": csv(count)}
        blobs = {sha256(data).hexdigest(): data for data in files.values()}
        for name, brought in (("from phones alone", {}), ("and as many rows of a file", files)):
            facts = journal(count, brought)
            fold = folded(facts, blobs.__getitem__)
            taken = timed(partial(folded, facts, blobs.__getitem__), runs)
            read = timed(partial(solvable, fold), runs)
            print(f"{count:6} readings {name:27} fold {taken:8.1f} ms   read {read:8.1f} ms")


if __name__ == "__main__":
    main()
