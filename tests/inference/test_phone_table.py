"""The table for the phone against the full answer, and against its own rules."""

from __future__ import annotations

import math
from importlib.resources import files
from itertools import product

import numpy as np
import pytest

from plumbmark.inference import priors as p
from plumbmark.inference.answer import SMALL_LN, SMALL_M
from plumbmark.inference.phone_table import (
    RAISE_M,
    SOIL_CLASSES,
    GapClass,
    PhoneReading,
    PhoneTableError,
    SoilClass,
    lookup,
    phone_table,
)
from plumbmark.inference.place import Looks, solve_place
from plumbmark.inference.place_data import place_data
from plumbmark.inference.second import Known
from plumbmark.inference.stations import Station
from plumbmark.model.job import Line, Setup
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading

MOST_BYTES = 300_000
#: How far the table may be from the full answer; docs/phone-table.md tells how far it is over sixty places:
MIDDLE_LN = 0.08  # middle depth, of its logarithm ...
MIDDLE_M = 0.05  # ... and middle place, of the depth
CHANCE = 0.15
WIDTH = 1.6  # of bands, either way

#: depth, gap, raised depth, half points left and right
PLACES = [
    (1.0, 0.02, None, None, None),
    (0.8, 0.15, None, None, None),
    (1.0, 0.03, 1.29, None, None),
    (0.6, 0.05, 0.92, 0.62, 0.66),
    (1.2, 0.10, None, 1.25, 1.25),
    (1.0, 0.05, 1.31, 1.05, 1.10),
]


def full_answer(place: tuple[float | None, ...], soil: SoilClass) -> tuple[np.ndarray, np.ndarray, float]:
    """Shift and ln depth as the program tells them (low, middle, high), and the within-10 probability."""
    depth, gap, raised, left, right = place

    def cell(value: float | None) -> Measured | None:
        return None if value is None else Measured(value, rounding=0.01)

    reading = Reading(
        "1", "E", Place(0.0, 0.0), 2, bearing_deg=0.0, depth_m=cell(depth), null_offset_m=cell(gap),
        raised_by_m=cell(RAISE_M) if raised else None, raised_depth_m=cell(raised),
        half_left_m=cell(left), half_right_m=cell(right),
    )  # fmt: skip
    station = Station("reading", "1", reading.place, 0.0, "", 2, 0.0, reading)
    ohm, factor = SOIL_CLASSES[soil]
    coils = (*p.LOWER_COIL_M, *p.COIL_SPACING_M)
    known = Known(math.log(ohm), math.log(factor), *coils, -1.0, 1.0, np.empty((0, 7)))
    looks = Looks((2000, 6000, 9000), (1000, 3000, 4000), 2, 300.0)
    found = solve_place(place_data(station, Line("E"), Setup("", "E")), known, [2], looks)
    rng = np.random.default_rng(3)
    spread = np.sqrt(p.MODEL_LATERAL_SIGMA_M**2 + p.FIX_SIGMA_M**2 + (p.SHIFT_SIGMA * found.shift) ** 2)
    shift = found.shift + spread * rng.normal(size=len(spread))
    ln_depth = found.ln_depth + p.MODEL_DEPTH_SIGMA * rng.normal(size=len(spread))

    def ends(values: np.ndarray) -> np.ndarray:
        order = np.argsort(values)
        below = np.cumsum(found.band_weights[order])
        low, middle, high = np.interp([0.025, 0.5, 0.975], below, values[order])
        return middle + p.BAND_STRETCH * (np.array([low, middle, high]) - middle)

    across, deep = ends(shift), ends(ln_depth)
    away = ln_depth - deep[1]
    near = (np.abs(shift - across[1]) < SMALL_M) & (away > SMALL_LN[0]) & (away < SMALL_LN[1])
    return across, deep, float(found.weights @ near)


@pytest.mark.parametrize("place", PLACES)
def test_the_table_says_what_the_full_answer_says(place: tuple[float | None, ...]) -> None:
    depth, gap, raised, left, right = place
    assert depth is not None
    told = lookup(PhoneReading(depth, gap, raised, left, right))
    assert told is not None
    across, deep, within = full_answer(place, SoilClass.UNKNOWN)
    assert abs(math.log(told.depth_m) - deep[1]) < MIDDLE_LN
    assert abs(told.shift_m - across[1]) < MIDDLE_M * depth + 0.01
    # of half points the table knows the mean alone: it may say less than the full answer, not more
    assert told.within_10_probability < within + CHANCE
    width = math.log(told.depth_high_m / told.depth_low_m) / (deep[2] - deep[0])
    assert width > 1.0 / WIDTH
    if left is None:
        assert told.within_10_probability > within - CHANCE
        assert width < WIDTH


def test_it_is_small_enough() -> None:
    path = files("plumbmark.inference") / "_tables" / "phone_table.json"
    assert len(path.read_bytes()) < MOST_BYTES


def test_it_was_made_with_the_priors_of_today() -> None:
    """If this fails, make it anew: tests/create_data/make_phone_table.py."""
    made = phone_table()["made_with"]
    today = {"BAND_STRETCH": p.BAND_STRETCH, "BAND_ODDS": list(p.BAND_ODDS), "LINES_ODDS": list(p.LINES_ODDS)}
    assert made == today


def test_every_cell_is_in_order_and_common_numbers_have_an_answer() -> None:
    cells = phone_table()["cells"].astype(int)
    there = cells[..., 6] != 255
    assert np.all(cells[there][:, 0] <= cells[there][:, 1])
    assert np.all(cells[there][:, 1] <= cells[there][:, 2])
    assert np.all(cells[there][:, 3] <= cells[there][:, 4])
    assert np.all(cells[there][:, 4] <= cells[there][:, 5])
    for depth, gap, raise_off, half in product((0.5, 1.0, 1.8), (None, *GapClass), (None, 0.0), (None, 1.0)):
        raised = None if raise_off is None else depth + RAISE_M
        if gap in (GapClass.FARTHER, GapClass.WITHIN_A_BOOT) and (raised or half):
            continue  # a null that far off beside readings of one line alone: such hardly go together
        side = None if half is None else 1.05 * depth
        assert lookup(PhoneReading(depth, gap, raised, side, side)) is not None, (depth, gap, raised, half)


def test_more_readings_that_agree_narrow_it() -> None:
    alone = lookup(PhoneReading(1.0))
    gap = lookup(PhoneReading(1.0, 0.0))
    every = lookup(PhoneReading(1.0, 0.0, 1.3, 1.05, 1.05))
    assert alone is not None
    assert gap is not None
    assert every is not None
    widths = [math.log(a.depth_high_m / a.depth_low_m) for a in (alone, gap, every)]
    assert widths[0] > widths[1] > widths[2]
    assert every.single_line_probability > gap.single_line_probability > alone.single_line_probability
    assert every.within_10_probability > alone.within_10_probability


def test_without_a_gap_there_is_no_side() -> None:
    told = lookup(PhoneReading(1.0, None, 1.2))
    assert told is not None
    assert told.shift_m == 0.0
    assert told.shift_low_m == -told.shift_high_m


def test_a_node_is_read_as_it_stands_and_between_nodes_lies_between() -> None:
    table = phone_table()
    at = [lookup(PhoneReading(table["depth_m"][1], g * table["depth_m"][1])) for g in (0.05, 0.075, 0.10)]
    assert all(a is not None for a in at)
    low, middle, high = (a.depth_high_m for a in at if a is not None)
    cell = table["cells"][1, 1, 5 + 1, 0, 0]
    assert low == pytest.approx(0.7 * math.exp(0.01 * (float(cell[5]) - 128.0)))
    assert min(low, high) <= middle <= max(low, high)


def test_what_cannot_be_is_refused_with_a_reason() -> None:
    with pytest.raises(PhoneTableError, match="half_left_m is -1"):
        lookup(PhoneReading(1.0, half_left_m=-1.0))
    with pytest.raises(PhoneTableError, match="depth_m is nan"):
        lookup(PhoneReading(math.nan))
