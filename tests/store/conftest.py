"""Empty stores on both engines, a real PostgreSQL server, and a pen that writes facts as a device does."""

from __future__ import annotations

import itertools
import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from plumbmark.model.fact import Draft, Fact, FactKind, sealed
from plumbmark.store import Store, open_store

NOT_RUN = (
    "NOT RUN: no PostgreSQL server here "
    "(Debian: apt-get install postgresql; elsewhere initdb and pg_ctl on PATH)"
)
NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


@dataclass
class Cluster:
    """A PostgreSQL server in a folder of its own, reached through a socket there and by no network."""

    folder: Path
    programs: Path
    settings: tuple[str, ...] = ("fsync=off",)
    _numbers: Iterator[int] = field(default_factory=itertools.count)

    def run(self, program: str, *arguments: str) -> None:
        """Run one of the server's programs; it refuses to work for root."""
        as_other: dict[str, Any] = {"user": "postgres", "extra_groups": []} if os.geteuid() == 0 else {}
        subprocess.run(
            [self.programs / program, *arguments],
            check=True,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd=self.folder,
            **as_other,
        )

    def make(self) -> None:
        if os.geteuid() == 0:
            shutil.chown(self.folder, "postgres")
        self.run(
            "initdb",
            "-D",
            str(self.folder / "data"),
            "-U",
            "postgres",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--locale=C",
            "-N",
        )
        self.start()

    def start(self) -> None:
        options = [f"-c listen_addresses='' -k {self.folder}", *(f"-c {each}" for each in self.settings)]
        log = str(self.folder / "log")
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-l", log, "-o", " ".join(options), "start")

    def stop(self) -> None:
        """As a fall of the machine would: nothing is written any more."""
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-m", "immediate", "stop")

    def new_database(self, **with_: str) -> str:
        """The address of a new, empty database."""
        name = f"t{next(self._numbers)}"
        with self._own() as own:
            if own.info.server_version >= 150_000:  # before, files were copied anyhow, which is quicker
                with_ = {"STRATEGY": "file_copy"} | with_
            own.execute(
                f"CREATE DATABASE {name} TEMPLATE template0"
                + "".join(f" {key} {value}" for key, value in with_.items())
            )
        return f"postgresql://postgres@/{name}?host={self.folder}"

    def drop(self, address: str) -> None:
        """Drop a database, whoever uses it: each takes megabytes."""
        self.statement(f"DROP DATABASE {address.partition('@/')[2].partition('?')[0]} WITH (FORCE)")

    def statement(self, words: str) -> None:
        """Have a statement done in the server's own database."""
        with self._own() as own:
            own.execute(words)

    def _own(self) -> Any:
        import psycopg

        return psycopg.connect(f"host={self.folder} user=postgres dbname=postgres", autocommit=True)


def server_programs() -> Path | None:
    """The folder of the newest server's programs."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: float(p.parts[-3]))
    here = shutil.which("initdb")
    return found[-1].parent if found else Path(here).resolve().parent if here else None


@pytest.fixture(scope="session")
def new_cluster() -> Iterator[Callable[..., Cluster]]:
    """Start a server with settings of its own. Missing, it fails where a submission is checked."""
    made: list[Cluster] = []

    def start(*settings: str) -> Cluster:
        programs = server_programs()
        if programs is None:
            (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(NOT_RUN)
        # A path of a socket has at most a hundred characters: pytest's own folders are too deep.
        cluster = Cluster(Path(tempfile.mkdtemp(prefix="pm")), programs, settings)
        made.append(cluster)
        cluster.make()
        return cluster

    yield start
    for cluster in made:
        if (cluster.folder / "data" / "postmaster.pid").exists():
            cluster.stop()
        shutil.rmtree(cluster.folder)


@pytest.fixture(scope="session")
def cluster(new_cluster: Callable[..., Cluster]) -> Cluster:
    """The server that most tests share."""
    return new_cluster("fsync=off")


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where a store can be made, on each engine."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'store.sqlite'}"
        return
    server: Cluster = request.getfixturevalue("cluster")
    made = server.new_database()
    yield made
    server.drop(made)


@pytest.fixture
def store(address: str) -> Iterator[Store]:
    """An empty store, on each engine."""
    with open_store(address) as opened:
        yield opened


@dataclass
class Pen:
    """A device that writes facts down, each in its place in the device's chain."""

    device: str = field(default_factory=lambda: str(uuid.uuid4()))
    seq: int = 0
    prev: str = ""

    def fact(
        self,
        kind: FactKind = FactKind.ENTRY,
        payload: dict[str, Any] | None = None,
        *,
        job: str = "alder-17",
        supersedes: str | None = None,
        at: str = "2026-11-25T13:00:00+01:00",
        by: str = "R. Vale",
    ) -> Fact:
        draft = Draft(job, kind, {"why": "lunch"} if payload is None else payload, at, by, supersedes)
        made = sealed(draft, str(uuid.uuid4()), self.device, self.seq + 1, self.prev)
        self.seq, self.prev = made.seq, made.hash
        return made

    def facts(self, count: int, **keys: Any) -> list[Fact]:
        return [self.fact(**keys) for _ in range(count)]


@pytest.fixture(scope="session")
def new_pen() -> type[Pen]:
    """Makes devices."""
    return Pen


@pytest.fixture
def pen() -> Pen:
    """One device."""
    return Pen()


@pytest.fixture
def another_pen() -> Pen:
    """Another device."""
    return Pen()


@pytest.fixture
def send(store: Store) -> Callable[..., list[tuple[str, int]]]:
    """Send facts at noon; what became of each, and the number expected next."""

    def sent(*facts: Fact, **keys: Any) -> list[tuple[str, int]]:
        receipts = store.append(facts, received_at=keys.pop("received_at", NOON), **keys)
        assert [receipt.id for receipt in receipts] == [fact.id for fact in facts]
        assert all(bool(r.reason) == (r.state == "refused") for r in receipts)
        return [(str(receipt.state), receipt.expected_seq) for receipt in receipts]

    return sent


@pytest.fixture
def small_disk() -> Iterator[Path]:
    """A disk of 4 MB in memory; only root may make one."""
    if os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("NOT RUN: a small disk can be made by root alone")
    folder = Path(tempfile.mkdtemp(prefix="pm"))
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(folder)], capture_output=True, text=True
    )
    if done.returncode != 0:
        folder.rmdir()
        pytest.skip(f"NOT RUN: no small disk can be made here ({done.stderr.strip()})")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)
    folder.rmdir()
