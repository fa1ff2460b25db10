"""A phone over the network: it is paired, keeps the page, takes its place from the receiver, and is ended."""

from __future__ import annotations

import base64
import hashlib
import socket
import ssl
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from playwright.sync_api import Browser, Page, expect

from .conftest import CHROMIUM_OPTIONS, SIZES, Server, device, find_chromium

LAN = "127.0.0.2"  # stands in for this machine's address on a network
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


class Site(Server):
    """`plumbmark serve --lan` with a receiver beside it."""

    def __init__(self, data: Path, receiver: GnssReceiver) -> None:
        self.over = free_port(LAN)
        self.phone_url = f"https://field.test:{self.over}"
        options = ["--lan", "--lan-port", str(self.over), "--host", LAN, "--name", "field.test"]
        super().__init__(data, *options, "--gnss", f"tcp://127.0.0.1:{receiver.port}", warm=False)

    def key_hash(self) -> str:
        """SHA-256 of the server's key, by which Chromium is told to take its certificate for trusted."""
        shown = ssl.get_server_certificate((LAN, self.over))
        key = x509.load_pem_x509_certificate(shown.encode()).public_key()
        return base64.b64encode(
            hashlib.sha256(key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)).digest()
        ).decode()


@pytest.fixture(scope="module")
def site(static: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    receiver = GnssReceiver()
    made = Site(tmp_path_factory.mktemp("lan"), receiver)
    made.start()
    yield made
    made.stop()
    receiver.close()


@pytest.fixture
def phone(request: pytest.FixtureRequest, browser: Browser, site: Site) -> Iterator[Page]:
    """A phone that trusts the server's certificate and reaches it by its name."""
    trusting = browser.browser_type.launch(
        executable_path=find_chromium(),
        args=[
            *CHROMIUM_OPTIONS,
            f"--host-resolver-rules=MAP field.test {LAN}",
            f"--ignore-certificate-errors-spki-list={site.key_hash()}",
        ],
    )
    with device(trusting, site.phone_url, SIZES[getattr(request, "param", "phone")]) as page:
        yield page
    trusting.close()


def paired(page: Page, site: Site, name: str) -> None:
    page.goto("/#/set")
    page.get_by_role("heading", name="Pair this device").wait_for()
    page.get_by_label("Pairing code").fill(site.get("/api/devices/code", b"")["code"])
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
    assert site.facts() == []
    paired(phone, site, "Van 2")
    before = site.sent(2)
    (van,) = site.get("/api/devices")["devices"]
    assert {fact["device"] for fact in before} == {van["id"]}
    assert van["name"] == "Van 2"

    phone.goto(f"/#/job/{job}/read")
    phone.get_by_role("button", name="place not said").tap()
    phone.get_by_role("button", name="By the receiver's position").tap()
    expect(phone.get_by_text("Fixed fix, within 8.7 cm 19 times in 20.")).to_be_visible()
    phone.get_by_role("button", name="Use the receiver's position").tap()
    expect(phone.get_by_text("Taken: -93.10000000, 45.50000000")).to_be_visible()
    phone.get_by_role("button", name="Save").tap()
    phone.locator(".sentence .answer").first.wait_for()
    new = site.sent(2, after=len(before))
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
    standing = site.get(f"/api/jobs/{job}/answer")["standing"]
    assert standing["state"] != "findings", standing

    assert site.get(f"/api/devices/{van['id']}/revoke", b"")["devices"][0]["revoked_at"]
    phone.goto("/#/set")
    phone.reload()
    expect(phone.get_by_role("heading", name="Pair this device")).to_be_visible()


def test_at_the_server_a_code_is_shown_and_a_phone_ended(browser: Browser, phone: Page, site: Site) -> None:
    paired(phone, site, "Van 3")
    desk = browser.new_context(viewport=SIZES["tablet"], base_url=site.url).new_page()
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
