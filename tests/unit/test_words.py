"""Numbers into words: nothing finer than its band, and no band told narrower than it is."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbmark.handover import words
from plumbmark.model.estimate import Interval

UNITS = st.sampled_from(["ft-in", "m"])
FOOT, INCH = 0.3048, 0.0254  # exact by definition (international foot, 1959)


def metres(text: str) -> float:
    """What a length in words says, read back."""
    text = text.removeprefix("about ").removeprefix("under ")
    if text == "0":
        return 0.0
    if text.endswith(" m"):
        return float(text[:-2])
    found = re.fullmatch(r"(?:(\d+) ft)? ?(?:(\d+) in)?", text)
    assert found is not None, text
    return int(found[1] or 0) * FOOT + int(found[2] or 0) * INCH


@st.composite
def intervals(draw: st.DrawFn, lowest: float = 0.0) -> Interval:
    """A value inside a band."""
    low = draw(st.floats(lowest, 6.0))
    width = draw(st.floats(0.0, 4.0))
    return Interval(low + draw(st.floats(0.0, 1.0)) * width, low, low + width)


@pytest.mark.parametrize(
    ("inches", "said"),
    [
        (0, "0 in"),
        (4, "4 in"),
        (11.6, "1 ft"),
        (12, "1 ft"),
        (35, "2 ft 11 in"),
        (48, "4 ft"),
        (42, "3 ft 6 in"),
    ],
)
def test_feet_and_inches(inches: float, said: str) -> None:
    assert words.length(inches * INCH, "ft-in") == said


def test_the_band_of_the_house() -> None:
    # The example in the words of the house: 35, 29 and 44 inches.
    assert (
        words.depth(Interval(35 * INCH, 29 * INCH, 44 * INCH), "ft-in")
        == "2 ft 11 in (2 ft 5 in to 3 ft 8 in)"
    )


@given(intervals(), UNITS)
def test_a_depth_band_is_never_told_narrower(depth: Interval, units: str) -> None:
    low, high = (metres(text) for text in words.ends(depth, units))
    assert low <= depth.low + 1e-6
    assert high >= depth.high - 1e-6
    step = words.step_m(depth.high - depth.low, units)
    assert depth.low - low < step + 1e-6
    assert high - depth.high < step + 1e-6


@given(intervals(), UNITS)
def test_the_value_stands_inside_its_band_as_told(depth: Interval, units: str) -> None:
    low, high = (metres(text) for text in words.ends(depth, units))
    value = metres(words.length(depth.value, units, depth.high - depth.low))
    assert low - 1e-9 <= value <= high + 1e-9


@given(st.floats(0.0, 10.0), st.floats(0.0, 10.0), UNITS)
def test_a_wider_band_is_never_told_finer(width: float, more: float, units: str) -> None:
    assert words.step_m(width + more, units) >= words.step_m(width, units)


@given(st.floats(0.0, 60.0), UNITS)
def test_without_a_band_the_inch_or_the_centimetre(value: float, units: str) -> None:
    step = INCH if units == "ft-in" else 0.01
    assert abs(metres(words.length(value, units)) - value) <= 0.5 * step + 1e-9


@given(intervals(lowest=-2.0), UNITS)
def test_paint_is_on_the_side_of_the_shift(shift: Interval, units: str) -> None:
    said = words.paint(shift, units)
    if said == "at the mark":
        assert abs(shift.value) <= 0.5 * words.step_m(shift.high - shift.low, units) + 1e-9
    else:
        assert said.endswith(" right" if shift.value > 0 else " left")
        assert math.isclose(
            metres(said.rsplit(" ", 1)[0]),
            abs(shift.value),
            abs_tol=0.5 * words.step_m(shift.high - shift.low, units) + 1e-9,
        )


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (-7, 1, "7 in left to 1 in right"),
        (2, 9, "2 in to 9 in right"),
        (-9, -2, "2 in to 9 in left"),
        (-4, 0, "up to 4 in left"),
        (0, 4, "up to 4 in right"),
        (0, 0, "at the mark"),
    ],
)
def test_sideways(low: float, high: float, said: str) -> None:
    assert words.sideways(Interval(0.5 * (low + high) * INCH, low * INCH, high * INCH), "ft-in") == said


@given(st.floats(1e-6, 5.0), st.floats(0.0, 1.0), st.floats(1.0, 30.0))
def test_a_current_band_is_never_told_narrower(value: float, down: float, up: float) -> None:
    said, band = words.current(Interval(value, value * down, value * up))
    low, high = (float(x.replace(",", "")) for x in band.split(" to "))
    assert low <= 1e3 * value * down * (1 + 1e-6) + 1e-9
    assert high >= 1e3 * value * up * (1 - 1e-6)
    assert low <= float(said.replace(",", "")) <= high


def test_zero_current_has_words() -> None:
    assert words.current(Interval(0.0, 0.0, 0.0))[0] == "0.000"


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_chances_are_told_in_order(a: float, b: float) -> None:
    """The larger probability is never told as the smaller chance."""

    def rank(probability: float) -> float:
        words_of, counts = (
            words.chance(probability),
            [int(x) for x in re.findall(r"\d+", words.chance(probability))],
        )
        bend = {"more": 1e-4, "less": -1e-4}.get(words_of.split()[0], 0.0)
        return counts[0] / counts[1] + bend

    low, high = sorted((a, b))
    assert rank(low) <= rank(high)


@given(st.floats(0.0, 1.0))
def test_no_certainty_and_no_per_cent(probability: float) -> None:
    said = words.chance(probability)
    assert "%" not in said
    assert "100 in 100" not in said
    assert "10 in 10" not in said
    assert not said.startswith("about 0")


def test_ids_keep_their_case_at_the_start_of_a_sentence() -> None:
    assert words.sentence("r07 is the row before repeated") == "r07 is the row before repeated."
    assert words.sentence("peak and null agree") == "Peak and null agree."
    assert words.sentence("Is it?") == "Is it?"


def test_listing_runs_and_the_rest() -> None:
    order = [f"r{i}" for i in range(1, 41)]
    assert words.listing(["r3", "r1", "r2", "r7"], order) == "r1 to r3, r7"
    assert words.listing(["r1", "r2"], order) == "r1, r2"
    assert words.listing(order[::2], order, most=3) == "r1, r3, r5 and 17 more"


@given(st.floats(0.97, 1.0))
def test_what_holds_is_never_told_below_ninety_seven_in_a_hundred(probability: float) -> None:
    assert words.chance(probability) in {"about 49 in 50", "more than 99 in 100"}
