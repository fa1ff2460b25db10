"""`plumbmark serve` as a person meets it."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner

from plumbmark.web.command import serve

from .conftest import ROOT, Device


@contextmanager
def started(*arguments: str, data: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The command in a process of its own, and the address it tells."""
    process = subprocess.Popen(
        [sys.executable, "-m", "plumbmark", "serve", "--port", "0", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT / "src"), "XDG_DATA_HOME": str(data)},
    )
    assert process.stdout is not None
    try:
        said = ""
        for line in process.stdout:
            said += line
            if line.startswith("Open http"):
                break
        assert process.poll() is None, said
        yield process, said
    finally:
        process.kill()
        process.wait()
        process.stdout.close()


def address(said: str) -> str:
    return said.rpartition("Open ")[2].split()[0].partition("#")[0].rstrip("/")


def get(url: str) -> httpx.Response:
    """Ask a server that may be starting still."""
    deadline = time.monotonic() + 30.0
    while True:
        try:
            return httpx.get(url, timeout=30.0)
        except httpx.ConnectError:
            assert time.monotonic() < deadline
            time.sleep(0.05)


@pytest.mark.slow
def test_it_opens_a_folder_tells_what_to_type_and_ends_when_told(tmp_path: Path) -> None:
    with started("--open", str(ROOT / "examples" / "birch-tracer"), data=tmp_path) as (process, said):
        assert f"The journal is sqlite:///{tmp_path}/plumbmark/journal.db" in said
        assert "#/job/birch-tracer" in said
        assert get(f"{address(said)}/api/version").json()["program"] == "plumbmark"
        assert get(f"{address(said)}/api/jobs/birch-tracer/facts").json()["facts"]
        process.send_signal(signal.SIGTERM)
        assert process.wait(15.0) in {0, -signal.SIGTERM}


@pytest.mark.slow
def test_what_was_acknowledged_outlives_a_kill(tmp_path: Path) -> None:
    device = Device()
    facts = [*device.line(), *(device.reading(k) for k in range(1, 40))]
    acknowledged = 0
    with started(data=tmp_path) as (process, said), httpx.Client(timeout=30.0) as client:
        get(f"{address(said)}/api/version")
        for k, fact in enumerate(facts):
            if k == 30:
                os.kill(process.pid, signal.SIGKILL)
            try:
                sent = client.post(f"{address(said)}/api/facts", json={"device": device.id, "facts": [fact]})
            except httpx.TransportError:
                break
            acknowledged += sent.json()["receipts"][0]["taken"] == "stored"
    assert acknowledged >= 30
    with started(data=tmp_path) as (process, said):
        there = get(f"{address(said)}/api/jobs/elm-4/facts").json()["facts"]
        assert [row["fact"]["id"] for row in there][:acknowledged] == [f["id"] for f in facts[:acknowledged]]
        assert len(there) - acknowledged in {0, 1}, "what was on its way may be there, once"
        again = httpx.post(f"{address(said)}/api/facts", json={"device": device.id, "facts": facts}).json()
        assert {r["taken"] for r in again["receipts"]} == {"stored", "already there"}


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        (["--host", "0.0.0.0"], "readable and changeable by everybody"),
        (["--store", "mysql://x/y"], "not one a store can be in"),
        (["--open", "no-such-folder"], "no job.toml"),
    ],
)
def test_what_cannot_be_started_says_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], what: str
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    done = CliRunner().invoke(serve, ["--port", "0", *arguments])
    assert done.exit_code == 2
    assert what in done.output
    assert "Traceback" not in done.output


def test_a_port_that_is_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        done = CliRunner().invoke(serve, ["--port", str(taken.getsockname()[1])])
    assert done.exit_code == 2
    assert "--port" in done.output
