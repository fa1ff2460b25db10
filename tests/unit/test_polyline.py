"""Routes: order of rows, chainage, directions."""

from __future__ import annotations

import itertools
import time

import numpy as np
import pytest
from numpy.typing import NDArray

from plumbmark.survey.polyline import lay_route, leg_bearings, path_length, shared_places, shortest_path

Points = NDArray[np.float64]


def shape(kind: str, count: int) -> Points:
    """Places about 2 m apart along a line with no, one or two right-angled bends."""
    along = 2.0 * np.arange(count)
    side = along[-1] / {"line": 1, "L": 2, "U": 3}[kind]
    if kind == "line":
        return np.column_stack([along, 0.0 * along])
    east = np.minimum(along, side) - np.maximum(along - 2 * side, 0.0) * (kind == "U")
    return np.column_stack([east, np.clip(along - side, 0.0, side)])


@pytest.mark.parametrize("kind", ["line", "L", "U"])
@pytest.mark.parametrize("count", [8, 9, 25, 130, 450, 3000])
def test_shuffled_rows_are_put_in_order(kind: str, count: int) -> None:
    rng = np.random.default_rng(count)
    points = shape(kind, count) + rng.normal(0.0, 0.05, (count, 2))
    shuffled = rng.permutation(count)
    route = lay_route(*points[shuffled].T)
    in_order = lay_route(*points.T)
    assert not in_order.reordered
    assert in_order.chainage_m[-1] == pytest.approx(path_length(points))
    assert route.chainage_m.max() == pytest.approx(path_length(points), rel=2e-3)
    # The same neighbours: chainage grows, or falls, along the true line.
    along = route.chainage_m[np.argsort(shuffled)]
    assert np.all(np.diff(along) > 0) or np.all(np.diff(along) < 0)


@pytest.mark.parametrize("kind", ["line", "L", "U"])
def test_chainage_begins_at_the_end_nearer_the_first_row(kind: str) -> None:
    points = shape(kind, 12)
    order = [9, 2, 5, 0, 11, 7, 3, 10, 1, 8, 4, 6]
    route = lay_route(*points[order].T)
    assert route.reordered
    assert route.chainage_m[4] == 0.0  # row 4 is the far end, place 11
    assert route.chainage_m[3] == route.chainage_m.max()


def test_a_detour_below_the_limit_stays_as_walked() -> None:
    # Shortest 10 m. Back and forth over 1 m twice: 12 m, under 1.3 times; over 2 m: 14 m, above.
    assert not lay_route([0.0, 5.0, 4.0, 10.0], [0.0] * 4).reordered
    assert lay_route([0.0, 6.0, 4.0, 10.0], [0.0] * 4).reordered
    assert lay_route([0.0, 6.0, 4.0, 10.0], [0.0] * 4).chainage_m.tolist() == [0.0, 6.0, 4.0, 10.0]


def test_out_from_the_meter_both_ways() -> None:
    east = [10.0, 14.0, 18.0, 22.0, 6.0, 2.0]
    route = lay_route(east, [0.0] * 6)
    assert route.reordered
    assert route.chainage_m.tolist() == [8.0, 12.0, 16.0, 20.0, 4.0, 0.0]


def test_places_within_30_cm_share_one() -> None:
    route = lay_route([0.0, 0.29, 5.0, 5.31, 10.0], [0.0] * 5)
    assert route.chainage_m.tolist() == [0.0, 0.0, 5.0, 5.31, 10.0]
    assert route.place.tolist() == [0, 0, 1, 2, 3]
    assert route.first_row.tolist() == [0, 2, 3, 4]


def test_many_close_places_do_not_run_together() -> None:
    """Rows every 0.25 m: each belongs to the nearest first row, and the line keeps its length."""
    east = 0.25 * np.arange(41)
    route = lay_route(east, np.zeros(41))
    assert route.chainage_m.max() >= 10.0 - 0.3
    assert np.abs(route.chainage_m - east).max() <= 0.3


def test_a_second_pass_over_the_same_places() -> None:
    east = [0.0, 5.0, 10.0, 15.0]
    route = lay_route(east + east, [0.0] * 4 + [0.1] * 4)
    assert not route.reordered
    assert route.chainage_m.tolist() == east + east


def test_few_places() -> None:
    assert lay_route([], []).chainage_m.size == 0
    assert lay_route([3.0], [4.0]).chainage_m.tolist() == [0.0]
    assert lay_route([3.0, 3.1], [4.0, 4.0]).chainage_m.tolist() == [0.0, 0.0]
    assert lay_route([3.0, 6.0], [4.0, 8.0]).chainage_m.tolist() == [0.0, 5.0]


@pytest.mark.parametrize("seed", range(6))
def test_shortest_of_all_orders(seed: int) -> None:
    """Against every order there is."""
    points = np.random.default_rng(seed).uniform(0.0, 20.0, (6, 2))
    best = min(path_length(points[list(order)]) for order in itertools.permutations(range(6)))
    assert path_length(points[shortest_path(points)]) == pytest.approx(best)


@pytest.mark.parametrize("count", [9, 40, 390, 2000])
def test_every_place_once(count: int) -> None:
    points = np.random.default_rng(count).uniform(0.0, 50.0, (count, 2))
    assert sorted(shortest_path(points).tolist()) == list(range(count))


def test_cloud_of_many_is_near_the_known_length() -> None:
    # Beardwood, Halton and Hammersley 1959: the shortest tour is about 0.7124 sqrt(n A).
    points = np.random.default_rng(3).uniform(0.0, 100.0, (390, 2))
    assert path_length(points[shortest_path(points)]) < 1.15 * 0.7124 * np.sqrt(390 * 1e4)


@pytest.mark.slow
def test_time_grows_no_faster_than_the_rows() -> None:
    def seconds(count: int) -> float:
        points = shape("U", count)[np.random.default_rng(1).permutation(count)]
        start = time.process_time()
        lay_route(*points.T)
        return time.process_time() - start

    seconds(1000)
    assert seconds(100_000) < 100 * max(seconds(10_000), 0.1) / 4


def test_bearings_at_a_bend_are_of_the_mean_of_both_legs() -> None:
    assert leg_bearings([0, 0, 5, 5], [0, 5, 5, 0]).tolist() == [0.0, 45.0, 135.0, 180.0]
    # Legs of unlike length count alike.
    assert leg_bearings([0, 0, 50], [0, 1, 1])[1] == pytest.approx(45.0)


def test_bearings_of_few_places_and_of_a_turn_back() -> None:
    assert leg_bearings([], []).size == 0
    assert leg_bearings([1.0], [1.0]).tolist() == [0.0]
    assert leg_bearings([0, 5, 0], [0, 0, 0])[1] == pytest.approx(90.0)


def test_shared_places_are_the_nearest() -> None:
    place, first = shared_places(np.array([[0.0, 0.0], [0.5, 0.0], [0.28, 0.0], [-0.29, 0.0]]))
    assert place.tolist() == [0, 1, 1, 0]
    assert first.tolist() == [0, 1]
