"""The picture page in a browser: it draws, fits, answers taps, and asks for nothing from anywhere."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SIZES = {"phone": (412, 915), "desk": (1280, 800)}


class Watched:
    """An open page, with everything it complained of or asked for."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.complaints: list[str] = []
        self.asked: list[str] = []
        page.on(
            "console", lambda m: self.complaints.append(m.text) if m.type in {"error", "warning"} else None
        )
        page.on("pageerror", lambda e: self.complaints.append(str(e)))
        page.on("request", lambda r: self.asked.append(r.url))


@pytest.fixture(params=SIZES)
def watched(browser: Browser, page_file: Path, request: pytest.FixtureRequest) -> Iterator[Watched]:
    """The page opened at one size, the network away."""
    width, height = SIZES[request.param]
    context = browser.new_context(
        viewport={"width": width, "height": height}, has_touch=request.param == "phone", offline=True
    )
    found = Watched(context.new_page())
    found.page.goto(page_file.as_uri())
    yield found
    context.close()


def test_opens_without_complaint_and_asks_for_nothing_else(watched: Watched, page_file: Path) -> None:
    watched.page.evaluate("new Promise((done) => requestIdleCallback(done))")  # nothing left to do
    assert watched.complaints == []
    assert [url for url in watched.asked if not url.startswith("data:")] == [page_file.as_uri()]


def test_fits_its_width(watched: Watched) -> None:
    wide, window = watched.page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    assert wide <= window


def test_draws_the_three_pictures(watched: Watched) -> None:
    pictures = watched.page.locator("svg")
    assert pictures.count() >= 3, "plan, along the line, section"
    for picture in pictures.all()[:2]:
        box = picture.bounding_box()
        assert box is not None
        assert box["width"] > 200
        assert box["height"] > 80


def test_says_it_in_words(watched: Watched) -> None:
    text = watched.page.inner_text("body")
    assert "19 times in 20" in text
    assert "second line" in text.lower()
    assert re.search(r"\d+ ft \d+ in", text), "the example is shown in feet and inches"


def test_the_page_has_a_title_and_a_language(watched: Watched) -> None:
    assert watched.page.title()
    assert watched.page.get_attribute("html", "lang") == "en"


def test_no_text_is_too_small_to_read(watched: Watched) -> None:
    small = watched.page.evaluate(
        """[...document.querySelectorAll('body *')]
             .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())
                          && !e.closest('svg') && e.offsetParent !== null
                          && parseFloat(getComputedStyle(e).fontSize) < 12)
             .map(e => e.tagName + ': ' + e.textContent.slice(0, 40))"""
    )
    assert small == []
