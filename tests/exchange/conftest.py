"""An invented site with something in every layer, its answer written by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from plumbmark.exchange.journal import Folded, facts_of_files, folded
from plumbmark.handover.layers import layers_of
from plumbmark.model.estimate import (
    CurrentEvent,
    Identity,
    Interval,
    LineEstimate,
    Neighbour,
    Solution,
    StationEstimate,
    Trust,
)
from plumbmark.model.fact import Draft, Fact, FactKind, sealed
from plumbmark.model.job import Baseline, Corner, Job, Line, Utility
from plumbmark.model.layer import LayerSet
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading, TestHole
from plumbmark.model.record import Dig, DigKind, Record

#: Corner of the invented site, in UTM zone 31 north (EPSG:32631).
EAST, NORTH = 448_000.0, 5_411_000.0


def station(ident: str, east: float, north: float, chainage: float) -> StationEstimate:
    """A place on a line that runs east, read 0.1 m left of it."""
    return StationEstimate(
        "reading",
        ident,
        chainage,
        east,
        north,
        east,
        north + 0.1,
        180.0,
        Interval(0.1, 0.02, 0.2),
        Interval(0.9, 0.8, 1.1),
        Interval(0.008, 0.007, 0.009),
        0.97,
        0.98,
        Trust.HOLDS,
        ("peak and null agree",),
        "",
    )


def invented(crs: str = "EPSG:32631", stations: int = 5) -> tuple[Job, Solution]:
    """A line with a note that looks like a formula, a record, a dig, a test hole."""
    east, north = (EAST, NORTH) if crs != "local" else (0.0, 0.0)
    places = [(east + 3.0 * i, north + 0.3 * math.sin(i)) for i in range(stations)]
    taken = datetime.fromisoformat("2024-05-06T08:08:00+02:00")
    job = Job(
        id="alder-17",
        title="Invented: =1+1 & <Grüße>",
        crs=crs,
        lines=(
            Line("E1", Utility.ELECTRIC, outside_diameter_m=0.03, owner="@owner"),
            Line("G1", Utility.GAS),
        ),
        baselines=(Baseline("B1", east, north, east + 30.0, north),),
        corners=(Corner("house-NE", east + 3.1, north + 8.4),),
        readings=tuple(
            Reading(
                f"r{i}",
                "E1",
                Place(x, y + 0.1, 0.02),
                i + 2,
                taken_at=taken,
                by="crew-2",
                note="=HYPERLINK(1)" if i == 0 else "-5 is not a number, Grüße",
                depth_m=Measured(0.85),
                null_offset_m=Measured.between(0.0, 0.1),
                current_a=Measured(0.0081),
            )
            for i, (x, y) in enumerate(places)
        ),
        test_holes=(TestHole("T1", "E1", Place(east + 4.0, north), 2, depth_to_top_m=Measured(0.8)),),
        records=(
            Record(
                "rec-1", ((east, north + 1.0), (east + 9.0, north + 1.5)), None, "gas", 0.7, 0.06, "+as-built"
            ),
        ),
        digs=(
            Dig("dig-1", DigKind.EXCAVATION, ((*_square(east + 5.0, north), (east + 5.0, north)),), 1.2),
            Dig("dig-2", DigKind.TRENCH, (((east, north), (east, north + 5.0)),), 1.0, width_m=0.4),
        ),
    )
    line = LineEstimate(
        "E1",
        Identity.LIKELY,
        ("connected",),
        tuple(station(f"r{i}", x, y, 3.0 * i) for i, (x, y) in enumerate(places)),
        (Neighbour(0.0, 6.0, Interval(0.8, 0.6, 1.1), 0.7, -0.3, 0.9, "G1"),),
        (CurrentEvent(4.5, "drop", -6.0, 0.95),),
    )
    return job, Solution(job.id, (line, LineEstimate("G1", Identity.NOT_KNOWN, (), ())), None)


def _square(east: float, north: float) -> tuple[tuple[float, float], ...]:
    return ((east, north), (east + 2.0, north), (east + 2.0, north + 2.0), (east, north + 2.0))


@pytest.fixture
def layers() -> LayerSet:
    """In UTM zone 31 north."""
    return layers_of(*invented(), digest="0" * 64)


@pytest.fixture
def local_layers() -> LayerSet:
    """In a grid of the job's own."""
    return layers_of(*invented("local"), digest="0" * 64)


@pytest.fixture
def layers_with():
    """Make layers with as many stations as asked for."""

    def make(stations: int) -> LayerSet:
        return layers_of(*invented(stations=stations), digest="0" * 64)

    return make


@pytest.fixture
def only():
    """A set with one layer of another."""

    def pick(layers: LayerSet, name: str) -> LayerSet:
        return replace(layers, layers=tuple(x for x in layers.layers if x.name == name))

    return pick


class Journal:
    """Facts of a few phones for one job, in the order they came in, and the files that came with them."""

    def __init__(self, job: str = "alder-17") -> None:
        self.job = job
        self.facts: list[Fact] = []
        self.blobs: dict[str, bytes] = {}
        self._ends: dict[str, tuple[int, str]] = {}

    def say(self, kind: str, payload: dict[str, Any], over: Fact | None = None, phone: int = 1) -> Fact:
        """One fact, superseding another if that is given."""
        device = f"{phone:08}-0000-4000-8000-000000000000"
        seq, prev = self._ends.get(device, (0, ""))
        ident = f"{len(self.facts):08}-0000-4000-8000-{phone:012}"
        draft = Draft(
            self.job, FactKind(kind), payload, "2026-11-25T14:03:22+01:00", "", over.id if over else None
        )
        fact = sealed(draft, ident, device, seq + 1, prev)
        self._ends[device] = fact.seq, fact.hash
        self.facts.append(fact)
        return fact

    def entry(
        self, table: str, key: str, *rows: dict[str, str], over: Fact | None = None, phone: int = 1
    ) -> Fact:
        """Rows of a table under a key."""
        return self.say("entry", {"table": table, "key": key, "rows": list(rows)}, over, phone)

    def bring(self, files: dict[str, bytes]) -> Journal:
        """Files, as an import brings them."""
        for draft in facts_of_files(files, self.job, "2026-11-25T14:03:22+01:00", ""):
            self.blobs[draft.payload["sha256"]] = files[draft.payload["name"]]
            self.say("file", draft.payload)
        return self

    def fold(self) -> Folded:
        """What they come to."""
        return folded(self.facts, self.blobs.__getitem__)

    def depths(self, table: str = "readings") -> dict[str, str]:
        """The cell `depth` of the first row under each key."""
        return {key: entry.rows[0].get("depth", "") for key, entry in self.fold().rows.get(table, {}).items()}


@pytest.fixture
def journal() -> Journal:
    return Journal()
