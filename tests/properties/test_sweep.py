"""What holds of every sweep: more walking, a better ear or three coils never hear less."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from plumbmark.planning.sweep_chance import Likely, bearings, best_chance, depths, noticed

pytestmark = pytest.mark.kernel
FLOATS = NDArray[np.float64]

coordinate = st.floats(-6.0, 6.0)
ends = st.tuples(coordinate, coordinate, coordinate, coordinate).filter(
    lambda e: np.hypot(e[2] - e[0], e[3] - e[1]) > 0.1
)
walks = st.lists(ends, min_size=1, max_size=4)
spots = st.lists(st.tuples(coordinate, coordinate), min_size=1, max_size=3).map(np.array)


def legs(found: list[tuple[float, float, float, float]], three: bool = False) -> FLOATS:
    rows = []
    for e0, n0, e1, n1 in found:
        run = np.array([e1 - e0, n1 - n0]) / np.hypot(e1 - e0, n1 - n0)
        rows.append([e0, n0, e1, n1, *(run * (not three)), 0.0])
    return np.array(rows)


def likely(level: float = 1.0, reach: float = 4.0) -> Likely:
    below, weight = depths(1.0, 1.7)
    return Likely(bearings(None, None)[::6], below + 0.1, weight, level, 1.5, reach)


ASKED = np.array([0.6, 1.6])


@given(walks, ends, spots)
def test_another_pass_never_takes_anything_away(found: list, more: tuple, at: FLOATS) -> None:
    before, after = (noticed(at, legs(f), likely(), ASKED) for f in (found, [*found, more]))
    assert np.all(after.chance >= before.chance - 1e-12)
    assert np.all(after.signal >= before.signal)
    assert np.all(after.weakest >= before.weakest)


@given(walks, spots)
def test_three_coils_hear_all_that_one_does(found: list, at: FLOATS) -> None:
    one, three = noticed(at, legs(found), likely(), ASKED), noticed(at, legs(found, True), likely(), ASKED)
    assert np.all(three.signal >= one.signal - 1e-12)
    assert np.all(three.chance >= one.chance - 1e-12)


@given(walks, spots, st.floats(-3.0, 3.0), st.floats(0.0, 2.0))
def test_a_stronger_current_and_a_longer_reach_are_noticed_more(
    found: list, at: FLOATS, level: float, more: float
) -> None:
    base = noticed(at, legs(found), likely(level), ASKED).chance
    assert np.all(noticed(at, legs(found), likely(level + more), ASKED).chance >= base - 1e-12)
    assert np.all(noticed(at, legs(found), likely(level, 4.0 + more), ASKED).chance >= base - 1e-12)


@given(walks, spots)
def test_no_pass_beats_the_one_straight_across(found: list, at: FLOATS) -> None:
    for three in (False, True):
        here = noticed(at, legs(found, three), likely(), ASKED)
        assert np.all(here.signal <= 1.0 + 1e-12)
        assert np.all(here.chance <= best_chance(likely()) + 1e-12)
        assert np.all(here.weakest <= 1.0 / ASKED + 1e-12)


@given(walks, spots, st.floats(-180.0, 180.0), coordinate, coordinate)
def test_the_map_does_not_know_where_north_is(
    found: list, at: FLOATS, turn_deg: float, east: float, north: float
) -> None:
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    turn = np.array([[c, s], [-s, c]])  # clockwise, as bearings count

    def moved(points: FLOATS) -> FLOATS:
        return points @ turn.T + np.array([east, north])

    there = [(*moved(np.array(e[:2])), *moved(np.array(e[2:]))) for e in found]
    lines = likely()
    turned = replace(lines, bearing_rad=lines.bearing_rad + np.radians(turn_deg))
    here, away = noticed(at, legs(found), lines, ASKED), noticed(moved(at), legs(there), turned, ASKED)
    # A line that just meets the end of a pass may count as met or not after rounding: the same to 1e-6.
    assert here.signal == pytest.approx(away.signal, abs=1e-6)
    assert here.chance == pytest.approx(away.chance, abs=1e-6)


@given(walks, spots)
def test_walking_it_backwards_is_the_same(found: list, at: FLOATS) -> None:
    back = [(e1, n1, e0, n0) for e0, n0, e1, n1 in found]
    here, there = noticed(at, legs(found), likely(), ASKED), noticed(at, legs(back), likely(), ASKED)
    assert here.chance == pytest.approx(there.chance, abs=1e-9)
