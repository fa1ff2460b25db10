"""The site in a browser: taps that draw, measure and take back, photographs, pictures laid under."""

from __future__ import annotations

import io
import json
import math
import sqlite3
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import APIResponse, Browser, Locator, Page, expect

from .conftest import SIZES, Server, device, eventually

pytestmark = pytest.mark.browser


@pytest.fixture
def page(request: pytest.FixtureRequest, browser: Browser, server: Server) -> Iterator[Page]:
    """A device of its own on the empty plan of a new job."""
    with device(browser, server.url, SIZES[getattr(request, "param", "phone")]) as opened:
        open_empty_plan(opened)
        yield opened


def open_empty_plan(page: Page) -> None:
    page.goto("/#/new")
    page.get_by_role("button", name="Emergency").tap()
    page.wait_for_url("**/job/*/read")
    page.goto(page.url.removesuffix("read") + "site")
    page.locator(".plan-map canvas").first.wait_for()
    expect(page.locator(".answer")).to_contain_text("still open")


def job_of(page: Page) -> str:
    return page.url.split("/job/")[1].split("/")[0]


def facts(server: Server, page: Page, count: int) -> list[dict[str, Any]]:
    """What the job holds beside its first two facts, as soon as there are so many."""
    expect(page.locator(".state")).to_be_hidden()
    found = server.sent(count, job_of(page), after=2)
    assert len(found) == count
    return found


def kept_file(server: Server, page: Page, fact: dict[str, Any]) -> APIResponse:
    """A file that a fact names, as soon as it has followed."""

    def come() -> APIResponse | None:
        answer = page.request.get(f"{server.url}/api/blobs/{fact['payload']['sha256']}")
        return answer if answer.ok else None

    found: APIResponse = eventually(come, fact["payload"]["name"])
    return found


def button(page: Page, name: str) -> Locator:
    return page.get_by_role("button", name=name, exact=True)


#: Whether the plan is drawn at the size that it has, and was so a frame ago.
DRAWN = """() => new Promise((done) => {
    const fits = () => {
        const plan = document.querySelector(".plan-map"), drawn = plan.querySelector("canvas");
        return ["Width", "Height"].every((side) => Math.abs(
            drawn[side.toLowerCase()] - plan["client" + side] * devicePixelRatio) <= devicePixelRatio);
    };
    const before = fits();
    requestAnimationFrame(() => requestAnimationFrame(() => done(before && fits())));
})"""


def tap(page: Page, right: float, down: float) -> None:
    """Tap the plan at a share of its width and height, once it is drawn at its size."""
    page.wait_for_function(DRAWN)
    box = page.locator(".plan-map").bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + right * box["width"], box["y"] + down * box["height"])


def place(row: dict[str, str]) -> tuple[float, float]:
    return float(row["easting_m"]), float(row["northing_m"])


@pytest.mark.parametrize("page", sorted(SIZES), indirect=True)
def test_things_seen_take_one_tap_each_and_stand_as_far_apart_as_they_were_tapped(
    page: Page, server: Server
) -> None:
    button(page, "Something seen").tap()
    tap(page, 0.3, 0.4)
    tap(page, 0.6, 0.4)  # at once, before the first is told of
    expect(page.get_by_text("meter-2 is on the plan.")).to_be_visible()
    button(page, "valve").tap()
    button(page, "Put the valve at the cross").tap()  # no tap on the plan needed
    expect(page.get_by_text("valve-1 is on the plan.")).to_be_visible()
    said = facts(server, page, 3)
    rows = [fact["payload"]["rows"][0] for fact in said]
    assert [row["kind"] for row in rows] == ["meter", "meter", "valve"]
    assert [fact["payload"]["table"] for fact in said] == ["things"] * 3
    (a, b), (c, d) = place(rows[0]), place(rows[1])
    assert d == b
    assert c > a  # the second tap was to the right of the first, and east is right
    assert place(rows[2]) == (c, d)  # the cross is where the last tap was


def test_a_trench_is_tapped_then_asked_about_then_measured_and_taken_back(page: Page, server: Server) -> None:
    button(page, "Draw").tap()
    button(page, "Trench").tap()
    tap(page, 0.2, 0.3)
    tap(page, 0.6, 0.3)
    button(page, "Done").tap()
    expect(page.get_by_role("heading", name="How wide will it be?")).to_be_visible()
    button(page, "1 feet").tap()
    button(page, "6 inches").tap()
    button(page, "3 feet").tap()
    button(page, "0 inches").tap()
    button(page, "Keep the trench").tap()
    (drawn,) = facts(server, page, 1)
    assert (drawn["kind"], drawn["payload"]["file"], drawn["payload"]["key"]) == ("shape", "dig", "trench-1")
    feature = json.loads(drawn["payload"]["feature"])
    assert feature["properties"] == {"kind": "trench", "width_m": 0.4572, "depth_m": 0.9144}
    (a, b), (c, d) = feature["geometry"]["coordinates"]
    long = math.hypot(c - a, d - b)
    button(page, "Measure").tap()
    tap(page, 0.205, 0.305)  # near an end is taken for the end
    tap(page, 0.595, 0.298)
    inches = round(long / 0.0254)
    feet = f"{inches // 12} ft {inches % 12} in" if inches % 12 else f"{inches // 12} ft"
    expect(page.get_by_role("status").get_by_text(f"{feet} east.")).to_be_visible()
    button(page, "Done").tap()
    button(page, "Take back trench-1").tap()
    expect(page.get_by_text("Taken back: trench-1.")).to_be_visible()
    (_, taken) = facts(server, page, 2)
    assert (taken["kind"], taken["supersedes"]) == ("remove", drawn["id"])
    expect(button(page, "Take back")).to_be_disabled()
    expect(page.get_by_text("Everything on the plan")).to_have_count(0)


def test_everything_is_done_with_keys_alone(page: Page, server: Server) -> None:
    page.get_by_role("button", name="Draw", exact=True).press("Enter")
    page.get_by_role("button", name="Baseline", exact=True).press("Enter")
    plan = page.get_by_role("application")
    plan.press("Enter")
    for _ in range(3):
        plan.press("ArrowRight")
    plan.press("Enter")
    (drawn,) = facts(server, page, 1)
    keys = {name: float(text) for name, text in drawn["payload"]["keys"].items()}
    assert (drawn["kind"], drawn["payload"]["table"]) == ("item", "baselines")
    assert keys["end_easting_m"] - keys["start_easting_m"] == pytest.approx(3 * 0.3048, abs=1e-3)
    assert keys["end_northing_m"] == keys["start_northing_m"]


def test_a_place_is_taped_from_what_is_there(page: Page, server: Server) -> None:
    button(page, "Something seen").tap()
    button(page, "Put the meter at the cross").tap()
    expect(page.get_by_text("meter-1 is on the plan.")).to_be_visible()
    page.get_by_text("Move the cross by steps or by tape").tap()
    page.get_by_label("By tape from").select_option("thing/meter-1")
    page.get_by_label("How far").fill("12 ft 3 in")
    page.get_by_label("Which way").select_option("north-east")
    button(page, "Put the cross there").tap()
    expect(page.get_by_text("Cross: 12 ft 3 in north-east of meter-1.")).to_be_visible()
    button(page, "pole").tap()
    button(page, "Put the pole at the cross").tap()
    meter, pole = (place(fact["payload"]["rows"][0]) for fact in facts(server, page, 2))
    assert pole[0] - meter[0] == pytest.approx(147 * 0.0254 / math.sqrt(2.0), abs=1e-3)
    assert pole[1] - meter[1] == pytest.approx(147 * 0.0254 / math.sqrt(2.0), abs=1e-3)


def picture(width: int, height: int, kind: str) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), (120, 130, 140)).save(out, kind)
    return out.getvalue()


def test_with_no_server_a_photograph_is_taken_and_tied_in_one_tap_and_sent_once_later(
    browser: Browser, mortal: Server
) -> None:
    photo = picture(64, 48, "JPEG")
    with device(browser, mortal.url, SIZES["phone"]) as page:
        open_empty_plan(page)
        page.evaluate("navigator.serviceWorker.ready")
        page.reload()
        page.locator(".plan-map canvas").first.wait_for()
        with mortal.gone():
            button(page, "Something seen").tap()
            tap(page, 0.5, 0.5)
            button(page, "Done").tap()
            page.get_by_label("Photograph meter-1").set_input_files(
                [{"name": "IMG.jpg", "mimeType": "image/jpeg", "buffer": photo}]
            )
            button(page, "north-east").tap()
            expect(page.get_by_role("img", name="meter-1, looking north-east")).to_be_visible()
            expect(page.locator(".state")).to_contain_text("3 entries wait on this phone")
            page.reload()
            page.get_by_text("Everything on the plan").tap()
            button(page, "Meter-1.").tap()
            expect(page.get_by_role("img", name="meter-1, looking north-east")).to_be_visible()
        page.evaluate("dispatchEvent(new Event('online'))")
        _, file, row = facts(mortal, page, 3)
        assert kept_file(mortal, page, file).body() == photo
    assert file["payload"]["name"] == f"photos/{row['payload']['key']}"
    cells = row["payload"]["rows"][0]
    assert (cells["thing"], cells["bearing_deg"]) == ("meter-1", "45")


def test_a_plan_image_is_placed_by_two_points_whose_distance_is_known(page: Page, server: Server) -> None:
    button(page, "Lay under").tap()
    page.get_by_label("Picture, GeoJSON or GeoPackage").set_input_files(
        [{"name": "site.png", "mimeType": "image/png", "buffer": picture(600, 300, "PNG")}]
    )
    expect(page.get_by_text("Tap a point of the picture")).to_be_visible()
    tap(page, 0.3, 0.5)
    tap(page, 0.6, 0.5)
    page.get_by_label("How far apart").fill("20 ft")
    button(page, "Keep it so").tap()
    expect(page.get_by_text("The picture is laid under the plan.")).to_be_visible()

    def between() -> int:
        drawn = Image.open(io.BytesIO(page.locator(".plan-map").screenshot())).convert("L")
        shade = drawn.getpixel((int(0.42 * drawn.width), int(0.52 * drawn.height)))
        assert isinstance(shade, int)
        return shade

    eventually(lambda: between() < 200, "the picture, which is grey: the ground is white")
    image, world = facts(server, page, 2)
    assert image["payload"]["name"] == "plans/plan-1.png"
    assert world["payload"]["name"] == "plans/plan-1.pgw"
    numbers = kept_file(server, page, world).text().split()
    a, d, b, e, _, _ = map(float, numbers)
    assert (d, b, e) == (0.0, 0.0, -a)
    button(page, "Take back what was laid under").tap()
    taken = facts(server, page, 4)[2:]
    assert {fact["supersedes"] for fact in taken} == {image["id"], world["id"]}
    # A pixel was 30 m / 600 at first; what was tapped that far apart on the plan is 20 ft on the ground.
    button(page, "Measure").tap()
    tap(page, 0.3, 0.5)
    tap(page, 0.6, 0.5)
    said = page.locator(".site-said").inner_text().split(" east.")[0]
    feet, inches = (int(word) for word in said.replace(" in", "").split(" ft "))
    apart = (12 * feet + inches) * 0.0254
    assert a == pytest.approx(0.05 * 240 * 0.0254 / apart, rel=0.01)


def test_lines_of_another_program_are_laid_under_and_degrees_are_refused(page: Page, server: Server) -> None:
    def lines(*at: list[float]) -> bytes:
        return json.dumps({"type": "Feature", "geometry": {"type": "LineString", "coordinates": at}}).encode()

    button(page, "Lay under").tap()
    field = page.get_by_label("Picture, GeoJSON or GeoPackage")
    degrees = lines([-93.123456, 45.000123], [-93.123455, 45.000124])
    field.set_input_files([{"name": "a.geojson", "mimeType": "application/geo+json", "buffer": degrees}])
    expect(page.get_by_role("alert")).to_contain_text("longitude and latitude")
    metres = lines([0.0, 0.0], [5.0, 2.0])
    field.set_input_files([{"name": "a.geojson", "mimeType": "application/geo+json", "buffer": metres}])
    expect(page.get_by_text("1 line is laid under the plan.")).to_be_visible()
    (kept,) = facts(server, page, 1)
    assert kept["payload"]["name"] == "plans/lines-1.geojson"


def write_lines(path: Path, lines: list[list[tuple[float, float]]]) -> None:
    """A GeoPackage in a grid of its own, by the standard (OGC 12-128r18, clause 2.1) with no library."""
    with sqlite3.connect(path) as base:
        base.executescript(
            "CREATE TABLE gpkg_spatial_ref_sys (srs_name, srs_id INTEGER PRIMARY KEY, organization, "
            "organization_coordsys_id, definition, description);"
            "CREATE TABLE gpkg_geometry_columns (table_name, column_name, geometry_type_name, srs_id, z, m);"
            "CREATE TABLE kerb (fid INTEGER PRIMARY KEY, geom BLOB);"
            "INSERT INTO gpkg_spatial_ref_sys VALUES ('own', -1, 'NONE', -1, 'undefined', '');"
            "INSERT INTO gpkg_geometry_columns VALUES ('kerb', 'geom', 'LINESTRING', -1, 0, 0);"
        )
        for line in lines:
            points = b"".join(struct.pack("<dd", *at) for at in line)
            shape = b"GP\x00\x01" + struct.pack("<iBII", -1, 1, 2, len(line)) + points
            base.execute("INSERT INTO kerb (geom) VALUES (?)", (shape,))


def test_a_geopackage_is_read_by_the_server_and_its_lines_kept_by_the_phone(
    page: Page, server: Server, tmp_path: Path
) -> None:
    given = tmp_path / "layers.gpkg"
    write_lines(given, [[(0.0, 0.0), (5.0, 2.0)], [(1.0, 1.0), (1.0, 4.0)]])
    button(page, "Lay under").tap()
    page.get_by_label("Picture, GeoJSON or GeoPackage").set_input_files(given)
    expect(page.get_by_text("2 lines are laid under the plan.")).to_be_visible()
    (kept,) = facts(server, page, 1)
    sent = kept_file(server, page, kept).json()
    paths = [feature["geometry"]["coordinates"] for feature in sent["features"]]
    assert sorted(paths) == [[[0.0, 0.0], [5.0, 2.0]], [[1.0, 1.0], [1.0, 4.0]]]


@pytest.mark.parametrize("page", sorted(SIZES), indirect=True)
def test_what_is_touched_is_large_enough_and_nothing_runs_off_the_side(page: Page) -> None:
    for name in ("Something seen", "Draw", "Paint put down", "Measure", "Lay under"):
        button(page, name).tap()
        page.get_by_text("Move the cross by steps or by tape").tap()
        low = page.evaluate(
            """[...document.querySelectorAll("button, .button, .back, input, select, summary")]
                .filter((each) => each.getBoundingClientRect().height < 44).map((each) => each.outerHTML)"""
        )
        assert low == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.locator(".page-foot button").last.tap()
