"""`plumbmark quality` as a person meets it."""

from __future__ import annotations

from pathlib import Path

import pytest

from plumbmark.cli.main import main

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "alder-lateral"


def run(*arguments: str | Path) -> int:
    with pytest.raises(SystemExit) as left:
        main([str(a) for a in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def test_the_example_claims_no_more_than_it_may(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("quality", EXAMPLE) == 0
    said = capsys.readouterr().out
    assert "ASCE 38-22: QL-D" in said
    assert "PAS 128: B1" not in said
    assert "A qualified person judges and signs" in " ".join(said.split())
    assert all(len(row) < 80 for row in said.splitlines())


def test_a_folder_that_is_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("quality", tmp_path / "none") == 2
    assert capsys.readouterr().out == ""
