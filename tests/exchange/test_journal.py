"""Facts to the files of a job folder: what shows, what is asked, what is kept back."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest

from plumbmark.exchange.jobfolder import read_job_files
from plumbmark.exchange.journal import facts_of_files, solvable
from plumbmark.model.fact import Fact

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


# -- what shows


def test_corrections_and_taking_back(journal: Any) -> None:
    first = journal.entry("readings", "7", {"depth": "3 ft"})
    journal.entry("readings", "8", {"depth": "3 ft"})
    second = journal.entry("readings", "7", {"depth": "4 ft"}, over=first)
    assert journal.depths() == {"7": "4 ft", "8": "3 ft"}
    undo = journal.say("remove", {}, second)
    assert journal.depths() == {"7": "3 ft", "8": "3 ft"}
    redo = journal.say("remove", {}, undo)
    assert journal.depths() == {"7": "4 ft", "8": "3 ft"}
    journal.say("remove", {}, redo)
    journal.say("remove", {}, first)
    assert journal.depths() == {"8": "3 ft"}
    assert list(journal.depths()) == ["8"]


def test_a_correction_keeps_the_place_of_its_row(journal: Any) -> None:
    first = journal.entry("readings", "7", PLACE)
    journal.entry("readings", "8", PLACE)
    journal.entry("readings", "9", PLACE, over=first)
    rows = journal.fold().files["readings.csv"].decode().splitlines()
    assert [row.split(",")[0] for row in rows] == ["reading", "9", "8"]


def test_a_thousand_corrections_of_one_reading(journal: Any) -> None:
    last: Fact | None = None
    for number in range(1500):
        last = journal.entry("readings", "7", {"depth": f"{number} in"}, over=last)
    assert journal.depths() == {"7": "1499 in"}


def test_two_phones_that_changed_one_reading_are_asked_about(journal: Any) -> None:
    first = journal.entry("readings", "7", {"depth": "3 ft", "note": "n"})
    one = journal.entry("readings", "7", {"depth": "4 ft", "note": "n"}, over=first)
    other = journal.entry("readings", "7", {"depth": "5 ft", "note": "n"}, over=first, phone=2)
    fold = journal.fold()
    assert journal.depths() == {"7": "5 ft"}
    (asked,) = fold.conflicts
    assert asked.words == "Reading 7 was changed on two phones: depth 4 ft or 5 ft?"
    assert (asked.shown, asked.others) == (other, (one,))
    journal.say("remove", {}, other)
    assert journal.depths() == {"7": "4 ft"}
    assert not journal.fold().conflicts


def test_an_answered_question_is_not_asked_again(journal: Any) -> None:
    first = journal.entry("readings", "7", {"depth": "3 ft"})
    journal.say("remove", {}, first)
    journal.entry("readings", "7", {"depth": "5 ft"}, over=first, phone=2)
    (asked,) = journal.fold().conflicts
    assert asked.words == "Reading 7 was taken back on one phone and changed on another: does it stand?"
    assert journal.depths() == {"7": "5 ft"}
    journal.say("settled", {"question": asked.question, "answer": "kept"})
    assert not journal.fold().conflicts


def test_phones_that_agree_and_a_phone_that_changed_its_mind_are_not_asked(journal: Any) -> None:
    first = journal.entry("readings", "7", {"depth": "3 ft"})
    journal.entry("readings", "7", {"depth": "4 ft"}, over=first)
    journal.entry("readings", "7", {"depth": "5 ft"}, over=first)
    journal.entry("readings", "7", {"depth": "5 ft"}, over=first, phone=2)
    assert journal.depths() == {"7": "5 ft"}
    assert not journal.fold().conflicts


def test_readings_that_two_phones_numbered_alike_are_two_readings(journal: Any) -> None:
    for phone in (1, 2):
        journal.entry("things", "meter-1", {"kind": "meter"}, phone=phone)
        journal.entry(
            "readings", "7", {"depth": f"{phone} ft", "from_thing": "meter-1", "along": "12 ft"}, phone=phone
        )
    journal.entry("profiles", "7", {"offset_m": "0", "horizontal": "1"}, phone=2)
    journal.entry("profiles", "8", {"offset_m": "0", "horizontal": "1"}, phone=2)
    fold = journal.fold()
    assert journal.depths() == {"7": "1 ft", "7-2": "2 ft"}
    assert list(fold.rows["profiles"]) == ["7-2", "8"]
    assert fold.rows["readings"]["7-2"].rows[0]["from_thing"] == "meter-1-2"
    assert not fold.conflicts


def test_a_walk_of_one_phone_at_the_reading_of_another_belongs_to_it(journal: Any) -> None:
    journal.entry("readings", "7", {"depth": "1 ft"})
    journal.entry("profiles", "7", {"offset_m": "0", "horizontal": "1"}, phone=2)
    assert list(journal.fold().rows["profiles"]) == ["7"]


def test_an_owner_who_answered_two_people_is_asked_about(journal: Any) -> None:
    for phone, answer in ((1, "marked"), (2, "no conflict")):
        journal.entry("owners", "water", {"answer": answer}, phone=phone)
    fold = journal.fold()
    assert fold.rows["owners"]["water"].rows[0]["answer"] == "no conflict"
    assert [c.words for c in fold.conflicts] == [
        "Owner water was changed on two phones: answer marked or no conflict?"
    ]


def test_an_entry_corrects_a_row_of_a_file_and_never_takes_the_file_away(journal: Any) -> None:
    journal.bring({"job.toml": JOB, "readings.csv": ROWS})
    file = journal.facts[-1]
    journal.entry("readings", "2", {**PLACE, "depth_ft": "9"}, over=file)
    journal.entry("readings", "3")
    fold = journal.fold()
    assert [(k, e.rows[0]["depth_ft"], e.fact == file.id) for k, e in fold.rows["readings"].items()] == [
        ("1", "3.10", True),
        ("2", "9", False),
    ]
    assert [line.split(";")[0] for line in fold.files["readings.csv"].decode().splitlines()[2:]] == ["1", "2"]


def test_two_phones_that_correct_one_row_of_a_file_correct_one_reading(journal: Any) -> None:
    journal.bring({"job.toml": JOB, "readings.csv": ROWS})
    for phone in (1, 2):
        journal.entry("readings", "2", {**PLACE, "depth_ft": str(phone)}, phone=phone)
    fold = journal.fold()
    assert list(fold.rows["readings"]) == ["1", "2", "3"]
    assert fold.rows["readings"]["2"].rows[0]["depth_ft"] == "2"
    assert [c.words for c in fold.conflicts] == ["Reading 2 was changed on two phones: depth 1 or 2?"]


def test_a_frozen_job_takes_nothing_in_until_it_is_reopened(journal: Any) -> None:
    journal.entry("readings", "7", {"depth": "3 ft"})
    freeze = journal.say("freeze", {"why": "handed over"})
    before = journal.fold()
    late = journal.entry("readings", "8", {"depth": "3 ft"}, phone=2)
    told = journal.say("told", {"who": "the foreman", "how": "spoken", "what": "the marks"})
    fold = journal.fold()
    assert fold.files == before.files
    assert (fold.frozen, fold.late, fold.told) == (freeze, (late,), (told,))
    journal.say("reopen", {"why": "one more"})
    assert journal.depths() == {"7": "3 ft", "8": "3 ft"}
    assert (journal.fold().frozen, journal.fold().late) == (None, ())


def test_the_rest_of_what_is_said(journal: Any) -> None:
    journal.say("cannot", {"actions": ["raise", "bearing"]})
    undone = journal.say("cannot", {"actions": ["null"]})
    journal.say("remove", {}, undone)
    journal.say("settled", {"question": "slip:7:current_ma", "answer": "kept"})
    for done in (True, False):
        journal.say("tick", {"step": "gear", "done": done})
    fold = journal.fold()
    assert fold.cannot == {"raise", "bearing"}
    assert fold.settled == {"slip:7:current_ma": "kept"}
    assert fold.ticks == {"gear": False}


# -- what cannot be read


def test_a_row_that_cannot_be_read_is_set_aside_and_the_job_is_solved(journal: Any) -> None:
    journal.entry("readings", "1", PLACE)
    journal.entry("readings", "7", {**PLACE, "depth": "abc", "current_ma": "-1"})
    job, _, (aside,) = solvable(journal.fold())
    assert job is not None
    assert [reading.id for reading in job.readings] == ["1"]
    assert aside.words.startswith("Reading 7: depth 'abc' is not a length (for example")
    assert "current '-1' is negative" in aside.words
    assert aside.rows == ({**PLACE, "depth": "abc", "current_ma": "-1"},)
    assert b"abc" in journal.fold().files["readings.csv"]


def test_keys_of_the_job_file_that_cannot_be_read_are_set_aside(journal: Any) -> None:
    journal.entry("readings", "1", PLACE)
    journal.say("item", {"table": "lines", "key": "E1", "keys": {"frequency_hz": "many", "utility": "gas"}})
    journal.say("item", {"table": "setups", "key": "S9", "keys": {"line": "nowhere"}})
    journal.say("soil", {"keys": {"resistivity_ohm_m": "wet"}})
    job, _, aside = solvable(journal.fold())
    assert job is not None
    assert job.lines[0].utility.value == "gas"
    assert sorted(one.words.split(":")[0] for one in aside) == ["Line E1", "Setup S9", "The soil"]


def test_of_several_entries_only_those_that_are_wrong_are_set_aside(journal: Any) -> None:
    journal.entry("readings", "1", PLACE)
    for name, line in (("S1", "no"), ("S2", "nor"), ("S3", "E1"), ("S4", "neither"), ("S5", "E1")):
        journal.say("item", {"table": "setups", "key": name, "keys": {"line": line}})
    job, _, aside = solvable(journal.fold())
    assert job is not None
    assert [setup.id for setup in job.lines[0].setups if setup.id] == ["S3", "S5"]
    assert sorted(one.key for one in aside) == ["S1", "S2", "S4"]


def test_what_a_row_leaned_on_and_is_gone_takes_the_row_aside_too(journal: Any) -> None:
    journal.entry("readings", "1", PLACE)
    journal.entry("readings", "2", {"line": "E1", "place": "P1"})
    journal.entry(
        "ties", "P1", {"corner": "nowhere", "distance": "3 m"}, {"corner": "neither", "distance": "4 m"}
    )
    job, _, aside = solvable(journal.fold())
    assert job is not None
    assert {(one.table, one.key) for one in aside} == {("readings", "2"), ("ties", "P1")}


def test_a_shape_that_cannot_be_read_is_set_aside(journal: Any) -> None:
    journal.entry("readings", "1", PLACE)
    feature = json.dumps({"type": "Feature", "properties": {"kind": "hole"}, "geometry": None})
    journal.say("shape", {"file": "dig", "key": "D1", "feature": feature})
    job, _, (aside,) = solvable(journal.fold())
    assert job is not None
    assert not job.digs
    assert aside.words.startswith("Dig area D1: kind 'hole' is not one of excavation, trench, bore")


def test_a_job_with_nothing_to_solve_is_a_job(journal: Any) -> None:
    journal.say("job", {"keys": {"title": "Alder"}})
    job, findings, aside = solvable(journal.fold())
    assert job is not None
    assert job.title == "Alder"
    assert not findings
    assert not aside


def test_rows_for_a_file_that_cannot_be_split_are_kept_back(journal: Any) -> None:
    journal.bring({"job.toml": JOB, "readings.csv": b'reading,line\n1,"E1\n'})
    journal.entry("readings", "2", PLACE)
    fold = journal.fold()
    assert fold.files["readings.csv"].endswith(b'"E1\n')
    assert fold.set_aside[0].rows == (PLACE,)


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        ("entry", {}),
        ("entry", {"table": "walks", "key": "7", "rows": []}),
        ("entry", {"table": "readings", "key": "", "rows": []}),
        ("entry", {"table": "readings", "key": "7", "rows": [7]}),
        ("entry", {"table": "readings", "key": "7", "rows": [{"depth": ["3"]}]}),
        ("entry", {"table": "readings", "key": "7", "rows": [{"depth": "\0"}]}),
        ("entry", {"table": "readings", "key": "7", "rows": [{"depth": "3" * 10_001}]}),
        ("entry", {"table": "readings", "key": "7", "rows": [{"a,b\n": "3"}]}),
        ("item", {"table": "job", "key": "7", "keys": {}}),
        ("item", {"table": "lines", "key": "7"}),
        ("item", {"table": "lines", "key": "7", "keys": {"a": {"b": "c"}}}),
        ("job", {"keys": []}),
        ("shape", {"file": "plan", "key": "D1", "feature": "{}"}),
        ("shape", {"file": "dig", "key": "D1", "feature": "[]"}),
        ("file", {"name": "../x", "sha256": "0" * 64}),
        ("file", {"name": "/etc/x", "sha256": "0" * 64}),
        ("file", {"name": "a.csv", "sha256": "0"}),
        ("cannot", {"actions": "raise"}),
        ("settled", {"question": 7}),
        ("tick", {}),
    ],
)
def test_a_fact_that_says_nothing_sensible_is_set_aside_and_spoils_nothing(
    kind: str, payload: dict[str, Any], journal: Any
) -> None:
    journal.entry("readings", "1", PLACE)
    before = journal.fold().files
    journal.say(kind, payload)
    fold = journal.fold()
    assert fold.files == before
    assert len(fold.set_aside) == 1
    assert solvable(fold)[0] is not None
