"""NMEA 0183 logs of a GNSS receiver: one row for each fix, with its time and how good it says it is.

GGA tells the place, GST of the same second its standard deviations, RMC and ZDA the day.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final

from plumbmark.exchange.readers.log import MAX_ROWS, Known, Log, LogError, Part, Reader, told
from plumbmark.model.finding import Finding
from plumbmark.model.position import MEASURED, NOT_MEASURED, sigma_of_axes

_SENTENCE: Final = re.compile(rb"\$[A-Z]{2}(GGA|GST|RMC|ZDA),[\x20-\x23\x25-\x7e]*?\*[0-9A-Fa-f]{2}")
_ANY: Final = re.compile(rb"^[^\n]{0,40}?[$!][A-Z]{4,5},[\x20-\x7e]*", re.MULTILINE)
_BROKEN: Final = re.compile(rb"\$[A-Z]{2}(?:GGA|GST|RMC|ZDA)")
_NEAR: Final = 20  # lines between the sentences of one moment, at most
_DAY_LINES: Final = 500  # after which the day is read again
_HALF_DAY: Final = timedelta(hours=12)
_COLUMNS: Final = {
    "time": Known("time"),
    "longitude": Known("longitude_deg", "deg"),
    "latitude": Known("latitude_deg", "deg"),
    "sigma (m)": Known("position_sigma", "m"),
    "fix": Known(""),
    "height (m)": Known(""),
}


@dataclass(slots=True)
class _Fix:
    line: int
    at: time
    day: date | None = None
    longitude: str = ""
    latitude: str = ""
    height: str = ""
    quality: int = 0
    sigma: str = ""


def reads(name: str, data: bytes) -> bool:
    """Whether sentences stand near its beginning."""
    del name
    return len(_ANY.findall(data[:8192])) >= 2 and _SENTENCE.search(data[:65536]) is not None


def read(name: str, data: bytes) -> Log:
    """Read all fixes; broken sentences are counted and left out."""
    fixes, broken = _fixes(data)
    findings: list[Finding] = []
    if broken:
        first = min(line for line, _ in broken)
        kinds = ", ".join(f"{count:,} {kind}" for kind, count in Counter(why for _, why in broken).items())
        count = f"{len(broken):,} sentence{'s were' if len(broken) > 1 else ' was'}"
        findings.append(told(f"{name} line {first}", f"{count} not read ({kinds}); this is the first"))
    without = sum(1 for fix in fixes if fix.quality == 0 or not fix.longitude)
    if without:
        times = "once" if without == 1 else f"{without:,} times"
        findings.append(told(name, f"the receiver said {times} that it has no place"))
    odd = Counter(NOT_MEASURED[fix.quality] for fix in fixes if fix.quality in NOT_MEASURED)
    findings += [
        told(name, f"{count:,} places are {kind}: they were not measured") for kind, count in odd.items()
    ]
    fixes = [fix for fix in fixes if fix.longitude and fix.quality != 0 and fix.quality not in NOT_MEASURED]
    if not fixes:
        raise LogError("has no place in it that was measured")
    if len(fixes) > MAX_ROWS:
        raise LogError(f"has {len(fixes):,} places, and at most {MAX_ROWS:,} are read: split it")
    dated = all(fix.day is not None for fix in fixes)
    rows = tuple(
        (
            f"{fix.day} {fix.at.isoformat()}+00:00" if dated else fix.at.isoformat(),
            fix.longitude,
            fix.latitude,
            fix.sigma,
            MEASURED.get(fix.quality, f"quality {fix.quality}"),
            fix.height,
        )
        for fix in fixes
    )
    answers = {} if dated else {"zone": "+00:00"}
    numbers = tuple(fix.line for fix in fixes)
    part = Part("", tuple(_COLUMNS), rows, numbers, _COLUMNS, ("positions", "passes"), answers, "line")
    return Log("NMEA 0183", (part,), tuple(findings))


@dataclass(slots=True)
class _Heard:
    """What the sentences so far said: fixes; the days, and the sigmas of a moment, by line."""

    fixes: list[_Fix] = field(default_factory=list)
    days: list[tuple[int, time, date]] = field(default_factory=list)
    sigmas: dict[int, tuple[time, str]] = field(default_factory=dict)


def _fixes(data: bytes) -> tuple[list[_Fix], list[tuple[int, str]]]:
    """Fixes in the order of the file, with their days where the log tells one; and what was broken."""
    from pynmeagps import NMEAReader
    from pynmeagps.exceptions import NMEAMessageError, NMEAParseError, NMEAStreamError, NMEATypeError
    from pynmeagps.nmeahelpers import calc_checksum

    heard = _Heard()
    day, told_at = b"", 0
    broken: list[tuple[int, str]] = []
    for number, line in enumerate(data.split(b"\n"), 1):
        found = _SENTENCE.search(line)
        if found is None:
            if _BROKEN.search(line):
                broken.append((number, "cut off or without checksum"))
            continue
        if found[1] == b"RMC" and found[0].split(b",")[9:10] == [day] and number - told_at < _DAY_LINES:
            body, _, said = found[0][1:].rpartition(b"*")  # nothing new in it; parsing takes long
            if int(calc_checksum(body.decode()), 16) != int(said, 16):
                broken.append((number, "checksum wrong"))
            continue
        try:
            _take(NMEAReader.parse(found[0], validate=1), number, heard)
            if found[1] == b"RMC":
                day, told_at = found[0].split(b",")[9], number
        except NMEAParseError as error:
            broken.append((number, "checksum wrong" if "checksum" in str(error) else "not readable"))
        except (NMEAMessageError, NMEAStreamError, NMEATypeError, ValueError, TypeError, AttributeError):
            broken.append((number, "not readable"))
    _date(heard.fixes, heard.days)
    by_line = list(heard.sigmas.items())
    k = 0
    for fix in heard.fixes:  # the sentence of the same moment stands near by, before or after
        while k < len(by_line) and by_line[k][0] < fix.line - _NEAR:
            k += 1
        near = (said for line, said in by_line[k : k + 2 * _NEAR] if abs(line - fix.line) <= _NEAR)
        fix.sigma = next((sigma for at, sigma in near if at == fix.at), "")
    return heard.fixes, broken


def _take(said: Any, line: int, heard: _Heard) -> None:
    """Take one sentence in."""
    kind, at = said.msgID, said.time
    if not isinstance(at, time):
        return
    if kind == "GGA":
        fix = _Fix(line, at, quality=int(said.quality or 0))
        if isinstance(said.lon, float) and isinstance(said.lat, float):
            fix.longitude, fix.latitude = f"{said.lon:.9f}", f"{said.lat:.9f}"
            fix.height = str(said.alt)
        heard.fixes.append(fix)
    elif kind == "GST" and isinstance(said.stdLat, float) and isinstance(said.stdLong, float):
        sigma = sigma_of_axes(said.stdLat, said.stdLong)
        if math.isfinite(sigma) and sigma > 0.0:
            heard.sigmas[line] = (at, f"{max(sigma, 0.001):.3f}")
    elif kind == "RMC" and isinstance(said.date, date):
        heard.days.append((line, at, said.date))
    elif kind == "ZDA":
        heard.days.append((line, at, date(int(said.year), int(said.month), int(said.day))))


def _date(fixes: list[_Fix], days: list[tuple[int, time, date]]) -> None:
    """Give each fix its day: that of the nearest sentence with one, a day on or back over midnight."""
    if not days:
        return
    k = 0
    for fix in fixes:
        while k + 1 < len(days) and abs(days[k + 1][0] - fix.line) <= abs(days[k][0] - fix.line):
            k += 1
        _, at, day = days[k]
        apart = datetime.combine(day, fix.at, UTC) - datetime.combine(day, at, UTC)
        step = -1 if apart > _HALF_DAY else 1 if apart < -_HALF_DAY else 0
        fix.day = day + timedelta(days=step)


READER: Final = Reader(reads, read)
