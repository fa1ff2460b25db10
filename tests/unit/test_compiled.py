"""The compiled-kernel helper: results, staleness, read-only installs, plain Python."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

INNER = """
import numpy as np
from plumbmark.base.compiled import kernel
TABLE = np.array([1.0, 2.0])
@kernel
def inner(x):
    return x * 2.0 + TABLE[1]
"""
OUTER = """
from inner import inner
from plumbmark.base.compiled import kernel
@kernel
def outer(x):
    return inner(x) + 1.0
print(outer(3.0), sum(outer.stats.cache_hits.values()) if hasattr(outer, "stats") else -1)
"""


def run(folder: Path, **extra: str) -> list[float]:
    """Value and number of cache hits, from a process of its own."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("NUMBA")} | extra
    environment["PYTHONPATH"] = os.pathsep.join([str(folder), *sys.path])
    environment["PYTHONDONTWRITEBYTECODE"] = "1"
    done = subprocess.run(
        [sys.executable, "-W", "error", str(folder / "outer.py")],
        capture_output=True, text=True, env=environment, check=True,
    )  # fmt: skip
    return [float(word) for word in done.stdout.split()]


@pytest.fixture
def modules(tmp_path: Path) -> Path:
    (tmp_path / "inner.py").write_text(INNER)
    (tmp_path / "outer.py").write_text(OUTER)
    return tmp_path


def test_second_process_starts_from_the_cache_and_a_changed_callee_is_seen(modules: Path) -> None:
    assert run(modules) == [9.0, 0.0]
    assert run(modules) == [9.0, 1.0]
    (modules / "inner.py").write_text(INNER.replace("x * 2.0", "x * 5.0"))
    assert run(modules) == [18.0, 0.0]
    assert run(modules) == [18.0, 1.0]


def test_plain_python_with_jit_disabled(modules: Path) -> None:
    assert run(modules, NUMBA_DISABLE_JIT="1") == [9.0, -1.0]


def test_cache_goes_to_the_users_folder_when_the_package_cannot_be_written(modules: Path) -> None:
    (modules / "__pycache__").write_text("a file in the way, which even the superuser cannot write into")
    home = modules / "home"
    assert run(modules, HOME=str(home), XDG_CACHE_HOME=str(home / "cache")) == [9.0, 0.0]
    assert list((home / "cache").rglob("*.nbc"))
    assert run(modules, HOME=str(home), XDG_CACHE_HOME=str(home / "cache")) == [9.0, 1.0]


def test_chosen_cache_folder_is_used(modules: Path) -> None:
    assert run(modules, NUMBA_CACHE_DIR=str(modules / "chosen")) == [9.0, 0.0]
    assert list((modules / "chosen").rglob("*.nbc"))
    assert not list(modules.glob("__pycache__/*.nbc"))
