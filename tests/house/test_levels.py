"""Who may know whom. The levels themselves are import-linter's; here is what it cannot say."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

#: Packages from outside that a package of ours may import; all others only what pyproject.toml lists.
ARRAYS_ONLY = {"base", "physics"}
#: Packages that are asked for under another name than they are imported by.
DISTRIBUTIONS = {"PIL": "pillow", "serial": "pyserial"}
#: Packages that others import for us: forms in FastAPI, the driver in SQLAlchemy.
LOADED_BY_OTHERS = {"python-multipart", "psycopg[binary]"}
ARRAYS = {"numpy", "scipy", "numba"}


def imports_of(source: str) -> Iterator[str]:
    """Top-level names of everything imported anywhere in a module, in functions too."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name.partition(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            yield str(node.module).partition(".")[0]


def modules(texts: dict[Path, str]) -> dict[Path, str]:
    found = {p: t for p, t in texts.items() if p.suffix == ".py" and p.parts[:2] == ("src", "plumbmark")}
    assert len(found) > 15
    return found


def settings(root: Path) -> dict[str, object]:
    return tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))


def test_physics_knows_arrays_and_nothing_else(texts: dict[Path, str]) -> None:
    found = []
    for path, text in modules(texts).items():
        if path.parts[2] in ARRAYS_ONLY:
            outside = set(imports_of(text)) - set(sys.stdlib_module_names) - {"plumbmark"}
            found += [f"{path}: {name}" for name in sorted(outside - ARRAYS)]
    assert found == []


def test_everything_imported_is_a_dependency(texts: dict[Path, str], root: Path) -> None:
    project = settings(root)["project"]
    assert isinstance(project, dict)
    rows = [
        *project["dependencies"],
        *(row for extra in project["optional-dependencies"].values() for row in extra),
    ]
    listed = {re.split(r"[<>=]", row)[0].strip() for row in rows}
    used = {name for text in modules(texts).values() for name in imports_of(text)}
    outside = {DISTRIBUTIONS.get(name, name) for name in used - set(sys.stdlib_module_names) - {"plumbmark"}}
    assert outside <= listed, "imported but not in pyproject.toml"
    assert listed - LOADED_BY_OTHERS <= outside, "in pyproject.toml but not imported"


def test_every_package_has_a_level(root: Path) -> None:
    tool = settings(root)["tool"]
    assert isinstance(tool, dict)
    (levels,) = [c for c in tool["importlinter"]["contracts"] if c["type"] == "layers"]
    listed = {name.strip(" ()") for row in levels["layers"] for name in row.split("|")}
    here = {p.parent.name for p in (root / "src" / "plumbmark").glob("*/__init__.py")}
    assert here <= listed


@pytest.mark.parametrize("forbidden", ["inference", "physics.display", "physics.halfspace", "physics.images"])
def test_practice_is_forbidden_what_inference_fits_with(root: Path, forbidden: str) -> None:
    tool = settings(root)["tool"]
    assert isinstance(tool, dict)
    rules = [
        c for c in tool["importlinter"]["contracts"] if c.get("source_modules") == ["plumbmark.practice"]
    ]
    assert len(rules) == 1
    assert f"plumbmark.{forbidden}" in rules[0]["forbidden_modules"]
