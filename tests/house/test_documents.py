"""The documents agree with the tree: links lead somewhere, packages and commands exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

LINK = re.compile(r"\[[^\]]*\]\(([^)#\s]+)(?:#[^)]*)?\)")
REQUIRED = [
    "README.md",
    "DEVELOPERS.md",
    "ARCHITECTURE.md",
    "CONVENTIONS.md",
    "CONTRIBUTING.md",
    "CHANGELOG.md",
    "docs/job-folder.md",
    "docs/tutorial.md",
    "docs/gotchas.md",
    "docs/adr/README.md",
]


def documents(texts: dict[Path, str]) -> dict[Path, str]:
    return {path: text for path, text in texts.items() if path.suffix == ".md"}


@pytest.mark.parametrize("name", REQUIRED)
def test_document_is_there_and_says_something(texts: dict[Path, str], name: str) -> None:
    assert len(texts[Path(name)].split()) > 80


def test_links_lead_somewhere(texts: dict[Path, str], root: Path) -> None:
    dead = [
        f"{path}: {target}"
        for path, text in documents(texts).items()
        for target in LINK.findall(text)
        if "://" not in target and not (root / path.parent / target).exists()
    ]
    assert dead == []


def test_architecture_names_every_package_and_no_other(texts: dict[Path, str], root: Path) -> None:
    named = set(re.findall(r"^\| \d \| `(\w+)` \|", texts[Path("ARCHITECTURE.md")], re.MULTILINE))
    here = {p.parent.name for p in (root / "src" / "plumbmark").glob("*/__init__.py")}
    assert named == here


def test_architecture_names_levels_as_the_rules_do(texts: dict[Path, str]) -> None:
    rows = re.findall(r"^\| (\d) \| `(\w+)` \|", texts[Path("ARCHITECTURE.md")], re.MULTILINE)
    layers = re.search(r"layers = \[(.*?)\]", texts[Path("pyproject.toml")], re.DOTALL)
    assert layers
    order = [row for row in re.findall(r'"([^"]+)"', layers[1]) if row != "__main__"]
    level = {
        name.strip(" ()"): len(order) - 1 - place
        for place, row in enumerate(order)
        for name in row.split("|")
    }
    assert {name: int(number) for number, name in rows} == {name: level[name] for _, name in rows}


def test_architecture_names_every_folder_of_tests(texts: dict[Path, str]) -> None:
    here = {str(path.parent) for path in texts if path.parts[0] == "tests" and len(path.parts) > 2}
    named = set(re.findall(r"`(tests/\w+)`", texts[Path("ARCHITECTURE.md")]))
    assert named == here


def test_files_named_in_the_documents_exist(texts: dict[Path, str], root: Path) -> None:
    path_like = re.compile(r"`((?:src|tests|docs|tools|examples|bench)/[\w./-]+|[a-z]+/\w+\.py)`")
    missing = [
        f"{path}: {name}"
        for path, text in documents(texts).items()
        if path.parts[0] != "CHANGELOG.md"
        for name in path_like.findall(text)
        if not (root / name).exists() and not (root / "src" / "plumbmark" / name).exists()
    ]
    assert missing == []


def test_make_targets_in_the_documents_exist(texts: dict[Path, str]) -> None:
    targets = set(re.findall(r"^([a-z][a-z-]*):", texts[Path("Makefile")], re.MULTILINE))
    named = {
        name
        for text in documents(texts).values()
        for name in re.findall(r"(?:^|`)make ([a-z-]+)", text, re.MULTILINE)
    }
    assert {"demo", "test"} <= named
    assert named <= targets


def test_decisions_are_listed(texts: dict[Path, str]) -> None:
    here = {p.name for p in texts if p.parent == Path("docs/adr") and p.name != "README.md"}
    assert set(LINK.findall(texts[Path("docs/adr/README.md")])) == here


def test_changelog_has_room_for_the_next_change(texts: dict[Path, str]) -> None:
    assert "\n## Unreleased\n" in texts[Path("CHANGELOG.md")]


def test_rows_quoted_in_the_tutorial_stand_in_the_example(texts: dict[Path, str]) -> None:
    example = (
        texts[Path("examples/alder-lateral/readings.csv")] + texts[Path("examples/alder-lateral/job.toml")]
    )
    quoted = [
        line
        for block in re.findall(
            r"^```(?:csv|toml)\n(.*?)^```$", texts[Path("docs/tutorial.md")], re.DOTALL | re.MULTILINE
        )
        for line in block.splitlines()
    ]
    assert len(quoted) == 4
    assert [line for line in quoted if line not in example.splitlines()] == []
