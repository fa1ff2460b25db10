"""`plumbmark backup` and `plumbmark restore`: exit codes, what is written and what is not."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from plumbmark.cli.main import cli
from plumbmark.model.fact import Draft, FactKind
from plumbmark.store import open_store


def run(*arguments: object) -> Result:
    result = CliRunner().invoke(cli, [str(each) for each in arguments])
    assert "Traceback" not in result.output
    return result


@pytest.fixture
def address(tmp_path: Path) -> str:
    """A store with two facts and a paired phone."""
    at = "2026-11-25T13:00:00+01:00"
    address = f"sqlite:///{tmp_path / 'crew.sqlite'}"
    with open_store(address) as store:
        store.write_down(
            [Draft("alder-17", FactKind.JOB, {"keys": {"title": t}}, at, "R. Vale") for t in "ab"]
        )
        store.pair(store.new_pairing(), device=str(uuid.uuid4()), at=datetime.now(UTC))
    return address


def test_a_store_goes_out_and_in_again(address: str, tmp_path: Path) -> None:
    done = run("backup", address, tmp_path / "crew.zip")
    assert (done.exit_code, done.stderr) == (0, "")
    assert "2 facts, 0 files, 0 answers as they were said, 1 device, 0 settings" in done.stdout
    other = f"sqlite:///{tmp_path / 'other.sqlite'}"
    done = run("restore", tmp_path / "crew.zip", other)
    assert (done.exit_code, done.stderr) == (0, "")
    assert "Taken in: 2 facts" in done.stdout
    with open_store(address) as store, open_store(other) as again:
        assert again.all_after(0, 10) == store.all_after(0, 10)
        assert again.devices() == store.devices()


def test_the_other_copy_is_a_store(address: str, tmp_path: Path) -> None:
    assert run("backup", address, tmp_path / "copy.sqlite").exit_code == 0
    assert run("backup", f"sqlite:///{tmp_path / 'copy.sqlite'}", tmp_path / "crew.zip").exit_code == 0


@pytest.mark.parametrize(
    ("store", "file", "what"),
    [
        ("crew", "x.zip", "'crew' is not the address of a store"),
        ("sqlite:///{folder}/none.sqlite", "x.zip", "there is no store at"),
        ("sqlite:///{folder}/crew.sqlite", "x.tar", "the ending of a backup is .zip or .sqlite"),
        ("sqlite:///{folder}/crew.sqlite", "none/x.zip", "cannot be written"),
        ("sqlite:///{folder}/crew.sqlite", "crew.sqlite", "is there already"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(
    address: str, tmp_path: Path, store: str, file: str, what: str
) -> None:
    before = {path.name for path in tmp_path.iterdir()}
    done = run("backup", store.format(folder=tmp_path), tmp_path / file)
    assert (done.exit_code, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert what in done.stderr
    assert {path.name for path in tmp_path.iterdir()} == before


def test_nothing_is_taken_into_a_store_that_holds_something(address: str, tmp_path: Path) -> None:
    run("backup", address, tmp_path / "crew.zip")
    done = run("restore", tmp_path / "crew.zip", address)
    assert (done.exit_code, done.stdout) == (2, "")
    assert "empty store only" in done.stderr
    done = run("restore", tmp_path / "none.zip", f"sqlite:///{tmp_path / 'new.sqlite'}")
    assert (done.exit_code, done.stdout) == (2, "")
    assert "none.zip' cannot be read as a backup" in done.stderr
    assert not (tmp_path / "new.sqlite").exists()
