"""The published pairs of lines, with soil and coils not known: the truth lies in the band.

A second current beside a line 1 m deep: the rows of the table in REFERENCES 3.4 (computed there). Peak, null,
half points and depths of the pair in air come from formulas written here; rows of the table hold them first.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from plumbmark.inference import priors as p
from plumbmark.inference.place import Looks, solve_place
from plumbmark.inference.place_data import place_data
from plumbmark.inference.second import Known
from plumbmark.inference.stations import Station
from plumbmark.model.job import Line, Setup
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading

LOWER, SPACING, RAISE_M = 0.05, 0.40, 0.30
#: current, place, depth of the other line; peak, null, half-width depth, gradient depth, all at height 0
ROWS = [
    (0.0, 9.0, 1.0, 0.0, 0.0, 1.0, 1.0),
    (-0.2, 0.6, 1.0, -0.0645, -0.0945, 0.9068, 0.9139),
    (0.2, 0.6, 1.0, 0.0652, 0.0822, 1.0653, 1.0672),
    (-0.3, 1.0, 1.0, -0.0704, -0.1519, 0.8439, 0.8306),
    (0.3, 1.0, 1.0, 0.0822, 0.1514, 1.2024, 1.1707),
    (-0.5, 1.0, 1.0, -0.1138, -0.2599, 0.7812, 0.7188),
    (0.5, 1.0, 1.0, 0.1497, 0.2551, 1.2840, 1.2845),
    (-0.3, 0.5, 0.6, -0.1906, -0.2596, 0.7716, 0.7916),
    (0.3, 2.0, 1.0, 0.0247, 0.1266, 1.3632, 1.1434),
]


class Pair:
    """A line of 1 A, 1 m deep at 0, and another; in air."""

    def __init__(self, amps: float, at: float, deep: float, lower: float) -> None:
        self.lines = ((1.0, 0.0, 1.0), (amps, at, deep))
        self.lower = lower
        found = minimize_scalar(
            lambda x: -abs(self.across(x, lower)),
            bounds=(-0.45, 0.45),
            method="bounded",
            options={"xatol": 1e-9},
        )
        self.peak = float(found.x)
        self.null = float(brentq(lambda x: self.upright(x, lower), self.peak - 0.4, self.peak + 0.4))

    def across(self, x: float, h: float) -> float:
        return sum(i * (d + h) / ((d + h) ** 2 + (x - a) ** 2) for i, a, d in self.lines)

    def upright(self, x: float, h: float) -> float:
        return sum(i * (x - a) / ((d + h) ** 2 + (x - a) ** 2) for i, a, d in self.lines)

    def half(self, side: float) -> float:
        goal = 0.5 * abs(self.across(self.peak, self.lower))

        def over(w: float) -> float:
            return abs(self.across(self.peak + side * w, self.lower)) - goal

        steps = np.arange(0.0, 6.0, 0.02)
        first = next(w for w in steps if over(float(w)) < 0.0)
        return float(brentq(over, first - 0.02, first))

    def depth(self, raised: float = 0.0) -> float:
        h = self.lower + raised
        low, top = abs(self.across(self.peak, h)), abs(self.across(self.peak, h + SPACING))
        return SPACING * top / (low - top) - self.lower


@pytest.mark.parametrize("row", ROWS)
def test_the_formulas_give_the_table(row: tuple[float, ...]) -> None:
    """To the last printed digit; the half-width depth is the mean of both sides."""
    amps, at, deep, peak, null, width, gradient = row
    pair = Pair(amps, at, deep, 0.0)
    assert pair.peak == pytest.approx(peak, abs=6e-5)
    assert pair.null == pytest.approx(null, abs=6e-5)
    assert 0.5 * (pair.half(-1.0) + pair.half(1.0)) == pytest.approx(width, abs=6e-5)
    assert pair.depth() == pytest.approx(gradient, abs=6e-5)


@pytest.mark.parametrize("row", ROWS)
def test_the_truth_lies_in_the_band(row: tuple[float, ...]) -> None:
    pair = Pair(row[0], row[1], row[2], LOWER)
    reading = Reading(
        "1", "E", Place(0.0, 0.0), 2, bearing_deg=0.0,
        null_offset_m=Measured(round(pair.null - pair.peak, 2), rounding=0.01),
        depth_m=Measured(round(pair.depth(), 2), rounding=0.01),
        raised_by_m=Measured(RAISE_M), raised_depth_m=Measured(round(pair.depth(RAISE_M), 2), rounding=0.01),
        half_left_m=Measured(round(pair.half(-1.0), 2), rounding=0.01),
        half_right_m=Measured(round(pair.half(1.0), 2), rounding=0.01),
    )  # fmt: skip
    station = Station("reading", "1", reading.place, 0.0, "", 2, 0.0, reading)
    d = place_data(station, Line("E"), Setup("", "E", frequency_hz=8000.0))
    soil = (math.log(p.SOIL_MEDIAN_OHM_M), math.log(p.SOIL_FACTOR))
    known = Known(*soil, *p.LOWER_COIL_M, *p.COIL_SPACING_M, -1.0, 1.0, np.empty((0, 7)))
    found = solve_place(d, known, [4], Looks((1500, 4000, 6000), (1000, 3000, 4000), 3, 300.0))
    for values, truth in ((found.shift, -pair.peak), (found.ln_depth, 0.0)):
        below = float(found.weights @ (values < truth))
        assert 0.025 < below < 0.975
    # where the pair bends the field by a fifth or more, one line alone is not believed
    if abs(pair.depth() - 1.0) > 0.2:
        assert float(found.weights @ found.alone) < 0.2
