"""A server to ask, and a device that writes facts."""

from __future__ import annotations

import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
import pytest

from plumbmark.app.answering import Answering
from plumbmark.app.opening import open_folder
from plumbmark.model.fact import Draft, FactKind, sealed, to_wire
from plumbmark.store import open_store
from plumbmark.web.run import FieldServer, listening
from plumbmark.web.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
Wire = dict[str, Any]


@dataclass
class Device:
    """A phone: it seals its facts into a chain of its own."""

    id: str = field(default_factory=lambda: str(uuid.uuid4()))
    seq: int = 0
    prev: str = ""

    def fact(self, kind: FactKind, payload: Wire, job: str = "elm-4", **more: Any) -> Wire:
        """The next fact of its chain, as it travels."""
        draft = Draft(job, kind, payload, "2026-11-25T14:03:22+01:00", "R. Vale", **more)
        fact = sealed(draft, str(uuid.uuid4()), self.id, self.seq + 1, self.prev)
        self.seq, self.prev = fact.seq, fact.hash
        return to_wire(fact)

    def line(self, job: str = "elm-4") -> list[dict[str, Any]]:
        """Facts that make a job with one electric line."""
        keys = {"utility": "electric", "hookup": "direct", "frequency_hz": "10000"}
        return [
            self.fact(FactKind.JOB, {"keys": {"title": "Elm Road 4", "display_units": "m"}}, job),
            self.fact(FactKind.ITEM, {"table": "lines", "key": "E1", "keys": keys}, job),
        ]

    def reading(self, key: int, job: str = "elm-4", **cells: str) -> dict[str, Any]:
        """A reading over that line, 3 m on from the one before."""
        row = {
            "line": "E1",
            "easting_m": f"{3 * key}",
            "northing_m": "0",
            "bearing_deg": "90",
            "depth": "0.9 m",
            "current_ma": "20",
            "null_offset": "1 cm",
        }
        return self.fact(FactKind.ENTRY, {"table": "readings", "key": str(key), "rows": [row | cells]}, job)


@pytest.fixture
def device() -> Device:
    return Device()


@pytest.fixture(scope="session")
def answering(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Answering]:
    """What answers the jobs of one store, shared by all tests: its processes take seconds to warm."""
    with open_store(f"sqlite:///{tmp_path_factory.mktemp('store') / 'journal.db'}") as store:
        yield Answering(store)


@contextmanager
def served(answering: Answering) -> Iterator[str]:
    """A server that runs, and its address."""
    with listening(Settings(port=0)) as listener:
        settings = Settings(port=listener.getsockname()[1])
        server = FieldServer(answering, settings)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        try:
            while not server.started:
                assert thread.is_alive(), "the server did not start"
                time.sleep(0.01)
            yield settings.address.rstrip("/")
        finally:
            server.should_exit = True
            thread.join()


@pytest.fixture(scope="session")
def client(answering: Answering) -> Iterator[httpx.Client]:
    """A program on this machine that asks the server, over a socket."""
    with served(answering) as address, httpx.Client(base_url=address, timeout=60.0) as client:
        yield client


@pytest.fixture
def job_id() -> str:
    """A job that no other test has."""
    return f"job-{uuid.uuid4().hex[:8]}"


@pytest.fixture
def send(client: httpx.Client) -> Callable[..., httpx.Response]:
    """Send facts of a device."""

    def post(device: Device, facts: list[dict[str, Any]], **more: Any) -> httpx.Response:
        return client.post("/api/facts", json={"device": device.id, "facts": facts} | more)

    return post


@pytest.fixture(scope="session")
def opened(client: httpx.Client, answering: Answering) -> str:
    """The example site, brought in and answered."""
    said = open_folder(answering.store, ROOT / "examples" / "alder-lateral", "R. Vale")
    answering.came_in(said.job)
    assert answering.settle(120.0)
    return said.job
