"""A log over the socket: looked at, asked about, taken once."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import httpx
import pytest

CSV = b"No,Depth,Current (mA)\n1,3.10,21\n2,3.25,20.5\n"


def ask(client: httpx.Client, what: str, data: bytes, job: str, **more: str) -> httpx.Response:
    form = {"job": job, **more}
    return client.post(f"/api/logs/{what}", data=form, files={"file": ("log.csv", data)})


def test_a_depth_without_a_unit_is_asked_about_and_nothing_written_before(
    client: httpx.Client, job_id: str
) -> None:
    seen = ask(client, "look", CSV, job_id).json()
    assert [(c["name"], c["field"], c["unit"]) for c in seen["columns"]] == [
        ("No", "id", ""),
        ("Depth", "depth", ""),
        ("Current (mA)", "current", "ma"),
    ]
    assert [(q["id"], q["answer"]) for q in seen["questions"]] == [("unit:Depth", "")]
    refused = ask(client, "take", CSV, job_id, mapping=json.dumps(seen["mapping"]))
    assert refused.status_code == 422
    assert "Depth" in refused.json()["error"]["findings"][0]["what"]
    assert client.get(f"/api/jobs/{job_id}/facts").status_code == 404

    seen["mapping"]["answers"]["unit:Depth"] = "ft"
    mapping = json.dumps(seen["mapping"])
    taken = ask(client, "take", CSV, job_id, mapping=mapping, by="R. Vale").json()
    assert (taken["recorded"], taken["already_there"]) == (2, 0)
    facts = client.get(f"/api/jobs/{job_id}/facts").json()["facts"]
    rows = [f["fact"]["payload"]["rows"] for f in facts if f["fact"]["kind"] == "entry"]
    assert rows == [
        [{"depth_ft": "3.10", "current_ma": "21"}],
        [{"depth_ft": "3.25", "current_ma": "20.5"}],
    ]
    assert {f["fact"]["by"] for f in facts} == {"R. Vale"}

    again = ask(client, "take", CSV, job_id, mapping=mapping).json()
    assert (again["recorded"], again["already_there"]) == (0, 2)
    assert len(client.get(f"/api/jobs/{job_id}/facts").json()["facts"]) == len(facts)
    next_one = ask(client, "look", b"No,Depth,Current (mA)\n9,4.00,19\n", job_id).json()
    assert next_one["remembered"]
    assert next_one["columns"][1]["unit"] == "ft"


def test_two_taps_at_once_take_a_log_once(client: httpx.Client, job_id: str) -> None:
    seen = ask(client, "look", CSV, job_id).json()
    seen["mapping"]["answers"]["unit:Depth"] = "ft"
    mapping = json.dumps(seen["mapping"])
    with ThreadPoolExecutor(3) as some:
        said = list(some.map(lambda _: ask(client, "take", CSV, job_id, mapping=mapping).json(), range(3)))
    assert sorted(taken["recorded"] for taken in said) == [0, 0, 2]


@pytest.mark.parametrize(
    ("form", "where"),
    [
        ({"job": "a/b"}, "job"),
        ({"job": "elm-4", "by": "x" * 201}, "by"),
        ({"job": "elm-4", "mapping": "{"}, "mapping"),
        ({"job": "elm-4", "mapping": '{"columns": [{}]}'}, "mapping.columns.0.column"),
    ],
)
def test_a_form_that_is_wrong_says_where(client: httpx.Client, form: dict[str, Any], where: str) -> None:
    found = client.post("/api/logs/take", data=form, files={"file": ("log.csv", CSV)})
    assert found.status_code == 422
    assert where in [f["where"] for f in found.json()["error"]["findings"]]


def test_what_is_no_log_is_refused_with_the_reason(client: httpx.Client, job_id: str) -> None:
    found = ask(client, "look", b"\x00\x01\x02", job_id)
    assert found.status_code == 422
    assert "no kind of log" in found.json()["error"]["what"]
    missing = client.post("/api/logs/look", data={"job": job_id}, files={})
    assert missing.status_code in (400, 422)
