"""Clearance check, sweep and hook-up plan in a browser: the example site, and the server gone."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from .conftest import SIZES, Server, device

pytestmark = pytest.mark.browser
Screen = Callable[[str], dict[str, Any]]


@pytest.fixture(scope="module")
def job(alder: Server) -> str:
    """A job with all that the example site has, answered and checked; what is written down is taken back."""
    made = alder.copy_of_alder()
    for name in ("clearance", "sweep", "plan"):
        alder.screen(name, made)
    return made


@pytest.fixture
def screen(alder: Server, job: str) -> Screen:
    """A screen of the job as the server has it, once nothing of it is still worked out."""
    return lambda name: alder.screen(name, job)


@pytest.fixture
def home(job: str) -> str:
    """Where the job is in the page."""
    return f"/#/job/{job}"


@pytest.fixture
def page(request: pytest.FixtureRequest, browser: Browser, alder: Server) -> Iterator[Page]:
    """A device of its own."""
    size = SIZES[getattr(request, "param", "phone")]
    with device(browser, alder.url, size, service_workers="block") as opened:
        yield opened


def button(page: Page, name: str) -> None:
    page.get_by_role("button", name=name).first.tap()


def corner_of_dig(drawing: Locator) -> tuple[float, float]:
    """Pixels of the first corner of the dig that is drawn, in the browser's window."""
    first = re.match(r"M([\d.]+) ([\d.]+)", drawing.locator("path.dig").first.get_attribute("d") or "")
    box = drawing.bounding_box()
    assert first is not None
    assert box is not None
    return box["x"] + float(first[1]), box["y"] + float(first[2])


@pytest.mark.parametrize("page", SIZES, indirect=True)
@pytest.mark.parametrize("name", ["clearance", "sweep", "plan"])
def test_it_fits_and_nothing_needs_a_finer_touch(page: Page, home: str, name: str) -> None:
    page.goto(f"{home}/{name}")
    expect(page.locator(".answer").first).to_be_visible()
    page.wait_for_selector("svg.drawing[role=img]")
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth")
    small = page.evaluate(
        "[...document.querySelectorAll('button, a.button, summary')].filter(e => e.offsetParent)"
        ".filter(e => e.getBoundingClientRect().height < 43.5).map(e => e.textContent)"
    )
    assert small == []


def test_what_is_open_stands_before_the_dig_and_nothing_permits_a_machine(
    page: Page, home: str, screen: Screen
) -> None:
    told = screen("clearance")
    page.goto(f"{home}/clearance")
    answer = page.locator(".answer")
    expect(answer).to_have_text(told["digs"][0]["says"])
    first = page.get_by_text(told["unanswered"][0])
    above, below = first.bounding_box(), answer.bounding_box()
    assert above is not None
    assert below is not None
    assert above["y"] < below["y"]
    text = page.locator("main").inner_text()
    assert "Nothing here permits a machine inside a tolerance zone" in text
    page.locator("summary").first.tap()
    for words in told["unanswered"]:
        expect(page.get_by_text(words)).to_be_visible()
    assert not re.search(r"\b(safe|clear to dig|may dig here)\b", text)


def test_each_demand_has_a_hatch_and_words_of_its_own(page: Page, home: str, screen: Screen) -> None:
    told = screen("clearance")
    page.goto(f"{home}/clearance")
    drawing = page.locator("svg.drawing[role=img]")
    expect(drawing).to_be_visible()
    hatches = {s["hatch"] for dig in told["digs"] for s in dig["stretches"]}
    fills = {part.get_attribute("fill") for part in drawing.locator("path.demand").all()}
    assert len(fills) == len(hatches) > 1
    legend = page.get_by_role("list", name="What the hatching demands")
    for hatch, words in (("both ways", "Test hole first"), ("broken", "Not known"), ("one way", "Hand dig")):
        expect(legend.get_by_text(words)).to_have_count(1 if hatch in hatches else 0)


def test_a_test_hole_is_tapped_for_where_and_when_to_stop(page: Page, home: str, screen: Screen) -> None:
    (hole,) = screen("clearance")["holes"]
    page.goto(f"{home}/clearance")
    page.locator("svg.drawing .sign text", has_text="1").tap()
    picked = page.locator(".picked")
    expect(picked).to_contain_text(hole["where"])
    expect(picked).to_contain_text("Stop and call the owner")
    listed = page.get_by_role("region", name="Test holes, in this order")
    for words in hole["words"]:
        expect(listed.get_by_text(words)).to_be_visible()


def test_a_check_is_shown_as_it_was_kept_when_the_server_is_gone(
    page: Page, home: str, screen: Screen
) -> None:
    told = screen("clearance")
    page.goto(f"{home}/clearance")
    expect(page.locator(".answer")).to_have_text(told["digs"][0]["says"])
    page.context.route("**/api/**", lambda route: route.abort())
    page.reload()
    expect(page.locator(".answer")).to_have_text(told["digs"][0]["says"])
    expect(page.get_by_text("the server is not reached now")).to_be_visible()


def test_a_pass_is_two_taps_on_the_ground_and_what_it_met(page: Page, home: str, screen: Screen) -> None:
    before = screen("sweep")
    page.goto(f"{home}/sweep")
    first, _, rest = before["says"].partition(". ")
    expect(page.locator(".answer")).to_have_text(f"{first}.")
    expect(page.get_by_text(rest)).to_be_visible()
    page.get_by_role("link", name="Write down a pass").tap()
    button(page, "Radio")
    drawing = page.locator("svg.drawing")
    x, y = corner_of_dig(drawing)
    page.touchscreen.tap(x, y)
    expect(page.get_by_text("a finger is good to about")).to_be_visible()
    button(page, "Go on")
    expect(page.get_by_role("heading", name="Where did it end?")).to_be_visible()
    page.touchscreen.tap(x - 40, y - 40)
    button(page, "Go on")
    button(page, "Looked, no signal")
    with page.expect_response("**/api/facts") as sent:
        button(page, "Save")
    (fact,) = json.loads(sent.value.request.post_data or "")["facts"]
    first, last = fact["payload"]["rows"]
    assert (fact["payload"]["table"], first["method"], first["signal"]) == (
        "passes",
        "passive-radio",
        "none",
    )
    east, north = before["digs"][0]["ground"][0][0]
    assert float(first["easting_m"]) == pytest.approx(east, abs=0.03)
    assert float(first["northing_m"]) == pytest.approx(north, abs=0.03)
    assert float(last["easting_m"]) < east
    assert float(last["northing_m"]) > north
    assert 0.05 < float(first["position_sigma_m"]) < 1
    expect(page.get_by_role("heading", name="Passes written down")).to_be_visible()
    expect(page.get_by_text("Radio: looked, no signal.")).to_be_visible()
    walked = {m["method"]: m["walked"] for m in before["methods"]}
    assert walked["passive radio"] is False
    after = next(m for m in screen("sweep")["methods"] if m["method"] == "passive radio")
    assert after["walked"]
    expect(page.get_by_text("What is shown is from before")).to_have_count(0)  # the page follows by itself
    page.get_by_role("button", name="Passive radio").tap()
    expect(page.get_by_text(after["says"])).to_be_visible()
    page.get_by_role("link", name="Radio: looked, no signal.").tap()
    button(page, "Take it back")
    expect(page.get_by_text("Radio: looked, no signal.")).to_have_count(0)


def test_a_pass_that_was_told_to_be_walked_has_its_ends_already(
    page: Page, home: str, screen: Screen
) -> None:
    method = next(m for m in screen("sweep")["methods"] if m["method"] == "active")
    page.goto(f"{home}/sweep/new/active/1")
    expect(page.get_by_role("heading", name="What did it meet?")).to_be_visible()
    for end, (east, north) in zip(("from", "to"), method["further"][0]["path"], strict=True):
        name = f"{end} {east:.2f} east, {north:.2f} north"
        expect(page.get_by_role("button", name=name)).to_be_visible()
    expect(page.get_by_role("button", name="Save")).to_be_enabled()


def test_the_walk_once_round_the_dig_is_written_down_corner_by_corner(
    page: Page, home: str, screen: Screen
) -> None:
    (round_,) = screen("sweep")["rounds"]
    page.goto(f"{home}/sweep")
    page.get_by_role("link", name="Walked round 1").tap()
    button(page, "A transmitter of ours")
    button(page, "Only lines that have their mark")
    with page.expect_response("**/api/facts") as sent:
        button(page, "Save")
    (fact,) = json.loads(sent.value.request.post_data or "")["facts"]
    rows = fact["payload"]["rows"]
    assert (rows[0]["method"], rows[0]["signal"]) == ("active", "marked")
    assert [(float(r["easting_m"]), float(r["northing_m"])) for r in rows] == [
        pytest.approx(corner, abs=0.006) for corner in round_["path"]
    ]
    east, north = round_["path"][0]
    written = (
        f"A transmitter of ours: only lines that have their mark. From {east:.2f} east, {north:.2f} north"
    )
    page.get_by_role("link", name=written).tap()
    button(page, "Take it back")


def test_the_ground_is_told_where_it_is_tapped_and_silence_is_not_nothing(
    page: Page, home: str, screen: Screen
) -> None:
    told = screen("sweep")
    page.goto(f"{home}/sweep")
    button(page, "Passive power")
    drawing = page.locator("svg.drawing[role=img]")
    expect(drawing).to_be_visible()
    drawing.scroll_into_view_if_needed()
    x, y = corner_of_dig(drawing)
    page.touchscreen.tap(x, y)
    expect(page.locator(".picked")).to_contain_text("a line here is noticed")
    assert page.locator("svg.drawing[role=img] path.cells").count() >= 1
    text = page.locator("main").inner_text()
    assert "it never means that nothing is there" in text
    for words in (*told["rules_out"], *told["does_not"]):
        assert text.count(words) == 1, words


def test_three_questions_lead_to_one_sentence(page: Page, home: str) -> None:
    page.goto(f"{home}/plan")
    button(page, "Three questions instead of the sketch")
    heights = [b.bounding_box() for b in page.locator(".choice-list button").all()]
    assert all(box is not None and box["height"] >= 64 for box in heights)
    button(page, "Copper pipe")
    button(page, "Nowhere")
    button(page, "Bare metal at an end of it")  # goes with no "nowhere"
    button(page, "Go on")
    button(page, "Water")
    with page.expect_response("**/api/plan/questions") as answered:
        button(page, "Where do I connect?")
    asked = answered.value.request.post_data_json
    assert asked == {"made_of": "copper", "reached": ["end"], "bonded": ["water"], "units": "ft-in"}
    said = answered.value.json()
    expect(page.locator(".answer")).to_have_text(said["says"])
    assert "Connect to the metal at its end" in said["says"]
    expect(page.get_by_text("You said: copper pipe; bare metal at an end of it; water.")).to_be_visible()
    assert page.locator(".hookup").count() >= len(said["rows"])
    caution = page.get_by_text("only the owner's people, or those qualified by the owner")
    expect(caution).to_have_count(1)


def test_no_signal_follows_plastic_and_no_more_is_asked(page: Page, home: str) -> None:
    page.goto(f"{home}/plan")
    button(page, "Three questions instead of the sketch")
    button(page, "Plastic, no wire along it")
    expect(page.locator(".answer")).to_contain_text("No signal follows plastic without a wire")
    expect(page.locator(".answer")).to_contain_text('answer "could not locate"')


def test_the_questions_need_the_server_and_say_so(page: Page, home: str) -> None:
    page.goto(f"{home}/plan")
    button(page, "Three questions instead of the sketch")
    page.context.route("**/api/**", lambda route: route.abort())
    button(page, "Plastic, no wire along it")
    expect(page.get_by_role("status").filter(has_text="worked out on the server")).to_be_visible()
    page.context.unroute("**/api/**")
    button(page, "Go on")
    expect(page.locator(".answer")).to_contain_text("No signal follows plastic")
    page.context.route("**/api/**", lambda route: route.abort())
    page.reload()  # the sketch and what the questions led to are both kept
    expect(page.locator(".answer")).to_contain_text("Put the clamp round E1")
    expect(page.get_by_text("No signal follows plastic")).to_be_visible()


def test_a_sketch_is_drawn_by_what_each_line_carries(page: Page, home: str, screen: Screen) -> None:
    plan = screen("plan")
    page.goto(f"{home}/plan")
    expect(page.locator(".answer")).to_have_text(plan["says"])
    widths = [
        float(e.evaluate("e => parseFloat(getComputedStyle(e).strokeWidth)"))
        for e in page.locator("svg.drawing path.carries").all()
    ]
    wanted = [c["width"] for c in plan["hookups"][0]["conductors"]]
    assert sorted(range(len(widths)), key=widths.__getitem__) == sorted(
        range(len(wanted)), key=wanted.__getitem__
    )
    button(page, "Show coil-kerb")
    expect(page.get_by_text(plan["hookups"][2]["expect"])).to_be_visible()
