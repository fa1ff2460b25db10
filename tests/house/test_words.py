"""Words that are taken in the trade are not used for anything of ours, where people read them."""

from __future__ import annotations

import ast
import re
from pathlib import Path

#: What must not be said to people, with the reason.
TAKEN = {
    r"\bclear(?:ed|s)?\b": "an owner's legal answer: say that nothing is known in the way",
    r"\b(?:un)?safe(?:ly|ty)?\b(?!-inline)": "nothing here makes anything safe",
    r"\b(?:soft|firm)\b": "soil and digging",
    r"\b95 ?%": "people are told 19 times in 20",
    r"\boperators?\b": "locator, technician or crew",
    r"\bdead line\b": "say which owner said what",
    r"\blift(?:ing)? a bond\b": "say disconnect, and only to the owner's qualified people",
}
SPOKEN = ("app", "clearance", "cli", "exchange", "handover", "inference", "planning", "survey", "web")


def literals(source: str) -> list[tuple[int, str]]:
    """String literals of a module that are not docstrings."""
    tree = ast.parse(source)
    documentation = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    return [
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documentation
    ]


def taken(text: str) -> list[str]:
    return [found[0] for word in TAKEN for found in re.finditer(word, text, re.IGNORECASE)]


def test_documents_for_people(texts: dict[Path, str]) -> None:
    pages = {
        path: text
        for path, text in texts.items()
        if path == Path("README.md")
        or (path.parts[0] == "docs" and path.suffix == ".md" and "adr" not in path.parts)
    }
    assert len(pages) >= 4
    assert {path: taken(text) for path, text in pages.items() if taken(text)} == {}


def test_what_the_program_says(texts: dict[Path, str]) -> None:
    found = []
    for path, text in texts.items():
        if path.suffix == ".py" and path.parts[:2] == ("src", "plumbmark") and path.parts[2] in SPOKEN:
            found += [f"{path}:{line}: {word}" for line, words in literals(text) for word in taken(words)]
    assert found == []


def test_the_search_finds_words_and_leaves_docstrings() -> None:
    source = 'def f():\n    """It is safe."""\n    return "All clear, 95 % of it."\n'
    assert [(line, taken(words)) for line, words in literals(source)] == [(3, ["clear", "95 %"])]
