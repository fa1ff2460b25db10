"""The API is as its schema says, whatever it is asked."""

from __future__ import annotations

import json
from collections.abc import Iterator

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from plumbmark.app.answering import Answering
from plumbmark.planning.questions import advise
from plumbmark.web.openapi import schema_text

from .conftest import ROOT

CHECKS = (
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
)
#: The stream never ends; its own test reads it.
WHOLE = schemathesis.openapi.from_dict(json.loads(schema_text())).exclude(path_regex="/live$")
#: Every way to connect is tried on forty invented sites for each of these; here on three, in this process.
LONG = WHOLE.include(path="/api/plan/questions")
SCHEMA = WHOLE.exclude(path="/api/plan/questions")
BOUNDED = settings(
    max_examples=12,
    derandomize=True,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)


def test_the_schema_that_the_page_is_made_from_is_that_of_the_code() -> None:
    """`python -m plumbmark.web.openapi > browser/src/api/openapi.json` writes it anew."""
    kept = (ROOT / "browser" / "src" / "api" / "openapi.json").read_text(encoding="utf-8")
    assert kept == schema_text()


@SCHEMA.parametrize()
@BOUNDED
def test_no_request_finds_a_fault(case: schemathesis.Case, client: httpx.Client) -> None:
    case.call_and_validate(base_url=str(client.base_url), checks=CHECKS, timeout=60)


@pytest.fixture(scope="module")
def few_sites(answering: Answering) -> Iterator[None]:
    """Answer three questions from few sites: how an answer looks is asked here, not how good it is."""
    with pytest.MonkeyPatch.context() as changed:
        assert advise.__kwdefaults__["sites"] > 3
        changed.setitem(advise.__kwdefaults__, "sites", 3)
        changed.setattr(answering.whole, "run", lambda function, *given: function(*given))
        yield


@pytest.mark.usefixtures("few_sites")
@LONG.parametrize()
@BOUNDED
def test_no_answer_to_the_three_questions_finds_a_fault(
    case: schemathesis.Case, client: httpx.Client
) -> None:
    case.call_and_validate(base_url=str(client.base_url), checks=CHECKS, timeout=60)
