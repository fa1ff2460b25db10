"""A module reads in one sitting, a function stands on one screen."""

from __future__ import annotations

import ast
from pathlib import Path

LINES_OF_A_MODULE = 500
LINES_OF_A_FUNCTION = 80  # its docstring not counted


def test_modules_read_in_one_sitting(texts: dict[Path, str]) -> None:
    found = {
        str(path): text.count("\n")
        for path, text in texts.items()
        if path.suffix in {".py", ".ts", ".css", ".js", ".sh"} and text.count("\n") > LINES_OF_A_MODULE
    }
    assert found == {}


def test_functions_stand_on_one_screen(texts: dict[Path, str]) -> None:
    found = {}
    for path, text in texts.items():
        if path.suffix != ".py" or path.parts[0] != "src":
            continue
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                body = node.body[1:] if ast.get_docstring(node) else node.body
                length = (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0
                if length > LINES_OF_A_FUNCTION:
                    found[f"{path}: {node.name}"] = length
    assert found == {}
