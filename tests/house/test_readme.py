"""Everything the README tells a person to type works as it stands there."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.DOTALL | re.MULTILINE)


def blocks(text: str, language: str) -> list[str]:
    return [body for name, body in BLOCK.findall(text) if name == language]


@pytest.fixture(scope="module")
def readme(texts: dict[Path, str]) -> str:
    return texts[Path("README.md")]


def plumbmark(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """The command, in a process of its own, in a folder."""
    start = "import sys; sys.argv[0] = 'plumbmark'; from plumbmark.cli.main import main; main()"
    source = str(Path(__file__).resolve().parents[2] / "src")
    return subprocess.run(
        [sys.executable, "-c", start, *arguments],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": source},
        capture_output=True,
        text=True,
        check=False,
    )


def test_opens_with_the_job_then_the_two_commands(readme: str) -> None:
    title, paragraph, second = readme.split("\n\n")[:3]
    assert title == "# plumbmark"
    assert "technician" in paragraph
    assert second == "## Two commands"
    assert re.findall(r"^make (\w+)", blocks(readme, "sh")[0], re.MULTILINE) == ["demo", "test"]


def test_the_safety_paragraph_stands_once(readme: str) -> None:
    assert len(re.findall(r"permission to dig", readme)) == 1


@pytest.mark.slow
def test_the_smallest_job_is_solved_as_shown(readme: str, tmp_path: Path) -> None:
    (job,) = blocks(readme, "toml")
    (readings,) = blocks(readme, "csv")
    commands = [
        line.partition("#")[0].split()[1:]
        for block in blocks(readme, "sh")
        for line in block.splitlines()
        if line.startswith("plumbmark ")
    ]
    assert len(commands) == 3
    name = commands[0][1]
    (tmp_path / name).mkdir()
    (tmp_path / name / "job.toml").write_text(job, encoding="utf-8")
    (tmp_path / name / "readings.csv").write_text(readings, encoding="utf-8")
    for arguments in commands:
        done = plumbmark(tmp_path, *arguments)
        assert done.returncode == 0, done.stderr
        assert "Traceback" not in done.stderr
        assert "19 times in 20" in done.stdout
    answer = json.loads((tmp_path / f"{name}.json").read_text(encoding="utf-8"))
    assert answer["job"] == name
    assert [s["reading"] for line in answer["lines"] for s in line["stations"]] == ["1", "2", "3", "4"]
    assert list((tmp_path / "out" / name).glob("*.html")), "no picture page was written"
