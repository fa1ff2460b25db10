"""From the tap on Save to the answer on the page, with no server: what a phone alone takes.

    sh tools/page.sh build && PYTHONPATH=src python bench/bench_reading_sheet.py --readings 40

Counted inside the page, from the tap to the sentence in the document: the fact is sealed into its chain and
kept with strict durability, the job folded anew, the table read, the screen drawn.
"""

from __future__ import annotations

import argparse
import functools
import http.server
import shutil
import statistics
import threading
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

STATIC = Path(__file__).resolve().parents[1] / "src" / "plumbmark" / "web" / "static"
WATCH = """() => {
  window.times = [];
  let begun = 0;
  const begin = (event) => event.target.textContent === "Save" && (begun = performance.now());
  document.addEventListener("click", begin, true);
  const seen = () => {
    if (begun && document.querySelector(".sentence .answer")) {
      window.times.push(performance.now() - begun);
      begun = 0;
    }
  };
  new MutationObserver(seen).observe(document.body, { subtree: true, childList: true });
}"""


class _Files(http.server.SimpleHTTPRequestHandler):
    """The page's files alone."""

    def do_POST(self) -> None:
        self.send_error(503)

    def log_message(self, format: str, *args: Any) -> None:
        pass


def times(readings: int) -> list[float]:
    """Milliseconds of each of so many readings of one job, one after the other."""
    handler = functools.partial(_Files, directory=str(STATIC))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server, sync_playwright() as play:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        program = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = play.chromium.launch(executable_path=program, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 390, "height": 800}, has_touch=True)
        page.goto(f"http://127.0.0.1:{server.server_port}/#/new")
        page.get_by_role("button", name="Emergency").tap()
        page.get_by_role("heading", name="Find the null").wait_for()
        page.evaluate(WATCH)
        for _ in range(readings):
            for name in (
                "Within a hand",
                "Right",
                "2 feet",
                "11 inches",
                "3 feet",
                "10 inches",
                "4",
                "3",
                "Save",
            ):
                page.get_by_role("button", name=name, exact=name != "Within a hand").first.tap()
            page.locator(".sentence .answer").first.wait_for()
            page.get_by_role("link", name="Next reading").tap()
            page.get_by_role("heading", name="Find the null").wait_for()
        told: list[float] = page.evaluate("window.times")
        browser.close()
        server.shutdown()
    return told


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readings", type=int, default=40)
    found = sorted(times(parser.parse_args().readings))
    print(
        f"{len(found)} readings: median {statistics.median(found):.0f} ms, "
        f"19 in 20 under {found[int(0.95 * len(found)) - 1]:.0f} ms, longest {found[-1]:.0f} ms"
    )
