"""Numbers and lengths as people write them."""

from __future__ import annotations

import math

import pytest

from plumbmark.base.errors import PlumbmarkError, UnitError
from plumbmark.base.units import (
    FOOT_M,
    INCH_M,
    number_step,
    parse_length,
    parse_length_or_range,
    parse_number,
    parse_number_or_range,
    shown,
)


def test_feet_and_inches_are_exact() -> None:
    # International yard and pound agreement of 1959: 1 yd = 0.9144 m exactly.
    assert math.isclose(3 * FOOT_M, 0.9144)
    assert math.isclose(36 * INCH_M, 0.9144)


@pytest.mark.parametrize(
    ("text", "value"),
    [("1", 1.0), ("-1.5", -1.5), ("+.5", 0.5), ("5.", 5.0), ("1e-3", 1e-3), ("1E3", 1000.0), (" 7\t", 7.0)],
)
def test_numbers(text: str, value: float) -> None:
    assert parse_number(text) == value


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "-",
        "+",
        ".",
        "e5",
        "1e",
        "nan",
        "NAN",
        "inf",
        "-Infinity",
        "0x10",
        "0b1",
        "1_0",
        "1,0",
        "1 0",
        "--1",
        "1e999",
        "-1e999",
        "1e-+3",
        "1e1000000",
        "\u0661",
        "\uff11",
        "\u00b2",
        "\u22121",
        "1.2.3",
        "1d3",
        "true",
        "1\n2",
    ],
)
def test_no_numbers(text: str) -> None:
    with pytest.raises(UnitError, match="is not a"):
        parse_number(text)


@pytest.mark.parametrize(
    ("text", "metres", "unit"),
    [
        ("3 ft 6 in", 42 * INCH_M, "in"),
        ("3ft6in", 42 * INCH_M, "in"),
        ("3 ' 6 \"", 42 * INCH_M, "in"),
        ("3'6\"", 42 * INCH_M, "in"),
        ("0'6\"", 6 * INCH_M, "in"),
        ("-3'6\"", -42 * INCH_M, "in"),
        ("-0 ft 3 in", -3 * INCH_M, "in"),
        ("3 ft 6.5 in", 42.5 * INCH_M, "in"),
        ("3 ft", 3 * FOOT_M, "ft"),
        ("3.5 ft", 3.5 * FOOT_M, "ft"),
        ("3'", 3 * FOOT_M, "ft"),
        ("42 in", 42 * INCH_M, "in"),
        ('42"', 42 * INCH_M, "in"),
        ("1.07 m", 1.07, "m"),
        ("1.07M", 1.07, "m"),
        ("107cm", 1.07, "cm"),
        ("1070 mm", 1.07, "mm"),
        ("-4 in", -4 * INCH_M, "in"),
    ],
)
def test_lengths_that_state_their_unit(text: str, metres: float, unit: str) -> None:
    got = parse_length(text, None)
    assert math.isclose(got.low, metres)
    assert got.low == got.high
    assert got.unit == unit


@pytest.mark.parametrize(
    "text",
    [
        "3 ft 12 in",
        "3.5 ft 6 in",
        "3 ft -6 in",
        "3 ft 6",
        "3-6",
        "3 1/2 in",
        "3 feet",
        "6 in 3 ft",
        "1 m 7 cm",
        "1 km",
        "1 yd",
        "m",
        "'",
        "3'6'",
        '3"6"',
        "3 ft 6 in 2",
        "1.07 m.",
        "1.07 m m",
        "3 ft 6 \u00bd in",
    ],
)
def test_no_lengths(text: str) -> None:
    with pytest.raises(UnitError):
        parse_length(text, None)


def test_a_number_alone_needs_a_unit_somewhere() -> None:
    with pytest.raises(UnitError, match=r"states no unit.*name the column depth_m"):
        parse_length("1.07", None)
    assert parse_length("1.07", "m").low == 1.07


@pytest.mark.parametrize(
    ("text", "unit"), [("42 in", "ft"), ("3 ft 6 in", "ft"), ("3'6\"", "in"), ("1 m", "cm")]
)
def test_another_unit_than_the_column(text: str, unit: str) -> None:
    with pytest.raises(UnitError, match="its column is in"):
        parse_length(text, unit)


@pytest.mark.parametrize(
    ("text", "unit", "low", "high"),
    [
        ("0.0..0.1", "m", 0.0, 0.1),
        ("-24..-12", "in", -24 * INCH_M, -12 * INCH_M),
        ("2 in..4 in", None, 2 * INCH_M, 4 * INCH_M),
        ("2 .. 4 in", None, 2 * INCH_M, 4 * INCH_M),
        ("2 in..1 ft", None, 2 * INCH_M, 12 * INCH_M),
        ("3'..3'6\"", None, 36 * INCH_M, 42 * INCH_M),
        ("1...2", "m", 1.0, 0.2),
    ],
)
def test_ranges(text: str, unit: str | None, low: float, high: float) -> None:
    if low > high:  # "1." and ".2", or "1" and "..2": whichever, the higher end is first or it is no range
        with pytest.raises(UnitError):
            parse_length_or_range(text, unit)
        return
    got = parse_length_or_range(text, unit)
    assert math.isclose(got.low, low, abs_tol=1e-12)
    assert math.isclose(got.high, high)
    assert got.step == 0.0


@pytest.mark.parametrize(
    "text", ["..", "1..", "..1", "1..2..3", "2..1", "a..b", "1..b", "3..3 ft 6 in", "1-2", "1 to 2"]
)
def test_no_ranges(text: str) -> None:
    with pytest.raises(UnitError):
        parse_length_or_range(text, None)
    with pytest.raises(UnitError):
        parse_number_or_range(text)


@pytest.mark.parametrize(
    ("text", "step"),
    [
        ("4.50", 0.01),
        ("12", 1.0),
        ("12.", 1.0),
        (".5", 0.1),
        ("1e3", 1000.0),
        ("1.5e-3", 1e-4),
        ("-7.0", 0.1),
    ],
)
def test_worth_of_the_last_digit(text: str, step: float) -> None:
    assert number_step(text) == pytest.approx(step, rel=1e-12)
    assert parse_number_or_range(text).step == pytest.approx(step, rel=1e-12)


def test_steps_of_lengths() -> None:
    assert parse_length("3 ft 6 in", None).step == INCH_M
    assert parse_length("3.50", "ft").step == pytest.approx(0.01 * FOOT_M)


def test_currents() -> None:
    got = parse_number_or_range("8.0", 1e-3, "ma")
    assert (got.low, got.step, got.unit) == (pytest.approx(8e-3), pytest.approx(1e-4), "ma")


def test_messages_show_the_cell_on_one_line() -> None:
    with pytest.raises(UnitError) as refused:
        parse_number("a\nb")
    assert r"'a\nb' is not a number" in str(refused.value)
    assert len(shown("x" * 10_000)) < 60


def test_one_family_of_errors() -> None:
    assert issubclass(UnitError, PlumbmarkError)
    assert issubclass(UnitError, ValueError)
