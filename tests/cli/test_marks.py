"""`plumbmark marks` as a person meets it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from plumbmark.cli.main import main

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "alder-lateral"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A copy of the example site."""
    return Path(shutil.copytree(EXAMPLE, tmp_path / "job"))


def run(*arguments: str | Path) -> int:
    with pytest.raises(SystemExit) as left:
        main([str(a) for a in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def test_the_example(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    numbers, sketch = tmp_path / "marks.json", tmp_path / "marks.svg"
    before = {path.name: path.read_bytes() for path in job.iterdir() if path.is_file()}
    asked = ("--json", numbers, "--svg", sketch, "--offset", "E1", "10 ft", "20 ft", "-5 ft")
    assert run("marks", job, *asked) == 0
    said = capsys.readouterr().out
    assert "E1, electric: " in said
    assert "along B1" in said
    assert "Offset mark: arrow toward" in said
    answer = json.loads(numbers.read_text(encoding="utf-8"))
    assert answer["format"] == "plumbmark-marks/1"
    assert {m["colour"] for m in answer["computed"]} == {"red"}
    assert sketch.read_text(encoding="utf-8").startswith("<svg ")
    assert {path.name: path.read_bytes() for path in job.iterdir() if path.is_file()} == before


def test_everything_wrong_is_said_at_once(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ("--offset", "E9", "1 m", "2 m", "1 m", "--offset", "E1", "9 m", "2 m", "1 m")
    files = ("--svg", tmp_path / "no" / "x.svg", "--json", job / "dig.geojson")
    assert run("marks", job, "--spacing", "3", *asked, *files) == 2
    said = capsys.readouterr()
    assert said.out == ""
    for part in (
        "--spacing: '3' states no unit",
        "--offset E9: is no line of this job",
        "--offset E1: has its farther end first",
        "there is no folder",
        "is a file of the job itself",
    ):
        assert part in said.err
