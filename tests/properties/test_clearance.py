"""What always holds of chances and demands, whatever the dig and the line."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbmark.clearance.check import check_clearance
from plumbmark.clearance.rules import zone_rule
from plumbmark.model.clearance import ClearanceAnswer, Demand
from plumbmark.model.draws import LineDraws
from plumbmark.model.estimate import Identity, Interval, LineEstimate, Solution, StationEstimate, Trust
from plumbmark.model.job import Job, Line, Utility
from plumbmark.model.record import Dig, DigKind

AT = np.arange(0.0, 16.01, 0.5)
RULE = zone_rule("us-18")

pytestmark = pytest.mark.slow


def turned(east: np.ndarray, north: np.ndarray, turn: float, shift: float) -> tuple[np.ndarray, np.ndarray]:
    """Places turned about the origin and moved along the first axis."""
    c, s = math.cos(turn), math.sin(turn)
    return shift + c * east - s * north, s * east + c * north


def answer(
    dig: Dig, depth: float, *, turn: float = 0.0, shift: float = 0.0, zone: float = 0.0
) -> ClearanceAnswer:
    """A check of one dig beside or over a line along the first axis, all of it turned and moved."""

    def draw(n: int, seed: int) -> Mapping[str, LineDraws]:
        rng = np.random.default_rng(seed)
        level, aside = rng.standard_normal((n, 1)), 0.08 * rng.standard_normal((n, 1))
        flat = np.zeros((n, len(AT)))
        east, north = turned(flat + AT, flat + aside, turn, shift)
        mean = flat + math.log(depth)
        return {"E1": LineDraws("E1", AT, east, north, np.exp(mean + 0.1 * level), mean, flat + 0.1)}

    right = (180.0 - math.degrees(turn)) % 360.0
    stations = []
    for k in range(9):
        east, north = (float(v) for v in turned(np.array(2.0 * k), np.array(0.0), turn, shift))
        stations.append(
            StationEstimate(
                "reading", f"r{k}", 2.0 * k, east, north, east, north, right, Interval(0.0, -0.16, 0.16),
                Interval(depth, 0.8 * depth, 1.25 * depth), Interval(0.01, 0.009, 0.011),
                0.9, 0.98, Trust.HOLDS, (), "",
            )
        )  # fmt: skip
    rings = []
    for ring in dig.rings:
        east, north = turned(*(np.array([p[i] for p in ring]) for i in (0, 1)), turn, shift)
        rings.append(tuple(zip(east.tolist(), north.tolist(), strict=True)))
    job = Job("j", lines=(Line("E1", Utility.ELECTRIC, 0.04),), digs=(replace(dig, rings=tuple(rings)),))
    solution = Solution("j", (LineEstimate("E1", Identity.LIKELY, (), tuple(stations)),), None)
    return check_clearance(job, solution, draw, replace(RULE, distance_m=RULE.distance_m + zone))


places = st.tuples(st.floats(2.0, 14.0), st.floats(-3.0, 3.0))


@st.composite
def digs(draw: st.DrawFn) -> Dig:
    """A trench, a bore or a small excavation somewhere about the line."""
    (x, y), depth = draw(places), draw(st.floats(0.2, 2.0))
    angle, half = draw(st.floats(0.0, math.pi)), draw(st.floats(0.5, 3.0))
    run = half * math.cos(angle), half * math.sin(angle)
    ends = (x - run[0], y - run[1]), (x + run[0], y + run[1])
    kind = draw(st.sampled_from(list(DigKind)))
    if kind is DigKind.EXCAVATION:
        corners = ((x - half, y - 0.5), (x + half, y - 0.5), (x + half, y + 0.5), (x - half, y + 0.5))
        return Dig("d", kind, ((*corners, corners[0]),), depth)
    return Dig("d", kind, (ends,), depth, width_m=0.4, diameter_m=0.15)


@settings(max_examples=12)
@given(dig=digs(), depth=st.floats(0.3, 1.5))
def test_chances_are_in_order_and_never_small(dig: Dig, depth: float) -> None:
    for met in answer(dig, depth).digs[0].encounters:
        assert 0.01 <= met.strike_probability <= met.asked_probability + 1e-12 <= 1.0 + 1e-9
        assert met.horizontal_m.low <= met.horizontal_m.value <= met.horizontal_m.high
        assert met.demand.rank >= Demand.HAND_DIG.rank  # a solved line's zone is never less


@settings(max_examples=7)
@given(dig=digs(), depth=st.floats(0.3, 1.5))
def test_a_deeper_line_never_takes_the_zone_away(dig: Dig, depth: float) -> None:
    near, far = answer(dig, depth).digs[0], answer(dig, depth + 5.0).digs[0]
    assert len(near.encounters) == len(far.encounters)
    in_zone = [sum(s.area_m2 for s in d.stretches if s.demand.rank >= 2) for d in (near, far)]
    assert in_zone[0] == pytest.approx(in_zone[1], abs=0.02)


@settings(max_examples=7)
@given(dig=digs(), zone=st.floats(0.05, 1.0))
def test_a_wider_zone_never_demands_less(dig: Dig, zone: float) -> None:
    narrow, wide = answer(dig, 0.8).digs[0], answer(dig, 0.8, zone=zone).digs[0]
    assert wide.demand.rank >= narrow.demand.rank
    in_zone = [sum(s.area_m2 for s in d.stretches if s.demand.rank >= 2) for d in (narrow, wide)]
    assert in_zone[1] >= in_zone[0] - 1e-6


@settings(max_examples=7)
@given(dig=digs(), turn=st.floats(0.0, 6.28), shift=st.floats(-50.0, 50.0))
def test_nothing_depends_on_where_the_grid_has_its_north(dig: Dig, turn: float, shift: float) -> None:
    here, there = answer(dig, 0.8).digs[0], answer(dig, 0.8, turn=turn, shift=shift).digs[0]
    assert [e.demand for e in here.encounters] == [e.demand for e in there.encounters]
    for a, b in zip(here.encounters, there.encounters, strict=True):
        assert a.strike_probability == pytest.approx(b.strike_probability, rel=1e-3, abs=1e-4)
        assert a.horizontal_m.value == pytest.approx(b.horizontal_m.value, abs=1e-3)
    areas = [sum(s.area_m2 for s in d.stretches if s.demand is Demand.NOTHING) for d in (here, there)]
    assert areas[0] == pytest.approx(areas[1], abs=0.05)
