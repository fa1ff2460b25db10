"""`plumbmark clearance` as a person meets it."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from plumbmark.cli.main import main

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "alder-lateral"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A copy of the example site, without what was swept."""
    folder = Path(shutil.copytree(EXAMPLE, tmp_path / "job"))
    (folder / "passes.csv").unlink(missing_ok=True)
    return folder


def run(*arguments: str | Path) -> int:
    with pytest.raises(SystemExit) as left:
        main([str(a) for a in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def test_the_example(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    numbers = tmp_path / "numbers.json"
    assert run("clearance", job, "--rules", "us-18", "--json", numbers) == 0
    said = capsys.readouterr().out
    assert "Trench drain, 2 ft deep: test hole first." in said
    assert said.index("Still unanswered") < said.index("Line E1:")
    assert "no record of a sweep" in said.replace("\n    ", " ")
    assert "18 in each side" in said
    assert "Nothing here permits a machine inside a tolerance zone" in said
    assert all(len(line) < 80 for line in said.splitlines() if not line.startswith("Written: "))
    answer = json.loads(numbers.read_text(encoding="utf-8"))
    assert answer["format"] == "plumbmark-clearance/1"
    (dig,) = answer["digs"]
    assert dig["demand"] == "test hole first"
    for met in dig["encounters"]:
        assert met["exposed"] or min(met["strike_probability"], met["asked_probability"]) >= 0.01
    assert {s["demand"] for s in dig["stretches"]} <= {
        "test hole first",
        "hand dig",
        "not known",
        "nothing known in the way",
    }


def test_no_small_chance_is_printed_of_what_nobody_saw(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (job / "dig.geojson").read_text()
    (job / "dig.geojson").write_text(text.replace('"depth_m": 0.6', '"depth_m": 0.05'))
    assert run("clearance", job) == 0
    said = " ".join(capsys.readouterr().out.split())
    figures = [int(n.replace(",", "")) for n in re.findall(r"about 1 in ([0-9,]+)", said)]
    assert figures
    assert max(figures) <= 100
    assert "less than 1 in" not in said.replace("less than 1 in 20", "")


def test_everything_wrong_is_said_at_once(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (job / "dig.geojson").unlink()
    missing = tmp_path / "nowhere" / "x.json"
    assert run("clearance", job, "--rules", "mars", "--asked", "3", "--json", missing) == 2
    said = capsys.readouterr()
    assert said.out == ""
    lines = said.err.splitlines()
    assert any(line.startswith("--rules: there is no rule 'mars' (default, us-18") for line in lines)
    assert any(line.startswith("--asked: '3' states no unit") for line in lines)
    assert any(line.startswith("dig.geojson: has no dig, or is not there") for line in lines)
    assert any(line.startswith(f"--json '{missing}'") for line in lines)


@pytest.mark.parametrize(
    ("shape", "kind", "part"),
    [
        (
            "Polygon",
            "excavation",
            "excavation 'x' crosses or touches itself near easting 2.00, northing 2.00",
        ),
        ("LineString", "trench", "trench 'x' has no length"),
        ("LineString", "bore", "bore 'x' has no length"),
    ],
)
def test_digs_that_cannot_be(
    job: Path, shape: str, kind: str, part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    points = [[[0, 0], [4, 4], [4, 0], [0, 4], [0, 0]]] if shape == "Polygon" else [[1, 1], [1, 1]]
    feature = {
        "type": "Feature",
        "properties": {"id": "x", "kind": kind},
        "geometry": {"type": shape, "coordinates": points},
    }
    (job / "dig.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    assert run("clearance", job) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert f"dig.geojson: {part}" in said.err
