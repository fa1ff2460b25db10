"""Facts to the files of a job folder: what shows, what is asked, what is kept back."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest

from plumbmark.exchange.jobfolder import read_job_files
from plumbmark.exchange.journal import facts_of_files, solvable

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
SITES = Path("/work/shared/sites")
FOLDERS = [path.parent for root in (EXAMPLES, SITES) for path in sorted(root.glob("*/job.toml"))]

JOB = b"""\
# the crew's own words
[job]
id = "alder-17" # as on the ticket
title = "Alder Street 17"

[[lines]]
id = "E1"
outside_diameter_m = 0.030 # from the drum
identity = ["connected"]
"""
ROWS = (
    b"\xef\xbb\xbfsep=;\r\nreading;line;easting_m;northing_m;depth_ft;note\r\n"
    b'1;E1;0;0;3.10;"a ""b""; c"\r\n2; E1 ;1.0;0;3.2\r\n3;E1;2;0;3.05..3.15;\r\n'
)
PLACE = {"line": "E1", "easting_m": "5", "northing_m": "0"}


def contents(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


# -- files in, files out


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda path: path.name)
def test_a_folder_brought_in_comes_out_byte_for_byte(folder: Path, journal: Any) -> None:
    files = contents(folder)
    fold = journal.bring(files).fold()
    attached = {name: journal.blobs[digest] for name, digest in fold.attached.items()}
    assert {**fold.files, **attached} == files
    assert not fold.set_aside
    assert not fold.missing
    job, findings, aside = solvable(fold)
    assert (job, findings) == read_job_files(files)
    assert not aside
    assert job is not None
    assert list(fold.rows.get("readings", {})) == [reading.id for reading in job.readings]


def test_the_shared_sites_were_among_them() -> None:
    if not SITES.is_dir():
        pytest.skip(f"{SITES} is not on this machine, so the examples alone were brought in and given out")
    assert sum(folder.is_relative_to(SITES) for folder in FOLDERS) >= 20


@pytest.mark.parametrize("folder", FOLDERS[:3], ids=lambda path: path.name)
def test_a_row_put_in_changes_nothing_that_the_reader_makes_of_the_others(folder: Path, journal: Any) -> None:
    """Even where the file's lengths have a unit in the column and the new row's in the cell."""
    files = contents(folder)
    before, _ = read_job_files(files)
    assert before is not None
    row = {
        "line": before.lines[0].id,
        "depth": "3 ft 1 in",
        "null_offset": "2 in",
        "place_words": "by the meter",
    }
    journal.bring(files).entry("readings", "99", row)
    after, _, aside = solvable(journal.fold())
    assert after is not None
    assert not aside
    *others, new = after.readings
    assert others == list(before.readings)
    assert new.depth_m is not None
    assert new.depth_m.value == pytest.approx(37 * 0.0254)
    assert (after.profiles, after.records, after.digs) == (before.profiles, before.records, before.digs)


def test_rows_nobody_touched_keep_every_byte(journal: Any) -> None:
    journal.bring({"job.toml": JOB, "readings.csv": ROWS})
    journal.entry("readings", "2", {"line": "E1", "easting_m": "1.5", "northing_m": "0", "depth_ft": "3.3"})
    told = journal.fold().files["readings.csv"]
    assert told == ROWS.replace(b"2; E1 ;1.0;0;3.2\r\n", b"2;E1;1.5;0;3.3;\r\n")


def test_a_new_unit_moves_into_the_cells_of_the_column(journal: Any) -> None:
    journal.bring({"job.toml": JOB, "readings.csv": ROWS})
    journal.entry("readings", "4", {**PLACE, "depth": "3 ft 1 in"})
    lines = journal.fold().files["readings.csv"].decode("utf-8-sig").splitlines()
    assert lines[1] == "reading;line;easting_m;northing_m;depth;note"
    assert [line.split(";")[4] for line in lines[2:]] == [
        "3.10 ft",
        "3.2 ft",
        "3.05 ft..3.15 ft",
        "3 ft 1 in",
    ]


def test_rows_of_one_key_are_replaced_together_and_a_last_line_without_an_end_gets_one(journal: Any) -> None:
    head = b"profile,line,easting_m,northing_m,offset_m,horizontal\n"
    walks = head + b"1,E1,0,0,-1,5\n1,,,,1,5\n2,E1,3,0,-1,5\n2,,,,1,5"
    journal.bring({"job.toml": JOB, "profiles.csv": walks})
    journal.entry("profiles", "1", {**PLACE, "offset_m": "0", "horizontal": "9"})
    journal.entry("profiles", "3", {**PLACE, "offset_m": "0", "horizontal": "9"})
    rows = journal.fold().files["profiles.csv"].decode().splitlines()[1:]
    assert rows == ["1,E1,5,0,0,9", "2,E1,3,0,-1,5", "2,,,,1,5", "3,E1,5,0,0,9"]


def test_columns_come_in_the_order_of_the_schema_whatever_the_phone_sent(journal: Any) -> None:
    journal.entry("readings", "1", {"depth": "3 ft", **dict(reversed(PLACE.items())), "by": "R. Vale"})
    header = journal.fold().files["readings.csv"].decode().splitlines()[0]
    assert header == "reading,line,by,easting_m,northing_m,depth"


def test_a_file_whose_content_has_not_come_is_missed_and_photographs_are_kept_by_hash(journal: Any) -> None:
    journal.bring({"job.toml": JOB, "readings.csv": ROWS, "photos/1.jpg": b"jpg"})
    lost = {"name": "marks.csv", "sha256": "0" * 64, "size": 1, "media": "text/csv"}
    journal.say("file", lost)
    fold = journal.fold()
    assert fold.missing == ("marks.csv",)
    assert list(fold.attached) == ["photos/1.jpg"]
    assert sorted(fold.files) == ["job.toml", "readings.csv"]


def test_facts_of_files_name_what_they_are() -> None:
    payloads = [d.payload for d in facts_of_files({"a.csv": b"x", "photos/1.jpg": b""}, "j", "", "")]
    assert [(p["name"], p["size"], p["media"]) for p in payloads] == [
        ("a.csv", 1, "text/csv"),
        ("photos/1.jpg", 0, "image/jpeg"),
    ]


# -- job.toml


def test_keys_are_set_in_the_job_file_and_its_comments_stay(journal: Any) -> None:
    journal.bring({"job.toml": JOB, "readings.csv": ROWS})
    journal.say("job", {"keys": {"title": "Alder 17", "display_units": "ft-in", "id": "other"}})
    journal.say("soil", {"keys": {"resistivity_ohm_m": "60"}})
    journal.say(
        "item", {"table": "lines", "key": "E1", "keys": {"hookup": "direct", "frequency_hz": "10000"}}
    )
    journal.say(
        "item", {"table": "lines", "key": "G1", "keys": {"outside_diameter_m": "2 in", "private": "true"}}
    )
    text = journal.fold().files["job.toml"].decode()
    for kept in (
        "# the crew's own words",
        "# as on the ticket",
        "outside_diameter_m = 0.030 # from the drum",
    ):
        assert kept in text
    document = tomllib.loads(text)
    assert document["job"] == {"id": "alder-17", "title": "Alder 17", "display_units": "ft-in"}
    assert document["soil"] == {"resistivity_ohm_m": 60}
    assert document["lines"][0]["frequency_hz"] == 10000
    assert document["lines"][1] == {"id": "G1", "outside_diameter_m": 0.0508, "private": True}
    job, _, _ = solvable(journal.fold())
    assert job is not None
    assert job.lines[0].setups[0].frequency_hz == 10000.0


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("0.40", 0.4),
        (".5", 0.5),
        ("007", 7.0),
        ("1e3", 1000.0),
        ("-2.", -2.0),
        ("abc", "abc"),
        ("0x10", "0x10"),
    ],
)
def test_a_number_is_a_number_however_it_was_typed(typed: str, meant: object, journal: Any) -> None:
    journal.say("item", {"table": "corners", "key": "C", "keys": {"easting_m": typed}})
    text = journal.fold().files["job.toml"].decode()
    assert tomllib.loads(text)["corners"][0]["easting_m"] == meant
    assert (f"easting_m = {typed}\n" in text) == (typed in ("0.40", "1e3"))


def test_null_takes_a_key_out_and_an_entry(journal: Any) -> None:
    journal.bring({"job.toml": JOB})
    journal.say("item", {"table": "lines", "key": "E1", "keys": {"identity": None}})
    journal.say("item", {"table": "corners", "key": "C", "keys": {"easting_m": "1", "northing_m": "2"}})
    journal.say("item", {"table": "corners", "key": "C", "keys": None})
    document = tomllib.loads(journal.fold().files["job.toml"].decode())
    assert "identity" not in document["lines"][0]
    assert not document["corners"]


def test_a_job_file_that_is_none_is_given_back_as_it_came(journal: Any) -> None:
    journal.bring({"job.toml": b"[job", "readings.csv": ROWS})
    journal.say("job", {"keys": {"title": "x"}})
    fold = journal.fold()
    assert fold.files["job.toml"] == b"[job"
    assert "is not TOML" in fold.set_aside[0].words
    job, findings, _ = solvable(fold)
    assert job is None
    assert "is not TOML" in findings[0].what


# -- lines and drawings


def test_the_first_reading_of_a_phone_needs_no_line_and_no_place(journal: Any) -> None:
    journal.entry("readings", "1", {"depth": "3 ft 1 in"})
    job, _, aside = solvable(journal.fold())
    assert job is not None
    assert not aside
    assert [line.id for line in job.lines] == ["1"]
    assert job.readings[0].line == "1"


def test_a_line_that_only_a_reading_names_is_added_bare(journal: Any) -> None:
    journal.bring({"job.toml": JOB})
    journal.entry("readings", "1", {**PLACE, "line": "W1"})
    journal.entry("readings", "2", {**PLACE, "line": "not an id"})
    job, _, aside = solvable(journal.fold())
    assert job is not None
    assert [line.id for line in job.lines] == ["E1", "W1"]
    assert [one.key for one in aside] == ["2"]


def test_a_shape_becomes_a_feature_and_takes_the_place_of_its_own(journal: Any) -> None:
    def square(side: float) -> str:
        ring = [[0, 0], [side, 0], [side, side], [0, 0]]
        geometry = {"type": "Polygon", "coordinates": [ring]}
        return json.dumps({"type": "Feature", "properties": {"kind": "excavation"}, "geometry": geometry})

    journal.entry("readings", "1", PLACE)
    for side in (3.0, 4.0):
        journal.say("shape", {"file": "dig", "key": "D1", "feature": square(side)})
    journal.say("shape", {"file": "dig", "key": "D2", "feature": square(1.0)})
    journal.say("shape", {"file": "dig", "key": "D3", "feature": "{"})
    job, _, aside = solvable(journal.fold())
    assert job is not None
    assert [(dig.id, dig.rings[0][1]) for dig in job.digs] == [("D1", (4.0, 0.0)), ("D2", (1.0, 0.0))]
    assert [one.key for one in aside] == ["D3"]


def test_a_shape_put_into_a_file_of_longitudes_is_turned_into_them(journal: Any) -> None:
    """The middle of UTM zone 31 at the equator: 3 degrees east, by definition of the zone."""
    line = {"type": "LineString", "coordinates": [[3.0, 0.0], [3.001, 0.0]]}
    there = {"type": "Feature", "properties": {"id": "D1", "kind": "trench"}, "geometry": line}
    job = JOB.replace(b"[[lines]]", b'crs = "EPSG:32631"\n[[lines]]', 1)
    journal.bring(
        {
            "job.toml": job,
            "dig.geojson": json.dumps({"type": "FeatureCollection", "features": [there]}).encode(),
        }
    )
    mine = {"type": "LineString", "coordinates": [[500000.0, 0.0], [500100.0, 0.0]]}
    feature = json.dumps({"type": "Feature", "properties": {"kind": "trench"}, "geometry": mine})
    journal.say("shape", {"file": "dig", "key": "D2", "feature": feature})
    read, _, aside = solvable(journal.fold())
    assert read is not None
    assert not aside
    assert read.digs[1].rings[0][1] == pytest.approx((500100.0, 0.0), abs=1e-3)
    assert (
        json.loads(journal.fold().files["dig.geojson"])["features"][1]["geometry"]["coordinates"][0][0] == 3.0
    )
