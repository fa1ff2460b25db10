"""Draw docs/picture.png from the page of `make demo`.

Run after `make demo` in the environment of `make test`: ``.venv/bin/python tools/picture.py``.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parents[1]


def main() -> None:
    """Open the page at a desk's width and keep the plan with the section beside it."""
    pages = sorted((ROOT / "out" / "demo").glob("*.html"))
    chromium = shutil.which("chromium")
    if len(pages) != 1 or chromium is None:
        sys.exit("picture.py needs one page in out/demo (make demo) and Chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 1180, "height": 900})
        page.goto(pages[0].as_uri())
        page.locator(".pair").first.screenshot(path=ROOT / "docs" / "picture.png")
        browser.close()


if __name__ == "__main__":
    main()
