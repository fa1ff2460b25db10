"""What the tests of the house look at: the files under version control."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MADE = {
    ".git",
    ".venv",
    ".tools",
    "out",
    "dist",
    "build",
    "__pycache__",
    ".hypothesis",
    ".cache",
    "node_modules",
    "static",
}


@pytest.fixture(scope="session")
def root() -> Path:
    """The folder of the project."""
    return ROOT


@pytest.fixture(scope="session")
def files() -> list[Path]:
    """Every file that belongs to the project (in a copy without .git: every file that was not made)."""
    if (ROOT / ".git").exists():
        names = subprocess.run(
            ["git", "-C", str(ROOT), "ls-files", "-z"], check=True, capture_output=True, text=True
        ).stdout.split("\0")
        found = [ROOT / name for name in names if name]
    else:
        found = [p for p in ROOT.rglob("*") if not MADE & set(p.relative_to(ROOT).parts)]
    found = [p for p in found if p.is_file()]
    assert len(found) > 30, "the list of files is not what these tests were written for"
    return found


@pytest.fixture(scope="session")
def texts(files: list[Path]) -> dict[Path, str]:
    """Every file that is text, with its text."""
    found = {}
    for path in files:
        data = path.read_bytes()
        if b"\0" not in data:
            found[path.relative_to(ROOT)] = data.decode("utf-8", errors="replace")
    return found
