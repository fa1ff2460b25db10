"""The stored cases that the page is held to are what the program says today."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]


@pytest.mark.parametrize("name", ["length", "phone"])
def test_the_page_is_held_to_what_is_said_today(name: str) -> None:
    """If this fails, run tests/create_data/make_NAME_vectors.py and see that the page still agrees."""
    spec = importlib.util.spec_from_file_location(name, TESTS / "create_data" / f"make_{name}_vectors.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    stored = json.loads((TESTS / "browser" / f"{name}_vectors.json").read_text("utf-8"))
    assert json.loads(module.written(module.vectors())) == stored
