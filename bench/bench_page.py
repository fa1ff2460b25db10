"""How long the first page takes with nothing kept, and how large the page is.

    sh tools/page.sh build && python bench/bench_page.py

A new browser profile each time, nothing in its cache; from asking for the address until the screen's answer
or first question is drawn. The server is `plumbmark serve` with the example job in a new store.
"""

from __future__ import annotations

import gzip
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).resolve().parents[1]
STATIC = ROOT / "src" / "plumbmark" / "web" / "static"
TIMES = 20


def main() -> None:
    """Count and print."""
    files = [file for file in STATIC.rglob("*") if file.is_file()]
    sizes = {file: len(gzip.compress(file.read_bytes())) for file in files}
    print(f"page: {sum(sizes.values()) / 1000:.0f} kB gzipped in {len(files)} files")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        store = [
            "--store",
            f"sqlite:///{folder}/journal.db",
            "--open",
            str(ROOT / "examples" / "alder-lateral"),
        ]
        command = [sys.executable, "-m", "plumbmark", "serve", "--port", str(port), *store]
        server = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        try:
            _wait(f"http://127.0.0.1:{port}/api/version")
            time.sleep(10)  # the example is solved meanwhile
            _count(f"http://127.0.0.1:{port}/")
        finally:
            server.terminate()
            server.wait()


def _wait(address: str) -> None:
    for _ in range(600):
        try:
            urllib.request.urlopen(address, timeout=5).close()
            return
        except OSError:
            time.sleep(0.1)
    raise SystemExit("the server does not answer")


def _count(address: str) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        for name, path in (
            ("first page", ""),
            ("a job", "#/job/alder-lateral"),
            ("its reading sheet", "#/job/alder-lateral/read"),
        ):
            taken = sorted(_opened(browser, address + path) for _ in range(TIMES))
            print(f"{name}: median {statistics.median(taken):.2f} s, longest of {TIMES} {taken[-1]:.2f} s")
        browser.close()


def _opened(browser: Browser, address: str) -> float:
    context = browser.new_context(viewport={"width": 412, "height": 915})
    page = context.new_page()
    began = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.wait_for_selector("main h2, main .answer, main button")
    taken = time.perf_counter() - began
    context.close()
    return taken


if __name__ == "__main__":
    main()
