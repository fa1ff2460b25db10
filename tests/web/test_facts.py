"""The way in: acknowledged once it is stored, once each, whatever else comes along."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import httpx
import pytest

from plumbmark.app.answering import Answering
from plumbmark.model.fact import FactKind

Send = Callable[..., httpx.Response]


def test_facts_are_stored_when_they_are_acknowledged(
    device, send: Send, answering: Answering, job_id: str
) -> None:
    facts = [*device.line(job_id), device.reading(1, job_id)]
    said = send(device, facts).json()
    assert [r["taken"] for r in said["receipts"]] == ["stored"] * 3
    assert said["expected_seq"] == 4
    assert [s.fact.id for s in answering.store.facts(job_id)] == [f["id"] for f in facts]


def test_the_same_upload_twice(device, send: Send, answering: Answering, job_id: str) -> None:
    facts = device.line(job_id)
    send(device, facts)
    said = send(device, facts).json()
    assert [r["taken"] for r in said["receipts"]] == ["already there"] * 2
    assert said["expected_seq"] == 3
    assert len(answering.store.facts(job_id)) == 2


def test_a_spoilt_fact_is_refused_by_itself_with_the_reason(device, send: Send, job_id: str) -> None:
    first, second = device.line(job_id)
    said = send(device, [first, second | {"by": "somebody else"}, {"id": "x"}, 7]).json()
    assert [r["taken"] for r in said["receipts"]] == ["stored", "refused", "refused", "refused"]
    assert "hash" in said["receipts"][1]["why"]
    assert said["expected_seq"] == 2
    assert send(device, [second]).json()["receipts"][0]["taken"] == "stored"


def test_a_gap_says_which_number_is_expected(device, send: Send, job_id: str) -> None:
    first, second = device.line(job_id)
    said = send(device, [second]).json()
    assert said["receipts"][0]["taken"] == "refused"
    assert said["expected_seq"] == 1
    assert [r["taken"] for r in send(device, [first, second]).json()["receipts"]] == ["stored", "stored"]


def test_nobody_writes_as_another_device_or_as_the_desk(device, send: Send, job_id: str) -> None:
    facts = device.line(job_id)
    device.id = "desk"
    said = send(device, [*facts, device.fact(FactKind.TICK, {"step": "gear", "done": True}, job_id)]).json()
    assert [r["taken"] for r in said["receipts"]] == ["refused"] * 3


@pytest.mark.parametrize("days", [0, 3, -40])
def test_a_clock_that_is_wrong_is_told_and_taken(device, send: Send, job_id: str, days: int) -> None:
    now = datetime.now(UTC) - timedelta(days=days)
    said = send(device, device.line(job_id), now=now.isoformat()).json()
    assert said["clock_offset_s"] == pytest.approx(86400.0 * days, abs=5.0)
    assert {r["taken"] for r in said["receipts"]} == {"stored"}


@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"{", b'{"device":"x"}', b'{"device":"","facts":[]}', b'{"device":"x","facts":[],"more":1}'],
)
def test_what_is_no_batch_of_facts_is_refused_in_the_one_shape(client: httpx.Client, body: bytes) -> None:
    said = client.post("/api/facts", content=body, headers={"content-type": "application/json"})
    assert said.status_code == 422
    assert said.json()["error"]["what"]


def test_json_that_is_nested_without_end(client: httpx.Client) -> None:
    body = b'{"device":"x","facts":' + b"[" * 100_000
    said = client.post("/api/facts", content=body, headers={"content-type": "application/json"})
    assert said.status_code in {400, 422}
    assert said.json()["error"]["what"]


@pytest.mark.parametrize("word", ["NaN", "1.5", "1e999", str(2**60), '"\\ud800"', '"\\u0000"'])
def test_values_that_no_fact_holds(client: httpx.Client, word: str, device, job_id: str) -> None:
    import json

    (fact, _) = device.line(job_id)
    text = json.dumps({"device": device.id, "facts": [fact]}).replace('"Elm Road 4"', word)
    said = client.post("/api/facts", content=text, headers={"content-type": "application/json"})
    assert said.status_code == 200
    assert said.json()["receipts"][0]["taken"] == "refused"


def test_a_device_catches_up_with_all_others(
    device, send: Send, client: httpx.Client, answering: Answering, job_id: str
) -> None:
    before = client.get("/api/facts", params={"after": 0, "limit": 1000}).json()["last_order"]
    facts = [*device.line(job_id), *(device.reading(k, job_id) for k in range(1, 4))]
    send(device, facts)
    got, after, more = [], before, True
    while more:
        page = client.get("/api/facts", params={"after": after, "limit": 2}).json()
        got += [row["fact"] for row in page["facts"]]
        after, more = page["last_order"], page["more"]
    assert got == facts
    assert client.get("/api/facts", params={"after": after}).json() == {
        "facts": [],
        "last_order": after,
        "more": False,
    }
    of_job = client.get(f"/api/jobs/{job_id}/facts").json()
    assert [row["fact"] for row in of_job["facts"]] == facts


def test_a_file_is_kept_under_its_hash(client: httpx.Client) -> None:
    data = b"\xff\xd8\xff\xe0 a picture"
    path = f"/api/blobs/{hashlib.sha256(data).hexdigest()}"
    assert client.get(path).status_code == 404
    assert client.put(path, content=data).json()["already_there"] is False
    assert client.put(path, content=data).json()["already_there"] is True
    got = client.get(path)
    assert (got.content, got.headers["content-type"]) == (data, "image/jpeg")
    wrong = client.put(path, content=b"another")
    assert wrong.status_code == 422
    assert "SHA-256" in wrong.json()["error"]["what"]


def test_a_page_that_was_sent_never_runs_here(client: httpx.Client) -> None:
    data = b"<html><script>alert(1)</script>"
    path = f"/api/blobs/{hashlib.sha256(data).hexdigest()}"
    client.put(path, content=data)
    got = client.get(path)
    assert got.headers["content-type"] == "application/octet-stream"
    assert got.headers["x-content-type-options"] == "nosniff"
    assert got.headers["content-disposition"] == "attachment"
