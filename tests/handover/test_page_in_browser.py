"""The picture page under fingers and keys: sections, enlarging, contrast, sizes of targets."""

from __future__ import annotations

import os
import re
import shutil

import pytest

from plumbmark.handover.page import write_page

pytestmark = [pytest.mark.browser, pytest.mark.slow]
sync_api = pytest.importorskip("playwright.sync_api")

# Contrast as WCAG 2.2 defines it: relative luminance of text against the page.
CONTRAST = """() => {
  const part = (x) => (x / 255 <= .04045 ? x / 255 / 12.92 : ((x / 255 + .055) / 1.055) ** 2.4);
  const light = (c) => .2126 * part(c[0]) + .7152 * part(c[1]) + .0722 * part(c[2]);
  const rgb = (s) => s.match(/[\\d.]+/g).slice(0, 3).map(Number);
  const paper = light(rgb(getComputedStyle(document.body).backgroundColor));
  const apart = 'script,style,noscript,option,tr[aria-current] button';
  return [...document.querySelectorAll('body *')]
    .filter((e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()))
    .filter((e) => !e.closest(apart) && e.getClientRects().length)
    .map((e) => {
      const style = getComputedStyle(e), ink = light(rgb(e.closest('svg') ? style.fill : style.color));
      return [(Math.max(ink, paper) + .05) / (Math.min(ink, paper) + .05), e.textContent.slice(0, 30)];
    })
    .filter((x) => x[0] < 7);
}"""


@pytest.fixture(scope="module")
def browser():
    """Chromium, headless, no network."""
    program = os.environ.get("PLUMBMARK_CHROMIUM") or shutil.which("chromium")
    if program is None:
        if os.environ.get("CI") == "true":
            pytest.fail("NOT RUN: no Chromium here")
        pytest.skip("NOT RUN: no Chromium here")
    with sync_api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@pytest.fixture(params=[("phone", 412, "light"), ("phone", 412, "dark"), ("desk", 1280, "light")], ids=str)
def page(browser, invented, tmp_path, request):
    """The page of a job of 14 readings, opened; errors of its script fail the test."""
    _, width, scheme = request.param
    file = tmp_path / "page.html"
    file.write_text(write_page(*invented(14)), encoding="utf-8")
    context = browser.new_context(
        viewport={"width": width, "height": 915}, color_scheme=scheme, has_touch=True, offline=True
    )
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("pageerror", lambda e: complaints.append(str(e)))
    opened.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    opened.goto(file.as_uri())
    yield opened
    context.close()
    assert complaints == []


def section(page) -> str:
    return page.inner_text("#section-name")


def test_contrast_is_seven_to_one(page) -> None:
    assert page.evaluate(CONTRAST) == []


def test_targets_are_as_large_as_a_finger(page) -> None:
    for target in page.locator("button:visible, select:visible, summary:visible").all():
        box = target.bounding_box()
        assert box["height"] >= 44
        assert box["width"] >= 44


def test_the_answer_is_the_largest_text(page) -> None:
    sizes = page.evaluate(
        "[...document.querySelectorAll('body *')].filter(e => !e.closest('svg'))"
        ".map(e => parseFloat(getComputedStyle(e).fontSize))"
    )
    answer = page.evaluate("parseFloat(getComputedStyle(document.querySelector('h2.answer')).fontSize)")
    assert answer == max(sizes) == 28
    assert page.evaluate("getComputedStyle(document.body).fontSize") == "17px"


def test_choosing_a_reading_draws_its_section(page) -> None:
    assert section(page) == "Section at reading r01, E1, electric"
    page.select_option("#choose", label="r09")
    assert section(page) == "Section at reading r09, E1, electric"
    assert "Paint at your mark" in page.inner_text("#section-words")
    assert "This holds." in page.inner_text("#section-words")
    page.click("#after")
    assert section(page).startswith("Section at reading r10,")
    page.click("#before")
    assert section(page).startswith("Section at reading r09,")
    assert page.locator("#section svg title").text_content() == "Section at reading r09, E1, electric"


def test_keys_on_the_plan_walk_the_line(page) -> None:
    page.focus("#plan")
    page.keyboard.press("ArrowRight")
    assert section(page).startswith("Section at reading r02,")
    page.keyboard.press("ArrowLeft")
    assert section(page).startswith("Section at reading r01,")


def test_a_tap_on_plan_or_chart_chooses_the_nearest(page) -> None:
    plan = page.locator("#plan").bounding_box()
    page.locator("#plan").click(position={"x": plan["width"] - 30, "y": 60})
    assert section(page).startswith("Section at reading r14,")
    chart = page.locator("svg.along:visible").bounding_box()
    page.locator("svg.along:visible").click(position={"x": chart["width"] * 0.16, "y": 100})
    assert re.match(r"Section at reading r0[12],", section(page))


def test_a_row_of_the_table_opens_its_section(page) -> None:
    page.click("#s6 button")
    assert section(page).startswith("Section at reading r07,")


def test_closer_keeps_the_size_of_labels_and_the_scale_bar_right(page) -> None:
    def bar() -> float:
        """Feet by the bar's label over feet by its length and the plan's scale."""
        return page.evaluate(
            """() => { const p = document.getElementById('plan'), b = document.querySelector('#bar path');
            const said = parseFloat(document.querySelector('#bar text').textContent);
            const perM = JSON.parse(document.getElementById('data').textContent).pxPerM;
            const units = b.getBoundingClientRect().width / p.clientWidth * p.viewBox.baseVal.width;
            return said / (units / perM / .3048); }"""
        )

    def label() -> float:
        return page.evaluate("document.querySelector('#plan .strong text').getBoundingClientRect().height")

    before = label()
    assert bar() == pytest.approx(1, abs=0.03)
    page.click("#closer")
    page.click("#closer")
    assert bar() == pytest.approx(1, abs=0.03)
    assert label() == pytest.approx(before, rel=0.1)
    page.click("#whole")
    assert page.evaluate("document.getElementById('plan').viewBox.baseVal.x") == 0


def test_the_section_is_to_scale(page) -> None:
    """The box of the band is as wide to high as its numbers are."""
    box = page.evaluate(
        "(() => { const r = document.querySelector('#section rect'); "
        "return [+r.getAttribute('width'), +r.getAttribute('height')]; })()"
    )
    first = page.evaluate("JSON.parse(document.getElementById('data').textContent).lines[0].stations[0]")
    wide, high = first["shift"][2] - first["shift"][0], first["depth"][2] - first["depth"][0]
    assert box[0] / box[1] == pytest.approx(wide / high, rel=1e-6)


def test_without_script_the_words_and_the_table_remain(browser, invented, tmp_path) -> None:
    file = tmp_path / "page.html"
    file.write_text(write_page(*invented(5)), encoding="utf-8")
    context = browser.new_context(java_script_enabled=False, viewport={"width": 412, "height": 915})
    opened = context.new_page()
    opened.goto(file.as_uri())
    said = opened.inner_text("body")
    context.close()
    assert "The section is drawn by a script" in said
    assert "Closer" not in said
    assert "2 ft 2 in to 4 ft 2 in" in said
