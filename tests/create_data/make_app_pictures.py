"""Make docs/app-answer.png, docs/app-section.png and docs/app-site.png: screens at phone size.

    PYTHONPATH=src python tests/create_data/make_app_pictures.py

Needs Chromium and the built page (`sh tools/page.sh build`). The job is invented, and its ticket is made to
run for two weeks more: one that ran out says so above everything else.
"""

from __future__ import annotations

import io
import re
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from datetime import datetime, timedelta
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
PORT = 8913
AT = f"http://127.0.0.1:{PORT}"
JOB = "alder-lateral"
SCREENS = {"answer": f"job/{JOB}", "section": f"job/{JOB}/section/E1/9", "site": f"job/{JOB}/site"}
DAYS = {"may_dig_from": 1, "due_at": 1, "expires_at": 14}


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = f"sqlite:///{folder}/journal.db"
        job = job_with_days_left(Path(folder) / JOB)
        serve = [*("serve", "--port", str(PORT)), *("--store", store), *("--open", str(job))]
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


def job_with_days_left(folder: Path) -> Path:
    """A copy of the example whose ticket has not run out."""
    shutil.copytree(ROOT / "examples" / JOB, folder)
    file = folder / "job.toml"
    text = file.read_text(encoding="utf-8")
    for key, days in DAYS.items():
        day = (datetime.now() + timedelta(days=days)).date().isoformat()
        text = re.sub(rf'^{key} = "\d{{4}}-\d\d-\d\d', f'{key} = "{day}', text, flags=re.MULTILINE)
    file.write_text(text, encoding="utf-8")
    owners = folder / "owners.csv"
    owners.write_text(owners.read_text(encoding="utf-8").replace("2024-05-22", day), encoding="utf-8")
    return folder


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
    """One screen, its colours counted down so that the file stays small, those of the colour code kept."""
    page.goto(f"{AT}/#/{route}")
    page.locator(".answer").first.wait_for()
    page.wait_for_timeout(1500)
    shot = Image.open(io.BytesIO(page.screenshot()))
    shot.convert("RGB").quantize(200, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE).save(
        path, optimize=True
    )
    print(f"{path.name}: {path.stat().st_size // 1000} kB")


if __name__ == "__main__":
    main()
