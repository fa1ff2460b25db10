"""A job in memory is read as the same job in a folder."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from plumbmark.exchange.jobfolder import read_job, read_job_files
from plumbmark.exchange.jobfolder.digest import files_digest, job_digest
from plumbmark.exchange.jobfolder.files import MAX_BYTES


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.parametrize(
    "spoil",
    [
        {},
        {"job.toml": None},
        {"job.toml": b"[job"},
        {"readings.csv": b"\xff\xfe"},
        {"Readings.csv": b"x", "other.geojson": b"{}", "photo.jpg": b""},
        {"ties.csv": b"place,corner,distance_m\nP1,nowhere,abc\n", "dig.geojson": b"[]"},
    ],
)
def test_the_same_job_and_findings(full: Any, spoil: dict[str, bytes | None]) -> None:
    full.write(spoil)
    files = contents(full.path)
    for to_solve in (True, False):
        assert read_job_files(files, to_solve=to_solve) == read_job(full.path, to_solve=to_solve)
    assert files_digest(files) == job_digest(full.path)


def test_files_in_folders_of_their_own_are_not_read_and_do_not_count(full: Any) -> None:
    files = contents(full.path)
    more = {**files, "photos/readings.csv": b"x", "photos/12.jpg": b"y"}
    assert read_job_files(more) == read_job_files(files)
    assert files_digest(more) == files_digest(files)
    assert files_digest({**files, "readings.csv": b"x"}) != files_digest(files)


def test_a_file_that_is_too_large_is_told_of(full: Any) -> None:
    job, findings = read_job_files({**contents(full.path), "readings.csv": b" " * (MAX_BYTES + 1)})
    assert job is None
    assert any(f.where == "readings.csv" and "at most 67,108,864" in f.what for f in findings)
