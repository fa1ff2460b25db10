"""Every screen by day and by night: one heading, words that can be read, targets that a glove hits."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from .conftest import SIZES, Server, device

pytestmark = pytest.mark.browser

#: Heading of every screen, and of each question of the reading sheet.
OWN = {
    "": "Today", "new": "New job", "bring": "Bring in", "set": "This device", "paper": "Paper sheet",
}  # fmt: skip
NOWHERE = "Not here"
OF_JOB = {
    "": "Invented: electric service", "ticket": "Ticket", "read": "Reading", "read/7": "Reading 7",
    "read/7/null": "Reading 7", "read/7/depth": "Reading 7", "read/7/raise": "Reading 7",
    "read/7/current": "Reading 7", "read/7/halves": "Reading 7", "read/7/bearing": "Reading 7",
    "read/7/place": "Reading 7", "read/7/line": "Reading 7", "read/7/time": "Reading 7",
    "read/7/note": "Reading 7", "walk": "Walk across", "side": "From the side", "hole": "Test hole",
    "sonde": "Sonde", "site": "Site", "section": "Section", "along": "Along the line", "which": "Which line?",
    "plan": "Hook-up plan", "sweep": "Sweep", "sweep/new": "Sweep, pass", "clearance": "Clearance check",
    "guide": "What do I do now?", "guide/connect": "", "handover": "Handover", "handover/marks": "",
    "handover/files": "", "handover/told": "", "handover/said": "", "handover/readings": "",
}  # fmt: skip

#: What is wrong with a screen, in words; contrast by WCAG 2.2: relative luminance of text and what is behind.
FAULTS = """() => {
  const part = (x) => (x / 255 <= .04045 ? x / 255 / 12.92 : ((x / 255 + .055) / 1.055) ** 2.4);
  const light = ([r, g, b]) => .2126 * part(r) + .7152 * part(g) + .0722 * part(b);
  const colour = (s) => (s.match(/[\\d.]+/g) ?? [0, 0, 0, 0]).map(Number);
  const behind = (e) => {
    for (let at = e; at; at = at.parentElement) {
      const [r, g, b, a = 1] = colour(getComputedStyle(at).backgroundColor);
      if (a > 0) return light([r, g, b]);
    }
    return 1;
  };
  const seen = (e) => e.checkVisibility({ visibilityProperty: true }) && e.getClientRects().length > 0;
  const told = (e) => `${e.localName}.${e.getAttribute("class") ?? ""} "${e.textContent.slice(0, 40)}"`;
  const faults = [];
  if (document.querySelectorAll("h1").length !== 1) faults.push("not one h1");
  if (document.querySelectorAll("main").length !== 1) faults.push("not one main");
  if (document.documentElement.scrollWidth > innerWidth) faults.push("runs off the side");
  for (const e of document.querySelectorAll("body *")) {
    const words = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (!words || !seen(e) || e.closest("script, style, option, .hidden")) continue;
    const style = getComputedStyle(e), ink = light(colour(e.closest("svg") ? style.fill : style.color));
    const paper = behind(e), ratio = (Math.max(ink, paper) + .05) / (Math.min(ink, paper) + .05);
    if (ratio < 7) faults.push(`contrast ${ratio.toFixed(1)}: ${told(e)}`);
  }
  for (const e of document.querySelectorAll("button, a[href], input, select, textarea, summary")) {
    if (!seen(e) || e.closest(".hidden")) continue;
    const { width, height } = (e.closest("label") ?? e).getBoundingClientRect();
    const least = e.matches(".sheet button, .sheet .button") ? 64 : 44;
    if (width < least - .5 || height < least - .5) faults.push(`${width} by ${height} px: ${told(e)}`);
    const name = e.getAttribute("aria-label") || e.textContent.trim() || [...(e.labels ?? [])].join();
    if (!name) faults.push(`no name: ${e.outerHTML.slice(0, 120)}`);
    if (e.tabIndex !== 0) faults.push(`not reached by keys: ${told(e)}`);
  }
  const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
  if (new Set(ids).size < ids.length) faults.push(`an id twice among ${ids}`);
  return faults;
}"""

#: Once the words stay as they are for a moment: what the server says of a screen comes after its frame.
SETTLED = """() => new Promise((done) => {
  let before = "", tries = 20;
  const look = () => {
    const now = document.body.innerText;
    if (now === before || --tries === 0) return done(true);
    before = now;
    setTimeout(look, 80);
  };
  look();
})"""

#: Whether the screen of this heading is there, with nothing still to come.
THERE = """(heading) => document.querySelector("h1")?.textContent.startsWith(heading)
    && (heading === "Not here" || document.querySelector("h1").textContent !== "Not here")
    && !document.querySelector(".loading") && document.querySelector("main")?.innerText.trim()"""


def faults(page: Page, screens: dict[str, str]) -> dict[str, Any]:
    """What is wrong on each of these screens, by address."""
    found: dict[str, Any] = {}
    for address, heading in screens.items():
        page.goto("/#/nowhere")  # so that nothing of the screen before counts
        page.wait_for_function(THERE, arg=NOWHERE)
        page.goto(f"/#/{address}")
        page.wait_for_function(THERE, arg=heading)
        page.evaluate(SETTLED)
        if wrong := page.evaluate(FAULTS):
            found[address] = wrong
    return found


@pytest.mark.parametrize("light", ["light", "dark"])
def test_every_screen_can_be_read_reached_and_hit(light: Any, browser: Browser, alder: Server) -> None:
    screens = OWN | {f"job/alder-lateral/{screen}".rstrip("/"): heading for screen, heading in OF_JOB.items()}
    with device(browser, alder.url, SIZES["phone"], color_scheme=light, service_workers="block") as page:
        wrong: list[str] = []
        page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
        page.goto("/")
        page.wait_for_function(THERE, arg="Today")
        dark = page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(0, 0, 0)"
        assert dark == (light == "dark")
        assert faults(page, screens) == {}
        assert [text for text in wrong if "404" not in text] == []  # no receiver is connected: no position


def test_the_screens_of_a_job_with_nothing_in_it_teach(browser: Browser, alder: Server) -> None:
    with device(browser, alder.url, SIZES["phone"], service_workers="block") as page:
        page.goto("/#/new")
        page.get_by_role("button", name="Emergency").tap()
        page.wait_for_url("**/job/*/read")
        job = page.url.split("/job/")[1].split("/")[0]
        screens = [screen for screen in OF_JOB if screen and not screen.startswith(("read/", "guide/"))]
        assert faults(page, {f"job/{job}/{screen}": "" for screen in screens}) == {}
