"""The field app in a browser: from nothing to a job in two taps, with the server gone, and back again."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from .conftest import SIZES, Server, device, eventually

pytestmark = pytest.mark.browser


@pytest.fixture
def page(request: pytest.FixtureRequest, browser: Browser, server: Server) -> Iterator[Page]:
    """A device of its own."""
    with device(browser, server.url, SIZES[getattr(request, "param", "phone")]) as opened:
        opened.goto("/")
        yield opened


@pytest.mark.parametrize("page", sorted(SIZES), indirect=True)
def test_the_first_question_of_an_emergency_is_two_taps_away(page: Page, server: Server) -> None:
    before = len(server.facts())
    page.get_by_role("link", name="New job").tap()
    page.get_by_role("button", name="Emergency").tap()
    page.wait_for_url("**/job/*/read")
    sent = server.sent(after=before, count=2)
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
    (first, _) = server.sent(after=before, count=2)
    assert (first["by"], first["payload"]["keys"]["display_units"]) == ("R. Vale of the north crew", "m")


def test_nothing_moves_from_under_a_finger_when_the_connection_goes(page: Page) -> None:
    page.goto("/#/new")
    emergency = page.get_by_role("button", name="Emergency")
    before = emergency.bounding_box()
    page.context.route("**/api/**", lambda route: route.abort())
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator(".state")).to_have_text("No connection.")
    assert emergency.bounding_box() == before


def emergency_of_another_device(browser: Browser, server: Server) -> str:
    before = len(server.facts())
    with browser.new_context(base_url=server.url) as context:
        page = context.new_page()
        page.goto("/#/new")
        page.get_by_role("button", name="Emergency").click()
        (first, _) = server.sent(after=before, count=2)
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
    browser: Browser, mortal: Server
) -> None:
    with device(browser, mortal.url, SIZES["phone"]) as page:
        page.goto("/")
        page.evaluate("navigator.serviceWorker.ready")
        job = emergency_of_another_device(browser, mortal)
        before = len(mortal.facts())
        page.reload()
        kept = f"/api/jobs/{job}/answer"  # though it was never opened here
        eventually(lambda: page.evaluate(IS_KEPT, kept), "the job on this device")
        with mortal.gone():
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
        page.evaluate("dispatchEvent(new Event('online'))")
        sent = mortal.sent(after=before, count=4)
        expect(page.locator(".state")).to_be_hidden()
        assert mortal.facts()[before:] == sent
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
    assert [fact["seq"] for fact in server.sent(after=before, count=8)] == list(range(1, 9))


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


def test_all_files_of_the_page_together_stay_small(static: Path) -> None:
    total = sum(len(gzip.compress(file.read_bytes())) for file in static.rglob("*") if file.is_file())
    assert total < 700_000
