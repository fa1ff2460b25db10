"""A browser with no network, and the picture page of the example site."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
NOT_RUN = (
    "NOT RUN: no Chromium here (Debian: apt-get install chromium; elsewhere PLUMBMARK_CHROMIUM=/path/to/it)"
)


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
        started = playwright.chromium.launch(
            executable_path=program,
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield started
        started.close()


@pytest.fixture(scope="session")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page as the command writes it for the example site."""
    out = tmp_path_factory.mktemp("page")
    start = "import sys; sys.argv[0] = 'plumbmark'; from plumbmark.cli.main import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", start, "solve", str(ROOT / "examples" / "alder-lateral"), "--out", str(out)],
        env=os.environ | {"PYTHONPATH": str(ROOT / "src")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    (page,) = out.glob("*.html")
    return page
