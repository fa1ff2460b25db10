"""Makes examples/alder-lateral: an invented service lateral, read by an invented crew. Same files every time.

    PYTHONPATH=src python examples/make_alder_lateral.py

A pedestal by the street, a meter on the house wall 14 m away, an electric service between them and a
communications line beside it that carries part of the signal back. The bond at the meter feeds the second
line, so its current flows the other way and the display reads shallow.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from plumbmark.practice import Site, write_site
from plumbmark.practice.crew import Crew, Job, stand, take_reading, walk_across
from plumbmark.practice.office import filed, truth_at
from plumbmark.practice.receiver import Instrument
from plumbmark.practice.site import Listed, Row
from plumbmark.practice.world import Chain, Excitation, World

FOLDER = Path(__file__).parent / "alder-lateral"
SEED = 17
FOOT_M = 0.3048
PEDESTAL, METER = (1.2, 2.0), (13.4, 8.9)  # east and north of the survey nail in the kerb
BASELINE = (15.24, 0.0, 0.0, 0.0)  # 50 ft along the kerb to that nail, the house on its right
STATIONS_M = tuple(1.3 + 1.0 * k for k in range(11))  # not nearer than nine feet to the riser at the meter
RAISED = {2, 4, 8, 10}
WALKED = 6
MISTYPED = 7
TRENCH = (5.2, 8.6), (9.6, 2.6)  # the drain that is to be dug across the service
TICKET = """\
[ticket]
number = "A-4711"
place = "Alder Street 17, between the kerb and the house"
work = "drain across the front yard"
caller = "the excavator's office"
white_lined = true
emergency = false
received_at = "2024-05-03T09:10:00-05:00"
may_dig_from = "2024-05-08T07:00:00-05:00"
due_at = "2024-05-07T17:00:00-05:00"
expires_at = "2024-05-22T17:00:00-05:00"
"""
OWNERS = """\
owner,utility,answer,why,answered_at,by,until_at,note
Alder Power,electric,marked,,2024-05-06T09:35:00-05:00,crew-2,2024-05-22T17:00:00-05:00,
Alder Telephone,communications,,,,,2024-05-07T17:00:00-05:00,asked again on 6 May
Alder Gas,gas,no conflict,no main in this street,2024-05-06T11:40:00-05:00,their desk,,
Alder Water,water,could not locate,plastic without a tracer wire,2024-05-06T13:05:00-05:00,their crew,,
"""
THINGS = """\
thing,kind,easting_m,northing_m,colour,seen_at,by,note
pedestal-1,pedestal,1.20,2.00,,2024-05-06T08:01:00-05:00,crew-2,the clamp was put on here
meter-1,meter,13.40,8.90,,2024-05-06T08:02:00-05:00,crew-2,on the house wall
curb-stop-1,curb-stop,,,blue,2024-05-06T08:04:00-05:00,crew-2,in the lawn; not measured
"""


def _along(start: tuple[float, float], end: tuple[float, float]) -> NDArray[np.float64]:
    """Unit vectors along the run and to its right, shape (2, 2)."""
    run = np.array(end) - np.array(start)
    ahead = run / np.hypot(*run)
    right = np.array([ahead[1], -ahead[0]])
    return np.stack([ahead, right])


def _electric() -> Chain:
    """In from the street, along to the meter, up the wall."""
    ahead, _ = _along(PEDESTAL, METER)
    length = math.dist(PEDESTAL, METER)
    s = np.arange(0.0, length + 0.01, 0.35)
    depth = 0.74 + 0.05 * np.sin(s / 3.1) - 0.05 * s / length
    plan = np.array(PEDESTAL) + s[:, None] * ahead
    street = np.array([[-24.0, 1.0, -0.9], [-8.0, 1.1, -0.85], [-2.5, 1.4, -0.8]])
    wall = np.array([[*(plan[-1] + 0.12 * ahead), z] for z in (-0.5, 0.2, 1.2)])
    return Chain.through("E1", np.concatenate([street, np.column_stack([plan, -depth]), wall]))


def _communications() -> Chain:
    """To the right of the electric line, closing in on it toward the house; shallower."""
    ahead, right = _along(PEDESTAL, METER)
    length = math.dist(PEDESTAL, METER)
    s = np.arange(-0.6, length + 0.01, 0.35)
    offset = 0.82 - 0.022 * s + 0.03 * np.sin(s / 2.3)
    plan = np.array(PEDESTAL) + s[:, None] * ahead + offset[:, None] * right
    depth = 0.47 + 0.03 * np.sin(s / 2.7 + 1.0)
    street = np.array([[-20.0, -0.6, -0.6], [-3.0, -0.2, -0.55]])
    return Chain.through("communications", np.concatenate([street, np.column_stack([plan, -depth])]))


def _job(rng: np.random.Generator) -> Job:
    chains = (_electric(), _communications())
    own = 0.0112 * np.exp(-0.007 * chains[0].chainage_m)
    back = -0.34 * np.exp(1j * math.radians(11.0)) * 0.0112 * np.exp(-0.004 * chains[1].chainage_m)
    crew = Crew(rng, 1.0, False, 1.0, True, 0.02, {})
    tool = Instrument(0.06, 0.42, least_null=True, ratio_error=0.001, tilt=math.radians(0.1))
    excitation = Excitation(10000.0, (own.astype(np.complex128), back))
    return Job(World(chains, 75.0), excitation, 0, tool, crew)


def make() -> Site:
    """Read the lateral from the pedestal to the meter."""
    job = _job(np.random.default_rng(SEED))
    start = float(np.hypot(*np.diff(job.world.chains[0].nodes[:4, :2], axis=0).T).sum())
    empty = Site(
        "demo", SEED, "alder-lateral", "Invented: electric service, pedestal to meter", "local", "ft-in",
        (60.0, 2.0), job.instrument, True, "least",
        (Listed("E1", "electric", "clamp", 10000.0, ("connected", "followed-to-fitting"), 0.05),),
        (), job.world, (),
        corners=(("house-SW", 8.2, 10.4), ("house-SE", 14.1, 8.3), ("gate-post", 3.6, 7.2)),
        baseline=BASELINE,
        style={"place": "baseline", "tape": "ft", "length": "in", "depth_text": "words",
               "digits": "3", "times": "yes"},
    )  # fmt: skip
    rows, walked, last = [], [], None
    for k, s in enumerate(STATIONS_M, start=1):
        at = stand(job, start + s, last)
        last = at.mark_m
        minute = 5 + 3 * k
        e, n = job.crew.fix(*at.mark(), minute)
        row = Row(str(k), "E1", e, n, at.bearing_deg, minute)
        row = take_reading(job, at, row, raise_m=FOOT_M if k in RAISED else None)
        row = filed(empty, row)
        if k == WALKED:
            walked.append(walk_across(job, at, row, row.id))
        rows.append(row)
    truth = [truth_at(job, row.id, row, (0.0, 0.0), "") for row in rows]
    k = MISTYPED - 1
    rows[k] = replace(rows[k], current_a=10 * (rows[k].current_a or 0.0), slip="current")
    truth[k] = replace(truth[k], slip="current")
    return replace(empty, rows=tuple(rows), walked=tuple(walked), truth=tuple(truth))


def passes() -> str:
    """The sweep of the trench after marking: power both ways but for its house end, active along it only."""
    rows = ["pass,baseline,station_ft,offset_ft,method,frequency_hz,antenna,signal,taken_at,by,note"]
    ahead, right = _along(*TRENCH)
    length, minute = math.dist(*TRENCH), 5

    def walk(name: str, how: str, heard: str, ends: list[tuple[float, float]], note: str = "") -> None:
        nonlocal minute
        for first, (along, across) in zip((True, False), ends, strict=True):
            east, north = np.array(TRENCH[0]) + along * ahead + across * right
            place = f"B1,{(BASELINE[0] - east) / FOOT_M:.1f},{north / FOOT_M:.1f}"
            own = f"{how},one-axis,{heard}" if first else ",,,"
            when = f"2024-05-06T09:{minute:02d}:00-05:00"
            rows.append(f"{name},{place},{own},{when},crew-2,{note if first else ''}")
            minute += 1

    along = {"left": (-1.0, length + 1.0, -0.6), "right": (length + 1.0, -1.0, 0.6)}
    for side, (start, end, across) in along.items():
        note = "one at the mark; one more 3 ft on with no mark"
        walk(f"power-{side}", "passive-power,60", "unexplained", [(start, across), (end, across)], note)
    for k, at in enumerate(np.arange(2.6, length + 1.0, 1.5), start=1):
        walk(f"power-{k}", "passive-power,60", "none", [(at, -1.15), (at, 1.15)])
    for side, (start, end, across) in along.items():
        walk(f"active-{side}", "active,10000", "marked", [(start, across), (end, across)])
    return "\n".join(rows) + "\n"


def _feature(shape: str, points: list[list[float]], **members: object) -> dict[str, object]:
    return {"type": "Feature", "properties": members, "geometry": {"type": shape, "coordinates": points}}


def _collection(*features: dict[str, object]) -> str:
    return json.dumps({"type": "FeatureCollection", "features": features}, indent=1) + "\n"


def marks(site: Site) -> str:
    """What the crew painted before anything was solved: on their own marks, one out of a flower bed."""
    _, right = _along(PEDESTAL, METER)
    head = "mark,line,easting_m,northing_m,kind,colour,painted_at,by,state,state_at"
    rows = [f"{head},toward_deg,distance_ft,note"]
    for number, k in enumerate((1, 3, 5, 8, 11), start=1):
        row = site.rows[k - 1]
        place = np.array([row.easting_m, row.northing_m])
        kind, toward, note = "centre", ",", ""
        if k == 3:
            place = place - 5 * FOOT_M * right
            bearing = math.degrees(math.atan2(*right))
            kind, toward, note = "offset", f"{bearing:.0f},5", "flower bed"
        state = "faded,2024-05-20T15:00:00-05:00" if k == 11 else ","
        when = f"2024-05-06T09:{10 + 2 * number:02d}:00-05:00"
        where = f"{place[0]:.2f},{place[1]:.2f}"
        rows.append(f"m{number},E1,{where},{kind},red,{when},crew-2,{state},{toward},{note}")
    return "\n".join(rows) + "\n"


def main() -> None:
    """Write the folder anew; README.md in it stays."""
    site = make()
    write_site(site, FOLDER, more=False)
    service = _feature(
        "LineString", [[1.0, 2.4], [13.2, 9.4]],
        id="sheet-4", line="E1", utility="electric", depth_m=0.61, source="owner's drawing",
        date="2009-04-20", position_sigma_m=0.6,
    )  # fmt: skip
    other = _feature(
        "LineString", [[1.5, 0.8], [13.6, 8.0]],
        id="sheet-9", utility="communications", depth_m=0.45, source="owner's sketch", position_sigma_m=1.0,
    )  # fmt: skip
    trench = _feature(
        "LineString", [list(p) for p in TRENCH], id="drain", kind="trench", depth_m=0.6, width_m=0.3
    )
    (FOLDER / "records.geojson").write_text(_collection(service, other), encoding="utf-8")
    (FOLDER / "dig.geojson").write_text(_collection(trench), encoding="utf-8")
    (FOLDER / "passes.csv").write_text(passes(), encoding="utf-8")
    (FOLDER / "marks.csv").write_text(marks(site), encoding="utf-8")
    with (FOLDER / "job.toml").open("a", encoding="utf-8") as file:
        file.write(TICKET)
    (FOLDER / "owners.csv").write_text(OWNERS, encoding="utf-8")
    (FOLDER / "things.csv").write_text(THINGS, encoding="utf-8")


if __name__ == "__main__":
    main()
