"""Phones over the network: HTTPS alone, and nothing but the page without the token of a paired one.

127.0.0.2 stands in for the address of this machine on a network.
"""

from __future__ import annotations

import json
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives import serialization

from plumbmark.app.answering import Answering
from plumbmark.cli.main import cli
from plumbmark.store import Store, open_store
from plumbmark.web.certificates import authority_in
from plumbmark.web.command import serve
from plumbmark.web.gnss import Receiver, source_of
from plumbmark.web.lan import COOKIE, Attempts, Lan, lan_host, lan_name
from plumbmark.web.run import FieldServer, bound
from plumbmark.web.settings import ServeError, Settings

from .conftest import Device
from .test_gnss import gga, gst

HOST = "127.0.0.2"


class Site:
    """A server with both its ways in, and who asks it."""

    def __init__(self, store: Store, folder: Path) -> None:
        self.store = store
        recorded = folder / "log.nmea"
        recorded.write_bytes(gga("140322.00") + gst("140322.00"))
        authority = authority_in(folder / "lan", (HOST, "field.test"), datetime.now(UTC))
        own, over = bound("127.0.0.1", 0, "--port"), bound(HOST, 0, "--lan-port")
        self.lan = Lan(HOST, over.getsockname()[1], ("field.test",), authority)
        self.settings = Settings(port=own.getsockname()[1])
        receiver = Receiver(source_of(f"file:{recorded}"), pace_s=0.0)
        server = FieldServer(Answering(store), self.settings, (self.lan, over), receiver)
        self.server = server
        guard: Any = server.config.app
        self.attempts: Attempts = guard._app.state.running.attempts
        self._thread = threading.Thread(target=server.run, kwargs={"sockets": [own]})
        self._thread.start()
        while not server.started:
            assert self._thread.is_alive(), "the server did not start"
            time.sleep(0.01)
        trusted = ssl.create_default_context(
            cadata=authority.certificate.public_bytes(serialization.Encoding.PEM).decode()
        )
        self.desk = httpx.Client(base_url=self.settings.address, timeout=30.0)
        self.phone = httpx.Client(base_url=f"https://{HOST}:{self.lan.port}", verify=trusted, timeout=30.0)

    def close(self) -> None:
        self.desk.close()
        self.phone.close()
        self.server.should_exit = True
        self._thread.join()

    def paired(self, device: Device, name: str = "Van 2") -> dict[str, str]:
        """Headers of a phone that was paired just now."""
        code = self.desk.post("/api/devices/code").json()["code"]
        said = self.phone.post("/api/pair", json={"code": code, "device": device.id, "name": name})
        assert said.status_code == 200, said.text
        self.phone.cookies.clear()
        return {"cookie": said.headers["set-cookie"].partition(";")[0]}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    folder = tmp_path_factory.mktemp("lan")
    with open_store(f"sqlite:///{folder / 'journal.db'}") as store:
        made = Site(store, folder)
        yield made
        made.close()


@pytest.fixture(autouse=True)
def nobody_waits(site: Site) -> None:
    """Wrong codes of one test are not counted against the next."""
    site.attempts._wrong.clear()


# -- what is answered to whom


def test_everything_of_the_api_needs_a_token(site: Site) -> None:
    schema = site.desk.get("/api/openapi.json").json()
    asked = 0
    for path, ways in schema["paths"].items():
        filled = path.replace("{job}", "elm-4").replace("{sha256}", "0" * 64).replace("{ending}", "csv")
        filled = filled.replace("{device}", "x")
        for method in ways:
            if (method, path) == ("post", "/api/pair"):
                continue
            said = site.phone.request(method, filled)
            assert said.status_code == 401, (method, path)
            assert "not paired" in said.json()["error"]["what"]
            asked += 1
    assert asked > 25
    for path in ("/api", "/api/", "/api/openapi.json", "/api/nothing", "/%61pi/facts", "/api/../api/facts"):
        assert site.phone.get(path).status_code in {401, 404}, path
    assert site.phone.post("/install/code").status_code == 401


@pytest.mark.parametrize(
    "headers",
    [
        {"cookie": f"{COOKIE}=no-such-token"},
        {"cookie": f"{COOKIE}="},
        {"authorization": "Bearer no-such-token"},
        {"authorization": "Bearer"},
        {"authorization": "Basic eDp5"},
    ],
)
def test_a_token_that_was_never_given_out_is_none(site: Site, headers: dict[str, str]) -> None:
    assert site.phone.get("/api/version", headers=headers).status_code == 401


def test_the_page_and_how_to_take_it_in_need_none(site: Site) -> None:
    for path in ("/", "/install", "/install/style.css", "/install/authority.crt"):
        said = site.phone.get(path)
        assert said.status_code in {200, 503 if path == "/" else 200}, (
            "503: the page is not built in this copy"
        )
        assert "default-src 'self'" in said.headers["content-security-policy"]
    taken = site.phone.get("/install/authority.crt")
    assert taken.content == site.lan.authority.der
    assert taken.headers["content-type"] == "application/x-x509-ca-cert"


def test_this_machine_itself_needs_none(site: Site) -> None:
    assert site.desk.get("/api/version").status_code == 200
    assert site.desk.get("/api/devices").json()["asking"] is None


def test_plain_http_never_leaves_loopback(site: Site) -> None:
    with pytest.raises(httpx.TransportError):
        httpx.get(f"http://{HOST}:{site.lan.port}/")
    with pytest.raises(httpx.TransportError):
        httpx.get(f"http://{HOST}:{site.settings.port}/")


@pytest.mark.parametrize("host", ["evil.test", "127.0.0.1", "localhost", "field.test.evil.test"])
def test_another_name_is_not_answered_over_the_network(site: Site, host: str) -> None:
    said = site.phone.get("/", headers={"host": f"{host}:{site.lan.port}"})
    assert said.status_code == 421


def test_its_names_are(site: Site) -> None:
    for host in (HOST, "field.test", f"FIELD.test:{site.lan.port}"):
        assert site.phone.get("/install", headers={"host": host}).status_code == 200
    assert site.desk.get("/", headers={"host": "field.test"}).status_code == 421


@pytest.mark.parametrize("origin", ["https://evil.test", "null"])
def test_another_page_cannot_write_with_a_phones_cookie(site: Site, device: Device, origin: str) -> None:
    headers = site.paired(device) | {"origin": origin}
    said = site.phone.post("/api/facts", json={"device": device.id, "facts": []}, headers=headers)
    assert said.status_code == 403


# -- pairing


def test_a_paired_phone_sends_its_facts_and_no_other_devices(site: Site, device: Device, job_id: str) -> None:
    headers = site.paired(device)
    sent = {"device": device.id, "facts": device.line(job_id)}
    said = site.phone.post("/api/facts", json=sent, headers=headers)
    assert [row["taken"] for row in said.json()["receipts"]] == ["stored", "stored"]
    other = Device()
    forged = site.phone.post(
        "/api/facts", json={"device": other.id, "facts": other.line(job_id)}, headers=headers
    )
    assert forged.status_code == 403
    mixed = site.phone.post(
        "/api/facts", json={"device": device.id, "facts": [other.reading(1, job_id)]}, headers=headers
    )
    assert mixed.json()["receipts"][0]["taken"] == "refused"
    assert {row.fact.device for row in site.store.facts(job_id)} == {device.id}


def test_the_cookie_is_for_https_and_no_script(site: Site, device: Device) -> None:
    code = site.desk.post("/api/devices/code").json()["code"]
    said = site.phone.post("/api/pair", json={"code": code, "device": device.id, "name": " Van\t2\u202e "})
    site.phone.cookies.clear()
    cookie = said.headers["set-cookie"]
    token = cookie.partition("=")[2].partition(";")[0]
    assert cookie.startswith("__Host-")
    parts = {part.strip().lower() for part in cookie.split(";")[1:]}
    assert {"httponly", "secure", "samesite=strict", "path=/"} <= parts
    assert not any(part.startswith("domain") for part in parts)
    assert said.json() == {"device": device.id, "name": "Van 2"}
    assert token not in said.text
    bearer = site.phone.get("/api/version", headers={"authorization": f"Bearer {token}"})
    assert bearer.status_code == 200


def test_a_code_pairs_one_phone(site: Site, device: Device) -> None:
    code = site.desk.post("/api/devices/code").json()["code"]
    first = site.phone.post("/api/pair", json={"code": code.lower(), "device": device.id})
    second = site.phone.post("/api/pair", json={"code": code, "device": Device().id})
    site.phone.cookies.clear()
    assert (first.status_code, second.status_code) == (200, 403)
    assert "set-cookie" not in second.headers


@pytest.mark.parametrize("device", ["", "desk", "x" * 36, "00000000-0000-4000-8000-00000000000A"])
def test_a_phone_that_is_no_device_uses_no_code_up(site: Site, device: str) -> None:
    code = site.desk.post("/api/devices/code").json()["code"]
    assert site.phone.post("/api/pair", json={"code": code, "device": device}).status_code == 422
    assert site.phone.post("/api/pair", json={"code": code, "device": Device().id}).status_code == 200
    site.phone.cookies.clear()


def test_who_tries_codes_waits_and_a_right_one_does_not_help_meanwhile(site: Site, device: Device) -> None:
    wrong = {"code": "AAAA-AAAA", "device": device.id}
    said = [site.phone.post("/api/pair", json=wrong).status_code for _ in range(7)]
    assert said == [403] * 5 + [429] * 2
    right = {"code": site.desk.post("/api/devices/code").json()["code"], "device": device.id}
    assert site.phone.post("/api/pair", json=right).status_code == 429


def test_how_long_one_waits() -> None:
    attempts = Attempts(each=2, everybody=4, within_s=60.0)
    assert attempts.wait_s("a", 0.0) == 0
    attempts.was_wrong("a", 0.0)
    attempts.was_wrong("a", 10.0)
    assert 50 <= attempts.wait_s("a", 10.0) <= 51, "until the first of the two is a minute old"
    assert attempts.wait_s("b", 10.0) == 0
    attempts.was_wrong("b", 20.0)
    attempts.was_wrong("c", 30.0)
    assert attempts.wait_s("d", 30.0) > 0, "many addresses together wait too"
    assert attempts.wait_s("a", 61.0) == 0
    assert attempts.wait_s("a", 200.0) == 0


def test_codes_are_given_out_at_the_server_alone(site: Site, device: Device) -> None:
    headers = site.paired(device)
    assert site.phone.post("/api/devices/code", headers=headers).status_code == 403
    assert site.phone.post("/install/code", headers=headers).status_code == 403
    shown = site.desk.post("/install/code", headers={"origin": site.settings.address.rstrip("/")})
    assert shown.status_code == 200
    assert "Pairs one phone" in shown.text
    # else browsers send the form of that page with an origin that nobody knows
    assert site.desk.get("/install").headers["referrer-policy"] == "same-origin"


# -- ending


def test_a_token_that_was_ended_is_refused_at_once(site: Site, device: Device) -> None:
    headers = site.paired(device)
    assert site.phone.get("/api/version", headers=headers).status_code == 200
    assert site.desk.post(f"/api/devices/{device.id}/revoke").status_code == 200
    assert site.phone.get("/api/version", headers=headers).status_code == 401
    assert site.desk.post(f"/api/devices/{device.id}/revoke").status_code == 404


def test_a_stream_ends_with_its_token(site: Site, device: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    headers = site.paired(device)
    monkeypatch.setattr("plumbmark.web.position._LOOK_EVERY_S", 0.05)
    heard = 0
    with site.phone.stream("GET", "/api/position", headers=headers) as streamed:
        assert streamed.status_code == 200
        for _ in streamed.iter_lines():
            heard += 1
            if heard == 5:
                site.store.revoke(device.id)
    assert heard >= 5


def test_a_phone_ends_its_own_pairing_and_no_other(site: Site, device: Device) -> None:
    headers, other = site.paired(device), Device()
    site.paired(other)
    assert site.phone.post(f"/api/devices/{other.id}/revoke", headers=headers).status_code == 403
    assert site.phone.post(f"/api/devices/{device.id}/revoke", headers=headers).status_code == 200
    assert site.phone.get("/api/devices", headers=headers).status_code == 401


def test_a_phone_that_is_paired_anew_keeps_its_chain_and_loses_its_old_token(
    site: Site, device: Device, job_id: str
) -> None:
    old = site.paired(device)
    site.phone.post("/api/facts", json={"device": device.id, "facts": device.line(job_id)}, headers=old)
    new = site.paired(device)
    assert site.phone.get("/api/version", headers=old).status_code == 401
    more = {"device": device.id, "facts": [device.reading(1, job_id)]}
    assert site.phone.post("/api/facts", json=more, headers=new).json()["receipts"][0]["taken"] == "stored"


# -- the position of a receiver


def test_the_position_last_and_as_it_comes(site: Site) -> None:
    until = time.monotonic() + 10.0
    while (last := site.desk.get("/api/position/last").json())["longitude_deg"] is None:
        assert time.monotonic() < until
        time.sleep(0.02)
    assert (last["longitude_deg"], last["latitude_deg"], last["fix"]) == (-93.1, 45.5, "fixed")
    assert last["position_sigma_m"] == pytest.approx(0.0354, abs=1e-4)
    with site.desk.stream("GET", "/api/position") as streamed:
        lines = streamed.iter_lines()
        assert next(lines) == "event: position"
        told = json.loads(next(lines).removeprefix("data: "))
    assert told["latitude_deg"] == 45.5


def test_a_server_without_a_receiver_says_so(client: httpx.Client) -> None:
    for path in ("/api/position/last", "/api/position"):
        said = client.get(path)
        assert said.status_code == 404
        assert "--gnss" in said.json()["error"]["what"]


def test_a_server_for_this_machine_alone_pairs_nobody(client: httpx.Client, device: Device) -> None:
    assert client.post("/api/devices/code").status_code == 409
    assert client.post("/api/pair", json={"code": "AAAA-AAAA", "device": device.id}).status_code == 409
    assert client.get("/install/authority.crt").status_code == 404
    assert "--lan" in client.get("/install").text


# -- the commands


@pytest.fixture
def devices(site: Site) -> Callable[..., str]:
    def run(*arguments: str, code: int = 0) -> str:
        done = CliRunner().invoke(cli, ["devices", "--store", str(site.store.database.name), *arguments])
        assert done.exit_code == code, done.output
        return done.output

    return run


def test_devices_are_listed_and_ended_by_command(
    site: Site, device: Device, devices: Callable[..., str]
) -> None:
    headers = site.paired(device, "Van 7")
    assert f"{device.id}  Van 7, paired " in devices()
    assert "refused from now on" in devices("revoke", "Van 7")
    assert site.phone.get("/api/version", headers=headers).status_code == 401
    assert "refused since" in devices()
    assert "no paired phone" in devices("revoke", "Van 7", code=2)


def test_two_phones_of_one_name_are_told_apart_by_id(site: Site, devices: Callable[..., str]) -> None:
    one, other = Device(), Device()
    site.paired(one, "Van 8")
    headers = site.paired(other, "Van 8")
    assert "by its id" in devices("revoke", "Van 8", code=2)
    devices("revoke", one.id)
    assert site.phone.get("/api/version", headers=headers).status_code == 200


def test_a_code_and_a_token_by_command(site: Site, device: Device, devices: Callable[..., str]) -> None:
    code = devices("code").split()[0]
    assert site.phone.post("/api/pair", json={"code": code, "device": device.id}).status_code == 200
    site.phone.cookies.clear()
    said = devices("token", "night copy").split()
    own, token = said[said.index("device") + 1], said[said.index("token") + 1]
    headers = {"authorization": f"Bearer {token}"}
    assert site.phone.get("/api/devices", headers=headers).json()["asking"] == own


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        (["--lan", "--host", "0.0.0.0"], "no address that a phone can be sent to"),
        (["--lan", "--host", "127.0.0.1"], "no address that a phone can be sent to"),
        (["--lan", "--host", "field.test"], "is a name"),
        (["--lan", "--host", HOST, "--name", "not a name"], "no name that a browser could ask for"),
        (["--lan", "--host", "203.0.113.77"], "cannot be listened on"),
        (["--host", HOST], "Phones are served with --lan"),
        (["--gnss", "udp://x"], "tcp://HOST:PORT"),
    ],
)
def test_what_cannot_be_started_says_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], what: str
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    done = CliRunner().invoke(serve, ["--port", "0", "--lan-port", "0", *arguments])
    assert done.exit_code == 2
    assert what in done.output
    assert "Traceback" not in done.output


@pytest.mark.parametrize("name", ["", ".", "a..b", "-van", "localhost", "10.0.0.256", "van 2", "x" * 64])
def test_names_that_are_none(name: str) -> None:
    with pytest.raises(ServeError):
        lan_name(name)


def test_the_address_of_this_machine_is_found_or_its_lack_told() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        reached = way.connect_ex(("198.51.100.1", 9)) == 0
    if reached:
        assert lan_host(None) not in {"127.0.0.1", "0.0.0.0"}
        return
    with pytest.raises(ServeError, match="in no network"):
        lan_host(None)
