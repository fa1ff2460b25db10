"""Jobs in as files, and out as files."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import httpx
import pytest

from plumbmark.app.answering import Answering

from .conftest import ROOT
from .test_parcel import packed

EXAMPLE = ROOT / "examples" / "alder-lateral"
BOMB = packed({"job.toml": b"", "0.csv": b"\0" * 2**23}, zipfile.ZIP_BZIP2)


def example() -> dict[str, bytes]:
    return {p.relative_to(EXAMPLE).as_posix(): p.read_bytes() for p in EXAMPLE.rglob("*") if p.is_file()}


def renamed(files: dict[str, bytes], job: str) -> dict[str, bytes]:
    """The example as another job."""
    text = files["job.toml"].replace(b'id = "alder-lateral"', f'id = "{job}"'.encode(), 1)
    assert text != files["job.toml"]
    return files | {"job.toml": text}


@pytest.mark.parametrize("zipped", [True, False])
def test_a_job_comes_in_and_goes_out_the_same(client: httpx.Client, job_id: str, zipped: bool) -> None:
    files = renamed(example(), job_id) | {"photos/1.jpg": b"\xff\xd8\xff picture"}
    if zipped:
        parts = [("files", ("job.zip", packed({f"{job_id}/{name}": data for name, data in files.items()})))]
    else:
        parts = [("files", (f"{job_id}/{name}", data)) for name, data in files.items()]
    said = client.post("/api/import", files=parts, data={"by": "R. Vale"})
    assert said.status_code == 200, said.text
    assert said.json()["job"] == job_id
    got = client.get(f"/api/jobs/{job_id}/export.zip")
    assert got.headers["content-disposition"] == f'attachment; filename="{job_id}.zip"'
    with zipfile.ZipFile(io.BytesIO(got.content)) as parcel:
        assert {name: parcel.read(name) for name in parcel.namelist()} == files
    again = client.post("/api/import", files=[("files", ("job.zip", got.content))])
    assert again.json()["job"] == job_id
    rows = client.get(f"/api/jobs/{job_id}/facts").json()["facts"]
    assert len(rows) == len(files), "the same upload twice changes nothing"


def test_a_job_with_mistakes_is_refused_with_all_of_them(client: httpx.Client, job_id: str) -> None:
    files = renamed(example(), job_id)
    files["readings.csv"] = b"reading,line,easting_m,northing_m,depth_m\n1,E1,0,0,abc\n2,E1,1,0,-5\n"
    said = client.post("/api/import", files=[("files", ("job.zip", packed(files)))])
    assert said.status_code == 422
    found = said.json()["error"]["findings"]
    assert {f["where"] for f in found} >= {"readings.csv row 2 depth_m", "readings.csv row 3 depth_m"}
    assert client.get(f"/api/jobs/{job_id}/facts").status_code == 404


@pytest.mark.parametrize(
    ("parts", "what"),
    [
        ([("files", ("x.zip", b"PK\x03\x04 and no more"))], "zip cannot be read"),
        ([("files", ("x.csv", b"a,b\n"))], "no job.toml"),
        ([("files", ("../job.toml", b""))], "not the name of a file"),
        (
            [("files", ("x.zip", packed({"job.toml": b"", "0.csv": b"\0" * 2**23}, zipfile.ZIP_BZIP2)))],
            "smaller",
        ),
        ([("other", ("job.toml", b""))], "no file was sent"),
    ],
)
def test_what_is_no_job_is_refused(client: httpx.Client, parts: list, what: str) -> None:
    said = client.post("/api/import", files=parts)
    assert said.status_code == 422
    assert what in said.json()["error"]["what"]


def test_a_form_that_is_none(client: httpx.Client) -> None:
    headers = {"content-type": "multipart/form-data; boundary=x"}
    said = client.post("/api/import", content=b"nothing of the kind", headers=headers)
    assert said.status_code in {400, 422}
    assert client.post("/api/import", json={}).status_code in {400, 422}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "begins"),
    [
        ("report.pdf", b"%PDF"),
        ("report.html?audience=excavator", b"<!"),
        ("layers.gpkg", b"SQLite format 3\0"),
        ("layers.csv", b""),
    ],
)
def test_what_is_handed_on(client: httpx.Client, opened: str, name: str, begins: bytes) -> None:
    got = client.get(f"/api/jobs/{opened}/{name}")
    assert got.status_code == 200, got.text
    assert got.content[: len(begins)].lower() == begins.lower()
    if name.startswith("report.html"):
        assert got.headers["content-security-policy"].startswith("sandbox")
    else:
        assert got.headers["content-disposition"].startswith("attachment")


@pytest.mark.parametrize(
    ("path", "status", "what"),
    [
        ("report.pdf?owner=x", 422, "audience=owner"),
        ("report.pdf?depth_for=E1", 422, "audience=excavator"),
        ("report.pdf?audience=owner&owner=nobody", 409, "no owner"),
        ("report.pdf?audience=everybody", 422, ""),
        ("layers.kml", 409, "KML"),
        ("layers.gpkg?crs=EPSG:99999", 409, "99999"),
        ("layers.csv?layer=none", 409, "no layer"),
        ("layers.exe", 422, ""),
    ],
)
def test_what_cannot_be_handed_on_says_why(
    client: httpx.Client, opened: str, path: str, status: int, what: str
) -> None:
    said = client.get(f"/api/jobs/{opened}/{path}")
    assert said.status_code == status, said.text
    assert what in said.json()["error"]["what"]


def test_a_folder_is_opened_once(answering: Answering, tmp_path: Path, job_id: str) -> None:
    from plumbmark.app.opening import open_folder
    from plumbmark.app.parcel import ParcelError

    for name, data in renamed(example(), job_id).items():
        (tmp_path / name).write_bytes(data)
    assert "was brought in" in open_folder(answering.store, tmp_path, "").words
    count = len(answering.store.facts(job_id))
    assert "already" in open_folder(answering.store, tmp_path, "").words
    assert len(answering.store.facts(job_id)) == count
    (tmp_path / "job.toml").write_bytes(b"nothing")
    with pytest.raises(ParcelError, match="cannot be brought in"):
        open_folder(answering.store, tmp_path, "")
