"""The HTML report in a browser: it fits a phone and a desk, complains of nothing, asks for nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from .conftest import ALDER, command

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SIZES = {"phone": (412, 915), "desk": (1280, 800)}


@pytest.fixture(scope="session")
def report_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The crew's report of the example site, with a photograph."""
    from PIL import Image

    folder = tmp_path_factory.mktemp("report")
    job = folder / "job"
    job.mkdir()
    for path in ALDER.iterdir():
        (job / path.name).write_bytes(path.read_bytes())
    (job / "photos").mkdir()
    Image.new("RGB", (640, 480), (120, 140, 90)).save(job / "photos" / "gate.jpg")
    made = folder / "report.html"
    command("report", str(job), "--html", str(made))
    return made


@pytest.mark.parametrize("size", SIZES)
def test_the_report_opens_and_fits(browser: Browser, report_file: Path, size: str) -> None:
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height}, offline=True)
    page = context.new_page()
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda m: said.append(m.text) if m.type in {"error", "warning"} else None)
    page.on("pageerror", lambda e: said.append(str(e)))
    page.on("request", lambda r: asked.append(r.url))
    page.goto(report_file.as_uri())
    assert said == []
    assert [url for url in asked if not url.startswith("data:")] == [report_file.as_uri()]
    wide, window = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    assert wide <= window
    assert page.locator("script").count() == 0
    for picture in page.locator("figure svg, figure img").all():
        box = picture.bounding_box()
        assert box is not None
        assert box["width"] > 100
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= window + 1
    loaded = page.evaluate("[...document.images].every(image => image.complete && image.naturalWidth > 0)")
    assert loaded
    # A label is at least as large as it is on paper, where there is room.
    if size == "desk":
        label = page.locator("svg.drawn text").first.bounding_box()
        assert label is not None
        assert label["height"] > 8
    context.close()
