"""What a column is likely to hold, by the trade's own words in its name and by the units in its cells.

A guess is shown to the person, with the reason. What is not said anywhere, a unit above all, is not guessed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from plumbmark.base.errors import UnitError
from plumbmark.exchange.readers import fields as f
from plumbmark.exchange.readers.cells import has_unit, length_text, number_text
from plumbmark.exchange.readers.log import Part

#: Words of a unit in a column's name, after the name proper or in brackets.
_UNITS: Final = {
    "m": "m",
    "meter": "m",
    "meters": "m",
    "metre": "m",
    "metres": "m",
    "mtr": "m",
    "ft": "ft",
    "feet": "ft",
    "foot": "ft",
    "'": "ft",
    "in": "in",
    "inch": "in",
    "inches": "in",
    "ins": "in",
    '"': "in",
    "cm": "cm",
    "centimetres": "cm",
    "centimeters": "cm",
    "mm": "mm",
    "millimetres": "mm",
    "millimeters": "mm",
    "ma": "ma",
    "milliamps": "ma",
    "a": "a",
    "amps": "a",
    "ua": "ua",
    "hz": "hz",
    "khz": "khz",
    "mhz": "mhz",
    "deg": "deg",
    "degrees": "deg",
    "°": "deg",
}
#: Field by words of the name, the more particular first. Words, not endings: "line" is none of "offline".
_NAMES: Final = tuple(
    (field, re.compile(pattern))
    for field, pattern in (
        ("half_left", r"\bhalf\b.*\bleft\b|\bleft half\b"),
        ("half_right", r"\bhalf\b.*\bright\b|\bright half\b"),
        ("raised_depth", r"\b(raised|lifted)\b.*\bdepth\b|\bdepth\b.*\b(raised|lifted)\b"),
        ("raised_by", r"\b(raised|raise|lifted)\b|\bblock\b"),
        ("null_ahead", r"\bnull ahead\b"),
        ("null_behind", r"\bnull behind\b"),
        ("null_offset", r"\bnull\b"),
        ("outside_diameter", r"\bdiameter\b"),
        ("depth_to_top", r"\b(cover|top)\b"),
        ("depth", r"\b(depth|deep|dep|dpth)\b"),
        ("current", r"\b(current|curr|amps?|milliamps|ma)\b"),
        (f.FREQUENCY, r"\b(frequency|freq|hz|khz)\b"),
        ("bearing_deg", r"\b(bearing|azimuth|heading|direction)\b"),
        ("heading_deg", r"\b(heading|facing)\b"),
        ("longitude_deg", r"\b(longitude|long|lon|lng)\b"),
        ("latitude_deg", r"\b(latitude|lat)\b"),
        ("position_sigma", r"\b(sigma|std|stdev|stddev|rms|hrms|standard deviation)\b"),
        ("easting", r"\b(easting|east)\b|^(e|x)$"),
        ("northing", r"\b(northing|north)\b|^(n|y)$"),
        (f.TIME, r"\b(date ?time|time ?stamp|taken at|when)\b|\bdate\b.*\btime\b|\btime\b.*\bdate\b"),
        (f.DAY, r"\b(date|day)\b"),
        (f.CLOCK, r"\b(time|clock)\b"),
        (f.NOTE, r"\b(notes?|comments?|remarks?|memo|description)\b"),
        ("by", r"\b(by|crew|technician|tech|surveyor|locator|observer|who)\b"),
        ("line", r"\b(line|utility|cable|pipe|service|facility)\b"),
        ("kind", r"\b(kind|type|feature|code|symbol)\b"),
        ("colour", r"\bcolou?r\b"),
        (f.ID, r"\b(reading|id|no|nr|num|number|point|pt|name|record|thing|hole|pass|track)\b|^#$"),
    )
)
#: Names that say how good a place is without saying in which sense.
_LOOSE: Final = re.compile(r"\b(accuracy|precision|acc|hacc|error|quality)\b")
_SHARE: Final = 0.5  # of the filled cells that have to bear a guess out


@dataclass(frozen=True, slots=True)
class Guess:
    """What a column is taken for, in which unit, and why; an empty field leaves it out."""

    field: str
    unit: str
    why: str


def guessed(part: Part, use: str) -> tuple[Guess, ...]:
    """A guess for each column of a part.

    Parameters
    ----------
    part : Part
    use : str
        What its rows are to become.

    Returns
    -------
    tuple of Guess
        No field twice, remarks aside.
    """
    fields = f.fields_of(use)
    used: set[str] = set()
    found: list[Guess] = []
    for place, name in enumerate(part.columns):
        cells = [row[place] for row in part.rows if row[place]]
        if name in part.known:
            known = part.known[name]
            guess = Guess(known.field, known.unit, "this kind of log says so")
        else:
            guess = _of_column(name, cells, fields)
        if guess.field and (guess.field not in fields or guess.field in used):
            why = "" if guess.field not in fields else f"another column holds {fields[guess.field].words}"
            guess = Guess("", "", why)
        if guess.field and guess.field != f.NOTE:
            used.add(guess.field)
        found.append(guess)
    return tuple(_without_doubt(found, part))


def _of_column(name: str, cells: Sequence[str], fields: dict[str, f.Field]) -> Guess:
    plain, unit = split_name(name)
    exact = name.strip().lower()
    for field in fields.values():  # a column as the job folder names it
        if field.column is not None and exact in field.column.names():
            said = exact.removeprefix(field.column.stem).removeprefix("_")
            unit = said if said in f.LENGTHS else "ma" if field.name == "current" else unit
            return _with_unit(field, unit, cells, f"is named {name!r}")
    if _LOOSE.search(plain):
        why = "it does not say whether it is one sigma or what holds 19 times in 20; choose, or leave it out"
        return Guess("", "", why)
    for wanted, pattern in _NAMES:
        if pattern.search(plain):
            if wanted == "depth_to_top" and wanted not in fields:
                return Guess(
                    "", "", "depth to the top is not what a receiver displays, which is to the middle"
                )
            if wanted in fields and _fits(fields[wanted], cells):
                return _with_unit(fields[wanted], unit, cells, f"is named {name!r}")
    return Guess("", "", "")


def unit_told(field: f.Field, name: str, cells: Sequence[str]) -> str:
    """The unit that a column's name or all of its cells tell for a field; empty where neither does."""
    return _with_unit(field, split_name(name)[1], cells, "").unit


def _with_unit(field: f.Field, unit: str, cells: Sequence[str], why: str) -> Guess:
    if not field.units:
        return Guess(field.name, "", why)
    if len(field.units) == 1:
        return Guess(field.name, field.units[0], why)
    if unit in field.units:
        return Guess(field.name, unit, f"{why}, with its unit")
    if f.CELLS in field.units and cells and all(map(has_unit, cells)):
        return Guess(field.name, f.CELLS, f"{why}; its cells say their units")
    return Guess(field.name, "", f"{why}; its unit is not said")


def _fits(field: f.Field, cells: Sequence[str]) -> bool:
    """Whether enough of some cells look like what a field holds."""
    some = [cell for cell in cells[:200] if not is_blank(cell)]
    if not some or field.holds in (f.Holds.TEXT, f.Holds.ID, f.Holds.MOMENT, f.Holds.CHOICE):
        return True
    if field.name in ("longitude_deg", "latitude_deg"):
        return sum(any(c.isdigit() for c in cell) for cell in some) >= _SHARE * len(some)

    def good(cell: str) -> bool:
        try:
            read = length_text if field.holds is f.Holds.LENGTH else number_text
            return bool(read(cell, "," if "," in cell and "." not in cell else "."))
        except UnitError:
            return False

    return sum(map(good, some)) >= _SHARE * len(some)


def _without_doubt(found: list[Guess], part: Part) -> list[Guess]:
    """A date and a time of day where both are there, else whatever the one column holds."""
    names = {guess.field: k for k, guess in enumerate(found)}
    out = list(found)
    for alone in (f.DAY, f.CLOCK):
        other = f.CLOCK if alone == f.DAY else f.DAY
        k = names.get(alone)
        if k is None or other in names:
            continue
        cells = [row[k] for row in part.rows if row[k]]
        whole = cells and all(re.search(r"\d[-/.]\d", cell) and ":" in cell for cell in cells)
        if whole and f.TIME not in names:
            out[k] = Guess(f.TIME, "", found[k].why)
        elif f.TIME in names:
            out[k] = Guess("", "", "another column holds date and time")
    return out


def is_blank(cell: str) -> bool:
    """Whether a cell says that nothing was taken.

    Examples
    --------
    >>> is_blank("---"), is_blank("N/A"), is_blank("0")
    (True, True, False)
    """
    return cell.strip().lower() in ("", "n/a", "na", "null", "none", "nan", "#n/a") or not cell.strip(
        "-\u2013\u2014. "
    )


def split_name(name: str) -> tuple[str, str]:
    """The words of a column's name in small letters, and the unit it states, empty if none.

    Examples
    --------
    >>> split_name("Depth (ft)"), split_name("lineDepth_m"), split_name("Signal current [mA]")
    (('depth', 'ft'), ('line depth', 'm'), ('signal current', 'ma'))
    """
    spaced = re.sub(r"(?<=[a-z]{2})(?=[A-Z][a-z])", " ", name).lower().replace("µ", "u").replace("μ", "u")
    inside = re.search(r"[(\[]\s*([^)\]]{1,12}?)\s*[)\]]", spaced)
    unit = _UNITS.get(inside[1].rstrip("."), "") if inside else ""
    words = re.sub(
        r"[^a-z0-9#'\"°]+", " ", spaced.replace(inside[0], " ") if inside and unit else spaced
    ).split()
    if not unit and len(words) > 1 and words[-1] in _UNITS:
        unit = _UNITS[words.pop()]
    return " ".join(words), unit
