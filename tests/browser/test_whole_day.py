"""A whole day in a browser, by taps alone: an emergency to its handover; no server; a tablet; two phones."""

from __future__ import annotations

import re
import shutil
import subprocess
import time
import zipfile
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from playwright.sync_api import Browser, Page, expect

from plumbmark.cli.main import cli
from plumbmark.exchange.jobfolder import read_job
from plumbmark.model.finding import Severity

from .conftest import PATIENCE_S, SIZES, Server, device
from .person import Day, day

pytestmark = [pytest.mark.browser, pytest.mark.slow]

TAP_S = 2.0  # to read a question, find the answer and tap it with a glove on; no source
IDLE = timedelta(days=45)


def test_from_an_emergency_to_a_handover_on_a_phone(
    browser: Browser, server: Server, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """Every step that the guide has, and the job as files at the end."""
    with day(browser, server, SIZES["phone"], accept_downloads=True, is_mobile=True) as d:
        d.emergency()
        d.name_the_line("water")
        d.back()
        to_connect(d)
        identity(d)
        d.four_readings()
        d.told("L1, water:")
        d.walk_across()
        d.test_hole()
        whole_answer(d, "likely")
        d.dig()
        clearance(d)
        handover(d)
        solved_by_hand(d, zipped(d, tmp_path))
        record_property("taps of the whole day", d.taps)
        assert d.taps < 250


def to_connect(d: Day) -> None:
    """The guide's first four steps, with what is seen on the ground and the hook-up's three questions."""
    d.follow("What do I do now?")
    d.told("Check the gear.")
    d.tap("Done: tick it")
    d.follow("Write down what is seen")
    d.ground()
    d.back()
    d.follow("What do I do now?")
    d.told("Sweep for power and radio.")
    d.tap("Done: tick it")
    d.told("Connect.")
    d.follow("Where to connect: three questions")
    d.tap("Plastic with a tracer wire")
    d.tap("Bare metal at an end of it")
    d.tap("Go on")
    d.tap("Nothing")
    d.tap("Where do I connect?")
    d.told("Connect to the metal at its end")
    d.follow("Write down how it is hooked up")
    d.tap("Connected to it")
    d.tap("1 kHz")
    expect(d.page.get_by_text("L1: connected to it, 1 kHz")).to_be_visible()
    d.back()


def identity(d: Day) -> None:
    d.follow("Which line?")
    d.told("L1, water: not known")
    d.tap("It agreed", within=d.page.locator("section.check").filter(has_text="follow the metal"))
    d.told("L1, water: likely")
    d.back()


def whole_answer(d: Day, identity: str) -> None:
    """The answer of the route takes the place of the phone's own, as the server has it."""
    d.sent()
    screen = d.server.answer(d.job)["screen"]
    (line,) = screen["lines"]
    assert [(p["table"], p["key"]) for p in line["places"]] == [
        ("readings", "1"), ("readings", "2"), ("readings", "3"), ("profiles", "W1"), ("readings", "4"),
    ]  # fmt: skip
    assert line["identity"] == identity
    assert screen["questions"] == []  # what was asked about is kept as it was read
    d.told(line["headline"])
    depth = line["places"][1]["depth"]
    assert depth["low_m"] < 0.94 < depth["high_m"]
    d.follow("Reading 2", exact=False)
    expect(d.page.get_by_text("This answer is of")).to_be_visible()
    expect(d.page.get_by_text("This reading alone")).to_have_count(0)
    assert d.said()[1].startswith(depth["words"])
    d.back()


def clearance(d: Day) -> None:
    d.follow("Clearance check")
    d.told("Trench trench-1, 3 ft deep: test hole first.")
    expect(d.page.get_by_text("Nothing here permits a machine inside a tolerance zone.")).to_be_visible()
    expect(d.page.get_by_role("heading", name="Still open")).to_be_visible()
    d.back()


def handover(d: Day) -> None:
    """What is missing, one after the other, until the record can stand; and the freeze."""
    d.follow("Handover")
    d.told("The record cannot stand yet: 8 things are missing.")
    ticket(d)
    d.told("7 things are missing")
    d.owner("North Water", "water", "Marked")
    d.owner("City Power", "electric", "Could not locate")
    d.page.get_by_label("Why, or until when").fill("no access to the meter")
    d.tap("Keep the reason")
    d.told("6 things are missing")
    d.follow("Say who took them")
    d.page.get_by_label("Your name").fill("R. Vale")
    d.tap("R. Vale took them")
    d.told("Every reading says who took it.")
    d.follow("Back")
    d.told("5 things are missing")
    d.follow("Write down the marks")
    d.tap("All 3 of L1 are painted")
    d.tap("Photograph or change L1-1")
    d.photograph("L1-1")
    d.follow("Back")
    d.told("3 things are missing")
    d.follow("Walk the round")
    d.follow("Walked round 1")
    d.tap("The hum of the mains power, 50 or 60 Hz, no transmitter")
    d.tap("Only lines that have their mark")
    d.tap("Save")
    expect(d.page.get_by_text("The hum of the mains: only lines that have their mark.")).to_be_visible()
    d.back()
    d.follow("Handover")
    d.told("2 things are missing")
    d.follow("Write down who was told")
    d.tell()
    d.follow("Back")
    d.told("1 thing is missing")
    d.tap("Freeze the job as it is")
    d.told("The record can stand. 3 things stay open.")
    expect(d.page.get_by_text("City Power): could not locate: no access to the meter")).to_be_visible()


def ticket(d: Day) -> None:
    d.follow("Write down the ticket")
    d.page.get_by_label("Where").fill("Alder Street 17")
    d.page.get_by_label("Ticket number").fill("A-17")
    d.tap("Yes", within=d.page.get_by_role("group", name="White lining seen"))
    ahead = datetime.now().replace(microsecond=0, second=0)
    for label, days in (("May dig from", 1), ("Owners answer by", 2), ("Ticket runs out", 20)):
        d.page.get_by_label(label).fill((ahead + timedelta(days=days)).isoformat(timespec="minutes"))
    d.tap("Save")
    d.follow("Handover")


def zipped(d: Day, folder: Path) -> Path:
    """The job as files, as the page gives them, beside the report for the crew's own record."""
    d.follow("Reports and files: for crew, excavator, owner")
    for region, button, name in (
        ("Report for the crew's own record", "PDF", "report.pdf"),
        ("The whole job as a folder", "Zip", "job.zip"),
    ):
        with d.page.expect_download(timeout=PATIENCE_S * 1000) as saved:
            d.tap(button, within=d.page.get_by_role("region", name=region))
        saved.value.save_as(folder / name)
    if shutil.which("pdftotext") is not None:
        told = subprocess.run(
            ["pdftotext", folder / "report.pdf", "-"], capture_output=True, text=True, check=True
        )
        assert "Alder Street 17" in told.stdout
    with zipfile.ZipFile(folder / "job.zip") as files:
        files.extractall(folder / "job")
    return folder / "job"


def solved_by_hand(d: Day, folder: Path) -> None:
    """The command says of the files what the screen says, to the last word and number."""
    job, findings = read_job(folder)
    assert [finding for finding in findings if finding.severity is Severity.ERROR] == []
    assert job is not None
    assert len(job.readings) == 4
    done = CliRunner().invoke(cli, ["solve", str(folder)], catch_exceptions=False)
    assert done.exit_code == 0
    told = " ".join(done.output.split())
    (line,) = d.server.answer(d.job)["screen"]["lines"]
    for words in (line["headline"], line["paint"], line["depth"], line["which"], line["facing"]):
        assert words in told
    for place in line["places"]:
        numbers, trust = place["short"].rsplit(", ", 1)
        assert f"{numbers} {trust}" in told


def test_the_same_day_with_no_server_and_a_phone_that_lay_idle(browser: Browser, mortal: Server) -> None:
    """All is written down after the server was killed, waits for 45 days, is sent once, and is answered."""
    with device(browser, mortal.url, SIZES["phone"], is_mobile=True) as page:
        page.clock.install(time=datetime.now() - IDLE)
        d = Day(page, mortal)
        page.evaluate("navigator.serviceWorker.ready")
        with mortal.gone():
            page.reload()
            d.emergency()
            d.name_the_line("water")
            d.back()
            d.follow("What do I do now?")
            d.tap("Done: tick it")
            d.follow("Write down what is seen")
            d.ground()
            d.back()
            d.follow("What do I do now?")
            d.follow("4. Connect: not yet")
            d.tap("Connected to it")
            d.tap("1 kHz")
            d.back()
            d.four_readings()
            d.follow("Reading 2", exact=False)
            expect(page.get_by_text("This reading alone, worked out on this phone.")).to_be_visible()
            alone = d.said()
            d.back()
            d.walk_across()
            d.test_hole()
            d.dig()
            paint(d)
            d.follow("Handover")
            d.owner("North Water", "water", "Marked")
            d.follow("Who was told: nobody yet")
            d.tell()
            d.follow("Back")
            d.tap("Freeze the job as it is")
            expect(page.get_by_role("button", name="Reopen")).to_be_visible()
            written = waiting(page)
            page.clock.set_system_time(datetime.now())
            page.reload()
            d.back()
            d.follow("Reading 2", exact=False)
            assert d.said() == alone
            assert waiting(page) == written
        page.evaluate("dispatchEvent(new Event('online'))")
        sent = d.sent()
        assert [fact["seq"] for fact in sent] == list(range(1, written + 1))
        assert len({fact["id"] for fact in sent}) == written
        first, last = (datetime.fromisoformat(fact["at"]) for fact in (sent[0], sent[-1]))
        assert (
            IDLE - timedelta(minutes=10) < datetime.now(first.tzinfo) - first < IDLE + timedelta(minutes=10)
        )
        assert last - first < timedelta(minutes=10)
        d.back()
        whole_answer(d, "not known")  # its checks are the server's
        assert d.sent() == sent


def paint(d: Day) -> None:
    """A mark where it was painted, and a photograph of it."""
    d.follow("Site plan")
    d.page.locator(".plan-map canvas").first.wait_for()
    d.tap("Paint put down")
    d.tap("Blue: water, fire")
    d.on_plan(0.5, 0.5)
    d.tap("Done")
    d.photograph("m-1")
    d.back()


def waiting(page: Page) -> int:
    """How many entries wait on the phone, by its own words."""
    found = re.match(r"(\d+) entries wait on this phone", page.locator(".state").inner_text())
    assert found is not None
    return int(found[1])


def test_from_an_emergency_to_the_clearance_check_on_a_tablet(
    browser: Browser, server: Server, record_property: Callable[[str, object], None]
) -> None:
    """The taps and seconds of a full reading and of one that is fine, counted on the way."""
    with day(browser, server, SIZES["tablet"]) as d:
        d.emergency()
        d.name_the_line("gas")
        d.back()
        d.follow("Site plan")
        d.ground()
        d.back()
        d.four_readings()
        d.dig(0.42)
        clearance(d)
        taps, begun = d.taps, time.monotonic()
        d.follow("New reading")
        told = d.full_reading((3, 0), "41")
        full = d.taps - taps, time.monotonic() - begun
        assert "to the middle of it" in told[1]
        d.back()
        taps, begun = d.taps, time.monotonic()
        d.follow("New reading")
        d.tap("Checked here: peak and null in the same place")
        assert d.said()[0].startswith("Checked")
        fine = d.taps - taps, time.monotonic() - begun
        record_property("taps and seconds of a full reading", full)
        record_property("taps and seconds of checked here", fine)
        assert full[0] <= 10
        assert full[0] * TAP_S + full[1] < 25.0
        assert fine[0] == 2


def test_a_reading_changed_on_two_phones_is_asked_about_on_both(browser: Browser, server: Server) -> None:
    with day(browser, server, SIZES["phone"]) as a:
        a.emergency()
        a.full_reading((3, 1), "43")
        a.back()
        a.sent()
        with day(browser, server, SIZES["phone"]) as b:
            b.page.evaluate("navigator.serviceWorker.ready")  # all screens are on the phone
            b.page.locator(f"a[href='#/job/{a.job}']").tap()
            b.follow("Reading 1", exact=False)
            b.page.context.set_offline(True)
            a.follow("Reading 1", exact=False)
            for phone, inches in ((a, 2), (b, 4)):
                phone.tap("depth 3 ft 1 in")
                phone.asked("Depth shown")
                phone.tap(f"{inches} inches")
                phone.tap("Save")
                phone.page.get_by_role("button", name=f"depth 3 ft {inches} in").wait_for()
            a.sent()
            b.page.context.set_offline(False)
            for phone in (b, a):
                phone.back()
                question = phone.page.get_by_text("Reading 1 was changed on two phones")
                expect(question).to_contain_text("3 ft 2 in")
                expect(question).to_contain_text("3 ft 4 in")
            other = re.compile("^Instead: what somebody wrote .*: depth 3 ft 2 in$")
            a.page.get_by_role("button", name=other).tap()
            for phone in (a, b):
                expect(phone.page.get_by_text("was changed on two phones")).to_have_count(0)
                phone.follow("Reading 1", exact=False)
                expect(phone.page.get_by_role("button", name="depth 3 ft 2 in")).to_be_visible()


def test_a_screen_that_is_not_on_the_phone_yet_says_so_and_comes_with_the_connection(
    browser: Browser, server: Server
) -> None:
    with day(browser, server, SIZES["phone"], service_workers="block") as d:
        d.page.get_by_role("link", name="New job").wait_for()
        d.page.context.set_offline(True)
        d.follow("New job")
        expect(d.page.get_by_text("not on this device yet")).to_be_visible()
        d.page.context.set_offline(False)
        d.tap("Emergency: read now, name it later")
        d.asked("Find the null")
