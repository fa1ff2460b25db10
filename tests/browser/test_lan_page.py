"""A phone over the network: it is paired, keeps the page, takes its place from the receiver, and is ended."""

from __future__ import annotations

import base64
import hashlib
import json
import os
import socket
import ssl
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from playwright.sync_api import Browser, Page, expect

from .conftest import find_chromium

ROOT = Path(__file__).resolve().parents[2]
STATIC = ROOT / "src" / "plumbmark" / "web" / "static"
LAN = "127.0.0.2"  # stands in for this machine's address on a network
SIZES = {"phone": {"width": 412, "height": 915}, "tablet": {"width": 1024, "height": 768}}
pytestmark = pytest.mark.browser


def free_port(host: str) -> int:
    with socket.socket() as free:
        free.bind((host, 0))
        port: int = free.getsockname()[1]
        return port


class GnssReceiver:
    """A receiver that tells its place each fifth of a second to whoever connects."""

    def __init__(self) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._server.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        while True:
            try:
                connection, _ = self._server.accept()
                with connection:
                    while True:
                        connection.sendall(self._said())
                        time.sleep(0.2)
            except OSError:
                if self._server.fileno() < 0:
                    return

    def _said(self) -> bytes:
        clock = time.strftime("%H%M%S.00", time.gmtime())
        place = f"GNGGA,{clock},4530.00000,N,09306.00000,W,4,18,0.6,250.0,M,-27.0,M,1.0,0001"
        spread = f"GNGST,{clock},0.02,0.05,0.01,40.0,0.03,0.04,0.06"
        return b"".join(f"${body}*{checksum(body):02X}\r\n".encode() for body in (place, spread))

    def close(self) -> None:
        self._server.close()


def checksum(body: str) -> int:
    total = 0
    for letter in body:
        total ^= ord(letter)
    return total


class Site:
    """`plumbmark serve --lan` with a receiver beside it."""

    def __init__(self, data: Path, receiver: GnssReceiver) -> None:
        self.own, self.over = free_port("127.0.0.1"), free_port(LAN)
        self.phone_url = f"https://field.test:{self.over}"
        options = ["--port", str(self.own), "--lan-port", str(self.over), "--host", LAN]
        options += ["--lan", "--name", "field.test", "--gnss", f"tcp://127.0.0.1:{receiver.port}"]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "plumbmark", "serve", *options],
            env=os.environ | {"PYTHONPATH": str(ROOT / "src"), "XDG_DATA_HOME": str(data)},
            stdout=subprocess.DEVNULL,
        )
        until = time.monotonic() + 60
        while True:
            assert self.process.poll() is None, "the server ended"
            try:
                self.desk("/api/version")
                break
            except OSError:
                assert time.monotonic() < until
                time.sleep(0.1)

    def desk(self, path: str, body: bytes | None = None) -> Any:
        """Ask from the server's own machine."""
        asked = urllib.request.Request(f"http://127.0.0.1:{self.own}{path}", data=body)
        with urllib.request.urlopen(asked, timeout=10) as answer:
            return json.load(answer)

    def key_hash(self) -> str:
        """SHA-256 of the server's key, by which Chromium is told to take its certificate for trusted."""
        shown = ssl.get_server_certificate((LAN, self.over))
        key = x509.load_pem_x509_certificate(shown.encode()).public_key()
        return base64.b64encode(
            hashlib.sha256(key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)).digest()
        ).decode()

    def facts(self, count: int) -> list[dict[str, Any]]:
        """Facts that came in, as soon as there are `count`."""
        until = time.monotonic() + 20
        while True:
            found = [row["fact"] for row in self.desk("/api/facts?after=0&limit=1000")["facts"]]
            if len(found) >= count or time.monotonic() > until:
                return found
            time.sleep(0.05)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    assert (STATIC / "index.html").is_file(), "the page is not built: sh tools/page.sh build"
    receiver = GnssReceiver()
    made = Site(tmp_path_factory.mktemp("lan"), receiver)
    yield made
    made.process.terminate()
    made.process.wait(20)
    receiver.close()


@pytest.fixture
def phone(request: pytest.FixtureRequest, browser: Browser, site: Site) -> Iterator[Page]:
    """A phone that trusts the server's certificate and reaches it by its name."""
    trusting = browser.browser_type.launch(
        executable_path=find_chromium(),
        args=[
            "--no-sandbox",
            "--disable-gpu",
            "--disable-background-networking",
            f"--host-resolver-rules=MAP field.test {LAN}",
            f"--ignore-certificate-errors-spki-list={site.key_hash()}",
        ],
    )
    size = SIZES[getattr(request, "param", "phone")]
    page = trusting.new_context(viewport=size, has_touch=True, base_url=site.phone_url).new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    yield page
    trusting.close()
    assert wrong == []


def paired(page: Page, site: Site, name: str) -> None:
    page.goto("/#/set")
    page.get_by_role("heading", name="Pair this device").wait_for()
    page.get_by_label("Pairing code").fill(site.desk("/api/devices/code", b"")["code"])
    page.get_by_label("What this device is called").fill(name)
    page.get_by_role("button", name="Pair", exact=True).tap()
    expect(page.get_by_role("heading", name="Paired with the server")).to_be_visible()


def test_from_a_phone_nobody_knows_to_a_reading_at_the_receivers_place_and_the_end(
    phone: Page, site: Site
) -> None:
    phone.goto("/install")
    expect(phone.get_by_role("link", name="Get the certificate")).to_be_visible()
    phone.get_by_role("link", name="Open the field app").tap()
    expect(phone.get_by_role("status")).to_contain_text("not paired")
    assert phone.evaluate("isSecureContext")
    assert phone.evaluate("navigator.serviceWorker.ready.then((r) => r.scope)") == f"{site.phone_url}/"

    # what is written down before it is paired waits, and is sent by the device that it was written under
    phone.goto("/#/new")
    phone.get_by_role("button", name="Emergency").tap()
    phone.get_by_role("heading", name="Find the null").wait_for()
    job = phone.url.split("/job/")[1].split("/")[0]
    assert site.facts(0) == []
    paired(phone, site, "Van 2")
    before = site.facts(2)
    (device,) = site.desk("/api/devices")["devices"]
    assert {fact["device"] for fact in before} == {device["id"]}
    assert device["name"] == "Van 2"

    phone.goto(f"/#/job/{job}/read")
    phone.get_by_role("button", name="place not said").tap()
    phone.get_by_role("button", name="By the receiver's position").tap()
    expect(phone.get_by_text("Fixed fix, within 8.7 cm 19 times in 20.")).to_be_visible()
    phone.get_by_role("button", name="Use the receiver's position").tap()
    expect(phone.get_by_text("Taken: -93.10000000, 45.50000000")).to_be_visible()
    phone.get_by_role("button", name="Save").tap()
    phone.locator(".sentence .answer").first.wait_for()
    new = site.facts(len(before) + 2)[len(before) :]
    (system,) = [fact for fact in new if fact["kind"] == "job"]
    assert system["payload"]["keys"] == {"crs": "EPSG:32615"}  # UTM zone 15 north: 96 to 90 west
    (entry,) = [fact for fact in new if fact["kind"] == "entry"]
    (row,) = entry["payload"]["rows"]
    told = {name: row[name] for name in ("longitude_deg", "latitude_deg", "position_sigma_m")}
    assert told == {
        "longitude_deg": "-93.10000000",
        "latitude_deg": "45.50000000",
        "position_sigma_m": "0.036",  # of 3 and 4 cm, up to the millimetre
    }
    standing = site.desk(f"/api/jobs/{job}/answer")["standing"]
    assert standing["state"] != "findings", standing

    assert site.desk(f"/api/devices/{device['id']}/revoke", b"")["devices"][0]["revoked_at"]
    phone.goto("/#/set")
    phone.reload()
    expect(phone.get_by_role("heading", name="Pair this device")).to_be_visible()


def test_at_the_server_a_code_is_shown_and_a_phone_ended(browser: Browser, phone: Page, site: Site) -> None:
    paired(phone, site, "Van 3")
    desk = browser.new_context(viewport=SIZES["tablet"], base_url=f"http://127.0.0.1:{site.own}").new_page()
    desk.goto("/install")
    expect(desk.locator("svg")).to_be_visible()
    expect(desk.get_by_text("1. Open this on the phone")).to_be_visible()
    desk.get_by_role("button", name="Show a new code").click()
    expect(desk.get_by_text("Pairs one phone within 10 minutes")).to_be_visible()
    desk.get_by_role("link", name="The phones that were paired").click()
    desk.get_by_role("button", name="End Van 3").click()
    desk.get_by_role("button", name="End it").click()
    expect(desk.get_by_text("Van 3: refused since")).to_be_visible()
    desk.context.close()
    phone.reload()
    expect(phone.get_by_role("heading", name="Pair this device")).to_be_visible()
