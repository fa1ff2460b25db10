"""A receiver's stream: the last place with its sigma, through garbage, silence and ends."""

from __future__ import annotations

import math
import os
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from plumbmark.model.position import PositionBody, PositionState
from plumbmark.web import gnss
from plumbmark.web.gnss import Places, Receiver, source_of
from plumbmark.web.settings import ServeError

AT = datetime(2026, 11, 25, 14, 3, 22, tzinfo=UTC)


def sentence(body: str) -> bytes:
    """With its checksum: all its letters combined by exclusive or (NMEA 0183)."""
    total = 0
    for letter in body:
        total ^= ord(letter)
    return f"${body}*{total:02X}\r\n".encode()


def gga(clock: str, quality: int = 4, minutes: float = 30.0) -> bytes:
    return sentence(
        f"GNGGA,{clock},45{minutes:08.5f},N,09306.00000,W,{quality},18,0.6,250.0,M,-27.0,M,1.0,0001"
    )


def gst(clock: str, north: float = 0.03, east: float = 0.04) -> bytes:
    return sentence(f"GNGST,{clock},0.02,0.05,0.01,40.0,{north},{east},0.06")


def test_a_published_sentence() -> None:
    """The GGA that is printed most often, of unknown origin; its checksum is its own."""
    places = Places()
    assert places.feed(b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n", AT)
    assert places.place is not None
    assert places.place.latitude_deg == pytest.approx(48.0 + 7.038 / 60.0, abs=1e-9)
    assert places.place.longitude_deg == pytest.approx(11.0 + 31.0 / 60.0, abs=1e-9)
    assert places.place.fix == "single"
    assert places.place.position_sigma_m is None


@pytest.mark.parametrize("order", [(gga, gst), (gst, gga)])
def test_place_and_sigma_of_one_second_whichever_comes_first(
    order: tuple[Callable[[str], bytes], ...],
) -> None:
    places = Places()
    places.feed(gga("140321.00") + b"".join(make("140322.00") for make in order), AT)
    assert places.place is not None
    assert places.place.longitude_deg == -93.1
    assert places.place.latitude_deg == 45.5
    assert places.place.position_sigma_m == pytest.approx(math.sqrt((0.03**2 + 0.04**2) / 2), abs=1e-4)


def test_a_sigma_of_another_time_or_fix_is_not_this_places() -> None:
    places = Places()
    places.feed(gga("140322.00") + gst("140322.00") + gga("140325.00"), AT)
    assert places.place is not None
    assert places.place.position_sigma_m is None
    places.feed(gst("140325.00") + gga("140326.00", quality=1), AT)
    assert places.place.fix == "single"
    assert places.place.position_sigma_m is None, "that of a fixed place says nothing of a single one"


def test_over_midnight() -> None:
    places = Places()
    places.feed(gga("235959.00") + gst("235959.00") + gga("000000.00"), AT)
    assert places.place is not None
    assert places.place.position_sigma_m is not None


@pytest.mark.parametrize("size", [1, 7, 4096])
def test_garbage_is_passed_over_however_it_is_cut(size: int) -> None:
    good = gga("140322.00", minutes=31.0)
    spoilt = gga("140323.00").replace(b"4530", b"4630")  # its checksum no longer fits
    stream = (
        bytes(range(256)) * 40
        + b"\n$GNGGA,1403\n$GNGGA,,,,,,0,,,,,,,,*"
        + gga("140320.00")
        + b"\xb5b\x01\x07"
        + good[:30]
        + good
        + spoilt
        + sentence("PXXX,1,2,3")
        + sentence("GNGGA,140324.00,9930.0,N,09306.0,W,4,18,0.6,250.0,M,,M,,")
        + b"x" * 20_000
        + b"\n"
    )
    places = Places()
    for k in range(0, len(stream), size):
        places.feed(stream[k : k + size], AT)
    assert places.place is not None
    assert places.place.latitude_deg == pytest.approx(45.0 + 31.0 / 60.0, abs=1e-9)


@pytest.mark.parametrize(
    ("quality", "word"), [(0, "no fix"), (6, "dead reckoning"), (7, "typed in"), (8, "simulated")]
)
def test_a_place_that_was_not_measured_is_none(quality: int, word: str) -> None:
    receiver = Receiver(source_of("tcp://field.test:5017"))
    receiver._places.feed(gga("140322.00", quality), datetime.now(UTC))
    said = receiver.last()
    assert said.state is PositionState.NO_PLACE
    assert word in said.words
    assert said.longitude_deg is None


def test_a_place_grows_old() -> None:
    receiver = Receiver(source_of("tcp://field.test:5017"))
    receiver._places.feed(gga("140322.00") + gst("140322.00"), AT)
    now = receiver.last(AT + timedelta(seconds=1))
    assert (now.state, now.age_s) == (PositionState.PLACE, 1.0)
    # 3 cm and 4 cm: one sigma 3.5 cm; 19 in 20 lie within 2.45 times that
    assert now.words == "Fixed fix, within 8.7 cm 19 times in 20."
    old = receiver.last(AT + timedelta(seconds=30))
    assert (old.state, old.age_s, old.longitude_deg) == (PositionState.SILENT, 30.0, -93.1)
    assert "30 s old" in old.words


@pytest.mark.parametrize(
    "text",
    ["", "tcp://host", "tcp://host:0", "tcp://host:70000", "serial:/dev/ttyUSB0", "file:/none", "udp://x:1"],
)
def test_a_source_that_is_none_says_what_one_is(text: str) -> None:
    with pytest.raises(ServeError, match="tcp://HOST:PORT"):
        source_of(text)


def eventually(
    receiver: Receiver, fits: Callable[[PositionBody], bool], within_s: float = 10.0
) -> PositionBody:
    until = time.monotonic() + within_s
    while not fits(said := receiver.last()):
        assert time.monotonic() < until, said
        time.sleep(0.01)
    return said


@pytest.fixture
def listener() -> Iterator[socket.socket]:
    """A receiver's socket, nobody connected yet."""
    with socket.create_server(("127.0.0.1", 0)) as made:
        made.settimeout(10.0)
        yield made


def test_a_stream_over_tcp_that_hangs_up_is_opened_again(
    listener: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gnss, "_WAITS_S", (0.05,))
    receiver = Receiver(source_of(f"tcp://127.0.0.1:{listener.getsockname()[1]}"))
    woken = threading.Event()
    receiver.listen(woken.set)
    receiver.start()
    try:
        connection, _ = listener.accept()
        with connection:
            connection.sendall(gga("140322.00", minutes=30.0))
            first = eventually(receiver, lambda said: said.longitude_deg is not None)
            assert woken.wait(10.0)
        connection, _ = listener.accept()
        with connection:
            connection.sendall(gga("140330.00", minutes=31.0) + gst("140330.00"))
            later = eventually(receiver, lambda said: said.latitude_deg != first.latitude_deg)
        assert later.state is PositionState.PLACE
    finally:
        receiver.close()
    assert not receiver._thread.is_alive()


def test_a_stream_that_falls_silent_is_opened_again(
    listener: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gnss, "_WAITS_S", (0.05,))
    monkeypatch.setattr(gnss, "_SILENT_S", 0.5)
    receiver = Receiver(source_of(f"tcp://127.0.0.1:{listener.getsockname()[1]}"))
    receiver.start()
    try:
        first, _ = listener.accept()
        second, _ = listener.accept()  # though the first was never closed
        first.close()
        second.close()
    finally:
        receiver.close()


def test_a_name_that_none_can_have_is_told_and_tried_again() -> None:
    receiver = Receiver(source_of("tcp://a..b:5017"))
    receiver.start()
    try:
        eventually(receiver, lambda place: "cannot be read" in place.words)
        assert receiver._thread.is_alive()
    finally:
        receiver.close()


def test_nobody_there_is_told(listener: socket.socket) -> None:
    port = listener.getsockname()[1]
    listener.close()
    receiver = Receiver(source_of(f"tcp://127.0.0.1:{port}"))
    receiver.start()
    try:
        said = eventually(receiver, lambda said: "cannot be read" in said.words)
        assert said.state is PositionState.SILENT
    finally:
        receiver.close()


@pytest.mark.skipif(os.name != "posix", reason="a serial line is stood in for by a terminal of POSIX")
def test_a_serial_line() -> None:
    ours, theirs = os.openpty()
    receiver = Receiver(source_of(f"serial:{os.ttyname(theirs)}@9600"))
    receiver.start()
    try:
        with closing(os.fdopen(ours, "wb", buffering=0)) as line:
            until = time.monotonic() + 10.0
            while receiver.last().longitude_deg is None:  # what comes before it is opened is lost
                line.write(gga("140322.00") + gst("140322.00"))
                assert time.monotonic() < until
                time.sleep(0.05)
            assert receiver.last().state is PositionState.PLACE
    finally:
        receiver.close()
        os.close(theirs)


def test_a_recorded_stream_ends(tmp_path: Path) -> None:
    file = tmp_path / "log.nmea"
    file.write_bytes(b"\xff\n" + gga("140322.00") + gst("140322.00") + gga("140323.00", minutes=33.0))
    receiver = Receiver(source_of(f"file:{file}"), pace_s=0.01)
    receiver.start()
    receiver._thread.join(10.0)
    assert not receiver._thread.is_alive()
    said = receiver.last(datetime.now(UTC) + timedelta(minutes=1))
    assert said.latitude_deg == 45.55
    assert "has ended" in said.words
