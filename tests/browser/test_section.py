"""Section, along the line and which line in a browser: the example site answered, and the server gone."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Browser, Locator, Page, Route, ViewportSize, expect

from plumbmark.handover import words
from plumbmark.inference.identity import EVIDENCE_WORDS

from .conftest import ROOT, Server, device, eventually

SIZES: dict[str, ViewportSize] = {
    "phone": {"width": 360, "height": 740},
    "tablet": {"width": 1024, "height": 768},
}
JOB = "/#/job/alder-lateral"
BOTH = pytest.mark.parametrize("page", SIZES, indirect=True)
pytestmark = pytest.mark.browser


@pytest.fixture
def page(request: pytest.FixtureRequest, browser: Browser, alder: Server) -> Iterator[Page]:
    """A device of its own."""
    with device(browser, alder.url, SIZES[getattr(request, "param", "phone")]) as opened:
        yield opened


def middle(at: Locator) -> tuple[float, float]:
    box = at.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def tap(drawing: Locator, x: float, y: float) -> None:
    """Tap at a place of the window that lies in a drawing."""
    drawing.evaluate(
        "(svg, at) => svg.dispatchEvent(new MouseEvent('click', { bubbles: true, ...at }))",
        {"clientX": x, "clientY": y},
    )


@BOTH
def test_a_section_is_to_scale_and_says_what_the_server_says(page: Page, alder: Server) -> None:
    line = alder.screen("section")["lines"][0]
    section = line["sections"][2]
    page.goto(f"{JOB}/section/{line['line']}/{section['id']}")
    expect(page.locator(".answer")).to_have_text(section["says"])
    drawing = page.locator("svg.drawing")
    mark, found = middle(drawing.locator(".mark")), middle(drawing.locator("circle.line"))
    ground = middle(drawing.locator(".ground"))[1]
    down = (found[1] - ground) / section["depth_m"]["value"]
    second = section["seconds"][0]
    beside = middle(drawing.locator(".second circle").first)
    across = (beside[0] - found[0]) / (second["aside_m"]["value"] - section["aside_m"]["value"])
    assert across == pytest.approx(down, rel=0.03), "another scale across than down"
    assert found[0] - mark[0] == pytest.approx(down * section["aside_m"]["value"], abs=2.0)


def test_what_is_tapped_in_a_section_gives_its_number_and_its_source(page: Page, alder: Server) -> None:
    line = alder.screen("section")["lines"][0]
    section = line["sections"][2]
    page.goto(f"{JOB}/section/{line['line']}/{section['id']}")
    drawing, picked = page.locator("svg.drawing"), page.locator(".picked")
    tap(drawing, *middle(drawing.locator("circle.line")))
    expect(picked).to_contain_text(words_of(section, "depth to the middle"))
    expect(picked).to_contain_text(f"computed from the readings of {line['line']}, an estimate")
    expect(picked).to_be_in_viewport()
    tap(drawing, *middle(drawing.locator(".mark")))
    row = next(t["source"] for t in section["told"] if t["source"].startswith("readings.csv"))
    expect(picked).to_contain_text(row.rsplit(" ", 1)[0])
    for each in section["told"]:
        expect(page.locator(".numbers").last).to_contain_text(each["words"])
        expect(page.locator(".numbers").last).to_contain_text(each["source"])


def words_of(section: Any, name: str) -> str:
    return str(next(t["words"] for t in section["told"] if t["name"] == name))


def test_the_next_and_the_last_place_are_one_tap_away(page: Page, alder: Server) -> None:
    line = alder.screen("section")["lines"][0]
    first, second = (each["id"] for each in line["sections"][:2])
    page.goto(f"{JOB}/section/{line['line']}/{first}")
    steps = page.get_by_role("navigation", name="Places along the line")
    expect(steps.get_by_role("link")).to_have_count(1)
    steps.get_by_role("link", name=f"Reading {second}").tap()
    expect(page.locator("h1")).to_have_text(f"Section, reading {second}")
    expect(page.locator(".answer")).to_have_text(line["sections"][1]["says"])
    steps.get_by_role("link", name=f"Reading {first}").tap()
    expect(page.locator(".answer")).to_have_text(line["sections"][0]["says"])


def test_a_section_with_nothing_asked_opens_where_least_can_be_leaned_on(page: Page, alder: Server) -> None:
    screen = alder.screen("section")
    page.goto(f"{JOB}/section")
    expect(page.locator("h1")).to_have_text(f"Section, reading {screen['station']}")


def test_of_many_places_those_further_on_are_asked_for_when_they_are_near(page: Page, alder: Server) -> None:
    """The server gives sections about one place only; here about five of eleven."""
    whole = alder.shown("section")
    (line,) = whole["screen"]["lines"]
    every = line["sections"]
    ids = [each["id"] for each in every]

    def about(route: Route) -> None:
        station = parse_qs(urlsplit(route.request.url).query).get("station", [ids[5]])[0]
        first = max(0, min(ids.index(station) - 2, len(every) - 5))
        shown = line | {"sections": every[first : first + 5]}
        told = {"station": station, "lines": [shown], "left_out": "5 of 11 places are here."}
        route.fulfill(json=whole | {"screen": whole["screen"] | told})

    page.route("**/screens/section*", about)
    page.goto(f"{JOB}/section")
    steps = page.get_by_role("navigation", name="Places along the line")
    for ident in ids[6:]:
        steps.get_by_role("link").last.tap()
        expect(page.locator("h1")).to_have_text(f"Section, reading {ident}")
        if ident != ids[-1]:
            expect(steps.get_by_role("link")).to_have_count(2)
    page.goto(f"{JOB}/section/{line['line']}/{ids[0]}")
    expect(page.locator("h1")).to_have_text(f"Section, reading {ids[0]}")


@BOTH
def test_lines_that_may_be_swapped_are_the_answer_along_the_line(page: Page, alder: Server) -> None:
    shown = alder.shown("along")
    line = shown["screen"]["lines"][0]
    before, after = line["places"][3:5]
    said = f"You may have swapped lines between readings {before['id']} and {after['id']}."
    swap = {"before": before["id"], "after": after["id"], "words": f"{said} Go back to {before['id']}."}
    line["swaps"] = [swap | {"from_m": before["chainage_m"], "to_m": after["chainage_m"]}]
    line["says"] = [swap["words"], *line["says"]]
    page.route("**/screens/along", lambda route: route.fulfill(json=shown))
    page.goto(f"{JOB}/along")
    expect(page.locator(".answer")).to_have_text(said)
    expect(page.locator("svg .swap")).to_have_count(1)
    # nothing is drawn across: two stretches of depth and two of current
    expect(page.locator("svg .around")).to_have_count(4)
    expect(page.get_by_role("link", name=f"readings {before['id']} and {after['id']}")).to_be_visible()


def test_a_tap_along_the_line_opens_the_nearest_place(page: Page, alder: Server) -> None:
    line = alder.screen("along")["lines"][0]
    page.goto(f"{JOB}/along/{line['line']}")
    drawing = page.locator("svg.drawing")
    x, y = middle(drawing.locator(".dot").nth(2))
    tap(drawing, x + 3.0, y - 20.0)
    place = line["places"][2]
    expect(page.locator(".picked")).to_contain_text(f"Reading {place['id']}")
    for told in place["told"]:
        expect(page.locator(".picked")).to_contain_text(told["words"])
    page.locator(".picked").get_by_role("link", name="Section").tap()
    expect(page.locator("h1")).to_have_text(f"Section, reading {place['id']}")


def test_currents_stand_on_a_log_axis(page: Page, alder: Server) -> None:
    line = alder.screen("along")["lines"][0]
    page.goto(f"{JOB}/along/{line['line']}")
    dots = page.locator("svg .dot")
    count = len(line["places"])
    expect(dots).to_have_count(2 * count)
    ends = [(middle(dots.nth(count + i))[1], line["places"][i]["current_ma"]["value"]) for i in range(count)]
    ends.sort(key=lambda end: end[1])
    (low, weakest), (high, strongest) = ends[0], ends[-1]
    ticks = page.locator("svg .axes text").all_text_contents()
    tens = [float(t) for t in ticks if re.fullmatch(r"[0-9.]+", t) and float(t) > 0]
    at = {t: middle(page.locator("svg .axes text", has_text=re.compile(f"^{t:g}$")))[1] for t in tens}
    (a, ya), (b, yb) = sorted(at.items())[0], sorted(at.items())[-1]
    per_decade = (ya - yb) / math.log10(b / a)
    assert (low - high) == pytest.approx(per_decade * math.log10(strongest / weakest), abs=3.0)


def test_the_table_tells_the_drawing_once_more(page: Page, alder: Server) -> None:
    line = alder.screen("along")["lines"][0]
    page.goto(f"{JOB}/along/{line['line']}")
    table = page.get_by_role("table")
    expect(table.get_by_role("row")).to_have_count(1 + len(line["places"]))
    for i, place in enumerate(line["places"], 1):
        row = table.get_by_role("row").nth(i)
        expect(row.get_by_role("rowheader")).to_have_text(f"Reading {place['id']}")
        current = next(t["words"] for t in place["told"] if t["name"] == "current")
        expect(row).to_contain_text(current)
        expect(row).to_contain_text(place["trust"])


@pytest.fixture(scope="module")
def copied(alder: Server) -> str:
    """A job with all that the example site has, answered; what a test writes down it takes back."""
    job = alder.copy_of_alder()
    alder.answer(job)
    return job


def of_e1(server: Server, job: str) -> Any:
    """What is told of line E1 on the screen which line it is, of an older state of the job perhaps."""
    lines = server.get(f"/api/jobs/{job}/screens/which-line")["screen"]["lines"]
    return next(each for each in lines if each["line"] == "E1")


def test_a_check_that_agreed_becomes_evidence_and_can_be_taken_back(
    page: Page, alder: Server, copied: str
) -> None:
    line = of_e1(alder, copied)
    check = next(each for each in [*line["checks"], *line["longer"]] if each["evidence"] == "exposed")
    page.goto(f"/#/job/{copied}/which/E1")
    expect(page.locator(".answer")).to_have_text(line["headline"])
    card = page.locator(".check", has_text=check["words"])
    card.get_by_role("button", name="It is not").tap()
    expect(card.get_by_role("status")).to_contain_text("paint nothing more as E1")
    card.get_by_role("button", name="Seen: it is this line").tap()
    seen = words.sentence(EVIDENCE_WORDS["exposed"])
    expect(page.locator(".evidence", has_text=seen)).to_be_visible()
    expect(page.locator(".check", has_text=check["words"])).to_have_count(0)
    eventually(lambda: seen in of_e1(alder, copied)["evidence"], "the evidence on the server")
    page.get_by_role("button", name=f"Not so, take it back: {seen}").tap()
    expect(page.locator(".evidence", has_text=seen)).to_have_count(0)
    eventually(lambda: of_e1(alder, copied)["evidence"] == line["evidence"], "no such evidence on the server")


def test_a_check_that_leaves_no_evidence_is_ticked_and_asked_no_more(
    page: Page, alder: Server, copied: str
) -> None:
    line = of_e1(alder, copied)
    check = next(each for each in [*line["checks"], *line["longer"]] if each["evidence"] is None)
    page.goto(f"/#/job/{copied}/which/E1")
    page.locator(".check", has_text=check["words"]).get_by_role("button", name="It agreed").tap()
    expect(page.locator(".check", has_text=check["words"])).to_have_count(0)
    page.locator(".done", has_text=check["words"]).get_by_role("button", name="Take it back").tap()
    expect(page.locator(".check", has_text=check["words"])).to_be_visible()


def test_with_the_server_gone_what_was_seen_is_shown_with_its_time(page: Page, alder: Server) -> None:
    page.goto(f"{JOB}/section")
    page.locator(".answer").wait_for()
    says = page.locator(".answer").inner_text()
    page.goto(f"{JOB}/along")
    page.locator("svg.drawing").wait_for()
    page.evaluate("navigator.serviceWorker.ready")
    page.context.set_offline(True)
    page.reload()
    expect(page.locator("svg.drawing")).to_be_visible()
    expect(page.get_by_text("the server is not reached now")).to_be_visible()
    page.goto(f"{JOB}/section")
    expect(page.locator(".answer")).to_have_text(says)
    page.goto(f"{JOB}/which")
    expect(page.get_by_text("Not seen on this device yet")).to_be_visible()


def test_print_is_black_on_white_with_its_table_on_a_phone_set_to_night(page: Page, alder: Server) -> None:
    page.emulate_media(color_scheme="dark")
    page.goto(f"{JOB}/along")
    table = page.get_by_role("table")
    table.wait_for(state="attached")
    ground = "getComputedStyle(document.body).backgroundColor"
    assert page.evaluate(ground) == "rgb(0, 0, 0)"
    assert table.locator("xpath=..").bounding_box()["width"] <= 1  # type: ignore[index]
    page.emulate_media(media="print", color_scheme="dark")
    assert page.evaluate(ground) == "rgb(255, 255, 255)"
    assert table.locator("xpath=..").bounding_box()["width"] > 200  # type: ignore[index]


@BOTH
@pytest.mark.parametrize("screen", ["section", "along", "which"])
def test_targets_are_large_enough_and_nothing_runs_off_the_side(page: Page, screen: str) -> None:
    page.goto(f"{JOB}/{screen}")
    page.locator(".answer").wait_for()
    low = page.evaluate(
        """[...document.querySelectorAll("button, .button, .back, .row-link")]
            .filter((each) => {
                const { width, height } = each.getBoundingClientRect();
                return width < 44 || height < 44;
            }).map((each) => each.outerHTML)"""
    )
    assert low == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    small = page.evaluate(
        """[...document.querySelectorAll("svg.drawing text")].filter((each) => {
            const svg = each.ownerSVGElement;
            const shown = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
            return shown * parseFloat(getComputedStyle(each).fontSize) < 14;
        }).map((each) => each.textContent)"""
    )
    assert small == []


def test_the_page_says_evidence_as_the_answer_does() -> None:
    source = (ROOT / "browser" / "src" / "draw" / "evidence.ts").read_text()
    for evidence, said in EVIDENCE_WORDS.items():
        assert re.search(rf'"?{evidence.value}"?: "{re.escape(words.sentence(said))}"', source)
