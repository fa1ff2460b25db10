"""`plumbmark sweep` as a person meets it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from plumbmark.cli.main import main

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A copy of the example site."""
    return Path(shutil.copytree(ROOT / "examples" / "alder-lateral", tmp_path / "job"))


def run(*arguments: str | Path) -> int:
    with pytest.raises(SystemExit) as left:
        main([str(a) for a in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def test_the_example(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    numbers, out = tmp_path / "numbers.json", tmp_path / "made"
    assert run("sweep", job, "--json", numbers, "--out", out) == 0
    said = capsys.readouterr().out
    assert "met a signal that has no mark" in said
    assert "nobody searched by" in said.replace("\n", " ")
    assert "Passive radio: 9 passes" in said
    found = json.loads(numbers.read_text(encoding="utf-8"))
    by_method = found["record"]["digs"][0]["by_method_m2"]
    assert by_method["passive-power"] > 0.0
    assert by_method["active"] == 0.0
    assert [path.name for path in out.iterdir()] == ["alder-lateral-sweep.html"]


def test_before_the_first_reading(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("readings.csv", "profiles.csv", "passes.csv", "records.geojson"):
        (job / name).unlink()
    assert run("sweep", job) == 0
    assert "Not swept yet. Walk " in capsys.readouterr().out


def test_without_a_dig(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (job / "dig.geojson").unlink()
    assert run("sweep", job) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("dig.geojson: there is no dig: ")


def test_bad_passes_are_listed_and_nothing_is_written(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (job / "passes.csv").read_text(encoding="utf-8")
    (job / "passes.csv").write_text(text.replace("active,10000", "magic,-1"), encoding="utf-8")
    assert run("sweep", job, "--json", tmp_path / "numbers.json") == 2
    said = capsys.readouterr()
    assert "passes.csv row 14 method: 'magic' is not one of" in said.err
    assert "passes.csv row 14 frequency_hz: '-1' is negative" in said.err
    assert not (tmp_path / "numbers.json").exists()


def test_passes_are_not_written_over(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("sweep", job, "--json", job / "passes.csv") == 2
    assert "is a file of the job itself" in capsys.readouterr().err
