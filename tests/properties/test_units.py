"""Lengths survive being written and read again, in every unit, and nothing but lengths is taken for one."""

from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from plumbmark.base.errors import UnitError
from plumbmark.base.units import (
    INCH_M,
    LENGTH_UNITS,
    parse_length,
    parse_length_or_range,
    parse_number,
    parse_number_or_range,
)

finite = st.floats(-1e9, 1e9, allow_nan=False)
units = st.sampled_from(sorted(LENGTH_UNITS))
alphabet = st.text(alphabet="0123456789.+-eE_x,' \"ftincm/\u00bd\u0661\u2212nai", max_size=12)


@given(finite)
def test_a_float_reads_as_itself(value: float) -> None:
    assert parse_number(repr(value)) == value


@given(finite, units, st.sampled_from(["", " ", "  "]))
def test_with_its_unit_or_in_its_column(value: float, unit: str, gap: str) -> None:
    stated = parse_length(f"{value!r}{gap}{unit}", None)
    column = parse_length(repr(value), unit)
    assert stated == column
    assert column.low == value * LENGTH_UNITS[unit]


@given(
    st.booleans(),
    st.integers(0, 10_000),
    st.integers(0, 11),
    st.sampled_from(["{} ft {} in", "{}'{}\"", "{}'  {}\""]),
)
def test_feet_and_inches(negative: bool, feet: int, inches: int, pattern: str) -> None:
    text = ("-" if negative else "") + pattern.format(feet, inches)
    got = parse_length(text, None)
    assert math.isclose(got.low, (-1 if negative else 1) * (12 * feet + inches) * INCH_M, abs_tol=0.0)


@given(finite, finite, units)
def test_a_range_has_its_ends_in_order(one: float, other: float, unit: str) -> None:
    low, high = sorted((one, other))
    got = parse_length_or_range(f"{low!r}..{high!r}", unit)
    assert got.low == low * LENGTH_UNITS[unit]
    assert got.high == high * LENGTH_UNITS[unit]
    if low < high:
        try:
            parse_length_or_range(f"{high!r}..{low!r}", unit)
        except UnitError:
            return
        raise AssertionError("a range with the higher end first was taken")


@given(st.one_of(st.text(max_size=20), alphabet))
def test_whatever_is_taken_is_finite_and_ascii(text: str) -> None:
    messages: list[str] = []
    for parse in (
        lambda: parse_number_or_range(text),
        lambda: parse_length_or_range(text, None),
        lambda: parse_length_or_range(text, "m"),
    ):
        try:
            got = parse()
        except UnitError as error:
            messages.append(str(error))
            continue
        assert math.isfinite(got.low)
        assert math.isfinite(got.high)
        assert got.low <= got.high
        assert got.step >= 0.0
        assert not set(text) & set("_xX,/\u00bd\u0661\u2212")
    assert not any("\n" in message for message in messages)


@given(st.integers(-(10**6), 10**6), st.integers(0, 6))
def test_the_last_digit(count: int, decimals: int) -> None:
    text = f"{count / 10**decimals:.{decimals}f}"
    got = parse_number_or_range(text)
    assert math.isclose(got.step, 10.0**-decimals)
    assert math.isclose(got.low, count / 10**decimals, abs_tol=1e-12)
