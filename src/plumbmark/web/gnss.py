"""A GNSS receiver beside the server: its NMEA 0183 stream, and the last place it gave.

GGA tells the place and what kind of fix it is, GST the standard deviations. Whatever else comes, broken or
foreign, is passed over; a stream that ends is opened again.
"""

from __future__ import annotations

import contextlib
import math
import re
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from datetime import time as Time
from pathlib import Path
from typing import Any, Final

from plumbmark.model.position import MEASURED, NOT_MEASURED, PositionBody, PositionState, sigma_of_axes
from plumbmark.web.settings import ServeError

#: A place older than this is an old one [s].
FRESH_S: Final = 5.0
#: A standard deviation counts for places given this near to it in time, of the same kind of fix [s].
_SIGMA_WITHIN_S: Final = 2.0
#: A stream that brings nothing for this long is opened again: its other end may be gone without a word [s].
_SILENT_S: Final = 20.0
_WAITS_S: Final = (1.0, 2.0, 5.0, 10.0)
_LONGEST: Final = 4096  # of a line; NMEA 0183 allows 82 characters, receivers write more
_SENTENCE: Final = re.compile(
    rb"\$[A-Z]{2}(?:GGA|GST),[\x20-\x23\x25-\x7e]*?\*[0-9A-Fa-f]{2}"
)  # a new $ begins anew
#: Radius over one sigma that holds 19 in 20 of places scattered alike in both directions: sqrt(-2 ln 0.05).
_WITHIN: Final = math.sqrt(-2.0 * math.log(0.05))
_DAY_S: Final = 86400.0


@dataclass(frozen=True, slots=True)
class Source:
    """Where a stream comes from: `tcp` with host and port, `serial` with device and rate, or a `file`."""

    kind: str
    name: str
    number: int = 0

    def __str__(self) -> str:
        return {"tcp": f"{self.name}:{self.number}", "serial": self.name}.get(
            self.kind, f"the file {self.name}"
        )


def source_of(text: str) -> Source:
    """The source that a text names.

    Parameters
    ----------
    text : str
        ``tcp://HOST:PORT``, ``serial:DEVICE@RATE`` or ``file:PATH``.

    Returns
    -------
    Source

    Raises
    ------
    ServeError
        It is none of them.

    Examples
    --------
    >>> source_of("tcp://10.0.0.7:5017")
    Source(kind='tcp', name='10.0.0.7', number=5017)
    >>> source_of("serial:/dev/ttyUSB0@9600")
    Source(kind='serial', name='/dev/ttyUSB0', number=9600)
    """
    tcp = re.fullmatch(r"tcp://(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+):([0-9]{1,5})/?", text)
    if tcp and 0 < int(tcp[2]) < 65536:
        return Source("tcp", tcp[1].strip("[]"), int(tcp[2]))
    serial = re.fullmatch(r"serial:([^@]+)@([0-9]{3,7})", text)
    if serial:
        return Source("serial", serial[1], int(serial[2]))
    if text.startswith("file:") and Path(text[5:]).is_file():
        return Source("file", text[5:])
    raise ServeError(
        f"--gnss '{text}' is no stream of a receiver: tcp://HOST:PORT, serial:DEVICE@RATE as "
        "serial:/dev/ttyUSB0@9600, or file:PATH of a recorded one that is there"
    )


class Places:
    """Bytes of a stream to the last place it gave."""

    def __init__(self) -> None:
        self.place: PositionBody | None = None
        self.said = ""  # why there is no place, in words
        self._rest = b""
        self._at: Time | None = None
        self._sigma: tuple[Time, str, float] | None = None

    def feed(self, chunk: bytes, now: datetime) -> bool:
        """Take some bytes in; whether that changed anything."""
        *lines, self._rest = (self._rest + chunk).split(b"\n")
        self._rest = self._rest[-_LONGEST:]
        changed = False
        for line in lines:
            for found in _SENTENCE.finditer(line):
                changed = self._take(found[0], now) or changed
        return changed

    def _take(self, sentence: bytes, now: datetime) -> bool:
        from pynmeagps import NMEAReader
        from pynmeagps.exceptions import (
            NMEAMessageError,
            NMEAParseError,
            NMEAStreamError,
            NMEATypeError,
        )

        wrong = (NMEAMessageError, NMEAParseError, NMEAStreamError, NMEATypeError)
        try:
            said: Any = NMEAReader.parse(sentence, validate=1)
            if not isinstance(said.time, Time):
                return False
            return self._place(said, now) if said.msgID == "GGA" else self._spread(said)
        except (*wrong, ValueError, TypeError, AttributeError):
            return False

    def _place(self, said: Any, now: datetime) -> bool:
        quality = int(said.quality or 0)
        longitude, latitude = said.lon, said.lat
        placed = isinstance(longitude, float) and isinstance(latitude, float)
        if quality not in MEASURED or not placed or abs(longitude) > 180.0 or abs(latitude) > 90.0:
            before, self.said = self.said, _no_place(quality)
            return before != self.said
        fix = MEASURED[quality]
        self.said, self._at = "", said.time
        self.place = PositionBody(
            PositionState.PLACE,
            "",
            round(longitude, 9),
            round(latitude, 9),
            self._sigma_at(said.time, fix),
            fix,
            now.isoformat(timespec="milliseconds"),
        )
        return True

    def _spread(self, said: Any) -> bool:
        if not isinstance(said.stdLat, float) or not isinstance(said.stdLong, float):
            return False
        sigma = sigma_of_axes(said.stdLat, said.stdLong)
        if not math.isfinite(sigma) or sigma <= 0.0 or self.place is None or self.place.fix is None:
            return False
        self._sigma = said.time, self.place.fix, sigma
        if self._at is None or self.said or _apart_s(self._at, said.time) > _SIGMA_WITHIN_S:
            return False
        self.place = replace(self.place, position_sigma_m=round(sigma, 4))
        return True

    def _sigma_at(self, at: Time, fix: str) -> float | None:
        if self._sigma is None or self._sigma[1] != fix or _apart_s(at, self._sigma[0]) > _SIGMA_WITHIN_S:
            return None
        return round(self._sigma[2], 4)


class Receiver:
    """A receiver that is listened to on a thread of its own, from `start` to `close`."""

    def __init__(self, source: Source, pace_s: float = 1.0) -> None:
        self.source = source
        self._pace_s = pace_s
        self._places = Places()
        self._trouble = f"nothing has come from {source} yet"
        self._heard_at = 0.0
        self._lock = threading.Lock()
        self._ending = threading.Event()
        self._listeners: set[Callable[[], None]] = set()
        self._thread = threading.Thread(target=self._listen, name="gnss", daemon=True)

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()

    def close(self) -> None:
        """Listen no more."""
        self._ending.set()
        if self._thread.is_alive():
            self._thread.join(3.0)
        self._tell()

    @property
    def ended(self) -> bool:
        """Whether it was closed."""
        return self._ending.is_set()

    def listen(self, wake: Callable[[], None]) -> Callable[[], None]:
        """Call `wake` when something changes; gives back how to stop."""
        with self._lock:
            self._listeners.add(wake)

        def stop() -> None:
            with self._lock:
                self._listeners.discard(wake)

        return stop

    def last(self, now: datetime | None = None) -> PositionBody:
        """The last place, and how things stand with it."""
        now = now or datetime.now(UTC)
        with self._lock:
            place, said, trouble = self._places.place, self._places.said, self._trouble
        age_s = None
        if place is not None and place.received_at is not None:
            age_s = max(0.0, round((now - datetime.fromisoformat(place.received_at)).total_seconds(), 1))
        state, words = _standing(place, age_s, said, trouble)
        if place is None:
            return PositionBody(state, words)
        return replace(place, state=state, words=words, age_s=age_s)

    def _listen(self) -> None:
        failures = 0
        while not self._ending.is_set():
            heard = False
            try:
                for chunk in self._chunks():
                    if self._ending.is_set():
                        return
                    heard = heard or bool(chunk)
                    self._heard(chunk)
                trouble = (
                    f"{self.source} has ended" if self.source.kind == "file" else f"{self.source} hung up"
                )
            except (OSError, ValueError) as error:  # ValueError: a name or a rate that none can have
                trouble = f"{self.source} cannot be read ({getattr(error, 'strerror', None) or error})"
            with self._lock:
                self._trouble = trouble
            self._tell()
            failures = 0 if heard else failures + 1
            if self.source.kind == "file" and heard:
                return
            self._ending.wait(_WAITS_S[min(failures, len(_WAITS_S) - 1)])

    def _heard(self, chunk: bytes) -> None:
        now = time.monotonic()
        if not chunk:
            with self._lock:
                self._trouble = f"{self.source} is silent"
            if now - self._heard_at > _SILENT_S:
                raise TimeoutError(f"silent for {_SILENT_S:g} s")
            return
        self._heard_at = now
        with self._lock:
            self._trouble = f"{self.source} sends, but no place"
            changed = self._places.feed(chunk, datetime.now(UTC))
        if changed:
            self._tell()

    def _chunks(self) -> Iterator[bytes]:
        """What comes in; an empty one about each second in which nothing does."""
        self._heard_at = time.monotonic()
        if self.source.kind == "tcp":
            with socket.create_connection((self.source.name, self.source.number), 5.0) as connection:
                connection.settimeout(1.0)
                while True:
                    try:
                        chunk = connection.recv(4096)
                    except TimeoutError:
                        yield b""
                        continue
                    if not chunk:
                        return
                    yield chunk
        elif self.source.kind == "serial":
            import serial  # here: only a server with a receiver on a line needs it

            with serial.Serial(self.source.name, self.source.number, timeout=1.0) as port:
                while True:
                    yield bytes(port.read(max(1, min(4096, port.in_waiting))))
        else:
            with Path(self.source.name).open("rb") as recorded:
                for line in recorded:
                    if b"GGA," in line:
                        self._ending.wait(self._pace_s)  # as it was recorded, more or less
                    yield line

    def _tell(self) -> None:
        with self._lock:
            listeners = list(self._listeners)
        for wake in listeners:
            with contextlib.suppress(RuntimeError):  # its loop has ended
                wake()


def _standing(
    place: PositionBody | None, age_s: float | None, said: str, trouble: str
) -> tuple[PositionState, str]:
    if place is None or age_s is None:
        return (PositionState.NO_PLACE, said) if said else (PositionState.SILENT, _sentence(trouble))
    if said:
        return PositionState.NO_PLACE, f"{said} The last place is {age_s:.0f} s old."
    if age_s > FRESH_S:
        return PositionState.SILENT, f"The receiver's last place is {age_s:.0f} s old: {trouble}."
    if place.position_sigma_m is None:
        return (
            PositionState.PLACE,
            f"{_sentence(f'{place.fix} fix')} The receiver does not say how good it is.",
        )
    return PositionState.PLACE, _sentence(
        f"{place.fix} fix, within {_length(_WITHIN * place.position_sigma_m)} 19 times in 20"
    )


def _length(metres: float) -> str:
    return f"{metres * 100:.1f} cm" if metres < 0.1 else f"{metres:.2f} m"


def _no_place(quality: int) -> str:
    if quality in NOT_MEASURED:
        return f"The receiver's place is {NOT_MEASURED[quality]}, not measured."
    return "The receiver has no fix."


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _apart_s(one: Time, other: Time) -> float:
    """Seconds between two times of day, over midnight too.

    Examples
    --------
    >>> _apart_s(Time(23, 59, 59), Time(0, 0, 1))
    2.0
    """
    a, b = (t.hour * 3600 + t.minute * 60 + t.second + t.microsecond * 1e-6 for t in (one, other))
    apart = abs(a - b)
    return min(apart, _DAY_S - apart)
