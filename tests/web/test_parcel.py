"""Files that are dropped on the page: taken as they are, and no harm done by any of them."""

from __future__ import annotations

import io
import stat
import zipfile
from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbmark.app import parcel
from plumbmark.app.parcel import ParcelError, as_job, folder_files, unpacked

JOB = b'[job]\nid = "alder-17"\n'


def packed(files: Mapping[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as made:
        for name, data in files.items():
            made.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize("root", ["", "alder-17/", "a/b/"])
def test_a_zip_with_or_without_a_folder_round_it(root: str) -> None:
    files = {"job.toml": JOB, "photos/1.jpg": b"\xff\xd8\xff", "readings.csv": b"reading\r\n7\r\n"}
    assert unpacked(packed({root + name: data for name, data in files.items()})) == files


def test_what_systems_lay_beside_is_left_out() -> None:
    files = {
        "a/job.toml": JOB,
        "a/.DS_Store": b"x",
        "__MACOSX/a/._job.toml": b"x",
        "a/photos/Thumbs.db": b"x",
    }
    assert unpacked(packed(files)) == {"job.toml": JOB}


@pytest.mark.parametrize(
    "name",
    [
        "../job.toml",
        "/etc/job.toml",
        "a/../../x",
        "C:/x",
        "a\\..\\x",
        "a//b",
        "a/b/c/d/e/x",
        "a\x01",
        "x" * 300,
    ],
)
def test_names_that_lead_elsewhere_are_refused(name: str) -> None:
    with pytest.raises(ParcelError):
        as_job([("job.toml", JOB), (name, b"x")])


def test_two_names_that_one_disk_cannot_tell_apart() -> None:
    with pytest.raises(ParcelError, match="twice"):
        as_job([("job.toml", JOB), ("photos/A.jpg", b"1"), ("photos/a.jpg", b"2")])


def test_the_same_name_twice_in_a_zip() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        made.writestr("job.toml", JOB)
        with pytest.warns(UserWarning, match="Duplicate"):
            made.writestr("job.toml", b"other")
    with pytest.raises(ParcelError, match="several jobs"):
        unpacked(out.getvalue())


def test_a_link_in_a_zip() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        made.writestr("job.toml", JOB)
        link = zipfile.ZipInfo("readings.csv")
        link.create_system = 3
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        made.writestr(link, "/etc/passwd")
    with pytest.raises(ParcelError, match="link"):
        unpacked(out.getvalue())


def test_a_bomb_by_its_ratio() -> None:
    with pytest.raises(ParcelError, match="packed smaller"):
        unpacked(packed({"job.toml": JOB, "x.csv": b"\0" * (8 * parcel.MIB)}, zipfile.ZIP_BZIP2))


def test_a_bomb_by_its_size_never_fills_the_memory() -> None:
    row = bytes(range(256)) * 64
    with pytest.raises(ParcelError, match="MiB unpacked"):
        unpacked(packed({"job.toml": JOB} | {f"{k}.csv": row * 64 * 9 for k in range(8)}))


def test_a_size_that_lies() -> None:
    """The list of contents says ten bytes; what comes out is what is counted."""
    data = bytearray(packed({"job.toml": JOB, "x.csv": b"0123456789" * 1000}))
    at = data.rindex(b"PK\x01\x02")
    data[at + 24 : at + 28] = (10).to_bytes(4, "little")
    with pytest.raises(ParcelError):
        unpacked(bytes(data))


def test_too_many_files() -> None:
    with pytest.raises(ParcelError, match=r"2,00\d files"):
        unpacked(packed({"job.toml": JOB} | {f"{k}.txt": b"" for k in range(parcel.MOST_FILES)}))


def test_a_zip_in_a_zip_is_a_file_like_any_other() -> None:
    inner = packed({"job.toml": JOB})
    assert unpacked(packed({"job.toml": JOB, "old.zip": inner})) == {"job.toml": JOB, "old.zip": inner}


def test_no_job_and_two_jobs() -> None:
    with pytest.raises(ParcelError, match=r"no job\.toml"):
        as_job([("readings.csv", b"")])
    with pytest.raises(ParcelError, match="several jobs"):
        as_job([("a/job.toml", JOB), ("b/job.toml", JOB)])
    with pytest.raises(ParcelError, match="outside"):
        as_job([("a/job.toml", JOB), ("b/readings.csv", b"")])


@given(st.binary(max_size=300))
def test_bytes_that_are_no_zip(data: bytes) -> None:
    with pytest.raises(ParcelError):
        unpacked(data)


@pytest.mark.parametrize("method", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
@given(data=st.data())
def test_a_spoilt_zip_is_refused_or_read_never_a_fault(method: int, data: st.DataObject) -> None:
    whole = bytearray(packed({"job.toml": JOB, "readings.csv": b"reading\n1\n2\n"}, method))
    for _ in range(data.draw(st.integers(1, 4))):
        whole[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    try:
        files = unpacked(bytes(whole))
    except ParcelError:
        return
    assert "job.toml" in files


def test_a_folder_is_read_and_its_links_are_not(tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "job.toml").write_bytes(JOB)
    (tmp_path / "photos" / "1.jpg").write_bytes(b"x")
    assert folder_files(tmp_path) == {"job.toml": JOB, "photos/1.jpg": b"x"}
    (tmp_path / "readings.csv").symlink_to("/etc/passwd")
    with pytest.raises(ParcelError, match="link"):
        folder_files(tmp_path)
    with pytest.raises(ParcelError, match=r"no job\.toml"):
        folder_files(tmp_path / "photos")
