"""`plumbmark plan` as a person meets it."""

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
    """The command in this process; its exit code."""
    with pytest.raises(SystemExit) as left:
        main([str(a) for a in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def test_plans_the_example(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    numbers, out = tmp_path / "plan.json", tmp_path / "made"
    assert run("plan", job, "--json", numbers, "--out", out) == 0
    said = capsys.readouterr().out
    assert "Put the clamp round E1" in said
    assert "ask the owner's qualified people" in said.lower()
    assert said.count("can give a shock") == 1
    assert all(len(line) < 80 for line in said.splitlines() if not line.startswith("Written: "))
    answer = json.loads(numbers.read_text(encoding="utf-8"))
    assert answer["format"] == "plumbmark-plan/1"
    assert len(answer["trials"]) == 3 * 6
    assert {t["connection"] for t in answer["ranked"]} == {"clamp-pedestal", "clamp-meter", "coil-kerb"}
    # The phone line brings part of the signal back: what is shown is shallow, as the crew's readings are.
    best = answer["ranked"][0]
    trial = next(t for t in answer["trials"] if all(t[k] == best[k] for k in best))
    last = trial["stations"][-1]
    assert last["shown_depth_m"] < 0.85 * last["depth_m"]
    (page,) = out.iterdir()
    assert page.name == "alder-lateral-plan.html"
    assert "<svg" in page.read_text(encoding="utf-8")


def test_same_input_same_output(job: Path, tmp_path: Path) -> None:
    first, second = tmp_path / "1.json", tmp_path / "2.json"
    assert run("plan", job, "--json", first) == run("plan", job, "--json", second) == 0
    assert first.read_bytes() == second.read_bytes()


def test_mistakes_are_told_and_nothing_is_written(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (job / "network.toml").read_text(encoding="utf-8")
    (job / "network.toml").write_text(text.replace("at_m = 25.25", "at_m = 99"), encoding="utf-8")
    assert run("plan", job, "--json", tmp_path / "plan.json") == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "network.toml [[connections]] 1 at_m: 99 m is past the end of E1" in said.err
    assert not (tmp_path / "plan.json").exists()


def test_network_file_is_not_written_over(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = (job / "network.toml").read_bytes()
    assert run("plan", job, "--json", job / "network.toml") == 2
    assert "is a file of the job itself" in capsys.readouterr().err
    assert (job / "network.toml").read_bytes() == before


def test_three_answers_without_a_job(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("plan", "--made-of", "plastic") == 0
    assert "No signal follows plastic without a wire" in capsys.readouterr().out


@pytest.mark.parametrize(
    "arguments",
    [
        (),
        ("--made-of", "glass"),
        ("--reached", "nowhere", "--reached", "end"),
        ("--bonded", "nothing", "--bonded", "gas"),
        ("--made-of", "copper", "--json", "x.json"),
        (str(EXAMPLE), "--made-of", "copper"),
    ],
)
def test_answers_that_do_not_fit(arguments: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    assert run("plan", *arguments) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "Error: " in said.err
