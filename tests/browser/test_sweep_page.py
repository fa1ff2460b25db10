"""The page of a sweep in a browser: it draws, fits, complains of nothing and asks for nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from plumbmark.exchange.jobfolder import read_job
from plumbmark.handover.sweep_page import sweep_page
from plumbmark.planning.sweep import sweep_job

pytestmark = [pytest.mark.browser, pytest.mark.slow]

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("size", [(412, 915), (1280, 800)])
def test_the_page_of_the_example(browser: Browser, tmp_path: Path, size: tuple[int, int]) -> None:
    job, _ = read_job(ROOT / "examples" / "alder-lateral", to_solve=False)
    assert job is not None
    file = tmp_path / "sweep.html"
    file.write_text(sweep_page(job, sweep_job(job)), encoding="utf-8")
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, offline=True)
    page = context.new_page()
    complaints: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    assert complaints == []
    assert asked == [file.as_uri()]
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    assert page.locator("h2.answer").inner_text().startswith("Pass power-left met a signal")
    for picture in page.locator("svg.sweep").all():
        box = picture.bounding_box()
        assert box is not None
        assert box["width"] > 300
        assert box["height"] > 150
    assert page.locator("svg path.gap").count() > 0
    context.close()
