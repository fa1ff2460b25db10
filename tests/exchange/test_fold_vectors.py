"""The page folds facts itself when there is no server: both folds are held to one table of cases."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]


def test_the_stored_cases_are_what_the_fold_gives():
    script = TESTS / "create_data" / "make_fold_vectors.py"
    spec = importlib.util.spec_from_file_location("make_fold_vectors", script)
    assert spec is not None
    assert spec.loader is not None
    maker = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(maker)
    stored = json.loads((TESTS / "browser" / "fold_vectors.json").read_text(encoding="utf-8"))
    assert maker.vectors() == stored, (
        "run python tests/create_data/make_fold_vectors.py and mend browser/src/fold"
    )
