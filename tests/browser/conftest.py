"""A browser with no network, the page built, servers to ask, and the pages that commands write.

One server answers all tests of a process, for it takes seconds to warm. A test that writes something down
about the example site takes a copy of it (`Server.copy_of_alder`); one that ends its server takes `mortal`.
"""

from __future__ import annotations

import fcntl
import json
import os
import shutil
import subprocess
import sys
import time
import urllib.error
import urllib.request
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from playwright.sync_api import Browser, Page, ViewportSize, expect, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
STATIC = ROOT / "src" / "plumbmark" / "web" / "static"
ALDER = ROOT / "examples" / "alder-lateral"
SIZES: dict[str, ViewportSize] = {
    "phone": {"width": 412, "height": 915},
    "tablet": {"width": 1024, "height": 768},
}
#: As long as anything is waited for. A test that passes waits for no longer than it takes; one on a machine
#: that does ten other things does not fail for that.
PATIENCE_S = 60.0
expect.set_options(timeout=PATIENCE_S * 1000)
CHROMIUM_OPTIONS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking")
NOT_RUN = (
    "NOT RUN: no Chromium here (Debian: apt-get install chromium; elsewhere PLUMBMARK_CHROMIUM=/path/to/it)"
)
_SERVE = "from plumbmark.__main__ import main; main()"
#: Processes that compute are started when something is computed, and not before.
_SERVE_COLD = f"from plumbmark.app.worker import Worker; Worker.start = lambda self: None; {_SERVE}"


def find_chromium() -> str | None:
    """Where Chromium is, if anywhere."""
    named = os.environ.get("PLUMBMARK_CHROMIUM")
    return named or next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, headless. Missing, it fails where a submission is checked and is skipped elsewhere."""
    program = find_chromium()
    if program is None:
        if os.environ.get("CI") == "true":
            pytest.fail(NOT_RUN)
        pytest.skip(NOT_RUN)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program, args=CHROMIUM_OPTIONS)
        yield started
        started.close()


@contextmanager
def device(browser: Browser, url: str, size: ViewportSize, **more: Any) -> Iterator[Page]:
    """A page on a device of its own, which makes no error and asks nobody but the server."""
    context = browser.new_context(viewport=size, has_touch=True, base_url=url, **more)
    context.set_default_timeout(PATIENCE_S * 1000)
    page = context.new_page()
    wrong: list[str] = []
    asked: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("request", lambda sent: asked.append(sent.url))
    try:
        yield page
    finally:
        context.close()
    assert wrong == []
    assert [address for address in asked if not address.startswith((url, "data:", "blob:"))] == []


def eventually(find: Callable[[], Any], what: str) -> Any:
    """What is found, as soon as it is anything."""
    until = time.monotonic() + PATIENCE_S
    while not (found := find()):
        assert time.monotonic() < until, f"{what}: not within {PATIENCE_S:g} s"
        time.sleep(0.03)
    return found


class Server:
    """`plumbmark serve` on a port and a store of its own, to be stopped and started again on the same store.

    Parameters
    ----------
    folder : Path
        For its store.
    *options : str
        Of the command.
    warm : bool
        Whether the processes that compute warm themselves before they are needed.
    """

    def __init__(self, folder: Path, *options: str, warm: bool = True) -> None:
        self._folder = folder
        self._options = ("--store", f"sqlite:///{folder / 'journal.db'}", *options)
        self._code = _SERVE if warm else _SERVE_COLD
        self._process: subprocess.Popen[str] | None = None
        self.port = 0  # whichever is free, and the same one from then on

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", self._code, "serve", "--port", str(self.port), *self._options],
            env=os.environ | {"PYTHONPATH": str(ROOT / "src"), "XDG_DATA_HOME": str(self._folder)},
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self._process.stdout is not None
        told = next((line for line in self._process.stdout if line.startswith("Open http")), None)
        assert told is not None, "the server ended"
        self.port = int(told.split("127.0.0.1:")[1].split("/")[0])
        eventually(self._answers, "the server's answer")

    def _answers(self) -> bool:
        assert self._process is not None
        assert self._process.poll() is None, "the server ended"
        try:
            self.get("/api/version")
        except OSError:
            return False
        return True

    def stop(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.communicate(timeout=PATIENCE_S)
            self._process = None

    @contextmanager
    def gone(self) -> Iterator[None]:
        """It is killed, as where the power goes, and started again afterwards."""
        assert self._process is not None
        self._process.kill()
        self.stop()
        try:
            yield
        finally:
            self.start()

    def get(self, path: str, body: bytes | None = None, **headers: str) -> Any:
        asked = urllib.request.Request(self.url + path, data=body, headers=headers)
        with urllib.request.urlopen(asked, timeout=PATIENCE_S) as answer:
            return json.load(answer)

    def facts(self, job: str | None = None) -> list[dict[str, Any]]:
        """All facts, or those of a job, in the order in which they came in."""
        path, found, after = "/api/facts" if job is None else f"/api/jobs/{job}/facts", [], 0
        while rows := self._rows(f"{path}?after={after}"):
            found += [row["fact"] for row in rows]
            after = rows[-1]["order"]
        return found

    def _rows(self, path: str) -> list[dict[str, Any]]:
        try:
            rows: list[dict[str, Any]] = self.get(path)["facts"]
        except urllib.error.HTTPError as error:
            if error.code == 404:  # nothing of the job has come in yet
                return []
            raise
        return rows

    def sent(self, count: int, job: str | None = None, after: int = 0) -> list[dict[str, Any]]:
        """Facts that came in after so many that were there, as soon as there are `count` of them."""

        def enough() -> list[dict[str, Any]] | None:
            found = self.facts(job)[after:]
            return found if len(found) >= count else None

        found: list[dict[str, Any]] = eventually(enough, f"{count} facts")
        return found

    def answer(self, job: str = "alder-lateral") -> dict[str, Any]:
        """The answer of a job in its newest state, as soon as it is there."""
        path = f"/api/jobs/{job}/answer"

        def answered() -> Any:
            shown = self.get(path)
            return shown if shown["standing"]["state"] == "answered" else None

        found: dict[str, Any] = eventually(answered, f"the answer of {job}")
        return found

    def shown(self, name: str, job: str = "alder-lateral") -> dict[str, Any]:
        """What is told of a screen of a job, as soon as nothing of it is still worked out."""
        path = f"/api/jobs/{job}/screens/{name}"

        def done() -> Any:
            shown = self.get(path)
            ready = shown["screen"] and not shown["note"] and shown["standing"]["state"] == "answered"
            return shown if ready else None

        found: dict[str, Any] = eventually(done, f"screen {name} of {job}")
        return found

    def screen(self, name: str, job: str = "alder-lateral") -> dict[str, Any]:
        """A screen of a job, as soon as nothing of it is still worked out."""
        found: dict[str, Any] = self.shown(name, job)["screen"]
        return found

    def copy_of_alder(self) -> str:
        """The id of a new job with all that the example site has, which nobody else touches."""
        job = f"alder-{uuid.uuid4().hex[:8]}"
        parts = {path.name: path.read_bytes() for path in sorted(ALDER.iterdir()) if path.is_file()}
        parts["job.toml"] = parts["job.toml"].replace(b'"alder-lateral"', f'"{job}"'.encode(), 1)
        mark = uuid.uuid4().hex
        body = b"".join(
            f'--{mark}\r\nContent-Disposition: form-data; name="files"; filename="{name}"\r\n\r\n'.encode()
            + data
            + b"\r\n"
            for name, data in parts.items()
        )
        kind = {"Content-Type": f"multipart/form-data; boundary={mark}"}
        told = self.get("/api/import", body + f"--{mark}--\r\n".encode(), **kind)
        assert told["job"] == job, told
        return job


@pytest.fixture(scope="session")
def static() -> Path:
    """The page's files, made from what stands in `browser/` now, by one of all processes that want them."""
    with (ROOT / "hatch_build.py").open() as guard:  # any file that each of them finds
        fcntl.flock(guard, fcntl.LOCK_EX)
        made = [sys.executable, "hatch_build.py", "build"]
        done = subprocess.run(made, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"the page cannot be built: {done.stdout}{done.stderr}"
    return STATIC


@pytest.fixture(scope="session")
def server(static: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The server that all tests share, with the example site, which is being answered."""
    held = Server(tmp_path_factory.mktemp("server"), "--open", str(ALDER))
    held.start()
    yield held
    held.stop()


@pytest.fixture(scope="session")
def alder(server: Server) -> Server:
    """The server that all tests share, once it has answered the example site."""
    server.answer()
    return server


@pytest.fixture(scope="session")
def mortal(static: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server to be stopped, killed and started again, that runs when a test begins, and computes little."""
    held = Server(tmp_path_factory.mktemp("mortal"), warm=False)
    held.start()
    yield held
    held.stop()


def command(*arguments: str) -> None:
    """Run the command in this process: another one would load all that computes once more."""
    from plumbmark.cli.main import cli

    done = CliRunner().invoke(cli, arguments, catch_exceptions=False)
    assert done.exit_code == 0, done.output


@pytest.fixture(scope="session")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page as the command writes it for the example site."""
    out = tmp_path_factory.mktemp("page")
    command("solve", str(ALDER), "--out", str(out))
    (page,) = out.glob("*.html")
    return page
