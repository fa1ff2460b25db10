"""One form of a value, the same in every program; what a fact is checked for."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from plumbmark.base.canonical import canonical_json, fact_hash
from plumbmark.base.errors import FactError
from plumbmark.model.fact import Draft, Fact, FactKind, fact_from_wire, sealed, to_wire

VECTORS = json.loads((Path(__file__).parent / "canonical_vectors.json").read_text())
ID = "7b0f6a0e-31a5-4d4b-8a3e-0e6e5b8a0d10"
AT = "2026-11-25T14:03:22+01:00"


@pytest.mark.parametrize("case", VECTORS, ids=lambda case: case["name"])
def test_stored_cases_that_the_page_is_held_to_as_well(case: dict[str, Any]) -> None:
    assert canonical_json(case["value"]).decode() == case["text"]
    assert json.loads(case["text"]) == case["value"]
    if isinstance(case["value"], dict):
        assert fact_hash({**case["value"], "hash": "x"}) == case["sha256"]


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (
            {"a": [{"b": 0.5}]},
            "a[0].b is of kind float, which a fact cannot hold (write a number as the text",
        ),
        ({"a": 2**53 + 1}, "a is beyond 2^53"),
        ({"a": -(2**53) - 1}, "a is beyond 2^53"),
        ({"a": "\ud800"}, "a has half of a surrogate pair"),
        ({"ä": 1}, "keys are ASCII text"),
        ({1: 1}, "keys are ASCII text"),
        ({"a": b"x"}, "of kind bytes"),
        ({"a": (1,)}, "of kind tuple"),
        ({"a": FactKind.JOB}, "of kind FactKind"),
    ],
)
def test_what_programs_would_write_differently_is_refused(value: Any, said: str) -> None:
    with pytest.raises(FactError) as error:
        canonical_json(value)
    assert said in str(error.value)


def test_nesting_has_an_end() -> None:
    value: Any = []
    for _ in range(10_000):
        value = [value]
    with pytest.raises(FactError, match="deeper than 32"):
        canonical_json(value)


def fact() -> Fact:
    payload = {"table": "readings", "key": "7", "rows": [{"depth": "3 ft 1 in"}]}
    return sealed(Draft("alder-17", FactKind.ENTRY, payload, AT, "R. Vale"), ID, "desk", 1, "")


def test_a_fact_travels_and_comes_back() -> None:
    wire = json.loads(json.dumps(to_wire(fact())))
    assert fact_from_wire(wire) == fact()
    assert set(wire) >= {"id", "job", "kind", "payload", "at", "by", "device", "seq", "prev", "hash"}


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("hash", "0" * 64, "is not that of the fact"),
        ("payload", {"table": "readings", "key": "8"}, "is not that of the fact"),
        ("payload", [], "payload is not an object"),
        ("id", ID.upper(), "is not a UUID in lower case"),
        ("device", "phone", "device 'phone' is not"),
        ("supersedes", "7", "supersedes '7' is neither"),
        ("job", "../x", "job '../x' is not an id"),
        ("job", None, "job None is not an id"),
        ("kind", "pass", "kind 'pass' is not one of job, soil, ticket"),
        ("seq", 0, "seq 0 is not a whole number from 1"),
        ("seq", True, "seq True is not"),
        ("seq", 2, "prev '' is not 64 hexadecimal digits"),
        ("prev", "0" * 64, "is not empty, as for the first fact of a device"),
        ("at", "2026-11-25T14:03:22", "is not a time with its offset"),
        ("at", "yesterday", "is not a time with its offset"),
        ("by", "x" * 201, "is not a text of at most 200 characters"),
    ],
)
def test_a_fact_that_is_none_is_refused_with_the_reason(key: str, value: Any, said: str) -> None:
    with pytest.raises(FactError) as error:
        fact_from_wire({**to_wire(fact()), key: value})
    assert said in str(error.value)


def test_keys_missing_and_unknown_are_named() -> None:
    wire = to_wire(fact())
    with pytest.raises(FactError, match="has no prev"):
        fact_from_wire({k: v for k, v in wire.items() if k != "prev"})
    with pytest.raises(FactError, match="unknown key 'colour'"):
        fact_from_wire({**wire, "colour": "red"})
    with pytest.raises(FactError, match="an object"):
        fact_from_wire([])  # type: ignore[arg-type]
