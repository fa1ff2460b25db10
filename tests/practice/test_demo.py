"""The example site is what its script makes, and shows what its README says."""

from __future__ import annotations

import csv
import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "examples" / "alder-lateral"
WRITTEN = {"README.md", "network.toml"}  # by hand, as a person would write them


@pytest.fixture(scope="module")
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location(
        "make_alder_lateral", ROOT / "examples/make_alder_lateral.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_files_are_the_scripts(script: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(script, "FOLDER", tmp_path)
    script.main()
    made = {p.name: p.read_text(encoding="utf-8") for p in tmp_path.iterdir()}
    kept = {p.name: p.read_text(encoding="utf-8") for p in FOLDER.iterdir() if p.name not in WRITTEN}
    assert made == kept


def test_it_shows_what_its_readme_says(script: ModuleType) -> None:
    site = script.make()
    short = [(t.depth_m - r.depth_m) / 0.0254 for t, r in zip(site.truth, site.rows, strict=True)]
    assert np.median(short) == pytest.approx(10, abs=1.5)  # "about ten inches"
    assert all(0.07 < -t.shift_m < 0.13 for t in site.truth)  # "a hand to the left"
    assert [t.station for t in site.truth if t.slip] == ["7"]
    assert sum(r.raised_by_m is not None for r in site.rows) == 4
    with (FOLDER / "profiles.csv").open(encoding="utf-8") as file:
        assert {row["profile"] for row in csv.DictReader(file)} == {"6"}
