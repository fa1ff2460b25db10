"""Tables of published numbers that come with the program, one TOML file each in ``plumbmark/data``."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def read_data(name: str) -> dict[str, Any]:
    """Content of ``plumbmark/data/<name>.toml``; not to be changed by whoever reads it.

    Examples
    --------
    >>> read_data("colours")["colour"]["gas"]
    'yellow'
    """
    return tomllib.loads((files("plumbmark") / "data" / f"{name}.toml").read_text(encoding="utf-8"))
