"""Cells as logs hold them, turned into cells of a job folder without a digit lost."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Final

from plumbmark.base.errors import UnitError
from plumbmark.base.units import parse_length_or_range, parse_number, parse_number_or_range, shown

_THOUSANDS: Final = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_FRACTION: Final = re.compile(r"(?:([0-9]+)[ -])?([0-9]{1,2})/([0-9]{1,2})(?=\s*(?:in|\"|$))")
_UNIT_WORDS: Final = (
    (re.compile(r"(?<![a-z])(?:feet|foot|ft\.)(?![a-z])"), "ft"),
    (re.compile(r"(?<![a-z])(?:inches|inch|ins|in\.)(?![a-z])"), "in"),
    (re.compile(r"(?<![a-z])(?:metres?|meters?|mtrs?\.?)(?![a-z])"), "m"),
    (re.compile(r"(?<![a-z])(?:centimetres?|centimeters?)(?![a-z])"), "cm"),
    (re.compile(r"(?<![a-z])(?:millimetres?|millimeters?)(?![a-z])"), "mm"),
)
_QUOTES: Final = str.maketrans(
    {"\u2032": "'", "\u2019": "'", "\u2018": "'", "\u2033": '"', "\u201d": '"', "\u2212": "-"}
)
_STATES_UNIT: Final = re.compile(r"(?:[a-z]|['\"])\s*$")
_ARC: Final = re.compile(
    r"([NSEW])?\s*([+-]?[0-9]{1,3}(?:\.[0-9]+)?)\s*(?:[°d ]\s*(?:([0-9]{1,2}(?:\.[0-9]+)?)\s*(?:['m ]\s*"
    r"(?:([0-9]{1,2}(?:\.[0-9]+)?)\s*(?:\"|''|s)?)?)?)?)?\s*([NSEW])?",
    re.IGNORECASE,
)


def number_text(cell: str, decimal: str) -> str:
    """A number, or a range of numbers, with a decimal point and nothing between thousands.

    Parameters
    ----------
    cell : str
    decimal : str
        ``.`` or ``,``: what stands before decimals in this log.

    Returns
    -------
    str

    Raises
    ------
    UnitError
        It is none.

    Examples
    --------
    >>> number_text("1,250.50", "."), number_text("1,25", ",")
    ('1250.50', '1.25')
    """
    text = "..".join(_pointed(end, decimal) for end in cell.translate(_QUOTES).split(".."))
    parse_number_or_range(text)
    return text


def scaled_text(cell: str, decimal: str, power: int) -> str:
    """A number times a power of ten, its digits as they were.

    Examples
    --------
    >>> scaled_text("0.0230", ".", 3), scaled_text("33", ".", 3)
    ('23.0', '33000')
    """
    ends = number_text(cell, decimal).split("..")
    return "..".join(format(Decimal(end).scaleb(power), "f") if power else end for end in ends)


def length_text(cell: str, decimal: str) -> str:
    """A length with its unit if it states one, as a job folder writes it.

    Examples
    --------
    >>> length_text("3 feet 1 1/2 inches", "."), length_text("1,07 m", ","), length_text("42", ".")
    ('3 ft 1.5 in', '1.07 m', '42')
    """
    text = cell.strip().translate(_QUOTES).lower()
    text = _FRACTION.sub(_as_decimal, text)
    for pattern, unit in _UNIT_WORDS:
        text = pattern.sub(unit, text)
    if not has_unit(text):
        return number_text(text, decimal)
    if decimal == ",":
        text = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)
    parse_length_or_range(text, None)
    return text


def has_unit(cell: str) -> bool:
    """Whether a cell ends in something that is no number.

    Examples
    --------
    >>> has_unit("3 ft 1 in"), has_unit("1.07")
    (True, False)
    """
    return _STATES_UNIT.search(cell.strip().translate(_QUOTES).lower()) is not None


def degrees_text(cell: str, decimal: str, positive: str, negative: str) -> str:
    r"""Degrees as a decimal number, from that or from degrees, minutes and seconds.

    Parameters
    ----------
    cell : str
    decimal : str
    positive, negative : str
        Letters of the two hemispheres: N and S, or E and W.

    Examples
    --------
    >>> degrees_text("50°30'00\"S", ".", "N", "S"), degrees_text("4,8812", ",", "E", "W")
    ('-50.500000000', '4.8812')
    """
    text = cell.strip().translate(_QUOTES)
    if decimal == ",":
        text = text.replace(",", ".")
    found = _ARC.fullmatch(text)
    letters = "" if found is None else ((found[1] or "") + (found[5] or "")).upper()
    if found is None or len(letters) > 1 or letters not in ("", positive, negative):
        raise UnitError(f"{shown(cell)} is not in degrees (for example 50.50000 or 50°30'00\"{positive})")
    turned = -1.0 if letters == negative else 1.0
    if found[3] is None:
        return f"-{found[2].lstrip('+-')}" if letters == negative else found[2]
    degrees, minutes, seconds = parse_number(found[2]), float(found[3]), float(found[4] or 0.0)
    if minutes >= 60.0 or seconds >= 60.0:
        raise UnitError(f"{shown(cell)} has 60 minutes or seconds or more")
    turned *= -1.0 if found[2].startswith("-") else 1.0
    return f"{turned * (abs(degrees) + minutes / 60.0 + seconds / 3600.0):.9f}"


def _pointed(text: str, decimal: str) -> str:
    body = text.strip()
    if decimal == ",":
        body = body.replace(".", "") if "," in body and "." in body else body
        body = body.replace(",", ".")
    elif _THOUSANDS.fullmatch(body):
        body = body.replace(",", "")
    if re.fullmatch(r"[+-]?[0-9]{1,3}(?: [0-9]{3})+(?:\.[0-9]+)?", body):
        body = body.replace(" ", "")
    return body


def _as_decimal(found: re.Match[str]) -> str:
    if int(found[3]) not in (2, 4, 8, 16, 32):
        return found[0]
    return f"{float(int(found[1] or 0) + Fraction(int(found[2]), int(found[3]))):g}"
