"""A job brought into a store, written on at the desk, and given out again."""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from pathlib import Path

import pytest

from plumbmark.app.journal import MISSING, export_zip, fold_job, import_files, job_files, record
from plumbmark.app.known import know
from plumbmark.model.fact import FactKind
from plumbmark.store import Store, open_store

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "alder-lateral"
FILES = {p.relative_to(EXAMPLE).as_posix(): p.read_bytes() for p in EXAMPLE.rglob("*") if p.is_file()}
FILES |= {"photos/1.jpg": b"\xff\xd8\xff", "plan.png": b"\x89PNG"}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(f"sqlite:///{tmp_path / 'journal.db'}") as opened:
        yield opened


def unzipped(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as parcel:
        return {name: parcel.read(name) for name in parcel.namelist()}


def test_a_folder_goes_in_and_comes_out_byte_for_byte(store: Store) -> None:
    outcome = import_files(store, FILES, "R. Vale")
    assert (outcome.job, outcome.findings) == ("alder-lateral", ())
    assert job_files(store, "alder-lateral") == FILES
    data = export_zip(store, "alder-lateral")
    assert unzipped(data) == FILES
    assert export_zip(store, "alder-lateral") == data


def test_the_same_folder_again_changes_nothing_and_another_of_its_id_is_refused(store: Store) -> None:
    import_files(store, FILES, "R. Vale")
    before = store.facts("alder-lateral")
    assert import_files(store, FILES, "R. Vale").job == "alder-lateral"
    other = import_files(store, {**FILES, "readings.csv": FILES["readings.csv"] + b"\n"}, "R. Vale")
    assert other.job is None
    assert "is the id of a job that is here already" in other.findings[0].what
    assert store.facts("alder-lateral") == before


def test_a_folder_brought_in_twice_at_once_is_there_once(store: Store) -> None:
    with ThreadPoolExecutor(4) as some:
        outcomes = list(some.map(lambda _: import_files(store, FILES, "R. Vale").job, range(4)))
    assert outcomes == ["alder-lateral"] * 4
    assert len(store.facts("alder-lateral")) == len(FILES)


def test_a_file_that_comes_after_the_fact_that_names_it_is_read(store: Store) -> None:
    data = b"reading,line,depth,easting_m,northing_m\n1,E1,0.9 m,0,0\n"
    digest = hashlib.sha256(data).hexdigest()
    named = {"name": "readings.csv", "sha256": digest, "size": len(data), "media": "text/csv"}
    record(store, "alder-17", FactKind.FILE, named, "R. Vale")
    before = know(store, "alder-17")
    assert before is not None
    assert before.folded.missing == ("readings.csv",)
    store.put_blob(digest, data)
    now = know(store, "alder-17", before)
    assert now is not None
    assert (now.folded.missing, list(now.folded.rows["readings"])) == ((), ["1"])


def test_a_folder_with_an_error_leaves_nothing_behind(store: Store) -> None:
    outcome = import_files(store, {**FILES, "readings.csv": b"reading,depth\n1,abc\n"}, "R. Vale")
    assert outcome.job is None
    assert any(finding.where == "readings.csv row 2 depth" for finding in outcome.findings)
    assert store.jobs() == []


def test_what_is_written_at_the_desk_is_folded_in(store: Store) -> None:
    import_files(store, FILES, "R. Vale")
    at = datetime.fromisoformat("2026-11-25T14:03:22+01:00")
    payload = {"table": "readings", "key": "n1", "rows": [{"line": "E1", "depth": "3 ft 1 in"}]}
    fact = record(store, "alder-lateral", FactKind.ENTRY, payload, "R. Vale", at=at)
    assert (fact.device, fact.at) == ("desk", "2026-11-25T14:03:22+01:00")
    assert b"n1" in job_files(store, "alder-lateral")["readings.csv"]
    record(store, "alder-lateral", FactKind.REMOVE, {}, "R. Vale", supersedes=fact.id)
    assert job_files(store, "alder-lateral") == FILES


def test_a_photograph_that_has_not_come_in_is_named_in_the_zip(store: Store) -> None:
    payload = {"name": "photos/2.jpg", "sha256": "0" * 64, "size": 9, "media": "image/jpeg"}
    record(store, "alder-17", FactKind.FILE, payload, "R. Vale")
    files = unzipped(export_zip(store, "alder-17"))
    assert sorted(files) == ["job.toml", MISSING]
    assert b"photos/2.jpg" in files[MISSING]
    assert fold_job(store, "alder-17").attached == {"photos/2.jpg": "0" * 64}
