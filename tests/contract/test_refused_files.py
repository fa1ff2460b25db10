"""Folders and files that are refused as they stand: missing, not plain, not text, too large."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from plumbmark.exchange.jobfolder import read_job

HEAD = "reading,line,easting_m,northing_m\n"


def told(folder: Any, *parts: str) -> None:
    _, errors, _ = folder.read()
    assert any(all(part in line for part in parts) for line in errors), errors


def test_no_such_folder(tmp_path: Path) -> None:
    job, findings = read_job(tmp_path / "nowhere")
    assert job is None
    assert [str(f) for f in findings] == [f"{tmp_path / 'nowhere'}: there is no such folder"]


def test_a_file_is_no_folder(minimal: Any) -> None:
    job, findings = read_job(minimal.path / "job.toml")
    assert job is None
    assert "is not a folder" in findings[0].what


def test_a_name_that_no_folder_can_have() -> None:
    assert read_job(Path("a\0b"))[0] is None
    assert read_job(Path("x" * 5000))[0] is None


def test_an_empty_folder(empty: Any) -> None:
    _, errors, _ = empty.read()
    assert errors == ["job.toml: is missing (a job folder needs one)"]


def test_without_job_file_the_tables_are_looked_at_still(minimal: Any) -> None:
    minimal.write({"job.toml": None, "readings.csv": HEAD + "r1,E1,x,2\n"})
    _, errors, _ = minimal.read()
    assert len(errors) == 2
    assert errors[1].startswith("readings.csv row 2 easting_m: 'x' is not a length")


def test_no_table_at_all(minimal: Any) -> None:
    told(minimal.write({"readings.csv": None}), "readings.csv", "nothing to solve")


def test_tables_without_rows(minimal: Any) -> None:
    told(minimal.write({"readings.csv": HEAD}), "readings.csv", "nothing to solve")


def test_an_empty_table(minimal: Any) -> None:
    told(minimal.write({"readings.csv": ""}), "readings.csv: is empty")


def test_a_table_of_blank_rows(minimal: Any) -> None:
    told(minimal.write({"readings.csv": "\n\n\n"}), "readings.csv row 1: is blank")


@pytest.mark.parametrize("name", ["readings.csv", "job.toml", "dig.geojson", "notes.csv"])
def test_link_that_leaves(minimal: Any, tmp_path: Path, name: str) -> None:
    outside = tmp_path / "outside.txt"
    outside.write_text("secret")
    (minimal.path / name).unlink(missing_ok=True)
    (minimal.path / name).symlink_to(outside)
    told(minimal, name, "link that leaves the job folder")
    assert not any("secret" in str(f) for f in read_job(minimal.path)[1])


def test_link_up_and_back_into_another_job(minimal: Any, tmp_path: Path) -> None:
    (tmp_path / "job2").mkdir()
    (tmp_path / "job2" / "readings.csv").write_text(HEAD)
    (minimal.path / "readings.csv").unlink()
    (minimal.path / "readings.csv").symlink_to("../job2/readings.csv")
    told(minimal, "readings.csv", "leaves")


def test_link_to_nothing(minimal: Any) -> None:
    (minimal.path / "ties.csv").symlink_to("gone.csv")
    told(minimal, "ties.csv", "link to nothing")


def test_link_in_a_circle(minimal: Any) -> None:
    (minimal.path / "ties.csv").symlink_to("ties.csv")
    told(minimal, "ties.csv")


@pytest.mark.parametrize("name", ["readings.csv", "job.toml", "records.geojson"])
def test_folder_for_a_file(minimal: Any, name: str) -> None:
    (minimal.path / name).unlink(missing_ok=True)
    (minimal.path / name).mkdir()
    told(minimal, name, "is not a plain file")


@pytest.mark.parametrize("name", ["profiles.csv", "pipe"])
def test_pipe(minimal: Any, name: str) -> None:
    os.mkfifo(minimal.path / name)
    told(minimal, name, "is not a plain file")


def test_file_that_may_not_be_read(minimal: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> int:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr("plumbmark.exchange.jobfolder.files.os.open", refuse)
    told(minimal, "readings.csv", "cannot be read (permission denied)")


@pytest.mark.parametrize(
    ("name", "data", "part"),
    [
        ("readings.csv", HEAD.encode() + b"r1,E1,1,2\nr2\0,E1,3,2\n", "NUL byte in line 3"),
        ("job.toml", b'[job]\nid = "a\0b"\n', "NUL byte in line 2"),
        ("readings.csv", HEAD.encode() + "r1,E1,1,2,café\n".encode("latin-1"), "byte 0xe9 in line 2"),
        ("job.toml", '[job]\nid = "x"\ntitle = "café"\n'.encode("cp1252"), "byte 0xe9 in line 3"),
        ("readings.csv", HEAD.encode("utf-16"), "UTF-16"),
        ("readings.csv", b"\xfe\xff" + HEAD.encode("utf-16-be"), "UTF-16"),
        ("readings.csv", HEAD.encode("utf-16-le"), "NUL byte in line 1"),
        ("readings.csv", HEAD.encode("utf-32"), "UTF-16"),
        ("dig.geojson", b'{"type": "\xff"}', "byte 0xff in line 1"),
        ("ties.csv", b"place,corner,distance_m\nP\xed\xa0\x80,a,1\n", "byte 0xed in line 2"),
        ("readings.csv", b"PK\x03\x04" + bytes(range(256)), "readings.csv"),
    ],
)
def test_not_text(minimal: Any, name: str, data: bytes, part: str) -> None:
    told(minimal.write({name: data}), name, part)


@pytest.mark.parametrize("name", ["readings.csv", "job.toml", "records.geojson"])
def test_more_than_64_mib(minimal: Any, name: str) -> None:
    with (minimal.path / name).open("wb") as stream:
        stream.truncate(64 * 1024 * 1024 + 1)
    told(minimal, name, "67,108,865 bytes", "64 MiB")


def test_more_than_100000_rows(minimal: Any) -> None:
    rows = "".join(f"r{i},E1,{i},0\n" for i in range(100_003))
    told(minimal.write({"readings.csv": HEAD + rows}), "readings.csv", "100,003 rows", "100,000")


def test_100000_rows_and_blank_ones_at_the_end(minimal: Any) -> None:
    rows = "".join(f"r{i},E1,{i},0\n" for i in range(100_000))
    job, warnings = minimal.write({"readings.csv": HEAD + rows + ",,,\n" * 500 + "\n" * 500}).accepted()
    assert len(job.readings) == 100_000
    assert warnings == []


def test_a_line_without_end(minimal: Any) -> None:
    told(
        minimal.write({"readings.csv": HEAD + "," * 2_000_000}), "readings.csv row 2", "1,000,000 characters"
    )


def test_a_cell_without_end(minimal: Any) -> None:
    told(minimal.write({"readings.csv": HEAD + "r1" * 200_000}), "readings.csv row 2", "131,072 characters")


def test_too_many_columns(minimal: Any) -> None:
    told(minimal.write({"readings.csv": ",".join(f"c{i}" for i in range(300)) + "\n"}), "300 columns", "256")
