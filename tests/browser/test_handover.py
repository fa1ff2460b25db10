"""Guide, handover and bringing in, in a browser against a server with the example site, and with it gone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, FilePayload, Page, expect

from .conftest import ROOT, SIZES, STATIC, Server, device

pytestmark = pytest.mark.browser
Sent = Callable[[int], list[dict[str, Any]]]


@pytest.fixture(scope="module")
def home(alder: Server) -> str:
    """Where a job is that has all that the example site has, answered."""
    job = alder.copy_of_alder()
    alder.answer(job)
    return f"/#/job/{job}"


@pytest.fixture
def page(request: pytest.FixtureRequest, browser: Browser, server: Server) -> Iterator[Page]:
    """A device of its own."""
    size = SIZES[getattr(request, "param", "phone")]
    with device(browser, server.url, size, service_workers="block", accept_downloads=True) as opened:
        yield opened


@pytest.fixture
def sent(server: Server) -> Sent:
    """Facts that come to the server during a test, as soon as there are as many as are asked for."""
    before = len(server.facts())
    return lambda count: server.sent(count, after=before)


def button(page: Page, name: str, exact: bool = False) -> None:
    page.get_by_role("button", name=name, exact=exact).first.tap()


def test_a_computed_mark_is_written_down_as_painted_in_two_taps(page: Page, home: str, sent: Sent) -> None:
    page.goto(f"{home}/handover")
    page.get_by_role("link", name="Marks as painted").tap()
    button(page, "E1-3 is painted")
    (fact,) = sent(1)
    (row,) = fact["payload"]["rows"]
    assert (fact["payload"]["table"], fact["payload"]["key"]) == ("marks", "E1-3")
    assert row.pop("painted_at").startswith("20")
    assert {name: row[name] for name in ("line", "kind", "colour")} == {
        "line": "E1",
        "kind": "centre",
        "colour": "red",
    }
    assert {"easting_m", "northing_m"} < set(row)
    expect(page.get_by_text("E1-3 (E1, ")).to_contain_text("inside the band")
    expect(page.get_by_role("button", name="E1-3 is painted")).to_have_count(0)
    button(page, "Change E1-3")
    button(page, "Faded")
    faded = sent(2)[1]
    assert faded["supersedes"] == fact["id"]
    assert (faded["payload"]["rows"][0]["state"], "state_at" in faded["payload"]["rows"][0]) == (
        "faded",
        True,
    )
    button(page, "Change E1-3")
    button(page, "Undo the last change")
    button(page, "Change E1-3")
    button(page, "Take it back")
    expect(page.get_by_role("button", name="E1-3 is painted")).to_be_visible()
    assert [fact["kind"] for fact in sent(4)] == ["entry", "entry", "remove", "remove"]


def test_a_photograph_of_a_mark_has_its_direction_in_one_tap(page: Page, home: str, sent: Sent) -> None:
    page.goto(f"{home}/handover/marks")
    button(page, "Photograph or change m3")
    icon = (STATIC / "icon-180.png").read_bytes()
    picture: FilePayload = {"name": "paint.png", "mimeType": "image/png", "buffer": icon}
    page.get_by_label("Photograph m3").set_input_files(picture)
    button(page, "North-east")
    file, row = sent(2)
    assert (file["kind"], row["payload"]["table"]) == ("file", "photos")
    assert file["payload"]["name"] == f"photos/{row['payload']['key']}"
    assert row["payload"]["rows"][0]["mark"] == "m3"
    assert row["payload"]["rows"][0]["bearing_deg"] == "45"
    expect(page.get_by_text("1 photograph.", exact=False)).to_be_visible()
    page.goto(f"{home}/handover")
    expect(page.get_by_text("A photograph of the marks of each line")).to_be_visible()
    expect(page.get_by_text("No photograph of a mark on E1")).to_have_count(0)


def test_who_was_told_counts_at_once_and_a_freeze_is_one_tap_there_and_back(
    page: Page, home: str, sent: Sent
) -> None:
    page.goto(f"{home}/handover")
    expect(page.locator(".answer")).to_contain_text("The record cannot stand yet")
    button(page, "Freeze the job as it is")
    expect(page.get_by_role("status").filter(has_text="Frozen")).to_contain_text("stands as it was said then")
    page.get_by_role("link", name="Who was told: ").tap()
    expect(page.get_by_role("button", name="Still to say")).to_be_disabled()
    for name in ("The excavator", "In person", "Where the marks are", "What is unproven", "Write it down"):
        button(page, name, exact=True)
    expect(page.locator(".answer")).to_contain_text("Told 1 time")
    frozen, told = sent(2)
    assert frozen["kind"] == "freeze"
    assert told["payload"] == {
        "who": "the excavator",
        "how": "in person",
        "what": "where the marks are; what is unproven",
    }
    page.goto(f"{home}/handover")
    expect(page.get_by_text("Nobody is written down as told")).to_have_count(0)
    button(page, "Reopen")
    expect(page.get_by_role("button", name="Freeze the job as it is")).to_be_visible()
    assert [fact["kind"] for fact in sent(3)] == ["freeze", "told", "reopen"]


def test_the_guide_says_danger_first_then_one_step(page: Page, home: str, sent: Sent) -> None:
    page.goto(f"{home}/guide")
    first = page.locator("main > *").first
    expect(first).to_contain_text("Smell of gas, or a line struck? Get away")
    expect(page.locator(".answer")).to_have_text("Check the gear.")
    button(page, "Done: tick it")
    expect(page.locator(".answer")).to_have_text("Sweep for power and radio.")
    expect(page.get_by_role("link", name="Walk the sweep")).to_have_attribute("href", f"{home[1:]}/sweep")
    page.get_by_role("link", name="1. Check the gear").tap()
    button(page, "Take the tick back")
    ticks = [fact["payload"] for fact in sent(2)]
    assert ticks == [{"step": "gear", "done": True}, {"step": "gear", "done": False}]
    page.get_by_role("link", name="4. Connect").tap()
    button(page, "Change how E1 was hooked up")
    button(page, "Induction")
    page.get_by_label("Another frequency").fill("8.5 kHz")
    button(page, "It was 8.5 kHz")
    expect(page.get_by_text("E1: induction, 8.5 kHz")).to_be_visible()
    keys = [fact["payload"]["keys"] for fact in sent(4)[2:]]
    assert keys == [{"hookup": "induction"}, {"frequency_hz": "8500"}]


def test_files_are_saved_by_their_names_and_a_server_that_is_gone_is_told(page: Page, home: str) -> None:
    name = home.split("/")[-1] + ".zip"
    page.goto(f"{home}/handover/files")
    folder = page.get_by_role("region", name="The whole job as a folder")
    with page.expect_download() as saved:
        folder.get_by_role("button", name="Zip").tap()
    assert saved.value.suggested_filename == name
    assert saved.value.path().read_bytes()[:4] == b"PK\x03\x04"
    expect(page.get_by_text(f"Saved as {name}.")).to_be_visible()
    page.route("**/api/**", lambda route: route.abort())
    folder.get_by_role("button", name="Zip").tap()
    expect(page.get_by_text("or takes too long; try it again")).to_be_visible()


def test_with_the_server_gone_what_was_seen_stays_and_entries_wait(page: Page, home: str) -> None:
    for part in ("guide", "handover"):
        page.goto(f"{home}/{part}")
        page.locator(".answer").wait_for()
    expect(page.locator(".answer")).to_contain_text("The record")
    page.route("**/api/**", lambda route: route.abort())
    page.goto(f"{home}/handover/marks")
    page.reload()
    expect(page.get_by_text("the server is not reached now")).to_be_visible()
    page.goto(f"{home}/handover/told")
    for name in ("The next crew", "By phone", "The report", "Write it down"):
        button(page, name, exact=True)
    expect(page.locator(".answer")).to_contain_text("Told")
    expect(page.locator(".state")).to_contain_text("1 entry waits on this phone")
    page.goto(f"{home}/guide")
    expect(page.locator(".answer")).to_be_visible()


def test_a_job_that_no_server_knows_has_its_guide_and_its_handover(page: Page) -> None:
    page.route("**/api/**", lambda route: route.abort())
    page.goto("/#/new")
    button(page, "Emergency")
    page.wait_for_url("**/job/*/read")
    job = page.url.split("/job/")[1].split("/")[0]
    page.goto(f"/#/job/{job}/guide")
    expect(page.locator(".answer")).to_have_text("Check the gear.")
    button(page, "Done: tick it")
    expect(page.locator(".answer")).to_have_text("Walk the ground for fittings.")
    page.goto(f"/#/job/{job}/handover")
    expect(page.locator(".answer")).to_contain_text("told once the server is reached")
    button(page, "Freeze the job as it is")
    expect(page.get_by_text("Frozen")).to_be_visible()


def test_a_reading_in_words_is_signed_and_its_mark_painted(page: Page, sent: Sent) -> None:
    page.goto("/#/new")
    button(page, "Emergency")
    button(page, "Checked here")
    page.locator(".sentence .answer").first.wait_for()
    job = page.url.split("/job/")[1].split("/")[0]
    page.goto(f"/#/job/{job}/handover/readings")
    expect(page.get_by_role("button", name="First say your name")).to_be_disabled()
    page.get_by_label("Your name").fill("R. Vale")
    button(page, "R. Vale took them")
    expect(page.locator(".answer")).to_have_text("Every reading says who took it.")
    last = sent(5)[-1]
    assert last["payload"]["rows"][0]["by"] == "R. Vale"
    assert last["supersedes"] is not None
    page.goto(f"/#/job/{job}/handover/marks")
    page.get_by_text("Reading 1.", exact=False).wait_for()
    button(page, "1 is painted")
    expect(page.get_by_text("Known by words only")).to_be_visible()
    (row,) = sent(6)[-1]["payload"]["rows"]
    assert row.pop("painted_at")
    assert row == {
        "line": "L1",
        "kind": "centre",
        "colour": "pink",
        "by": "R. Vale",
        "place_words": "reading 1, place not written down",
    }


def files_of(folder: Path, changed: dict[str, bytes]) -> list[FilePayload]:
    found = {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()} | changed
    return [
        {"name": name, "mimeType": "application/octet-stream", "buffer": data} for name, data in found.items()
    ]


def test_a_job_is_brought_in_and_what_is_wrong_is_named_by_file_row_and_column(page: Page) -> None:
    birch = ROOT / "examples" / "birch-tracer"
    rows = (birch / "readings.csv").read_bytes().decode().splitlines()
    at = rows[0].split(",").index("line")
    cells = rows[3].split(",")
    spoilt = "\n".join([*rows[:3], ",".join([*cells[:at], "X9", *cells[at + 1 :]]), *rows[4:]])
    page.goto("/#/bring")
    picked = page.get_by_label("A zip, or the files of a folder")
    picked.set_input_files(files_of(birch, {"readings.csv": spoilt.encode()}))
    expect(page.get_by_role("alert")).to_contain_text("readings.csv row 4 line")
    expect(page.get_by_role("alert")).to_contain_text("X9")
    picked.set_input_files(files_of(birch, {}))
    page.wait_for_url("**/job/birch-tracer*")


def bring_log(page: Page, name: str, text: str) -> None:
    page.goto("/#/")
    page.goto("/#/bring")
    log: FilePayload = {"name": name, "mimeType": "text/csv", "buffer": text.encode()}
    page.get_by_label("Logs: tables").set_input_files(log)
    button(page, "A new job")


def test_a_log_is_taken_once_somebody_said_what_it_means_and_the_next_is_known(
    page: Page, sent: Sent
) -> None:
    bring_log(page, "kerb.csv", "Point,Depth,Current mA,Signal\n1,3.1,43,high\n2,3.0,42,low\n")
    asked = page.get_by_role("group", name="What is 'Depth' in?")
    expect(page.get_by_role("button", name="Still to answer: 1")).to_be_disabled()
    asked.get_by_role("button", name="Feet").tap()
    expect(page.get_by_label("Unit of Depth")).to_have_value("ft")
    expect(page.get_by_text("depth 3.1 ft")).to_be_visible()
    page.get_by_label("Signal holds").select_option(label="a remark")
    expect(page.get_by_label("Signal holds")).to_have_value("note")
    expect(page.get_by_text("high").last).to_be_visible()
    button(page, "This is right: take 2 in")
    expect(page.locator(".answer")).to_have_text("2 readings taken.")
    rows = [f["payload"]["rows"][0] for f in sent(4) if f["payload"].get("table") == "readings"]
    assert [(row["depth_ft"], row["current_ma"]) for row in rows] == [("3.1", "43"), ("3.0", "42")]
    page.get_by_role("link", name="To the job").tap()
    expect(page.get_by_role("link", name="Reading 1")).to_be_visible()
    bring_log(page, "fence.csv", "Point,Depth,Current mA,Signal\n7,2.1,40,low\n")
    expect(page.get_by_text("was confirmed before")).to_be_visible()
    expect(page.get_by_label("Unit of Depth")).to_have_value("ft")
    expect(page.get_by_role("button", name="This is right: take 1 in")).to_be_enabled()


def test_a_log_that_is_none_is_refused_in_words(page: Page) -> None:
    bring_log(page, "photo.jpg", "no picture")
    expect(page.get_by_role("alert")).to_be_visible()
    expect(page.locator(".answer")).to_have_text("Not read.")


@pytest.mark.parametrize("page", sorted(SIZES), indirect=True)
def test_what_is_touched_is_large_enough_and_nothing_runs_off_the_side(page: Page, home: str) -> None:
    parts = (
        "handover",
        "handover/marks",
        "handover/told",
        "handover/files",
        "handover/readings",
        "guide",
        "guide/connect",
    )
    for address in (*(f"{home}/{part}" for part in parts), "/#/bring"):
        page.goto(address)
        page.locator(".answer").first.wait_for()
        low = page.evaluate(
            """[...document.querySelectorAll("button, .button, .back, input, .row-link, summary")]
                .filter((each) => each.getBoundingClientRect().height < 44).map((each) => each.outerHTML)"""
        )
        assert low == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
