"""What cannot be read is set aside and asked about; the rest of the job is read."""

from __future__ import annotations

import json
from typing import Any

import pytest

from plumbmark.exchange.journal import solvable

PLACE = {"line": "E1", "easting_m": "5", "northing_m": "0"}


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
    journal.bring({"readings.csv": b'reading,line\n1,"E1\n'})
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
