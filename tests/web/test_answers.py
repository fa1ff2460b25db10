"""From what was written down to what is answered: at once, as it grows, and kept as it was said."""

from __future__ import annotations

import json
import os
import signal
import time
from collections.abc import Callable
from typing import Any

import httpx
import pytest

from plumbmark.app.answering import ANSWER, Answering
from plumbmark.base.errors import StoreFullError
from plumbmark.model.fact import FactKind

from .conftest import Device

Send = Callable[..., httpx.Response]
SCREENS = (
    *("which-line", "guide", "handover", "said", "site", "section", "along", "clearance", "sweep", "plan"),
)


def written(device: Device, send: Send, job: str, readings: int = 3) -> None:
    send(device, [*device.line(job), *(device.reading(k, job) for k in range(1, readings + 1))])


def test_a_job_is_answered_as_the_command_answers_it(
    device: Device, send: Send, client: httpx.Client, answering: Answering, job_id: str
) -> None:
    from plumbmark.app.journal import job_files
    from plumbmark.exchange.estimates.writer import estimates_json
    from plumbmark.exchange.jobfolder import read_job_files
    from plumbmark.inference.solve import solve_job

    written(device, send, job_id)
    assert answering.settle(60.0)
    said = client.get(f"/api/jobs/{job_id}/answer").json()
    assert said["standing"]["state"] == "answered"
    assert said["standing"]["answered_order"] == said["standing"]["order"]
    assert [p["key"] for p in said["screen"]["lines"][0]["places"]] == ["1", "2", "3"]
    job, _ = read_job_files(job_files(answering.store, job_id))
    assert job is not None
    numbers = client.get(f"/api/jobs/{job_id}/estimates").json()
    assert numbers == json.loads(json.dumps(estimates_json(solve_job(job), job)))


def test_nothing_to_solve_and_no_such_job(
    device: Device, send: Send, client: httpx.Client, job_id: str
) -> None:
    send(device, device.line(job_id))
    said = client.get(f"/api/jobs/{job_id}/answer").json()
    assert said["standing"]["state"] == "nothing to solve yet"
    assert said["screen"]["next_step"]["route"]
    assert client.get(f"/api/jobs/{job_id}/estimates").status_code == 409
    assert client.get("/api/jobs/no-such/answer").status_code == 404
    assert client.get("/api/jobs/no-such/live").status_code == 404


def test_a_screen_never_waits_and_says_what_it_does_not_know_yet(
    device: Device, send: Send, client: httpx.Client, answering: Answering, job_id: str
) -> None:
    written(device, send, job_id)
    assert answering.settle(60.0)
    send(device, [device.reading(4, job_id, depth="1.0 m")])
    began = time.monotonic()
    said = client.get(f"/api/jobs/{job_id}/answer").json()
    assert time.monotonic() - began < 0.5
    standing = said["standing"]
    if standing["state"] == "solving":
        assert standing["since"]
        assert standing["answered_order"] is None or standing["answered_order"] <= standing["order"]
        assert "Shown is" in standing["words"]
    assert said["screen"]["lines"], "what was said before is shown meanwhile"
    assert answering.settle(60.0)
    places = client.get(f"/api/jobs/{job_id}/answer").json()["screen"]["lines"][0]["places"]
    assert [p["key"] for p in places] == ["1", "2", "3", "4"]


def test_a_row_that_cannot_be_read_is_set_aside_and_the_rest_answered(
    device: Device, send: Send, client: httpx.Client, answering: Answering, job_id: str
) -> None:
    written(device, send, job_id, 2)
    send(device, [device.reading(3, job_id, depth="abc")])
    assert answering.settle(60.0)
    said = client.get(f"/api/jobs/{job_id}/answer").json()
    assert said["standing"]["state"] == "answered"
    assert any("abc" in q["words"] for q in said["screen"]["questions"])
    assert len(said["screen"]["lines"][0]["places"]) == 2


def test_many_saves_are_solved_once_for_the_newest_state(
    device: Device, send: Send, answering: Answering, job_id: str
) -> None:
    send(device, device.line(job_id))
    for k in range(1, 9):
        send(device, [device.reading(k, job_id)])
    assert answering.settle(60.0)
    said = [s for s in answering.store.said(job_id) if s.what == ANSWER]
    known = answering.known(job_id)
    assert known is not None
    assert known.digest in {s.digest for s in said}
    assert len(said) < 8


def test_what_was_said_at_the_time_is_kept_apart(
    device: Device, send: Send, answering: Answering, job_id: str
) -> None:
    written(device, send, job_id, 1)
    assert answering.settle(60.0)
    first = answering.store.said(job_id)
    send(device, [device.reading(2, job_id)])
    assert answering.settle(60.0)
    both = answering.store.said(job_id)
    assert len([s for s in both if s.what == ANSWER]) == 2
    assert set(first) < set(both)


def test_a_fact_that_changes_no_answer_costs_no_solve(
    device: Device, send: Send, client: httpx.Client, answering: Answering, job_id: str
) -> None:
    written(device, send, job_id, 1)
    assert answering.settle(60.0)
    before = answering.store.said(job_id)
    send(device, [device.fact(FactKind.TICK, {"step": "gear", "done": True}, job_id)])
    assert answering.settle(60.0)
    assert answering.store.said(job_id) == before
    standing = client.get(f"/api/jobs/{job_id}/answer").json()["standing"]
    assert (standing["state"], standing["answered_order"]) == ("answered", standing["order"])


def test_a_killed_process_costs_a_moment_and_nothing_else(
    device: Device, send: Send, client: httpx.Client, answering: Answering, job_id: str
) -> None:
    written(device, send, job_id)
    for worker in (answering.whole, answering.near):
        assert worker.pid is not None
        os.kill(worker.pid, signal.SIGKILL)
    assert client.get("/api/version").status_code == 200
    send(device, [device.reading(4, job_id)])
    assert answering.settle(120.0)
    said = client.get(f"/api/jobs/{job_id}/answer").json()
    assert said["standing"]["state"] == "answered"
    assert len(said["screen"]["lines"][0]["places"]) == 4


def test_an_answer_outlives_the_server(device: Device, send: Send, answering: Answering, job_id: str) -> None:
    written(device, send, job_id, 2)
    assert answering.settle(60.0)
    known = answering.known(job_id)
    assert known is not None
    first = answering.said(known)
    later = Answering(answering.store)  # never started: nothing can be solved in it
    known = later.known(job_id)
    assert known is not None
    said = later.said(known)
    assert said is not None
    assert first is not None
    assert (said.solution, said.at) == (first.solution, first.at)
    assert later.standing(known, said).state == "answered"


def test_an_answer_that_a_full_disk_cannot_keep_is_shown(
    device: Device,
    send: Send,
    client: httpx.Client,
    answering: Answering,
    job_id: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def full(*_: object) -> None:
        raise StoreFullError("the disk of the store is full")

    monkeypatch.setattr(answering.store, "remember", full)
    written(device, send, job_id, 2)
    assert answering.settle(60.0)
    said = client.get(f"/api/jobs/{job_id}/answer").json()
    assert said["standing"]["state"] == "answered"
    assert [p["key"] for p in said["screen"]["lines"][0]["places"]] == ["1", "2"]


def test_what_becomes_of_an_answer_is_told_as_it_happens(
    device: Device, send: Send, client: httpx.Client, job_id: str
) -> None:
    send(device, device.line(job_id))
    events: list[tuple[str, dict[str, Any]]] = []
    with client.stream("GET", f"/api/jobs/{job_id}/live", timeout=60.0) as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        lines = stream.iter_lines()
        events.append(next_event(lines))
        send(device, [device.reading(1, job_id)])
        while not (events[-1][0] == "answer" and events[-1][1]["standing"]["state"] == "answered"):
            events.append(next_event(lines))
    assert events[0] == ("state", events[0][1])
    assert events[0][1]["state"] == "nothing to solve yet"
    assert ("state", "solving") in [(name, data.get("state")) for name, data in events]
    assert events[-1][1]["screen"]["lines"][0]["places"][0]["key"] == "1"


def next_event(lines: Any) -> tuple[str, dict[str, Any]]:
    name = ""
    for line in lines:
        if line.startswith("event:"):
            name = line.partition(":")[2].strip()
        elif line.startswith("data:"):
            return name, json.loads(line.partition(":")[2])
    raise AssertionError("the stream ended")


def test_every_screen_comes_empty_before_the_first_reading_and_full_after(
    client: httpx.Client, answering: Answering, opened: str, device: Device, send: Send, job_id: str
) -> None:
    send(device, device.line(job_id))
    for name in SCREENS:
        said = client.get(f"/api/jobs/{job_id}/screens/{name}")
        assert said.status_code == 200, (name, said.text)
        client.get(f"/api/jobs/{opened}/screens/{name}")
    assert answering.settle(120.0)
    for name in SCREENS:
        said = client.get(f"/api/jobs/{opened}/screens/{name}")
        assert said.status_code == 200, (name, said.text)
        body = said.json()
        assert body["standing"]["state"] == "answered"
        assert body["screen"] is not None
        assert body["note"] == ""
        assert len(said.content) < 200_000, name
    ready = client.get(f"/api/jobs/{opened}/screens/clearance").json()["screen"]
    assert ready["ready"]
    assert ready["digs"]
    plan = client.get(f"/api/jobs/{opened}/screens/plan").json()["screen"]
    assert " ft " in plan["hookups"][0]["expect"]  # the sketch is told in the units of the job


def test_today_names_every_job(client: httpx.Client, device: Device, send: Send, job_id: str) -> None:
    send(device, device.line(job_id))
    said = client.get("/api/jobs").json()
    assert job_id in [row["job"] for row in said["jobs"]]


def test_three_questions_and_a_sentence(client: httpx.Client) -> None:
    asked = {"made_of": "copper", "reached": ["end"], "bonded": ["water"], "units": "ft-in"}
    said = client.post("/api/plan/questions", json=asked)
    assert said.status_code == 200
    assert said.json()["says"]
    plastic = client.post("/api/plan/questions", json={"made_of": "plastic"}).json()
    assert 'answer "could not locate"' in plastic["says"]
    wrong = client.post("/api/plan/questions", json=asked | {"reached": ["end", "nowhere"]})
    assert wrong.status_code == 422
    assert "nowhere" in wrong.json()["error"]["what"]


@pytest.mark.parametrize("path", ["report.pdf", "layers.gpkg", "estimates"])
def test_nothing_is_handed_on_before_there_is_an_answer(
    client: httpx.Client, device: Device, send: Send, job_id: str, path: str
) -> None:
    send(device, device.line(job_id))
    said = client.get(f"/api/jobs/{job_id}/{path}")
    assert said.status_code == 409
    assert "othing to" in said.json()["error"]["what"]


def test_what_was_said_stays_as_it_was_said(
    device: Device, send: Send, client: httpx.Client, answering: Answering, job_id: str
) -> None:
    path = f"/api/jobs/{job_id}/screens/said"
    send(device, device.line(job_id))
    assert client.get(path).json()["screen"]["answers"] == []
    send(device, [device.reading(1, job_id)])
    assert answering.settle(60.0)
    (first,) = client.get(path).json()["screen"]["answers"]
    assert first["now"]
    assert first["lines"][0].startswith("E1, electric: reading 1 ")
    send(device, [device.reading(2, job_id, depth="1.4 m")])
    assert answering.settle(60.0)
    second, before = client.get(path).json()["screen"]["answers"]
    assert (second["now"], before["now"]) == (True, False)
    assert second["lines"] != before["lines"]
    assert {k: v for k, v in before.items() if k != "now"} == {k: v for k, v in first.items() if k != "now"}
