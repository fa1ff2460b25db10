"""One person with one device in a browser: what is tapped, from screen to screen."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, Locator, Page, ViewportSize, expect

from .conftest import STATIC, Server, device

NOT_YET = r"404 \S+/api/(jobs/[^/]+/(answer|live|screens/)|position/last)"


class Day:
    """One person with one device, who taps what stands on the screen and types no address."""

    def __init__(self, page: Page, server: Server) -> None:
        self.page = page
        self.server = server
        self.taps = 0
        page.goto("/")

    @property
    def job(self) -> str:
        return self.page.url.split("/job/")[1].split("/")[0]

    # -- hands

    def tap(self, name: str, role: Any = "button", exact: bool = True, within: Locator | None = None) -> None:
        (within or self.page).get_by_role(role, name=name, exact=exact).first.tap()
        self.taps += 1

    def follow(self, name: str, exact: bool = True) -> None:
        self.tap(name, "link", exact)

    def back(self) -> None:
        """To the page of the job."""
        self.follow("Back")
        self.page.get_by_role("heading", name="More of this job").wait_for()

    def length(self, feet: int, inches: int, within: Locator | None = None) -> None:
        self.tap(f"{feet} feet", within=within)
        self.tap(f"{inches} inches", within=within)

    def digits(self, number: str) -> None:
        for digit in number:
            self.tap(digit)

    def on_plan(self, right: float, down: float) -> None:
        """Tap the plan at a share of its width and height, once it is drawn at its size."""
        self.page.evaluate("new Promise((done) => requestAnimationFrame(() => setTimeout(done, 50)))")
        box = self.page.locator(".plan-map").bounding_box()
        assert box is not None
        self.page.touchscreen.tap(box["x"] + right * box["width"], box["y"] + down * box["height"])
        self.taps += 1

    # -- eyes

    def asked(self, words: str) -> None:
        self.page.locator("h2.question", has_text=words).wait_for()

    def told(self, words: str) -> None:
        expect(self.page.locator(".answer").filter(has_text=words).first).to_be_visible()

    def said(self) -> list[str]:
        """What a saved reading says."""
        self.page.locator(".sentence .answer").first.wait_for()
        return self.page.locator(".sentence .answer").all_inner_texts()

    def sent(self) -> list[dict[str, Any]]:
        """The facts of the job on the server, once none waits here."""
        expect(self.page.locator(".state")).to_be_hidden()
        return self.server.facts(self.job)

    # -- work

    def emergency(self) -> None:
        self.follow("New job")
        self.tap("Emergency: read now, name it later")
        self.asked("Find the null")

    def name_the_line(self, utility: str) -> None:
        self.tap("L1, utility not said")
        self.tap(utility)
        self.tap(f"L1, {utility}")
        self.asked("Find the null")

    def ground(self) -> None:
        """A meter, a curb stop and a baseline from one to the other."""
        self.tap("Something seen")
        self.on_plan(0.15, 0.5)
        self.tap("curb-stop")
        self.on_plan(0.85, 0.5)
        self.tap("Done")
        self.tap("Draw")
        self.tap("Baseline")
        self.on_plan(0.16, 0.51)
        self.on_plan(0.84, 0.49)
        expect(self.page.get_by_text("baseline B-1 is on the plan.")).to_be_visible()

    def along(self, feet: int, inches: int, then: str = "Next question") -> None:
        """A place along the baseline, by the keys of a tape."""
        self.tap("place not said")
        self.tap("Along a baseline")
        keys = self.page.get_by_role("group", name="Along the baseline")
        self.tap(f"{feet // 10} tens of feet", within=keys)
        self.length(feet % 10, inches, within=keys)
        self.tap(then)

    def between(self, paces: int) -> None:
        self.tap("place not said")
        self.tap("meter-1")
        self.tap("curb-stop-1")
        for _ in range(paces):
            self.tap("Paces: one more")
        self.tap("Next question")

    def full_reading(self, depth: tuple[int, int], current: str) -> list[str]:
        """Null at the peak, a depth, as much more on the block, a current."""
        self.asked("Find the null")
        self.tap("Same place to 2 in")
        self.length(*depth)
        self.tap("12 in more, about")
        self.digits(current)
        self.tap("Save")
        return self.said()

    def four_readings(self) -> None:
        """By words, along the baseline, one with a current that is asked about and kept, one that is fine."""
        self.follow("New reading")
        self.asked("Find the null")
        self.between(2)
        self.full_reading((3, 1), "43")
        self.next_reading()
        self.along(10, 6)
        self.full_reading((3, 0), "42")
        self.next_reading()
        self.along(16, 0)
        self.full_reading((3, 1), "72")
        expect(self.page.get_by_text("72 mA here, about 42 mA on either side.")).to_be_visible()
        self.tap("It is as I read it")
        expect(self.page.locator(".asked")).to_have_count(0)
        self.next_reading()
        self.along(22, 0)
        self.tap("Checked here: peak and null in the same place")
        self.said()
        self.back()

    def next_reading(self) -> None:
        self.follow("Next reading")
        self.asked("Find the null")

    def walk_across(self) -> None:
        """Nine points a foot apart, as a line 3 ft 1 in deep shows them."""
        self.follow("Walk across")
        self.tap("Left")
        self.length(4, 0)
        for k, signal in enumerate(("37", "51", "70", "90", "100", "90", "70", "51", "37")):
            if k == 1:  # from the second point on, the next one is as far on again
                self.tap("Left")
                self.length(3, 0)
            self.digits(signal)
            self.tap("Write it down")
        expect(self.page.get_by_text("Enough: one line alone fits these points.")).to_be_visible()
        self.along(19, 0, then="Go on")
        self.tap("Save")
        self.page.get_by_role("link", name="Walk across W1").wait_for()

    def test_hole(self) -> None:
        self.follow("Test hole")
        self.tap("Yes, seen")
        self.length(2, 11)
        self.tap("it is the line")
        self.along(10, 6, then="Go on")
        self.tap("Save")
        expect(self.page.get_by_text("seen, 2 ft 11 in to the top of it; it is the line")).to_be_visible()

    def dig(self, right: float = 0.5) -> None:
        """A trench across the line, 2 ft wide and 3 ft deep, at a share of the plan's width."""
        self.follow("Site plan")
        self.page.locator(".plan-map canvas").first.wait_for()
        self.tap("Draw")
        self.tap("Trench")
        self.on_plan(right, 0.2)
        self.on_plan(right, 0.8)
        self.tap("Done")
        self.length(2, 0)
        self.length(3, 0)
        self.tap("Keep the trench")
        expect(self.page.get_by_text("trench-1 is on the plan.")).to_be_visible()
        self.back()

    def owner(self, name: str, utility: str, answer: str) -> None:
        self.tap("Add an owner")
        self.page.get_by_label("Name of the owner").fill(name)
        self.tap(utility)
        self.tap(answer, within=self.page.get_by_role("group", name=f"Answer of {name} ({utility})"))

    def photograph(self, what: str) -> None:
        """A picture, and which way the camera looked."""
        picture = (STATIC / "icon-180.png").read_bytes()
        self.page.get_by_label(f"Photograph {what}").set_input_files(
            [{"name": "paint.png", "mimeType": "image/png", "buffer": picture}]
        )
        self.tap("north-east")
        expect(self.page.get_by_role("img", name=f"{what}, looking north-east")).to_be_visible()

    def tell(self) -> None:
        for words in (
            "The excavator",
            "In person",
            "Where the marks are",
            "What is unproven",
            "Write it down",
        ):
            self.tap(words)
        self.told("Told 1 time")


@contextmanager
def day(browser: Browser, server: Server, size: ViewportSize, **more: Any) -> Iterator[Day]:
    """A day with no error on the console, but that the server does not know a job or a receiver yet."""
    with device(browser, server.url, size, **more) as page:
        wrong: list[str] = []
        refused: list[str] = []
        page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
        page.on(
            "response", lambda got: refused.append(f"{got.status} {got.url}") if got.status >= 400 else None
        )
        yield Day(page, server)
        assert [
            words for words in wrong if not re.search(r"404 \(Not Found\)|ERR_INTERNET_DISCONNECTED", words)
        ] == []
        assert [told for told in refused if not re.match(NOT_YET, told)] == []
