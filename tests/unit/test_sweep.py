"""The sweep: chances by hand, gaps and the fewest further passes, the record for the digs."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import norm

from plumbmark.base.errors import GeometryError
from plumbmark.model.job import Baseline, Corner, Job
from plumbmark.model.reading import Place, Reading
from plumbmark.model.record import Dig, DigKind
from plumbmark.model.sweep import (
    Antenna,
    Heard,
    Pass,
    PassPoint,
    Search,
    SearchMethod,
    SweepAnswer,
    SweepPlan,
)
from plumbmark.planning.sweep import filled, likely_lines, sweep_job, swept
from plumbmark.planning.sweep_chance import Likely, best_chance, noticed
from plumbmark.planning.sweep_further import Chord, Closing, fewest_passes
from plumbmark.planning.sweep_ground import grounds, place_words
from plumbmark.planning.sweep_legs import pass_legs
from plumbmark.planning.sweep_says import assumptions

POWER, RADIO, ACTIVE = SearchMethod.PASSIVE_POWER, SearchMethod.PASSIVE_RADIO, SearchMethod.ACTIVE
HOLE = Dig("hole", DigKind.EXCAVATION, (((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0), (0.0, 0.0)),))
EAST_LINE = Likely(np.array([math.pi / 2]), np.array([1.0]), np.array([1.0]), 0.0, 1.0, 4.0)
ORIGIN = np.zeros((1, 2))


def walk(
    ident: str,
    *ends: tuple[float, float],
    method: SearchMethod = POWER,
    signal: Heard | None = Heard.NONE,
    antenna: Antenna = Antenna.ONE_AXIS,
    heading: float | None = None,
    sigma: float | None = None,
) -> Pass:
    points = tuple(PassPoint(Place(e, n, sigma), 2, heading) for e, n in ends)
    return Pass(ident, 2, method, points, antenna, None, signal)


def both_ways(method: SearchMethod = POWER, signal: Heard | None = Heard.NONE) -> tuple[Pass, ...]:
    north = [
        walk(f"{method}-n{k}", (x, -1.0), (x, 5.0), method=method, signal=signal)
        for k, x in enumerate(np.arange(-1.0, 7.1, 1.0).tolist())
    ]
    east = [
        walk(f"{method}-e{k}", (-1.0, y), (7.0, y), method=method, signal=signal)
        for k, y in enumerate(np.arange(-1.0, 5.1, 1.0).tolist())
    ]
    return (*north, *east)


@pytest.mark.kernel
@pytest.mark.parametrize(
    ("leg", "signal"),
    [
        # a line running east, 1 m below the coil; signal over that from straight above
        ([0.0, -2.0, 0.0, 2.0, 0.0, 1.0, 0.0], 1.0),  # square across it
        ([-2.0, 0.0, 2.0, 0.0, 1.0, 0.0, 0.0], 0.0),  # along it, facing along: not heard
        ([-2.0, 0.0, 2.0, 0.0, 0.0, 1.0, 0.0], 1.0),  # along it, facing across
        ([-2.0, 0.0, 2.0, 0.0, 0.0, 0.0, 0.0], 1.0),  # along it, three coils
        ([-2.0, 1.0, 2.0, 1.0, 0.0, 1.0, 0.0], 0.5),  # 1 m beside, across: z^2 / r^2
        ([-2.0, 1.0, 2.0, 1.0, 0.0, 0.0, 0.0], math.sqrt(0.5)),  # 1 m beside, in all: z / r
        ([-2.0, -2.0, 2.0, 2.0, math.sqrt(0.5), math.sqrt(0.5), 0.0], math.sqrt(0.5)),  # at 45 degrees
        ([0.0, 1.0, 0.0, 2.0, 0.0, 1.0, 0.0], 0.5),  # stops 1 m short
        ([0.0, 1.0, 0.0, 2.0, 0.0, 1.0, 1.0], 0.2),  # the same, its fix good to 1 m: counts as 2 m off
        ([0.0, 4.5, 0.0, 9.0, 0.0, 0.0, 0.0], 0.0),  # out of reach
    ],
)
def test_signal_of_one_leg(leg: list[float], signal: float) -> None:
    found = noticed(ORIGIN, np.array([leg]), EAST_LINE, np.empty(0))
    assert found.signal[0, 0] == pytest.approx(signal, abs=1e-12)


@pytest.mark.kernel
def test_only_what_is_within_reach_counts() -> None:
    far = np.array([[3.0, -9.0, 3.0, 9.0, 0.0, 1.0, 0.0]])  # crosses the line 3 m from the spot
    assert noticed(ORIGIN, far, EAST_LINE, np.empty(0)).signal[0, 0] == pytest.approx(1.0)
    near_only = replace(EAST_LINE, reach_m=2.9)
    assert noticed(ORIGIN, far, near_only, np.empty(0)).signal[0, 0] == 0.0


@pytest.mark.kernel
def test_chance_is_the_log_probit_of_the_signal() -> None:
    leg = np.array([[-2.0, 1.0, 2.0, 1.0, 0.0, 1.0, 0.0]])
    lines = replace(EAST_LINE, level=0.7, spread=1.3)
    assert noticed(ORIGIN, leg, lines, np.empty(0)).chance[0] == pytest.approx(
        norm.cdf((0.7 + math.log(0.5)) / 1.3)
    )
    assert best_chance(lines) == pytest.approx(norm.cdf(0.7 / 1.3))
    assert noticed(ORIGIN, leg, lines, np.empty(0), signal_only=True).chance[0] == 0.0


@pytest.mark.kernel
def test_weakest_is_of_the_worst_direction_at_each_depth() -> None:
    leg = np.array([[0.0, -2.0, 0.0, 2.0, 0.0, 0.0, 0.0]])
    lines = replace(EAST_LINE, bearing_rad=np.array([0.0, math.pi / 2]))
    beside = np.array([[1.0, 0.0]])  # a line running north there passes 1 m beside the walk
    found = noticed(beside, leg, lines, np.array([0.5, 2.0]))
    assert found.weakest[0] == pytest.approx([1 / math.hypot(1, 0.5), 1 / math.hypot(1, 2)])


def test_middle_currents_and_thresholds_of_a_search() -> None:
    search = filled(Search(ACTIVE, threshold_a=0.001))
    assert search.threshold_a == 0.001
    assert search.current_a == 0.002
    assert search.antenna is Antenna.ONE_AXIS
    job = Job("j", sweep=SweepPlan(depth_m=1.2, depth_sigma_factor=1.0))
    likely = likely_lines(job, search)
    assert likely.level == pytest.approx(math.log(2.0))
    assert likely.spread == pytest.approx(math.hypot(math.log(4.0), math.log(1.5)))
    assert likely.below_m == pytest.approx(1.2 + 0.175)


def test_a_poor_fix_makes_a_pass_shorter_and_farther() -> None:
    legs = pass_legs(walk("p", (0.0, 0.0), (0.0, 3.0), (0.0, 10.0), sigma=2.0), Antenna.ONE_AXIS)
    assert legs[:, :4].tolist() == [[0.0, 2.0, 0.0, 8.0]]
    assert legs[:, 6].tolist() == [2.0]
    faced = pass_legs(
        walk("p", (0.0, 0.0), (0.0, 3.0), (0.0, 10.0), sigma=2.0, heading=0.0), Antenna.ONE_AXIS
    )
    assert faced[:, :4].tolist() == [[0.0, 2.0, 0.0, 3.0], [0.0, 3.0, 0.0, 8.0]]
    good = pass_legs(walk("p", (0.0, 0.0), (0.0, 10.0), sigma=0.02), Antenna.ONE_AXIS)
    assert good[0, :4].tolist() == [0.0, 0.0, 0.0, 10.0]
    assert good[0, 6] == 0.0
    assert len(pass_legs(walk("p", (0.0, 0.0), (0.0, 3.0), sigma=2.0), Antenna.ONE_AXIS)) == 0


def test_swaying_fixes_do_not_turn_the_walker() -> None:
    rng = np.random.default_rng(1)
    fixes = [(float(rng.normal(0.0, 0.02)), 0.1 * k) for k in range(200)]  # ten fixes to the metre
    legs = pass_legs(walk("p", *fixes), Antenna.ONE_AXIS)
    assert np.all(np.abs(legs[:, 4]) < 0.03)
    bend = pass_legs(walk("p", (0.0, 0.0), (0.0, 5.0), (5.0, 5.0)), Antenna.ONE_AXIS)
    assert bend[:, 4:6].tolist() == [[0.0, 1.0], [1.0, 0.0]]


def test_heading_is_where_the_coil_points() -> None:
    legs = pass_legs(walk("p", (0.0, 0.0), (0.0, 3.0), heading=90.0), Antenna.ONE_AXIS)
    assert legs[0, 4:6] == pytest.approx([1.0, 0.0])
    assert pass_legs(walk("p", (0.0, 0.0), (0.0, 3.0)), Antenna.THREE_AXIS)[0, 4:6].tolist() == [0.0, 0.0]


# -- the whole sweep ---------------------------------------------------------------------------------------


def test_the_plan_leaves_no_gap() -> None:
    answer = sweep_job(Job("j", digs=(HOLE,)))
    assert [s.search.method for s in answer.planned] == [POWER, RADIO, ACTIVE]
    assert answer.walked == ()
    assert answer.record is None
    for sweep in answer.planned:
        assert sweep.area_m2 == pytest.approx(8.0 * 6.0)
        assert sweep.swept_m2 == pytest.approx(sweep.area_m2)
        assert sweep.gaps == ()
        assert all(item.current_a is not None for item in sweep.least)


def test_one_way_with_one_coil_misses_lines_along_it_and_three_coils_do_not() -> None:
    north = tuple(walk(f"n{k}", (x, -1.0), (x, 5.0)) for k, x in enumerate(np.arange(-1.0, 7.1).tolist()))
    (one,) = sweep_job(Job("j", digs=(HOLE,), passes=north)).walked
    (gap,) = one.gaps
    assert gap.missed_deg is not None
    assert min(gap.missed_deg, 180.0 - gap.missed_deg) < 5.0  # north to south
    assert one.swept_m2 == 0.0
    three = tuple(replace(p, antenna=Antenna.THREE_AXIS) for p in north)
    (total,) = sweep_job(Job("j", digs=(HOLE,), passes=three)).walked
    assert total.gaps == ()


@pytest.mark.parametrize("left_out", [("e2", "e3", "e4"), ("n0", "n1", "n2", "n3"), ("e", "n0")])
def test_further_passes_close_the_gaps(left_out: tuple[str, ...]) -> None:
    kept = tuple(p for p in both_ways() if not any(f"-{name}" in p.id for name in left_out))
    job = Job("j", digs=(HOLE,), passes=kept, sweep=SweepPlan(reach_m=1.5))
    (before,) = sweep_job(job).walked
    assert before.gaps
    assert before.further
    assert before.fewest
    more = tuple(walk(f"more-{k}", *w.path) for k, w in enumerate(before.further))
    (after,) = sweep_job(replace(job, passes=kept + more)).walked
    assert after.gaps == ()
    for k in range(len(more)):  # and none of them is idle
        fewer = kept + more[:k] + more[k + 1 :]
        assert sweep_job(replace(job, passes=fewer)).walked[0].gaps


def test_fewest_against_every_choice() -> None:
    rng = np.random.default_rng(3)
    for _ in range(40):
        spots, ways, count = 12, 3, int(rng.integers(3, 10))
        closing = rng.random((count, spots, ways)) < 0.35
        is_open = rng.random((spots, ways)) < 0.6
        is_open &= closing.any(axis=0)
        chords = [((float(k), 0.0), (float(k), 1.0)) for k in range(count)]

        def closes(chord: Chord, at: NDArray[np.intp], table: NDArray[np.bool_] = closing) -> Closing:
            return Closing(at, table[round(chord[0][0]), at])

        chosen, proven = fewest_passes(is_open, chords, closes)
        least = next(
            size
            for size in range(count + 1)
            if any(
                not (is_open & ~closing[list(some)].any(axis=0)).any()
                for some in itertools.combinations(range(count), size)
            )
        )
        assert len(chosen) == least
        assert proven


def test_what_cannot_be_closed_is_not_called_the_fewest() -> None:
    is_open = np.ones((2, 1), bool)

    def closes(_: Chord, at: NDArray[np.intp]) -> Closing:
        return Closing(at, (at == 0)[:, None])

    chosen, proven = fewest_passes(is_open, [((0.0, 0.0), (1.0, 0.0))], closes)
    assert len(chosen) == 1
    assert not proven


def test_a_pass_that_does_not_hear_a_marked_line_is_asked_about() -> None:
    readings = tuple(Reading(f"r{k}", "E1", Place(e, 2.0), 2) for k, e in enumerate((-1.0, 3.0, 7.0)))
    record = swept(replace(whole_job(), readings=readings))
    assert record is not None
    (asked,) = [c for c in record.caveats if "crossed the marked line E1" in c]
    assert "passive-power-n0" in asked  # square across it
    assert "passive-power-e" not in asked  # along it, where one coil hears nothing
    assert "radio" not in asked


# -- the record --------------------------------------------------------------------------------------------


def test_no_passes_no_record() -> None:
    assert swept(Job("j", digs=(HOLE,))) is None
    assert swept(Job("j", passes=both_ways())) is None


def whole_job() -> Job:
    return Job(
        "j", digs=(HOLE,), passes=(*both_ways(POWER), *both_ways(RADIO), *both_ways(ACTIVE, Heard.MARKED))
    )


def test_a_whole_sweep() -> None:
    record = swept(whole_job())
    assert record is not None
    assert record.whole
    (dig,) = record.digs
    assert dig.swept_m2 == pytest.approx(24.0)
    assert record.missing == record.unexplained == record.not_said == ()
    assert any("without a wire" in c for c in record.caveats)
    assert record == sweep_job(whole_job()).record


def test_what_keeps_a_sweep_from_being_whole() -> None:
    job = whole_job()
    first, *rest = job.passes

    def record_of(*passes: Pass) -> object:
        record = swept(replace(job, passes=passes))
        assert record is not None
        assert not record.whole
        return record

    met = record_of(replace(first, signal=Heard.UNEXPLAINED), *rest)
    assert met.unexplained == (first.id,)  # type: ignore[attr-defined]
    assert "met a signal" in met.says  # type: ignore[attr-defined]
    silent = record_of(replace(first, signal=None), *rest)
    assert silent.not_said == (first.id,)  # type: ignore[attr-defined]
    missing = record_of(*(p for p in job.passes if p.method is not RADIO))
    assert missing.missing == (RADIO,)  # type: ignore[attr-defined]
    assert missing.digs[0].swept_m2 == 0.0  # type: ignore[attr-defined]
    half = record_of(*(p for p in job.passes if p.method is not ACTIVE or "-n" in p.id))
    by_method = dict(half.digs[0].by_method)  # type: ignore[attr-defined]
    assert by_method[POWER] == pytest.approx(24.0)
    assert by_method[ACTIVE] == 0.0
    assert half.digs[0].swept_m2 == 0.0  # type: ignore[attr-defined]


def test_only_what_the_job_searches_for_has_to_be_swept() -> None:
    job = replace(whole_job(), searches=(Search(POWER),), passes=both_ways(POWER))
    record = swept(job)
    assert record is not None
    assert record.whole


# -- ground ------------------------------------------------------------------------------------------------


def test_ground_of_each_kind_of_dig() -> None:
    trench = Dig("t", DigKind.TRENCH, (((0.0, 0.0), (10.0, 0.0)),), width_m=1.0)
    (ground,) = grounds(Job("j", digs=(trench,)), 1.0)
    assert ground.outline.area == pytest.approx(12.0 * 3.0)
    assert ground.bearing_deg == pytest.approx(90.0)
    assert 10.0 <= ground.in_dig.sum() * ground.cell_m**2 <= 13.0  # half a cell more on each side
    far = Dig("far", DigKind.EXCAVATION, (tuple((e + 100.0, n) for e, n in HOLE.rings[0]),))
    assert len(grounds(Job("j", digs=(HOLE, far)), 1.0)) == 2
    loose = replace(HOLE, position_sigma_m=0.5)
    (wide,) = grounds(Job("j", digs=(loose,)), 1.0)
    assert wide.outline.area == pytest.approx(10.0 * 8.0)


def test_impossible_digs_are_named() -> None:
    flat = Dig("flat", DigKind.EXCAVATION, (((0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (0.0, 0.0)),))
    with pytest.raises(GeometryError, match="dig flat covers no ground"):
        sweep_job(Job("j", digs=(flat,)))
    with pytest.raises(GeometryError, match=r"there is no dig.*dig\.geojson"):
        sweep_job(Job("j"))


def test_places_in_terms_of_the_ground() -> None:
    base = Baseline("B1", 0.0, 0.0, 30.0, 0.0)
    job = Job("j", baselines=(base,))
    assert place_words(job, 4.0, 2.0) == "4.00 m along B1, 2.00 m left"
    assert place_words(job, -1.0, -2.0) == "1.00 m before the start of B1, 2.00 m right"
    corner = Job("j", corners=(Corner("house-NE", 0.0, 0.0),), display_units="ft-in")
    assert place_words(corner, 3.0, 3.0) == "13 ft 11 in north-east of house-NE"
    assert place_words(Job("j"), 4.0, 2.0) == "easting 4.0, northing 2.0"


def test_a_round_catches_what_enters() -> None:
    answer: SweepAnswer = sweep_job(Job("j", digs=(HOLE,)))
    (once,) = answer.rounds
    assert once.walk.length_m == pytest.approx(2 * (7.2 + 5.2))
    assert 0.9 < once.share <= 1.0


def test_a_known_direction_needs_one_way_only() -> None:
    plan = SweepPlan(line_bearing_deg=90.0, line_bearing_sigma_deg=10.0)
    north = tuple(walk(f"n{k}", (x, -1.0), (x, 5.0)) for k, x in enumerate(np.arange(-1.0, 7.1).tolist()))
    (known,) = sweep_job(Job("j", digs=(HOLE,), passes=north, sweep=plan)).walked
    assert known.gaps == ()


def test_huge_ground_is_looked_at_more_coarsely_and_says_so() -> None:
    big = Dig("big", DigKind.EXCAVATION, (tuple((60.0 * e, 60.0 * n) for e, n in HOLE.rings[0]),))
    (ground,) = grounds(Job("j", digs=(big,)), 0.0)
    assert ground.cell_m == 0.5
    assert any("looked at every" in text for text in assumptions(Job("j", digs=(big,)), [], [ground]))
