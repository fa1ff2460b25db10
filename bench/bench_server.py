"""The server under its own command: saves acknowledged, answered, and many phones at once.

PYTHONPATH=src python bench/bench_server.py --saves 40
PYTHONPATH=src python bench/bench_server.py --phones 50 --seconds 60
"""

from __future__ import annotations

import argparse
import json
import math
import os
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
import numpy as np

from plumbmark.model.fact import Draft, FactKind, sealed, to_wire

STATIONS = 40
LINE = (0.0, 0.9, 1.0)  # beside the mark's track, depth, current; the second line steals a third of it
SECOND = (0.8, 0.7, -0.33)
COIL, SPACING = 0.05, 0.40


@dataclass
class Phone:
    """A device that seals its facts into its chain."""

    id: str = field(default_factory=lambda: str(uuid.uuid4()))
    seq: int = 0
    prev: str = ""

    def fact(self, job: str, kind: FactKind, payload: dict[str, Any]) -> dict[str, Any]:
        at = time.strftime("%Y-%m-%dT%H:%M:%S+00:00", time.gmtime())
        fact = sealed(
            Draft(job, kind, payload, at, "bench"), str(uuid.uuid4()), self.id, self.seq + 1, self.prev
        )
        self.seq, self.prev = fact.seq, fact.hash
        return to_wire(fact)

    def reading(self, job: str, key: int, depth_m: float, shown: dict[str, str]) -> dict[str, Any]:
        row = {"line": "E1", "easting_m": f"{3 * key}", "northing_m": "0", "bearing_deg": "90"}
        cells = row | shown | {"depth_m": f"{depth_m:.2f}"}
        return self.fact(job, FactKind.ENTRY, {"table": "readings", "key": str(key), "rows": [cells]})


def across(x: np.ndarray, height: float) -> np.ndarray:
    """Field across the lines at a height above ground, of two long straight currents in air."""
    return sum(i * (d + height) / ((x - a) ** 2 + (d + height) ** 2) for a, d, i in (LINE, SECOND))


def displayed() -> tuple[float, dict[str, str]]:
    """Depth and the other cells that a receiver shows over the two lines, at the peak."""
    x = np.linspace(-1.0, 1.0, 20001)
    peak = float(x[across(x, COIL).argmax()])
    upright = sum(i * (x - a) / ((x - a) ** 2 + (d + COIL) ** 2) for a, d, i in (LINE, SECOND))
    null = float(x[np.abs(upright).argmin()])
    lower, upper = (float(across(np.array([peak]), h)[0]) for h in (COIL, COIL + SPACING))
    depth = SPACING * upper / (lower - upper) - COIL
    current = 20.0 * lower * (depth + COIL)
    return depth, {"null_offset_m": f"{null - peak:.2f}", "current_ma": f"{current:.1f}"}


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """The command in a process of its own on a new store."""
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "plumbmark",
            "serve",
            "--port",
            "0",
            "--store",
            f"sqlite:///{folder}/journal.db",
        ],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[1] / "src")},
    )
    assert process.stdout is not None
    try:
        for line in process.stdout:
            if line.startswith("Open "):
                yield line.split()[1].rstrip("/")
                break
    finally:
        process.terminate()
        process.wait(20)
        process.stdout.close()


def post(
    client: httpx.Client, phone: Phone, facts: list[dict[str, Any]]
) -> tuple[float, list[dict[str, Any]]]:
    """Send facts; seconds until they were acknowledged, and the receipts."""
    began = time.perf_counter()
    said = client.post("/api/facts", json={"device": phone.id, "facts": facts})
    took = time.perf_counter() - began
    said.raise_for_status()
    return took, said.json()["receipts"]


def quantiles(name: str, seconds: list[float]) -> None:
    ordered = sorted(1e3 * s for s in seconds)
    high = ordered[min(math.ceil(0.95 * len(ordered)) - 1, len(ordered) - 1)]
    print(
        f"  {name}: median {statistics.median(ordered):.0f} ms, 95th of 100 {high:.0f}, "
        f"longest {ordered[-1]:.0f}"
    )


class Listener(threading.Thread):
    """The stream of a job: when each answer came, by the order of the newest fact in it."""

    def __init__(self, address: str, job: str) -> None:
        super().__init__(daemon=True)
        self.url = f"{address}/api/jobs/{job}/live"
        self.first: dict[int, float] = {}
        self.whole: dict[int, float] = {}

    def run(self) -> None:
        with httpx.stream("GET", self.url, timeout=None) as stream:
            name = ""
            for line in stream.iter_lines():
                if line.startswith("event:"):
                    name = line.partition(":")[2].strip()
                elif line.startswith("data:"):
                    now, said = time.perf_counter(), json.loads(line.partition(":")[2])
                    standing = said["standing"] if name == "answer" else said
                    order = standing["answered_order"]
                    if order is None:
                        continue
                    if name == "answer":
                        self.first.setdefault(order, now)
                    if standing["state"] == "answered":  # no new answer where the save changed nothing
                        self.first.setdefault(order, now)
                        self.whole.setdefault(order, now)


def saves(count: int) -> None:
    """One phone corrects readings of a job of forty, each after the answer to the one before."""
    depth, shown = displayed()
    rng = np.random.default_rng(7)
    phone, job = Phone(), "forty"
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder)) as address:
        client = httpx.Client(base_url=address, timeout=60.0)
        keys = {"utility": "electric", "hookup": "direct", "frequency_hz": "10000"}
        facts = [
            phone.fact(job, FactKind.JOB, {"keys": {"title": "Forty", "display_units": "m"}}),
            phone.fact(job, FactKind.ITEM, {"table": "lines", "key": "E1", "keys": keys}),
            *(phone.reading(job, k, depth * rng.normal(1.0, 0.03), shown) for k in range(STATIONS)),
        ]
        post(client, phone, facts)
        while client.get(f"/api/jobs/{job}/answer").json()["standing"]["state"] != "answered":
            time.sleep(0.2)
        listener = Listener(address, job)
        listener.start()
        time.sleep(1.0)
        acknowledged, first, whole = [], [], []
        order = client.get(f"/api/jobs/{job}/answer").json()["standing"]["order"]
        for _ in range(count):
            key = int(rng.integers(STATIONS))
            began = time.perf_counter()
            took, _ = post(client, phone, [phone.reading(job, key, depth * rng.normal(1.0, 0.03), shown)])
            order += 1
            acknowledged.append(took)
            deadline = began + 60.0
            while order not in listener.whole and time.perf_counter() < deadline:
                time.sleep(0.002)
            first.append(listener.first[order] - began)
            whole.append(listener.whole[order] - began)
        print(f"{count} saves into a job of {STATIONS} stations with a second line, one after the other")
        quantiles("acknowledged", acknowledged)
        quantiles("first answer, of the reading saved", first)
        quantiles("answer of the whole job", whole)
        busy = []
        for k in range(count):  # while a solve runs
            took, _ = post(client, phone, [phone.reading(job, k % STATIONS, depth, shown)])
            busy.append(took)
            time.sleep(0.1)
        quantiles("acknowledged, ten saves a second while it solves", busy)


def phones(count: int, seconds: float, every: float) -> None:
    """Many phones, each with a job of its own, a save every so often; each fact is looked for at the end."""
    depth, shown = displayed()
    sent: list[list[str]] = [[] for _ in range(count)]
    took: list[float] = []
    failed: list[str] = []
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder)) as address:
        end = time.monotonic() + seconds

        def work(number: int) -> None:
            phone, job = Phone(), f"phone-{number}"
            with httpx.Client(base_url=address, timeout=60.0) as client:
                k = 0
                while time.monotonic() < end:
                    began = time.monotonic()
                    fact = phone.reading(job, k, depth, shown)
                    for attempt in range(2 if k % 10 == 9 else 1):  # every tenth is sent twice
                        try:
                            spent, receipts = post(client, phone, [fact])
                        except httpx.HTTPError as error:
                            failed.append(str(error))
                            break
                        expected = "already there" if attempt else "stored"
                        if receipts[0]["taken"] != expected:
                            failed.append(str(receipts))
                        took.append(spent)
                    sent[number].append(fact["id"])
                    k += 1
                    time.sleep(max(0.0, every - (time.monotonic() - began)))

        threads = [threading.Thread(target=work, args=(k,)) for k in range(count)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        there: list[str] = []
        with httpx.Client(base_url=address, timeout=60.0) as client:
            for number in range(count):
                page = client.get(f"/api/jobs/phone-{number}/facts").json()
                there += [row["fact"]["id"] for row in page["facts"]]
    wanted = [ident for some in sent for ident in some]
    print(f"{count} phones, a save every {every:g} s each, {seconds:g} s: {len(wanted):,} facts")
    quantiles("acknowledged", took)
    lost, doubled = len(set(wanted) - set(there)), len(there) - len(set(there))
    print(f"  lost {lost}, doubled {doubled}, errors {len(failed)}", *failed[:3])


def main() -> None:
    """Measure what is asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--saves", type=int, default=0)
    parser.add_argument("--phones", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--every", type=float, default=1.0)
    args = parser.parse_args()
    if args.saves:
        saves(args.saves)
    if args.phones:
        phones(args.phones, args.seconds, args.every)


if __name__ == "__main__":
    main()
