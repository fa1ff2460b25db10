"""The lock files: every version pinned, every file by its hash, one set of versions in both."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

PIN = re.compile(r"^([a-z0-9][a-z0-9._-]*)==([^ ;\\]+)([^\\]*)\\?$")
HASH = re.compile(r"^    --hash=sha256:[0-9a-f]{64}( \\)?$")
LOCKS = ["requirements.lock", "requirements-test.lock", "tools/installer.lock"]


def pins(path: Path) -> dict[tuple[str, str], str]:
    """(package, environment marker) -> version."""
    found = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        if row := PIN.match(line):
            found[row[1], row[3].strip()] = row[2]
    return found


@pytest.mark.parametrize("name", LOCKS)
def test_every_line_is_a_pin_a_hash_or_a_remark(root: Path, name: str) -> None:
    hashed = None
    for line in (root / name).read_text(encoding="utf-8").splitlines():
        if PIN.match(line):
            assert hashed is not False, f"no hash before {line}"
            hashed = False
        elif HASH.match(line):
            hashed = True
        else:
            assert line.lstrip().startswith("#"), line
    assert hashed


def test_both_locks_hold_the_same_versions(root: Path) -> None:
    run, test = (pins(root / name) for name in LOCKS[:2])
    assert run
    assert {package: test.get(package) for package in run} == run


def test_everything_asked_for_is_locked(root: Path) -> None:
    settings = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    names = {LOCKS[0]: settings["project"]["dependencies"] + settings["dependency-groups"]["build"]}
    names[LOCKS[1]] = names[LOCKS[0]] + settings["dependency-groups"]["test"]
    for lock, rows in names.items():
        asked = {re.split(r"[<>=~! ;\[]", row, maxsplit=1)[0].lower() for row in rows}
        assert asked <= {package for package, _ in pins(root / lock)}, lock
