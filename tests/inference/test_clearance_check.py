"""The clearance check on jobs whose answer is known."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
import shapely
from scipy.stats import multivariate_normal, norm

from plumbmark.clearance import holes
from plumbmark.clearance.check import check_clearance, surprises_of
from plumbmark.clearance.rules import zone_rule
from plumbmark.clearance.shapes import footprints_of, outline
from plumbmark.clearance.things import Z_95
from plumbmark.model.clearance import ClearanceAnswer, Demand, Met
from plumbmark.model.draws import LineDraws
from plumbmark.model.estimate import (
    Identity,
    Interval,
    LineEstimate,
    Neighbour,
    Solution,
    StationEstimate,
    Trust,
)
from plumbmark.model.job import Job, Line, Utility
from plumbmark.model.mark import MarkKind, MarkState, PaintedMark
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, TestHole
from plumbmark.model.record import Dig, DigKind, Record
from plumbmark.model.sweep import DigSweep, SweepRecord
from plumbmark.model.ticket import OwnerAnswer, OwnerSaid, Ticket

AT = np.arange(0.0, 20.01, 0.5)
ACROSS = Dig("t1", DigKind.TRENCH, (((10.0, -4.0), (10.0, 4.0)),), depth_m=0.4, width_m=0.6)
ASIDE = Dig("far", DigKind.EXCAVATION, (((2, 5), (8, 5), (8, 9), (2, 9), (2, 5)),), depth_m=1.0)
WHOLE = SweepRecord(
    (DigSweep("t1", 4.8, 4.8, ()),), (), (), (), True, "All of it was swept.", ("Not plastic.",)
)


def station(
    k: int, east: float, depth: float = 1.0, half: float = 0.1, trust: Trust = Trust.HOLDS
) -> StationEstimate:
    """A station of a line that runs east along northing 0; its right is south."""
    return StationEstimate(
        "reading", f"r{k}", east, east, 0.0, east, 0.0, 180.0,
        Interval(0.0, -0.1, 0.1), Interval(depth, depth * 0.85, depth * 1.2), Interval(0.01, 0.009, 0.011),
        0.9, 0.98, trust, (), "",
    )  # fmt: skip


def solution(**changes: object) -> Solution:
    stations = tuple(station(k, 2.0 * k) for k in range(11))
    line = LineEstimate("E1", Identity.LIKELY, (), stations)
    return Solution("j", (replace(line, **changes),), None)  # type: ignore[arg-type]


def sampler(depth: float = 1.0, sd: float = 0.05, side: float = 0.05):  # type: ignore[no-untyped-def]
    def draw(n: int, seed: int) -> Mapping[str, LineDraws]:
        rng = np.random.default_rng(seed)
        level, north = rng.standard_normal((n, 1)), side * rng.standard_normal((n, 1))
        flat = np.zeros((n, len(AT)))
        mean = flat + math.log(depth)
        return {
            "E1": LineDraws("E1", AT, flat + AT, flat + north, np.exp(mean + sd * level), mean, flat + sd)
        }

    return draw


JOB = Job("j", lines=(Line("E1", Utility.ELECTRIC, 0.04),), digs=(ACROSS, ASIDE))


def check(job: Job = JOB, sol: Solution | None = None, draw=None, **more: object) -> ClearanceAnswer:  # type: ignore[no-untyped-def]
    return check_clearance(job, sol or solution(), draw or sampler(), zone_rule("us-18"), **more)  # type: ignore[arg-type]


def test_a_crossing_far_below_is_hand_dug_and_never_better() -> None:
    deep = check(draw=sampler(depth=3.0), sweep=WHOLE)
    (met,) = deep.digs[0].encounters
    assert (met.shape, met.demand) == ("crossing", Demand.HAND_DIG)
    assert deep.digs[0].demand is Demand.HAND_DIG
    assert met.vertical_m is not None
    assert met.vertical_m.value == pytest.approx(3.0 - 0.02 - 0.4, abs=0.03)
    # nobody saw it: no lower figure than one in a hundred
    assert (met.asked_probability, met.strike_probability, met.floored) == (0.01, 0.01, True)


def test_a_crossing_close_below_is_looked_at_first() -> None:
    answer = check(draw=sampler(depth=0.72), sweep=WHOLE)
    (met,) = answer.digs[0].encounters
    assert met.demand is Demand.TEST_HOLE
    assert met.asked_probability > 0.4
    assert [h.line for h in answer.holes] == ["E1"]
    assert answer.holes[0].easting_m == pytest.approx(10.0, abs=0.5)
    assert answer.holes[0].top_m.value == pytest.approx(0.70, abs=0.02)
    assert any("Stop and call" in text for text in answer.holes[0].words)


def test_a_strike_has_the_chance_of_the_depth_s_own_tail() -> None:
    # top of the line above the trench's bottom, 0.4 m and 5 cm: ln depth normal about 0.5 m with sd 0.1
    met = check(draw=sampler(depth=0.5, sd=0.1)).digs[0].encounters[0]
    bottoms = 0.42 + 0.05 * norm.ppf((np.arange(4000) + 0.5) / 4000)
    expected = norm.cdf(np.log(bottoms / 0.5) / 0.1).mean()
    assert met.strike_probability == pytest.approx(expected, rel=0.05)


def test_without_a_sweep_no_dig_is_better_than_not_known() -> None:
    job = replace(JOB, digs=(ASIDE,))
    alone = check(job).digs[0]
    assert alone.demand is Demand.NOT_KNOWN
    assert [s.demand for s in alone.stretches] == [Demand.NOTHING]
    assert any("no record of a sweep" in text for text in alone.because)
    swept = replace(WHOLE, digs=(DigSweep("far", 24.0, 24.0, ()),))
    assert check(job, sweep=swept).digs[0].demand is Demand.NOTHING
    half = replace(WHOLE, digs=(DigSweep("far", 24.0, 12.0, ()),), whole=False)
    assert check(job, sweep=half).digs[0].demand is Demand.NOT_KNOWN


def test_an_owner_without_an_answer_keeps_a_dig_not_known() -> None:
    swept = replace(WHOLE, digs=(DigSweep("far", 24.0, 24.0, ()),))
    ticket = Ticket("A-1", white_lined=True, expires_at=datetime(2024, 5, 22, tzinfo=UTC))
    job = replace(JOB, digs=(ASIDE,), ticket=ticket)
    for said, demand in (
        (None, Demand.NOT_KNOWN),
        (OwnerSaid.NOT_LOCATED, Demand.NOT_KNOWN),
        (OwnerSaid.MARKED, Demand.NOTHING),
        (OwnerSaid.NO_CONFLICT, Demand.NOTHING),
    ):
        answer = check(replace(job, owners=(OwnerAnswer("North", 2, answer=said),)), sweep=swept)
        assert answer.digs[0].demand is demand
        assert answer.unanswered[: answer.about_ticket][-1].startswith("Ticket A-1 runs out")
    late = check(
        replace(job, owners=(OwnerAnswer("North", 2, answer=OwnerSaid.MARKED),)),
        sweep=swept,
        now=datetime(2024, 5, 23, tzinfo=UTC),
    )
    assert late.digs[0].demand is Demand.NOT_KNOWN
    assert late.unanswered[0].startswith("Ticket A-1 ran out")


def test_no_answer_of_an_owner_takes_a_demand_back() -> None:
    owners = (OwnerAnswer("North", 2, "electric", OwnerSaid.NO_CONFLICT),)
    for draw in (sampler(depth=0.72), sampler(depth=3.0)):
        alone, answered = (
            check(job, draw=draw, sweep=WHOLE).digs[0] for job in (JOB, replace(JOB, owners=owners))
        )
        assert answered.demand is alone.demand
        assert answered.encounters == alone.encounters


def test_what_is_unanswered_is_always_said() -> None:
    for answer in (check(), check(sweep=WHOLE)):
        said = " ".join(answer.unanswered)
        assert all(word in said for word in ("Owners", "Private lines", "silence is not proof"))
    assert "Not plastic." in check(sweep=WHOLE).unanswered


def test_a_bore_is_never_without_a_test_hole() -> None:
    bore = Dig("b", DigKind.BORE, ACROSS.rings, depth_m=3.0, diameter_m=0.1)
    answer = check(replace(JOB, digs=(bore,)), draw=sampler(depth=0.8), sweep=WHOLE)
    assert answer.digs[0].encounters[0].demand is Demand.TEST_HOLE
    assert answer.digs[0].encounters[0].floored


def test_a_line_along_in_the_dig_gets_a_hole_every_few_metres() -> None:
    along = Dig("p", DigKind.TRENCH, (((4.0, 0.1), (16.0, 0.1)),), depth_m=0.8, width_m=0.6)
    answer = check(replace(JOB, digs=(along,)))
    (met,) = answer.digs[0].encounters
    assert met.shape == "parallel"
    assert met.demand is Demand.TEST_HOLE
    assert len(answer.holes) == 3
    assert sorted(h.number for h in answer.holes) == [1, 2, 3]
    settled = [h.settled for h in answer.holes]
    assert settled == sorted(settled)


def test_seen_by_eye_lightens_a_test_hole_to_hand_dig_and_no_further() -> None:
    hole = TestHole("h", "E1", Place(10.2, 0.02), 2, True, Measured(0.68))
    answer = check(replace(JOB, test_holes=(hole,)), draw=sampler(depth=0.72, sd=0.01))
    (met,) = answer.digs[0].encounters
    assert met.exposed
    assert met.demand is Demand.HAND_DIG
    assert not met.floored
    assert met.strike_probability < 0.01  # exposed: the figure may be told
    elsewhere = replace(JOB, test_holes=(replace(hole, place=Place(4.0, 0.0)),))
    assert not check(elsewhere, draw=sampler(depth=0.72)).digs[0].encounters[0].exposed


def test_the_lawful_zone_narrower_than_what_is_known_is_shown() -> None:
    wide = check(draw=sampler(side=0.4, depth=3.0))
    assert wide.zones[0].narrow == ((0.0, 20.0),)
    assert wide.digs[0].demand is Demand.TEST_HOLE
    assert check(draw=sampler(depth=3.0)).zones[0].narrow == ()
    lawful, honest = (shapely.Polygon(r[0]) for r in (wide.zones[0].lawful, wide.zones[0].honest))
    assert lawful.bounds[3] == pytest.approx(0.02 + 0.4572, abs=0.01)  # half the line and 18 in
    assert honest.bounds[3] == pytest.approx(0.02 + 0.4572 + 1.96 * 0.4, abs=0.06)


def test_zones_stand_about_the_marks_as_painted() -> None:
    marks = tuple(PaintedMark(f"m{k}", Place(x, 0.3), k, "E1") for k, x in enumerate((0.0, 10.0, 20.0)))
    zone = check(replace(JOB, marks=marks)).zones[0]
    assert shapely.Polygon(zone.lawful[0]).bounds[3] == pytest.approx(0.3 + 0.02 + 0.4572, abs=0.01)
    lost = tuple(replace(m, state=MarkState.GONE) for m in marks)
    zone = check(replace(JOB, marks=lost)).zones[0]
    assert shapely.Polygon(zone.lawful[0]).bounds[3] == pytest.approx(0.02 + 0.4572, abs=0.01)


def test_unproven_numbers_or_an_unknown_line_are_looked_at_first() -> None:
    unproven = solution(stations=tuple(station(k, 2.0 * k, trust=Trust.UNPROVEN) for k in range(11)))
    assert check(sol=unproven, draw=sampler(depth=3.0)).digs[0].demand is Demand.TEST_HOLE
    nobody = check(sol=solution(identity=Identity.NOT_KNOWN), draw=sampler(depth=3.0))
    assert nobody.digs[0].demand is Demand.TEST_HOLE
    assert any("whether the line that was followed is this one" in text for text in nobody.unanswered)


def test_records_and_second_lines_are_met_too() -> None:
    record = Record("d1", ((2.0, 6.0), (8.0, 6.5)), utility="water", position_sigma_m=0.3)
    answer = check(replace(JOB, records=(record,)))
    (met,) = answer.digs[1].encounters
    assert (met.met, met.name, met.demand) == (Met.RECORD, "d1", Demand.NOT_KNOWN)
    assert answer.digs[1].demand is Demand.NOT_KNOWN
    for chance, demand in ((0.9, Demand.TEST_HOLE), (0.3, Demand.NOT_KNOWN)):
        beside = Neighbour(0.0, 20.0, Interval(-6.0, -6.2, -5.8), 0.8, -0.3, chance, None)
        answer = check(sol=solution(neighbours=(beside,)))
        (met,) = answer.digs[1].encounters
        assert (met.met, met.demand) == (Met.SECOND_LINE, demand)
        assert met.strike_probability == pytest.approx(chance, abs=0.01)
        assert met.vertical_m is None


def test_a_second_line_named_after_a_line_that_was_not_solved_is_met_all_the_same() -> None:
    beside = Neighbour(0.0, 20.0, Interval(-6.0, -6.2, -5.8), 0.8, -0.3, 0.9, "C1")
    answer = check(sol=solution(neighbours=(beside,)))
    assert [e.met for e in answer.digs[1].encounters] == [Met.SECOND_LINE]
    other = LineEstimate("C1", Identity.LIKELY, (), (replace(station(0, 5.0), mark_northing_m=50.0),))
    both = Solution("j", (*solution(neighbours=(beside,)).lines, other), None)
    job = replace(JOB, lines=(*JOB.lines, Line("C1")))
    assert [e.met for e in check(job, both).digs[1].encounters] == []


def test_a_hole_that_did_not_find_it_calls_for_another() -> None:
    empty = TestHole("h7", "E1", Place(9.0, 0.3), 2, False, dug_to_m=Measured(1.5))
    met = check(replace(JOB, test_holes=(empty,)), draw=sampler(depth=3.0)).digs[0].encounters[0]
    assert met.demand is Demand.TEST_HOLE
    assert "Test hole h7 looked for it near here and did not find it" in met.because
    assert not met.exposed


def test_nothing_solved_and_a_record_is_not_known() -> None:
    record = Record("d1", ((2.0, 6.0), (8.0, 6.5)), utility="water", position_sigma_m=0.3)
    nobody = Solution("j", (LineEstimate("E1", Identity.NOT_KNOWN, (), ()),), None)
    answer = check(replace(JOB, records=(record,)), nobody, draw=lambda n, seed: {}, sweep=WHOLE)
    assert {d.dig: d.demand for d in answer.digs} == {"t1": Demand.NOTHING, "far": Demand.NOT_KNOWN}
    assert any("nothing was read of it" in text for text in answer.unanswered)


def test_a_record_far_from_its_solved_line_is_remarked_on() -> None:
    record = Record("d1", ((0.0, 3.0), (20.0, 3.0)), line="E1", position_sigma_m=0.3)
    (note,) = [n for n in check(replace(JOB, records=(record,))).notes if n.startswith("Record")]
    assert "to the left of where it was solved" in note
    near = replace(record, path=((0.0, 0.3), (20.0, 0.3)))
    assert not [n for n in check(replace(JOB, records=(near,))).notes if n.startswith("Record")]


def test_shallow_cover_is_a_note_and_lowers_nothing() -> None:
    shallow = solution(stations=tuple(station(k, 2.0 * k, depth=0.3) for k in range(11)))
    answer = check(sol=shallow, draw=sampler(depth=0.3))
    assert any("NEC Table 300.5" in note and "no limit" in note for note in answer.notes)
    assert answer.digs[0].demand is Demand.TEST_HOLE
    assert not [n for n in check().notes if "NEC" in n]


def test_past_the_last_reading_nothing_is_known_unless_an_end_was_marked() -> None:
    past = Dig("p", DigKind.TRENCH, (((24.0, -1.0), (24.0, 1.0)),), depth_m=0.5, width_m=0.6)
    job = replace(JOB, digs=(past,))
    answer = check(job).digs[0]
    assert any("followed to its last reading" in text for text in answer.because)
    assert Demand.NOT_KNOWN in {s.demand for s in answer.stretches}
    end = PaintedMark("m1", Place(20.0, 0.1), 2, "E1", MarkKind.END)
    assert {s.demand for s in check(replace(job, marks=(end,))).digs[0].stretches} == {Demand.NOTHING}


def test_stretches_cover_the_dig_once() -> None:
    for dig in (ACROSS, replace(ASIDE, rings=(((5, -3), (12, -3), (12, 4), (5, 4), (5, -3)),))):
        answer = check(replace(JOB, digs=(dig,)))
        (shape,) = footprints_of(dig)
        whole = outline(shape, Z_95 * shape.edge_sigma_m)
        parts = [shapely.Polygon(s.rings[0], s.rings[1:]) for s in answer.digs[0].stretches]
        assert sum(p.area for p in parts) == pytest.approx(whole.area, abs=0.05)
        assert shapely.union_all(parts).symmetric_difference(whole).area < 0.05
        assert all(p.intersection(q).area < 1e-6 for p, q in itertools.combinations(parts, 2))


def test_the_zone_is_hand_dug_all_over() -> None:
    """No ground of the dig inside the zone, about mark or band, demands less than hand dig."""
    answer = check(draw=sampler(depth=3.0, side=0.2))
    zone = shapely.union_all(
        [shapely.Polygon(r[0]) for r in (answer.zones[0].lawful, answer.zones[0].honest)]
    )
    for part in answer.digs[0].stretches:
        if part.demand.rank < Demand.HAND_DIG.rank:
            assert shapely.Polygon(part.rings[0]).intersection(zone).area < 1e-3


def test_same_job_same_answer() -> None:
    assert check() == check()


def test_found_outside_the_band_means_stop() -> None:
    def said(north: float, top: float) -> tuple[str, ...]:
        hole = TestHole("h1", "E1", Place(10.0, north), 2, True, Measured(top), Measured(0.04))
        return surprises_of(replace(JOB, test_holes=(hole,)), solution())

    assert said(0.0, 0.98) == ()
    (aside,) = said(-0.5, 0.98)
    assert aside.startswith("Stop: test hole h1 found E1 0.50 m right of where it was to be")
    (shallow,) = said(0.0, 0.5)
    assert "shallower than it was to be: the top at 0.50 m" in shallow
    assert (
        surprises_of(replace(JOB, test_holes=(TestHole("h", "E1", Place(10, 0), 2, False),)), solution())
        == ()
    )


# -- the order of test holes -------------------------------------------------------------------------------


def candidate(rng: np.random.Generator, shared: np.ndarray) -> holes.Candidate:
    """Margins and what is seen, leaning on causes that all candidates share."""
    n = shared.shape[1]
    deep = rng.normal(size=shared.shape[0]) @ shared * 0.05 + 0.03 * rng.normal(size=n)
    aside = 0.08 * rng.normal(size=n)
    margin = rng.uniform(-0.1, 0.2) + deep + 0.02 * rng.normal(size=n)
    return holes.Candidate(None, 0.0, margin, aside, deep)  # type: ignore[arg-type]


def test_doubt_left_is_that_of_the_bivariate_normal() -> None:
    rng = np.random.default_rng(1)
    one = candidate(rng, rng.normal(size=(2, 20000)))
    left = holes.doubts([one])
    h = one.margin_m.mean() / one.margin_m.std()
    assert left([]) == pytest.approx(norm.cdf(h) * norm.sf(h), rel=1e-6)
    seen = np.stack([one.aside_m, one.ln_depth])
    own = np.cov(seen, bias=True) + holes.TAPE_SIGMA**2 * np.eye(2)
    cross = np.array([np.cov(one.margin_m, s, bias=True)[0, 1] for s in seen])
    share = cross @ np.linalg.solve(own, cross) / one.margin_m.var()
    both = multivariate_normal.cdf([h, h], cov=[[1.0, share], [share, 1.0]])
    assert left([0]) == pytest.approx(norm.cdf(h) - both, abs=1e-5)


def test_the_order_is_the_best_of_all_orders() -> None:
    for seed in range(6):
        rng = np.random.default_rng(seed)
        shared = rng.normal(size=(3, 400))
        left = holes.doubts([candidate(rng, shared) for _ in range(6)])

        def after_each(order: Sequence[int], left: Callable[[Sequence[int]], float] = left) -> float:
            return sum(left(sorted(order[:k])) for k in range(1, 7))

        best = min(after_each(order) for order in itertools.permutations(range(6)))
        assert after_each(holes.best_order(6, left)) == pytest.approx(best, rel=1e-12)


def test_of_many_candidates_each_next_one_settles_most() -> None:
    rng = np.random.default_rng(3)
    shared = rng.normal(size=(3, 400))
    left = holes.doubts([candidate(rng, shared) for _ in range(14)])
    order = holes.best_order(14, left)
    assert sorted(order) == list(range(14))
    assert left(order[:1]) == min(left([i]) for i in range(14))
    assert left(order[:2]) == min(left([order[0], i]) for i in range(14) if i != order[0])
