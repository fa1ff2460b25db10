"""The page of the gallery says what the code gives today."""

from __future__ import annotations

import importlib.util
from pathlib import Path

GALLERY = Path(__file__).parents[2] / "docs" / "gallery"


def test_numbers_of_the_gallery_are_those_of_the_code() -> None:
    spec = importlib.util.spec_from_file_location("make_gallery", GALLERY / "make_gallery.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    written = (GALLERY / "README.md").read_text(encoding="utf-8")
    assert written == module.page()
    for picture in GALLERY.glob("*.svg"):
        assert f"({picture.name})" in written
