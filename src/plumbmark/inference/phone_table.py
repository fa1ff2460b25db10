"""The posterior of one place as a table small enough for a phone, and how it is read.

The table holds, for a displayed depth, the gap between mark and null, what a raised reading showed beyond
depth and raise, the mean of the half points, and the kind of soil: where the line is, how deep, in what band.
It is made from the model of `place` by tests/create_data/make_phone_table.py. The field app reads this file
by the same rules (docs/phone-table.md).
"""

from __future__ import annotations

import base64
import json
import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.errors import PlumbmarkError

FLOATS = NDArray[np.float64]


class GapClass(StrEnum):
    """How far the null was from the mark, where nobody measured it."""

    SAME_PLACE = "same place"
    WITHIN_A_HAND = "within a hand"
    WITHIN_A_BOOT = "within a boot"
    FARTHER = "farther"


class SoilClass(StrEnum):
    """What the ground is like, as a crew can tell it."""

    DRY = "dry sand or gravel"
    UNKNOWN = "not known"
    WET = "wet clay"


#: Ends of each class of gap [m].
GAP_CLASSES = {
    GapClass.SAME_PLACE: (0.0, 0.05),
    GapClass.WITHIN_A_HAND: (0.05, 0.12),
    GapClass.WITHIN_A_BOOT: (0.12, 0.30),
    GapClass.FARTHER: (0.30, 1.50),
}
#: Resistivity [ohm m] and its one-sigma factor.
SOIL_CLASSES = {SoilClass.DRY: (300.0, 2.5), SoilClass.UNKNOWN: (60.0, 3.0), SoilClass.WET: (15.0, 2.0)}
RAISE_M = 0.30
#: Half points of one line alone lie as far out as it is below the lower coil, which is about this high [m].
COIL_M = 0.07
VALUES = 8  # shift low, middle, high; depth low, middle, high; single line; within 10 cm and 10 %
NOTHING = 255  # stands for a cell whose numbers hardly ever go together
SHIFT_STEP = 0.02  # of the displayed depth
LN_STEP = 0.01
CHANCE_STEP = 0.004
ZERO = 128


class PhoneTableError(PlumbmarkError):
    """A reading that the table cannot be asked about."""


@dataclass(frozen=True, slots=True)
class PhoneReading:
    """What was taken at one place, None where it was not.

    `gap_m` is the distance from mark to null, without sign; `raised_depth_m` counts from the foot raised by
    `RAISE_M`.
    """

    depth_m: float
    gap_m: float | GapClass | None = None
    raised_depth_m: float | None = None
    half_left_m: float | None = None
    half_right_m: float | None = None
    soil: SoilClass = SoilClass.UNKNOWN


@dataclass(frozen=True, slots=True)
class PhoneAnswer:
    """Where the line is from the mark, towards the null [m], and how deep [m]; bands hold 19 times in 20."""

    shift_low_m: float
    shift_m: float
    shift_high_m: float
    depth_low_m: float
    depth_m: float
    depth_high_m: float
    single_line_probability: float
    within_10_probability: float


@cache
def phone_table() -> dict[str, Any]:
    """The table as its file holds it, its cells decoded.

    The keys `depth_m`, `gap`, `excess`, `half` hold the nodes, `cells` an array of shape (soils, depths,
    gaps, excesses, halves, VALUES). The first index of gaps, excesses and halves stands for not taken; in
    gaps the four classes follow, then the nodes.
    """
    told: dict[str, Any] = json.loads(
        (files("plumbmark.inference") / "_tables" / "phone_table.json").read_text("utf-8")
    )
    raw = np.frombuffer(base64.b64decode(told["cells"]), dtype=np.uint8)
    shape = (
        len(SOIL_CLASSES), len(told["depth_m"]), 5 + len(told["gap"]),
        1 + len(told["excess"]), 1 + len(told["half"]), VALUES,
    )  # fmt: skip
    return {**told, "cells": raw.reshape(shape)}


def _between(value: float, nodes: list[float], first: int) -> list[tuple[int, float]]:
    """Indices and weights of the nodes beside a value; outside the nodes, the last one."""
    value = min(max(value, nodes[0]), nodes[-1])
    k = 0
    while k < len(nodes) - 2 and value > nodes[k + 1]:
        k += 1
    share = (value - nodes[k]) / (nodes[k + 1] - nodes[k])
    return [(first + k, 1.0 - share), (first + k + 1, share)]


def lookup(r: PhoneReading) -> PhoneAnswer | None:
    """The answer for one place, read off the table as the phone reads it.

    Parameters
    ----------
    r : PhoneReading

    Returns
    -------
    PhoneAnswer or None
        None where the numbers hardly ever go together: one of them is probably a slip.

    Raises
    ------
    PhoneTableError
        If the depth, or a half point, is not a positive number of metres.

    Examples
    --------
    A line on its own, as far as peak and null can tell: it lies at the mark, as deep as shown.

    >>> answer = lookup(PhoneReading(1.0, gap_m=0.0))
    >>> abs(answer.shift_m) < 0.03, abs(answer.depth_m - 1.0) < 0.06
    (True, True)
    """
    for name in ("depth_m", "half_left_m", "half_right_m", "raised_depth_m"):
        value = getattr(r, name)
        if value is not None and not (math.isfinite(value) and value > 0.0):
            raise PhoneTableError(f"{name} is {value!r}: a positive number of metres is needed")
    table = phone_table()
    soil = list(SOIL_CLASSES).index(r.soil)
    depths = _between(math.log(r.depth_m), [math.log(d) for d in table["depth_m"]], 0)
    if r.gap_m is None:
        gaps = [(0, 1.0)]
    elif isinstance(r.gap_m, GapClass):
        gaps = [(1 + list(GAP_CLASSES).index(r.gap_m), 1.0)]
    else:
        gaps = _between(abs(r.gap_m) / r.depth_m, table["gap"], 5)
    excesses = [(0, 1.0)]
    if r.raised_depth_m is not None:
        excess = (r.raised_depth_m - r.depth_m - RAISE_M) / r.depth_m
        excesses = _between(excess, table["excess"], 1)
    sides = [w for w in (r.half_left_m, r.half_right_m) if w is not None]
    halves = [(0, 1.0)]
    if sides:
        halves = _between((sum(sides) / len(sides) - COIL_M) / r.depth_m, table["half"], 1)
    total = np.zeros(VALUES)
    for d, wd in depths:
        for g, wg in gaps:
            for e, we in excesses:
                for h, wh in halves:
                    weight = wd * wg * we * wh
                    cell = table["cells"][soil, d, g, e, h]
                    if weight > 0.0 and cell[6] == NOTHING:
                        return None
                    total += weight * cell
    shift = [float(r.depth_m * SHIFT_STEP * (q - ZERO)) for q in total[:3]]
    depth = [float(r.depth_m * math.exp(LN_STEP * (q - ZERO))) for q in total[3:6]]
    if r.gap_m is None:
        # nothing says on which side: as far to the one as to the other
        reach = max(abs(shift[0]), abs(shift[2]))
        shift = [-reach, 0.0, reach]
    return PhoneAnswer(*shift, *depth, *(float(CHANCE_STEP * q) for q in total[6:]))
