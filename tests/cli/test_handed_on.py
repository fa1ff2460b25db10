"""report, export and import as a person meets them: exit codes, what is written and what is not."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from plumbmark.cli.main import main

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "examples" / "alder-lateral"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job of one place, so that solving takes no time."""
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "job.toml").write_text(
        '[job]\nid = "a"\ncrs = "EPSG:32631"\n'
        '[[lines]]\nid = "E1"\nutility = "electric"\nowner = "North Power"\n',
        encoding="utf-8",
    )
    (folder / "readings.csv").write_text(
        "reading,line,easting_m,northing_m,bearing_deg,null_offset_m,depth_m\n1,E1,448000,5411000,90,0.02,0.8\n",
        encoding="utf-8",
    )
    return folder


def run(*arguments: str | Path) -> int:
    """The command in this process; its exit code."""
    with pytest.raises(SystemExit) as left:
        main([str(a) for a in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def test_report_is_written_in_both_kinds_and_again_the_same(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = [tmp_path / name for name in ("a.pdf", "a.html", "b.pdf", "b.html")]
    assert run("report", job, "--pdf", files[0], "--html", files[1]) == 0
    assert capsys.readouterr().out == f"Written: {files[0]}\nWritten: {files[1]}\n"
    assert run("report", job, "--pdf", files[2], "--html", files[3]) == 0
    assert files[0].read_bytes() == files[2].read_bytes()
    assert files[1].read_bytes() == files[3].read_bytes()
    assert files[0].read_bytes().startswith(b"%PDF")


def test_audiences_are_told_apart(job: Path, tmp_path: Path) -> None:
    texts = {}
    for whom, more in (
        ("crew", []),
        ("owner", ["--owner", "North Power"]),
        ("excavator", []),
        ("Excavator", ["--depth-for", "E1", "--paper", "Letter"]),
    ):
        path = tmp_path / "a.html"
        assert run("report", job, "--html", path, "--for", whom, *more) == 0
        texts[whom] = path.read_text(encoding="utf-8")
    for whom in ("crew", "owner"):
        assert "depth to the middle" in texts[whom]
    assert "depth to the middle" not in texts["excavator"] + texts["Excavator"]
    assert "top may be as shallow as" in texts["Excavator"]
    assert "top may be as shallow as" not in texts["excavator"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "says no file to write"),
        (["--pdf", "{tmp}/nowhere/a.pdf"], "there is no folder"),
        (["--pdf", "{tmp}"], "is a folder; name a file"),
        (["--html", "{tmp}/a", "--pdf", "{tmp}/a"], "is the file that --pdf names too"),
        (["--pdf", "{tmp}/a.pdf", "--for", "boss"], "crew, excavator, owner"),
        (["--pdf", "{tmp}/a.pdf", "--paper", "a0"], "a4, letter"),
        (["--pdf", "{tmp}/a.pdf", "--owner", "North Power"], "add --for owner"),
        (
            ["--pdf", "{tmp}/a.pdf", "--for", "owner", "--owner", "X"],
            "is no owner of a line in this job (North",
        ),
        (["--pdf", "{tmp}/a.pdf", "--for", "excavator", "--depth-for", "X"], "is no line of this job (E1)"),
        (["--pdf", "{tmp}/a.pdf", "--rules", "none-such"], "--rules"),
    ],
)
def test_what_is_wrong_with_a_report_is_said(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    filled = [a.replace("{tmp}", str(tmp_path)) for a in arguments]
    assert run("report", job, *filled) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert told.out == ""
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job"]


@pytest.mark.parametrize("ending", ["gpkg", "geojson", "dxf", "kml", "csv", "xlsx", "parquet"])
def test_export_by_ending_and_again_the_same(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], ending: str
) -> None:
    first, second = tmp_path / f"a.{ending}", tmp_path / f"b.{ending.upper()}"
    assert run("export", job, first) == 0
    assert "solved_places: 1" in capsys.readouterr().out
    assert run("export", job, second) == 0
    assert first.read_bytes() == second.read_bytes()


@pytest.mark.parametrize(
    ("file", "arguments", "said"),
    [
        ("a.shp", [], "names no kind of file; known are .gpkg"),
        ("a", [], "names no kind of file"),
        ("nowhere/a.gpkg", [], "there is no folder"),
        ("a.gpkg", ["--layer", "nope"], "is no layer; there are solved_places"),
        ("a.csv", ["--layer", "readings", "--layer", "marks"], "holds one layer"),
        ("a.gpkg", ["--crs", "EPSG:1"], "is no system of the EPSG register"),
        ("a.kml", ["--crs", "EPSG:32631"], "leave it out"),
        ("a.dxf", ["--crs", "EPSG:4326"], "a drawing needs lengths"),
        ("job/readings.csv", [], "is a file of the job itself"),
    ],
)
def test_what_is_wrong_with_an_export_is_said(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], file: str, arguments: list[str], said: str
) -> None:
    before = (job / "readings.csv").read_bytes()
    assert run("export", job, tmp_path / file, *arguments) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert told.out == ""
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job"]
    assert (job / "readings.csv").read_bytes() == before


def test_export_into_another_system_says_so_in_the_file(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    assert run("export", job, path, "--crs", "EPSG:2154") == 0
    row = path.read_text(encoding="utf-8-sig").splitlines()[1]
    assert row.endswith(",EPSG:2154")
    notes = tmp_path / "a.geojson"
    assert run("export", job, notes) == 0
    said = json.loads(notes.read_text(encoding="utf-8"))["notes"]
    assert said[0].startswith("Coordinates: EPSG:4326, WGS 84. Datum: World Geodetic System 1984")
    assert "accuracy 0 m" in said[1]
    assert any("differ by up to 2 m" in note for note in said)


def test_a_local_grid_has_no_kml_but_the_reason(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("export", EXAMPLE, tmp_path / "a.kml") == 2
    assert "grid of its own" in capsys.readouterr().err


def test_export_goes_back_in_as_records(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(EXAMPLE / "records.geojson", job / "records.geojson")
    assert run("import", job, tmp_path / "none.gpkg") == 2
    (job / "records.geojson").unlink()
    path = tmp_path / "a.csv"
    wkt = '"LINESTRING (448000 5411001, 448010 5411001)"'
    path.write_text(f"id,utility,depth_ft,wkt\nr1,gas,2.5,{wkt}\n", encoding="utf-8")
    capsys.readouterr()
    assert run("import", job, path) == 0
    told = capsys.readouterr()
    assert told.out.startswith("1 record taken.\n")
    assert "does not say its coordinate system" in told.err
    written = json.loads((job / "records.geojson").read_text(encoding="utf-8"))
    assert written["features"][0]["properties"]["depth_m"] == 0.762
    assert run("export", job, tmp_path / "b.gpkg", "--layer", "records") == 0
    assert run("import", job, tmp_path / "b.gpkg") == 2
    assert "--replace" in capsys.readouterr().err
    assert run("import", job, tmp_path / "b.gpkg", "--replace") == 0
