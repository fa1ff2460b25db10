"""The built page: files that never change are kept by the browser, the others are asked about each time."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from fastapi.responses import HTMLResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

_FOR_EVER: Final = "public, max-age=31536000, immutable"
_ASK: Final = "no-cache"
_NOT_BUILT: Final = """<!doctype html><html lang="en"><meta charset="utf-8"><title>plumbmark</title>
<h1>The page is not built</h1>
<p>The server runs, but the page for the browser is missing from this copy. In a clone, type
<code>sh tools/page.sh build</code> and load this again. What is under <code>/api</code> works without it.</p>
"""


class Page(StaticFiles):
    """The folder of the built page, its headers set by what each file is."""

    def __init__(self, folder: Path) -> None:
        super().__init__(directory=folder, html=True, check_dir=False)
        self._index = folder / "index.html"

    async def check_config(self) -> None:
        """Nothing: a page that is not built is told, not a fault."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """One file of the page; a word about how to build it where there is none."""
        if path in ("", ".", "index.html") and not self._index.is_file():
            return HTMLResponse(_NOT_BUILT, 503, {"cache-control": _ASK})
        try:
            response = await super().get_response(path, scope)
        except (ValueError, OSError):  # a name that no file can have
            raise HTTPException(404) from None
        # The build puts the hash of its content into the name of each of these.
        response.headers["cache-control"] = _FOR_EVER if path.startswith("assets/") else _ASK
        return response
