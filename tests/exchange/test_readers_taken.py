"""Logs taken into a job: what is written down, once, and what the job's files hold then."""

from __future__ import annotations

import importlib
import io
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from plumbmark.app import logs
from plumbmark.app.journal import fold_job, import_files, record
from plumbmark.app.known import know
from plumbmark.model.fact import FactKind
from plumbmark.model.log import LogMapping, LogTaken
from plumbmark.store import Store, open_store

from .test_readers import photograph, sentence

ROOT = Path(__file__).resolve().parents[2]
READINGS = b"""No,Taken at,Line,Depth (m),Current (mA),Freq (kHz)
1,2026-11-25T14:03:22+01:00,E1,0.92,21,33
2,2026-11-25T14:05:10+01:00,E1,0.95,20.5,33
"""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(f"sqlite:///{tmp_path / 'journal.db'}") as opened:
        yield opened


def take(store: Store, data: bytes, name: str = "log.csv", use: str = "", **answers: str) -> LogTaken:
    """Take a log in as it is guessed, with answers to what is asked."""
    seen = logs.look(store, "elm-4", name, data, LogMapping(use, answers=answers) if use or answers else None)
    return logs.take(store, "elm-4", name, data, seen.mapping, "R. Vale")


def readings(store: Store) -> dict[str, dict[str, str]]:
    return {key: dict(entry.rows[0]) for key, entry in fold_job(store, "elm-4").rows["readings"].items()}


def walk(*places: tuple[str, str], sigma: str = "0.020") -> bytes:
    """A log of fixes: time of day in UTC, and minutes north of 52 degrees."""
    lines = []
    for at, minutes in places:
        lines.append(sentence(f"GNRMC,{at},A,52{minutes},N,00454.0000,E,0.0,0.0,251126,,,A"))
        lines.append(sentence(f"GNGGA,{at},52{minutes},N,00454.0000,E,4,12,0.8,2.1,M,46.9,M,,"))
        lines.append(sentence(f"GNGST,{at},0.1,,,,{sigma},{sigma},0.05"))
    return "\r\n".join(lines).encode()


def test_a_log_makes_a_job_that_can_be_solved_and_is_kept_byte_for_byte(store: Store) -> None:
    taken = take(store, READINGS)
    assert (taken.recorded, taken.already_there, taken.words) == (2, 0, "2 readings taken.")
    known = know(store, "elm-4")
    assert known is not None
    assert known.job is not None
    assert known.errors == ()
    assert [r.depth_m.value for r in known.job.readings if r.depth_m] == [0.92, 0.95]
    assert known.job.lines[0].setups[0].frequency_hz == 33000.0  # a reading has none: its line has
    ((name, digest),) = known.folded.attached.items()
    assert re.fullmatch(r"logs/[0-9a-f]{8}-log\.csv", name)
    assert store.blob(digest) == READINGS


def test_the_same_log_twice_is_once_and_a_reading_taken_back_comes_again(store: Store) -> None:
    take(store, READINGS)
    count = len(store.facts("elm-4"))
    assert take(store, READINGS).words == "0 readings taken. 2 were there already."
    assert len(store.facts("elm-4")) == count
    first = next(f.fact for f in store.facts("elm-4") if f.fact.payload.get("key") == "1")
    record(store, "elm-4", FactKind.REMOVE, {}, "R. Vale", supersedes=first.id)
    assert (list(readings(store)), take(store, READINGS).recorded) == (["2"], 1)
    assert sorted(readings(store)) == ["1", "2"]


def test_numbers_that_the_job_has_are_not_taken_from_it(store: Store) -> None:
    record(
        store,
        "elm-4",
        FactKind.ENTRY,
        {"table": "readings", "key": "2", "rows": [{"depth": "4 ft"}]},
        "A. B.",
    )
    taken = take(store, READINGS)
    assert any("2 as 2-2" in f.what for f in taken.findings)
    assert readings(store)["2"]["depth"] == "4 ft"
    assert readings(store)["2-2"]["depth_m"] == "0.95"
    assert take(store, READINGS).recorded == 0


def test_a_line_read_at_two_frequencies_gets_two_hookups(store: Store) -> None:
    take(store, READINGS.replace(b"20.5,33", b"20.5,0.5"))
    known = know(store, "elm-4")
    assert known is not None
    assert known.job is not None
    assert sorted((s.id, s.frequency_hz) for s in known.job.lines[0].setups) == [
        ("E1-33000", 33000.0),
        ("E1-500", 500.0),
    ]
    assert [r.setup for r in known.job.readings] == ["E1-33000", "E1-500"]


def test_a_frequency_that_the_job_says_otherwise_is_kept_as_a_remark(store: Store) -> None:
    keys = {"frequency_hz": "10000"}
    record(store, "elm-4", FactKind.ITEM, {"table": "lines", "key": "E1", "keys": keys}, "A. B.")
    assert any("does not go with its hook-ups" in f.what for f in take(store, READINGS).findings)
    assert readings(store)["1"]["note"] == "read at 33000 Hz"


def test_places_are_joined_to_readings_of_the_same_time(store: Store) -> None:
    take(store, READINGS)
    # 14:03:22 +01:00 is 13:03:22 UTC; reading 2, at 13:05:10, has the nearest fix 1.4 s after it
    log = walk(("130320.00", "18.1000"), ("130322.00", "18.1000"), ("130511.40", "18.2000"))
    taken = take(store, log, "walk.nmea", grid="EPSG:32631")
    assert taken.words == "2 places taken."
    found = readings(store)
    assert float(found["1"]["latitude_deg"]) == pytest.approx(52 + 18.1 / 60, abs=1e-8)
    assert float(found["2"]["latitude_deg"]) == pytest.approx(52 + 18.2 / 60, abs=1e-8)
    assert found["2"]["note"] == "place from walk.nmea, of 1.4 s after"
    assert (found["1"]["position_sigma_m"], found["1"]["depth_m"]) == ("0.020", "0.92")
    known = know(store, "elm-4")
    assert known is not None
    assert known.job is not None
    assert (known.job.crs, known.errors, len(known.folded.conflicts)) == ("EPSG:32631", (), 0)
    again = take(store, log, "walk.nmea")
    assert again.recorded == 0
    assert any("have a place already" in f.what for f in again.findings)


def test_a_place_too_far_off_in_time_is_not_taken_and_one_on_the_move_is_less_sure(store: Store) -> None:
    take(store, READINGS)
    # a thousandth of a minute north is 1.85 m: 1.85 m/s, and the reading lies half a second from a fix
    fixes = [(f"1303{k:02d}.50", f"18.{1000 + 10 * (k - 20):04d}") for k in range(20, 25)]
    taken = take(store, walk(*fixes), "walk.nmea", grid="EPSG:32631")
    assert taken.recorded == 1
    sigma = float(readings(store)["1"]["position_sigma_m"])
    assert sigma == pytest.approx(0.5 * 1.853, rel=0.01)  # one sea mile is a minute: 1852 m
    said = " ".join(f.what for f in taken.findings)
    assert "within 5 s" in said
    assert "one of the clocks wrong" in said


def test_places_by_words_stay(store: Store) -> None:
    row = {"depth": "4 ft", "taken_at": "2026-11-25T14:03:22+01:00", "from_thing": "meter", "along": "12 ft"}
    record(store, "elm-4", FactKind.ENTRY, {"table": "readings", "key": "7", "rows": [row]}, "A. B.")
    taken = take(store, walk(("130322.00", "18.1000")), "walk.nmea", grid="EPSG:32631")
    assert taken.recorded == 0
    assert readings(store)["7"] == row


def test_a_log_without_its_own_sigma_is_asked_about(store: Store) -> None:
    log = b"\r\n".join(line for line in walk(("130322.00", "18.1000")).split(b"\r\n") if b"GST" not in line)
    seen = logs.look(store, "elm-4", "walk.nmea", log * 2)
    assert [q.id for q in seen.questions if not q.answer] == ["grid", "sigma"]
    assert "fixed" in seen.questions[1].words
    with pytest.raises(logs.LogRefusedError) as refused:
        logs.take(store, "elm-4", "walk.nmea", log, seen.mapping, "R. Vale")
    assert len(refused.value.findings) == 2
    assert store.facts("elm-4") == []


def test_a_photograph_is_kept_small_with_its_place_in_words(store: Store) -> None:
    gps: dict[int, object] = {1: "N", 2: (52.0, 18.0, 6.0), 3: "E", 4: (4.0, 54.0, 0.0), 17: 90.0}
    data = photograph(gps, {0x9003: "2026:11:25 14:03:22", 0x9011: "+01:00"})
    taken = take(store, data, "IMG 1.jpg", grid="no")
    assert taken.words == "1 photograph taken."
    fold = fold_job(store, "elm-4")
    ((name, entry),) = fold.rows["photos"].items()
    assert entry.rows[0]["taken_at"] == "2026-11-25T14:03:22+01:00"
    assert "place longitude_deg 4.90000000, latitude_deg 52.30166667" in entry.rows[0]["note"]
    with Image.open(io.BytesIO(store.blob(fold.attached[f"photos/{name}"]))) as kept:
        assert max(kept.size) == 1600
    assert take(store, data, "IMG 1.jpg", grid="no").words == "0 photographs taken. 1 was there already."


def test_what_is_confirmed_is_kept_for_the_same_columns_and_nothing_that_is_of_one_log(store: Store) -> None:
    data = b"No;When;Lon;Lat;Depth\n1;25/11/2026 14:03;4.9;52.3;3.1\n"
    take(store, data, **{"zone": "+01:00", "unit:Depth": "ft", "grid": "EPSG:32631", "sigma": "3"})
    seen = logs.look(store, "elm-4", "next.csv", data.replace(b"3.1", b"3.2"))
    assert seen.remembered
    assert {q.id: q.answer for q in seen.questions} == {"dates": "dmy", "zone": "+01:00", "sigma": ""}
    assert not logs.look(store, "elm-4", "next.csv", data.replace(b"Depth", b"Depth 2")).remembered


def test_a_frozen_job_takes_nothing_in_until_it_is_reopened(store: Store) -> None:
    take(store, READINGS)
    record(store, "elm-4", FactKind.FREEZE, {"why": "handed over"}, "A. B.")
    taken = take(store, READINGS.replace(b"\n1,", b"\n8,").replace(b"\n2,", b"\n9,"))
    assert any("frozen" in f.what for f in taken.findings)
    assert sorted(readings(store)) == ["1", "2"]


def test_positions_of_a_system_do_not_fit_a_job_of_its_own_metres(store: Store) -> None:
    files = {
        "job.toml": b'[job]\nid = "elm-4"\n[[lines]]\nid = "E1"\n',
        "readings.csv": b"reading,line,taken_at,depth_m,easting_m,northing_m\n"
        b"1,E1,2026-11-25T14:03:22+01:00,0.92,1,2\n",
    }
    assert import_files(store, files, "A. B.").job == "elm-4"
    with pytest.raises(logs.LogRefusedError) as refused:
        take(store, walk(("130322.00", "18.1000")), "walk.nmea", use="positions")
    assert any("metres of its own" in f.what for f in refused.value.findings)
    assert fold_job(store, "elm-4").files["readings.csv"] == files["readings.csv"]


# -- a reader of another package, as docs/readers.md has it


@pytest.fixture
def other_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The example of the page, installed: its module and what its pyproject.toml registers. Gives its log."""
    page = (ROOT / "docs" / "readers.md").read_text(encoding="utf-8")
    code, project, log = (
        re.findall(rf"^```{kind}\n(.*?)^```", page, re.DOTALL | re.MULTILINE)[0]
        for kind in ("python", "toml", "text")
    )
    group, name, target = re.findall(r'entry-points\."(.*?)"\]\n(\S+) = "(.*?)"', project)[0]
    module = target.partition(":")[0]
    site = tmp_path / "site"
    info = site / "example-1.0.dist-info"
    info.mkdir(parents=True)
    (site / f"{module}.py").write_text(code, encoding="utf-8")
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: example\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(f"[{group}]\n{name} = {target}\n")
    monkeypatch.syspath_prepend(str(site))
    importlib.invalidate_caches()
    yield log
    sys.modules.pop(module, None)


def test_the_example_of_the_page_reads_its_log(store: Store, other_package: str) -> None:
    taken = take(store, other_package.encode(), "survey.rodlog")
    assert taken.words == "2 readings taken."
    assert readings(store) == {
        "1": {"taken_at": "2026-11-25T14:03:22+01:00", "depth_cm": "92", "current_ma": "21.5"},
        "2": {"taken_at": "2026-11-25T14:05:10+01:00", "depth_cm": "95"},
    }


def test_a_reader_that_fails_stops_nobody(
    store: Store, other_package: str, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    from plumbmark.exchange.readers import read_log

    assert read_log("survey.rodlog", other_package.encode()).kind == "a rod log"
    monkeypatch.setattr("rodlog.reads", lambda name, data: 1 / 0, raising=True)
    monkeypatch.setattr("rodlog.READER", 7)
    seen = logs.look(store, "elm-4", "log.csv", READINGS)
    assert seen.rows == 2
    assert any("rod" in f.what and "failed" in f.what for f in seen.findings)


def test_waypoints_become_things_and_holes_keep_their_depth_to_the_top(store: Store) -> None:
    waypoints = b"""<gpx version="1.1"><wpt lat="52.3" lon="4.9"><time>2026-11-25T13:03:00Z</time>
    <name>Valve 3</name><type>gate valve</type></wpt></gpx>"""
    assert take(store, waypoints, "walk.gpx", grid="EPSG:32631", sigma="3").words == "1 thing taken."
    holes = b"Hole,Line,Depth to top (ft),Proved\nH1,E1,2.90,steel pipe\n"
    assert take(store, holes, "holes.csv").words == "1 test hole taken."
    known = know(store, "elm-4")
    assert known is not None
    assert known.job is not None
    assert known.errors == ()
    (thing,) = known.job.things
    assert (thing.id, str(thing.kind), thing.place is not None) == ("Valve-3", "valve", True)
    (hole,) = known.job.test_holes
    assert hole.depth_to_top_m is not None
    assert hole.depth_to_top_m.value == pytest.approx(2.9 * 0.3048)
    assert hole.proved == "steel pipe"


def test_a_walk_becomes_a_pass_that_the_sweep_reads(store: Store) -> None:
    # a hundredth of a minute of latitude is 18.5 m
    log = walk(
        ("130300.00", "18.1000"), ("130320.00", "18.1100"), ("130321.00", "18.1100"), ("130340.00", "18.1200")
    )
    taken = take(store, log, "north leg.nmea", use="passes", grid="EPSG:32631", method="passive-power")
    assert taken.words == "1 pass taken."
    known = know(store, "elm-4")
    assert known is not None
    assert known.job is not None
    (walked,) = known.job.passes
    assert (walked.id, str(walked.method), len(walked.points)) == ("north-leg", "passive-power", 3)
    north = [point.place.northing_m for point in walked.points]
    assert north[-1] - north[0] == pytest.approx(2 * 18.53, rel=0.01)
    assert walked.points[0].place.sigma_m == 0.02
