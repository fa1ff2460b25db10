"""The field app in a browser: from nothing to a job in two taps, with the server gone, and back again."""

from __future__ import annotations

import gzip
import json
import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

ROOT = Path(__file__).resolve().parents[2]
STATIC = ROOT / "src" / "plumbmark" / "web" / "static"
SIZES = {"phone": {"width": 412, "height": 915}, "tablet": {"width": 1024, "height": 768}}
pytestmark = pytest.mark.browser


class Server:
    """`plumbmark serve` on a port of its own, to be stopped and started again on the same store."""

    def __init__(self, store: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.store = store
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        serve = ["serve", "--port", str(self.port), "--store", f"sqlite:///{self.store}"]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "plumbmark", *serve],
            env=os.environ | {"PYTHONPATH": str(ROOT / "src")},
            stdout=subprocess.DEVNULL,
        )
        until = time.monotonic() + 60
        while time.monotonic() < until:
            assert self.process.poll() is None, "the server ended"
            try:
                self.get("/api/version")
            except (OSError, urllib.error.URLError):
                time.sleep(0.1)
            else:
                return
        pytest.fail("the server does not answer")

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(20)
            self.process = None

    def get(self, path: str) -> Any:
        with urllib.request.urlopen(self.url + path, timeout=5) as answer:
            return json.load(answer)

    def facts(self) -> list[dict[str, Any]]:
        return [row["fact"] for row in self.get("/api/facts?after=0&limit=1000")["facts"]]

    def facts_after(self, before: int, count: int) -> list[dict[str, Any]]:
        """Facts that came in after the first `before`, as soon as there are `count` of them."""
        until = time.monotonic() + 20
        while len(found := self.facts()[before:]) < count and time.monotonic() < until:
            time.sleep(0.05)
        return found


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    assert (STATIC / "index.html").is_file(), "the page is not built: sh tools/page.sh build"
    held = Server(tmp_path_factory.mktemp("store") / "journal.db")
    held.start()
    yield held
    held.stop()


@pytest.fixture
def page(request: pytest.FixtureRequest, browser: Browser, server: Server) -> Iterator[Page]:
    """A device of its own, whose page may ask nobody but the server, and makes no error."""
    size = SIZES[getattr(request, "param", "phone")]
    context = browser.new_context(viewport=size, has_touch=True, base_url=server.url)
    opened = context.new_page()
    wrong: list[str] = []
    asked: list[str] = []
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("request", lambda sent: asked.append(sent.url))
    opened.goto("/")
    yield opened
    context.close()
    assert wrong == []
    assert [url for url in asked if not url.startswith((server.url, "data:", "blob:"))] == []


@pytest.mark.parametrize("page", sorted(SIZES), indirect=True)
def test_the_first_question_of_an_emergency_is_two_taps_away(page: Page, server: Server) -> None:
    before = len(server.facts())
    page.get_by_role("link", name="New job").tap()
    page.get_by_role("button", name="Emergency").tap()
    page.wait_for_url("**/job/*/read")
    sent = server.facts_after(before, 2)
    assert [fact["payload"]["keys"].get("emergency") for fact in sent] == [None, True]
    assert all(fact["job"] in page.url for fact in sent)
    expect(page.locator(".state")).to_be_hidden()


def test_what_is_written_down_carries_the_name_as_it_was_typed(page: Page, server: Server) -> None:
    before = len(server.facts())
    page.get_by_role("link", name="This device").tap()
    page.get_by_label("Your name").press_sequentially("R. Vale of the north crew")
    page.get_by_role("button", name="Metres").tap()
    page.goto("/#/new")
    page.get_by_role("button", name="Emergency").tap()
    (first, _) = server.facts_after(before, 2)
    assert (first["by"], first["payload"]["keys"]["display_units"]) == ("R. Vale of the north crew", "m")


def emergency_of_another_device(browser: Browser, server: Server) -> str:
    before = len(server.facts())
    with browser.new_context(base_url=server.url) as context:
        page = context.new_page()
        page.goto("/#/new")
        page.get_by_role("button", name="Emergency").click()
        (first, _) = server.facts_after(before, 2)
    return str(first["job"])


#: Whether this device keeps the JSON of an address.
IS_KEPT = """(path) => new Promise((done) => {
    const asked = indexedDB.open("plumbmark");
    asked.onsuccess = () => {
        const found = asked.result.transaction("screens").objectStore("screens").count(path);
        found.onsuccess = () => { asked.result.close(); done(found.result); };
    };
})"""


def test_with_the_server_gone_the_page_opens_and_entries_wait_and_are_sent_once(
    page: Page, browser: Browser, server: Server
) -> None:
    page.evaluate("navigator.serviceWorker.ready")
    job = emergency_of_another_device(browser, server)
    before = len(server.facts())
    page.reload()
    until = time.monotonic() + 20
    while not page.evaluate(IS_KEPT, f"/api/jobs/{job}/answer"):  # though it was never opened here
        assert time.monotonic() < until
    server.stop()
    try:
        page.goto(f"/#/job/{job}")
        expect(page.get_by_text("As of ")).to_be_visible()
        page.goto("/#/")
        page.reload()
        expect(page.get_by_role("heading", name="Today")).to_be_visible()
        page.get_by_role("link", name="New job").tap()
        page.get_by_role("button", name="write down the ticket").tap()
        page.get_by_label("Where").fill("Alder Street 17")
        page.get_by_role("button", name="Make the job").tap()
        page.get_by_role("button", name="Add an owner").tap()
        page.get_by_label("Name of the owner").fill("North Gas")
        page.get_by_role("button", name="gas", exact=True).tap()
        page.get_by_role("button", name="Could not locate").tap()
        expect(page.locator(".state")).to_contain_text("4 entries wait on this phone")
        page.reload()
        expect(page.get_by_role("heading", name="Alder Street 17")).to_be_visible()
        expect(page.get_by_text("could not locate", exact=False).first).to_be_visible()
    finally:
        server.start()
    page.evaluate("dispatchEvent(new Event('online'))")
    sent = server.facts_after(before, 4)
    expect(page.locator(".state")).to_be_hidden()
    assert [fact["kind"] for fact in sent] == ["job", "ticket", "entry", "entry"]
    assert [fact["seq"] for fact in sent] == [1, 2, 3, 4]
    assert sent[3]["payload"]["rows"][0]["answer"] == "could not locate"


def test_two_pages_of_one_device_write_one_chain(page: Page, server: Server) -> None:
    other = page.context.new_page()
    other.goto("/")
    before = len(server.facts())
    for at in (page, other, page, other):
        at.bring_to_front()  # a page behind another is drawn once a second
        at.goto("/#/")
        at.get_by_role("link", name="New job").tap()
        at.get_by_role("button", name="Emergency").tap()
        at.wait_for_url("**/job/*/read")
    assert [fact["seq"] for fact in server.facts_after(before, 8)] == list(range(1, 9))


@pytest.mark.parametrize("page", sorted(SIZES), indirect=True)
def test_what_is_touched_is_large_enough_and_nothing_runs_off_the_side(page: Page) -> None:
    for address in ("/#/", "/#/new", "/#/set", "/#/bring"):
        page.goto(address)
        page.locator("h1").wait_for()
        low = page.evaluate(
            """[...document.querySelectorAll("button, .button, .back, input, .row-link")]
                .filter((each) => each.getBoundingClientRect().height < 44).map((each) => each.outerHTML)"""
        )
        assert low == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_all_files_of_the_page_together_stay_small() -> None:
    total = sum(len(gzip.compress(file.read_bytes())) for file in STATIC.rglob("*") if file.is_file())
    assert total < 700_000
