"""Numbers and lengths as people write them, turned into SI; the only place that knows other units.

The grammar, with blanks allowed around each part::

    number    [+-] digits [. digits] [e [+-] digits]     ASCII, finite, no other sign or separator
    length    number unit | [+-] feet inches
    unit      m cm mm ft ' in "
    feet      digits ft | digits '                       whole feet where inches follow
    inches    digits [. digits] in | digits [. digits] " below 12
    range     length .. length                           the lower end first

Typographic quotes, which spreadsheets like to put in, count as ' and ".
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from plumbmark.base.errors import UnitError

FOOT_M: Final = 0.3048  # international foot, exact; the US survey foot is met in coordinate systems only
INCH_M: Final = 0.0254  # exact

#: Suffix of a column → metres per unit.
LENGTH_UNITS: Final[dict[str, float]] = {"m": 1.0, "ft": FOOT_M, "in": INCH_M, "cm": 0.01, "mm": 0.001}

UNIT_NAMES: Final[dict[str, str]] = {
    "m": "metres",
    "ft": "feet",
    "in": "inches",
    "cm": "centimetres",
    "mm": "millimetres",
    "ma": "milliamperes",
    "deg": "degrees",
    "db": "decibels",
}

_NUMBER: Final = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_NUMBER_ONLY: Final = re.compile(rf"[+-]?{_NUMBER}")
_WITH_UNIT: Final = re.compile(rf"([+-]?{_NUMBER})\s*(cm|mm|m|ft|in|'|\")", re.IGNORECASE | re.ASCII)
_FEET_INCHES: Final = re.compile(
    r"([+-]?)([0-9]+)\s*(?:ft|')\s*([0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*(?:in|\")", re.IGNORECASE | re.ASCII
)
_DECIMAL_COMMA: Final = re.compile(r"[+-]?[0-9]+,[0-9]+\s*[a-z'\"]*", re.IGNORECASE | re.ASCII)
_QUOTES: Final = str.maketrans({"\u2032": "'", "\u2019": "'", "\u2018": "'", "\u2033": '"', "\u201d": '"'})
_SIGNS: Final = {"'": "ft", '"': "in"}
_SHOWN: Final = 40
_STEPS: Final = tuple(float(f"1e-{decimals}") for decimals in range(16))


@dataclass(frozen=True, slots=True)
class Quantity:
    """One cell in SI: `low` and `high` are equal for a number and the ends of a range otherwise.

    `step` is what its last digit is worth, in SI, 0 for a range; `unit` is what it was written in. A length
    in feet and inches has the unit ``"in"``.
    """

    low: float
    high: float
    step: float
    unit: str


def shown(text: str) -> str:
    """A cell as a message quotes it: one line, escaped, not too long.

    Examples
    --------
    >>> shown("abc"), shown("x" * 100)[-6:]
    ("'abc'", 'xxx...')
    """
    return repr(text) if len(text) <= _SHOWN else repr(text[:_SHOWN])[:-1] + "..."


def parse_number(text: str) -> float:
    """A finite decimal number.

    Parameters
    ----------
    text : str

    Returns
    -------
    float

    Raises
    ------
    UnitError
        For anything else: NaN, infinity, hexadecimal, underscores, a decimal comma, digits of other scripts.

    Examples
    --------
    >>> parse_number(" -1.07 ")
    -1.07
    >>> parse_number("1,07")
    Traceback (most recent call last):
    ...
    plumbmark.base.errors.UnitError: '1,07' is not a number (a decimal point is needed, for example 1.07)
    """
    body = text.strip()
    if _NUMBER_ONLY.fullmatch(body) is None:
        example = "for example 1.07"
        if _DECIMAL_COMMA.fullmatch(body):
            example = "a decimal point is needed, " + example
        raise UnitError(f"{shown(text)} is not a number ({example})")
    value = float(body)
    if not math.isfinite(value):
        raise UnitError(f"{shown(text)} is not a finite number")
    return value


def number_step(text: str) -> float:
    """What the last written digit of a number is worth.

    Examples
    --------
    >>> number_step("4.50"), number_step("12"), number_step("2e1")
    (0.01, 1.0, 10.0)
    """
    mantissa, _, power = text.strip().lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    if not power and decimals < len(_STEPS):
        return _STEPS[decimals]
    return float(f"1e{(int(power) if power else 0) - decimals}")


def parse_length(text: str, unit: str | None, column: str = "depth") -> Quantity:
    """A length in metres from a cell.

    Parameters
    ----------
    text : str
        The cell.
    unit : {"m", "ft", "in", "cm", "mm"} or None
        Unit that the name of the column states; None where each cell states its own.
    column : str
        Name of the column without a unit, for the example in a message.

    Returns
    -------
    Quantity
        In metres.

    Raises
    ------
    UnitError
        If it is no length, has no unit, or another unit than its column.

    Examples
    --------
    >>> parse_length("3 ft 6 in", None).low == parse_length("42", "in").low == 42 * 0.0254
    True
    >>> parse_length("1.07", "m")
    Quantity(low=1.07, high=1.07, step=0.01, unit='m')
    """
    if unit is not None and _NUMBER_ONLY.fullmatch(text):  # nearly all cells there are
        return _scaled(text, text, unit)
    body = text.strip().translate(_QUOTES)
    feet = _FEET_INCHES.fullmatch(body)
    stated = None if feet else _WITH_UNIT.fullmatch(body)
    if feet:
        if unit is not None:
            raise UnitError(_other_unit(text, "feet and inches", unit, column))
        return _feet_inches(text, *feet.groups())
    if stated:
        name = _SIGNS.get(stated[2], stated[2].lower())
        if unit is not None and name != unit:
            raise UnitError(_other_unit(text, UNIT_NAMES[name], unit, column))
        return _scaled(text, stated[1], name)
    if _NUMBER_ONLY.fullmatch(body) is None:
        raise UnitError(f"{shown(text)} is not a length ({_length_example(body, unit, column)})")
    if unit is None:
        raise UnitError(
            f"{shown(text)} states no unit, and neither does its column "
            f"(write 1.07 m, 42 in or 3 ft 6 in, or name the column {column}_m)"
        )
    return _scaled(text, body, unit)


def parse_length_or_range(text: str, unit: str | None, column: str = "depth") -> Quantity:
    """A length, or a range of lengths, in metres.

    As `parse_length`; where the lower end of a range states no unit it has that of the upper.

    Examples
    --------
    >>> parse_length_or_range("2 in..4 in", None).high
    0.1016
    """
    low, dots, high = text.partition("..")
    if not dots:
        return parse_length(text, unit, column)
    if not low.strip() or not high.strip() or ".." in high:
        raise UnitError(f"{shown(text)} is not a range (for example {_range_example(unit)})")
    upper = parse_length(high, unit, column)
    shared = _WITH_UNIT.fullmatch(high.strip().translate(_QUOTES))
    lends = unit is None and shared and _NUMBER_ONLY.fullmatch(low.strip())
    lower = parse_length(low, upper.unit if lends else unit, column)
    return _range(text, lower.low, upper.low, upper.unit)


def parse_number_or_range(text: str, factor: float = 1.0, unit: str = "") -> Quantity:
    """A number or a range of numbers, times a factor (SI unit per unit of the file).

    Examples
    --------
    >>> parse_number_or_range("20..30", 1e-3, "ma")
    Quantity(low=0.02, high=0.03, step=0.0, unit='ma')
    """
    low, dots, high = text.partition("..")
    if not dots:
        value = parse_number(text) * factor
        return Quantity(value, value, number_step(text) * factor, unit)
    if not low.strip() or not high.strip() or ".." in high:
        raise UnitError(f"{shown(text)} is not a range (for example 1.0..1.2)")
    return _range(text, parse_number(low) * factor, parse_number(high) * factor, unit)


def _range(text: str, low: float, high: float, unit: str) -> Quantity:
    if low > high:
        raise UnitError(f"{shown(text)} is a range with the higher end first (write the lower end first)")
    return Quantity(low, high, 0.0, unit)


def _feet_inches(text: str, sign: str, feet: str, inches: str) -> Quantity:
    if float(inches) >= 12.0:
        raise UnitError(f"{shown(text)} has 12 inches or more beside its feet (0 to 11, or inches alone)")
    value = (12.0 * float(feet) + float(inches)) * INCH_M
    if not math.isfinite(value):
        raise UnitError(f"{shown(text)} is not a finite number")
    value = -value if sign == "-" else value
    return Quantity(value, value, number_step(inches) * INCH_M, "in")


def _scaled(text: str, number: str, unit: str) -> Quantity:
    value = float(number) * LENGTH_UNITS[unit]
    if not math.isfinite(value):
        raise UnitError(f"{shown(text)} is not a finite number")
    return Quantity(value, value, number_step(number) * LENGTH_UNITS[unit], unit)


def _other_unit(text: str, found: str, unit: str, column: str) -> str:
    return (
        f"{shown(text)} states {found}, and its column is in {UNIT_NAMES[unit]} "
        f"(write the number alone, or name the column {column})"
    )


def _length_example(body: str, unit: str | None, column: str) -> str:
    if _DECIMAL_COMMA.fullmatch(body):
        return "a decimal point is needed, for example 1.07"
    if unit is None:
        return "for example 1.07 m, 42 in or 3 ft 6 in"
    return f"for example 1.07, or 3 ft 6 in in a column named {column}"


def _range_example(unit: str | None) -> str:
    return "0.0..0.1" if unit else "2 in..4 in"
