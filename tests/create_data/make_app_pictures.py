"""Make docs/app-answer.png and docs/app-section.png: two screens of the field app at phone size.

    PYTHONPATH=src python tests/create_data/make_app_pictures.py

Needs Chromium and the built page (`sh tools/page.sh build`). The job is invented.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
PORT = 8913
AT = f"http://127.0.0.1:{PORT}"
JOB = "alder-lateral"
SCREENS = {"answer": f"job/{JOB}", "section": f"job/{JOB}/section/E1/9"}


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = f"sqlite:///{folder}/journal.db"
        serve = [*("serve", "--port", str(PORT)), *("--store", store), *("--open", f"examples/{JOB}")]
        server = subprocess.Popen([sys.executable, "-m", "plumbmark", *serve], cwd=ROOT)
        try:
            wait_for_the_answer()
            with sync_playwright() as play:
                browser = play.chromium.launch(
                    executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-gpu"]
                )
                page = browser.new_page(viewport={"width": 412, "height": 860}, device_scale_factor=2)
                for name, route in SCREENS.items():
                    picture(page, route, ROOT / "docs" / f"app-{name}.png")
                browser.close()
        finally:
            server.terminate()
            server.wait()


def wait_for_the_answer() -> None:
    """Until the job is answered, a minute at most."""
    for _ in range(240):
        try:
            with urllib.request.urlopen(f"{AT}/api/jobs/{JOB}/answer", timeout=5) as answer:
                if b'"state":"answered"' in answer.read():
                    return
        except OSError:
            pass
        time.sleep(0.25)
    raise SystemExit("the job was not answered within a minute")


def picture(page: Page, route: str, path: Path) -> None:
    """One screen, its colours counted down so that the file stays small."""
    page.goto(f"{AT}/#/{route}")
    page.locator(".answer").first.wait_for()
    page.wait_for_timeout(1500)
    shot = Image.open(io.BytesIO(page.screenshot()))
    shot.convert("RGB").quantize(64).save(path, optimize=True)
    print(f"{path.name}: {path.stat().st_size // 1000} kB")


if __name__ == "__main__":
    main()
