"""The command as a person meets it: exit codes, what is said where, what is written and what is not."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import plumbmark
from plumbmark.cli.main import main

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "examples" / "alder-lateral"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A copy of the example site."""
    return Path(shutil.copytree(EXAMPLE, tmp_path / "job"))


def run(*arguments: str | Path) -> int:
    """The command in this process; its exit code."""
    with pytest.raises(SystemExit) as left:
        main([str(a) for a in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def process(*arguments: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command as a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "plumbmark", *map(str, arguments)],
        env=os.environ | {"PYTHONPATH": str(ROOT / "src")} | environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--version") == 0
    assert capsys.readouterr().out == f"plumbmark {plumbmark.__version__}\n"


def test_answers_the_example(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    numbers, out = tmp_path / "numbers.json", tmp_path / "made" / "here"
    assert run("solve", job, "--json", numbers, "--out", out) == 0
    said = capsys.readouterr()
    assert "E1, electric: " in said.out
    assert "Which line?" in said.out
    assert "Next step:" in said.out
    assert said.out.count("never a licence to dig") == 1
    assert all(len(line) < 80 for line in said.out.splitlines() if not line.startswith("Written: "))
    answer = json.loads(numbers.read_text(encoding="utf-8"))
    assert answer["format"] == "plumbmark-estimates/1"
    for station in answer["lines"][0]["stations"]:
        assert f"\n{station.get('reading', station.get('profile'))} " in said.out
    assert [path.name for path in out.iterdir()] == ["alder-lateral.html"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job", "made", "numbers.json"]


def test_warnings_go_to_standard_error(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (job / "readings.csv").read_text()
    (job / "readings.csv").write_text(text.replace("taken_at", "colour_of_paint", 1))
    assert run("solve", job) == 0
    said = capsys.readouterr()
    assert "warning: " in said.err
    assert "colour_of_paint" in said.err
    assert "warning: " not in said.out


def test_all_problems_at_once_and_nothing_written(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = (job / "readings.csv").read_text().splitlines()
    rows[2] = rows[2].replace("1 ft 9 in", "abc")
    rows[3] = rows[3].replace("B1", "B9")
    (job / "readings.csv").write_text("\n".join(rows))
    missing, out = tmp_path / "nowhere" / "numbers.json", tmp_path / "out"
    assert run("solve", job, "--json", missing, "--out", out) == 2
    said = capsys.readouterr()
    assert said.out == ""
    lines = said.err.splitlines()
    assert any(line.startswith("readings.csv row 3 depth: 'abc' is not a length") for line in lines)
    assert any(line.startswith("readings.csv row 4 baseline: 'B9'") for line in lines)
    assert any(line.startswith(f"--json '{missing}'") and "no folder" in line for line in lines)
    assert not out.exists()
    assert not missing.parent.exists()


@pytest.mark.parametrize("name", ["readings.csv", "job.toml", "dig.geojson", "ties.csv"])
def test_no_file_of_the_job_is_written_over(job: Path, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    (job / name).touch()
    before = (job / name).read_bytes()
    assert run("solve", job, "--json", job / name) == 2
    assert "is a file of the job itself" in capsys.readouterr().err
    assert (job / name).read_bytes() == before


def test_out_must_be_a_folder_and_json_a_file(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").touch()
    assert run("solve", job, "--json", tmp_path, "--out", tmp_path / "file") == 2
    said = capsys.readouterr().err
    assert "is a folder; name a file" in said
    assert "is a file; name a folder" in said


def test_no_such_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("solve", tmp_path / "nowhere") == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_wrong_use_is_two(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("solve") == 2
    assert run("solve", "a", "--no-such-option") == 2
    assert run("dance") == 2
    assert "Traceback" not in capsys.readouterr().err


def test_a_fault_of_ours_is_one_and_says_how_to_report(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def breaks(*_: object) -> None:
        raise ZeroDivisionError("a fault\nof ours")

    monkeypatch.setattr("plumbmark.app.solve.solve_folder", breaks)
    monkeypatch.delenv("PLUMBMARK_DEBUG", raising=False)
    assert run("solve", job) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert "ZeroDivisionError: a fault of ours" in said.err
    assert "report it" in said.err
    assert "Traceback" not in said.err
    monkeypatch.setenv("PLUMBMARK_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        main(["solve", str(job)])


def test_a_full_disk_leaves_no_part_of_a_file(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    numbers = tmp_path / "numbers.json"
    numbers.write_text("old")
    monkeypatch.setattr("plumbmark.app.outfile.os.fsync", full)
    assert run("solve", job, "--json", numbers) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "cannot be written: No space left on device" in said.err
    assert numbers.read_text() == "old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job", "numbers.json"]


def test_a_terminal_without_our_letters_is_no_fault(job: Path) -> None:
    text = (job / "job.toml").read_text(encoding="utf-8")
    (job / "job.toml").write_text(
        text.replace("Invented: electric", "Invented: \u00e9lectrique \u6771"), encoding="utf-8"
    )
    done = process("solve", job, PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done.stderr
    assert "lectrique" in done.stdout


def test_same_input_same_output(job: Path, tmp_path: Path) -> None:
    first, second = (process("solve", job, "--out", tmp_path / "out", PYTHONHASHSEED=seed) for seed in "12")
    assert first.returncode == 0, first.stderr
    assert first.stdout == second.stdout


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs bash")
def test_a_reader_that_goes_away_is_no_fault(job: Path) -> None:
    command = f'"{sys.executable}" -m plumbmark solve "{job}" | head -n 1; echo "${{PIPESTATUS[0]}}"'
    done = subprocess.run(
        ["bash", "-c", command],
        env=os.environ | {"PYTHONPATH": str(ROOT / "src")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert all(line.startswith("warning: ") for line in done.stderr.splitlines()), done.stderr
    assert done.stdout.splitlines()[-1] == "0"
