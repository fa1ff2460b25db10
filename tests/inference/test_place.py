"""The posterior of one place against integrals, limits and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from plumbmark.inference import place_weigh
from plumbmark.inference import priors as p
from plumbmark.inference.place import Draws, Looks, solve_place
from plumbmark.inference.place_data import (
    FACTORS,
    FEET_INCHES,
    PlaceData,
    feet_inches_meant,
    label_odds,
    place_data,
)
from plumbmark.inference.place_fit import cell_density, shown_by_sonde_mode
from plumbmark.inference.place_scene import MOST_IMAGES, OWN, PER_SECOND, scenes_of
from plumbmark.inference.second import Known, draw_prior
from plumbmark.inference.stations import Station
from plumbmark.inference.stretch import FIRST_LINE
from plumbmark.model.job import Line, Setup
from plumbmark.model.measured import Measured
from plumbmark.model.reading import DepthMethod, MarkBy, Place, Reading, TestHole
from plumbmark.physics.sonde import shown_in_sonde_mode

FLOATS = NDArray[np.float64]
QUICK = Looks((1500, 3000, 4000), (1000, 2000, 3000), 3, 200.0)
LOWER, SPACING = 0.05, 0.40


def known(candidates: FLOATS | None = None, soil: float = 10000.0, factor: float = 1.01) -> Known:
    """Coils known, ground that conducts next to nothing unless said."""
    beside = np.empty((0, 7)) if candidates is None else candidates
    return Known(math.log(soil), math.log(factor), LOWER, LOWER, SPACING, SPACING, 0.25, 1.0, beside)


def taken(hole: TestHole | None = None, bearing: float | None = 0.0, **cells: object) -> PlaceData:
    """What a reading says; numbers are cells."""
    numbers = {k: Measured(v) if isinstance(v, float) else v for k, v in cells.items()}
    reading = Reading("1", "E", Place(0.0, 0.0), 2, bearing_deg=bearing, **numbers)  # type: ignore[arg-type]
    station = Station("reading", "1", reading.place, 0.0, "", 2, bearing, reading, hole=hole)
    return place_data(station, Line("E"), Setup("", "E", frequency_hz=500.0))


def quantile(values: FLOATS, weights: FLOATS, *levels: float) -> FLOATS:
    order = np.argsort(values)
    below = np.cumsum(weights[order]) - 0.5 * weights[order]
    return np.asarray(np.interp(np.array(levels) * weights.sum(), below, values[order]))


def solved(d: PlaceData, seed: int = 1, **more: object) -> Draws:
    return solve_place(d, known(**more), [seed], QUICK)  # type: ignore[arg-type]


def integral(depth: float, gap: float, raise_m: float, raised: float) -> tuple[float, FLOATS, FLOATS]:
    """Log evidence and cumulative posterior of ln depth for one line in air, by sums over a grid.

    Closed form: across the line B = D / (D**2 + e**2) at D above the line and e aside, times mu0 / 2 pi.
    """
    z = np.linspace(-0.6, 0.6, 241)[:, None, None, None]
    aside = np.linspace(-0.25, 0.25, 61)[None, :, None, None]
    scatter = np.exp(p.SCATTER_LOG_SIGMA * np.linspace(-3.5, 3.5, 29))[None, None, :, None]
    error = p.COIL_ERROR_SIGMA * np.linspace(-3.0, 3.0, 7)[None, None, None, :]
    d = np.exp(z)

    def normal(e: FLOATS, sigma: FLOATS | float) -> FLOATS:
        return np.asarray(np.exp(-0.5 * (e / sigma) ** 2) / (math.sqrt(2.0 * math.pi) * sigma))

    def shown(by: float) -> FLOATS:
        low, top = (d + LOWER + by + h for h in (0.0, SPACING))
        b1, b2 = low / (low**2 + aside**2), top / (top**2 + aside**2) * (1.0 + error)
        return np.asarray(SPACING * b2 / (b1 - b2) - LOWER)

    peak = scatter * (p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * d)
    ok = 1.0 - p.SLIP_ODDS
    prior = normal(z - math.log(p.DEPTH_MEDIAN_M), p.DEPTH_LOG_SIGMA) * normal(aside, peak)
    prior = prior * normal(np.log(scatter), p.SCATTER_LOG_SIGMA) * normal(error, p.COIL_ERROR_SIGMA)
    gap_fit = (ok - p.FLIP_ODDS) * normal(gap + aside, peak) + p.FLIP_ODDS * normal(-gap + aside, peak)
    gap_fit = gap_fit + p.SLIP_ODDS * p.ANYTHING_PER_M
    refused = p.REFUSED_ODDS + (1.0 - p.REFUSED_ODDS) / (
        1.0 + np.exp(-(np.log(shown(0.0)) - math.log(p.REFUSED_FROM_M)) / p.REFUSED_LN_SCALE)
    )
    depth_fit = ok * normal(math.log(depth) - np.log(shown(0.0)), scatter * p.DEPTH_SIGMA)
    depth_fit = (depth_fit + p.SLIP_ODDS * p.ANYTHING_SHARE * p.ANYTHING_PER_LN) * (1.0 - refused)
    above = shown(raise_m)
    noise = scatter * np.hypot(p.DEPTH_SIGMA, p.RAISE_SIGMA_M / above)
    raised_fit = ok * normal(math.log(raised) - np.log(above), noise) + p.SLIP_ODDS * p.ANYTHING_PER_LN
    joint = prior * gap_fit * depth_fit * raised_fit
    cell = float(np.prod([x.ravel()[1] - x.ravel()[0] for x in (z, aside, np.log(scatter), error)]))
    along = joint.sum(axis=(1, 2, 3))
    return math.log(float(joint.sum()) * cell), z.ravel(), np.cumsum(along) / along.sum()


def test_one_line_alone_is_the_integral() -> None:
    numbers = (0.95, 0.05, 0.30, 1.28)
    log_evidence, z, below = integral(*numbers)
    d = taken(depth_m=numbers[0], null_offset_m=numbers[1], raised_by_m=numbers[2], raised_depth_m=numbers[3])
    found = solve_place(d, known(), [3], Looks((6000, 10, 10), (6000, 10, 10), 1, 4000.0))
    assert found.effective[0] > 1500.0
    assert found.log_evidence[0] == pytest.approx(log_evidence, abs=0.06)
    mine = found.lines == 0
    ours = quantile(found.ln_depth[mine], found.weights[mine], 0.025, 0.25, 0.5, 0.75, 0.975)
    theirs = np.interp([0.025, 0.25, 0.5, 0.75, 0.975], below, z)
    np.testing.assert_allclose(ours[1:4], theirs[1:4], atol=0.003)
    np.testing.assert_allclose(ours[[0, 4]], theirs[[0, 4]], atol=0.008)


@pytest.mark.parametrize("beside", [None, [[0.8, 0.3, 0.0, 0.1, -0.2, 0.45, 0.6]]])
def test_scenes_are_draws_of_the_prior(beside: list[list[float]] | None) -> None:
    """Against the draws that stretches begin from: the same distributions, by another road."""
    what = known(None if beside is None else np.array(beside), soil=60.0, factor=3.0)._replace(
        lower_low=0.03, lower_high=0.12, null_kind=-1.0
    )
    rng = np.random.default_rng(5)
    theirs = draw_prior(4000, 2, what, rng)
    ours = np.empty((4000, theirs.shape[1]))
    scenes_of(rng.normal(size=(4000, OWN + 2 * PER_SECOND)), what, ours)
    names = {
        0: "scatter",
        1: "coils",
        2: "soil",
        3: "lower",
        5: "null",
        6: "place",
        8: "depth",
        9: "re",
        10: "im",
    }
    for column, name in names.items():
        assert stats.ks_2samp(ours[:, column], theirs[:, column]).pvalue > 1e-3, name
    sizes = (np.hypot(x[:, 9], x[:, 10]) for x in (ours, theirs))
    assert stats.ks_2samp(*sizes).pvalue > 1e-3


@pytest.mark.kernel
def test_a_draw_weighs_the_same_without_the_compiler() -> None:
    d = taken(depth_m=0.9, null_offset_m=0.1, half_left_m=0.8, half_right_m=1.0, current_a=0.01)
    rng = np.random.default_rng(2)
    for lines in (0, 1, 2):
        u = rng.normal(size=(6, OWN + PER_SECOND * lines))
        u[:, place_weigh.DEPTH] *= 0.5
        whose = np.zeros(6, dtype=np.int64)
        label = np.array([0, 1, 3, 8, 9, 10])
        given = np.array([math.nan, 0.3, math.nan, math.nan, math.nan, math.nan])
        compiled, plain = np.empty((6, 12)), np.empty((6, 12))
        place_weigh.weigh_many(u.copy(), label, whose, given, d, known(), lines, compiled)
        python = getattr(place_weigh.weigh, "py_func", place_weigh.weigh)
        scratch = (np.empty(MOST_IMAGES), np.empty(MOST_IMAGES, complex), np.empty(MOST_IMAGES, complex))
        theta, rows = np.empty(FIRST_LINE + 7 * lines), np.empty((8, 4))
        for i in range(6):
            python(u[i].copy(), label[i], whose[i], given[i], d, known(), theta, *scratch, rows, plain[i])
        np.testing.assert_allclose(plain, compiled, rtol=1e-9, atol=1e-9)


def test_the_same_seed_gives_the_same_draws() -> None:
    d = taken(depth_m=1.0, null_offset_m=0.1)
    first, again = solved(d), solved(d)
    np.testing.assert_array_equal(first.ln_depth, again.ln_depth)
    np.testing.assert_array_equal(first.weights, again.weights)


def test_weights_sum_to_one_and_chances_are_theirs() -> None:
    found = solved(taken(depth_m=1.0, null_offset_m=0.2))
    assert found.weights.sum() == pytest.approx(1.0)
    assert found.band_weights.sum() == pytest.approx(1.0)
    np.testing.assert_allclose(np.bincount(found.lines, found.weights), found.chances)
    # odds of the bands by the same evidence
    odds = np.bincount(found.lines, found.band_weights) / found.chances
    np.testing.assert_allclose(
        odds / odds[0], (np.array(p.BAND_ODDS) / p.LINES_ODDS) / (p.BAND_ODDS[0] / p.LINES_ODDS[0]), rtol=1e-6
    )


def test_a_gap_and_its_mirror_image_mirror_the_answer() -> None:
    one = solved(taken(depth_m=1.0, null_offset_m=0.25))
    other = solved(taken(depth_m=1.0, null_offset_m=-0.25))
    for level in (0.1, 0.5, 0.9):
        place = quantile(one.shift, one.weights, level)[0]
        # an effective number of 200 counts to some 3 in 100
        assert float(other.weights @ (-other.shift < place)) == pytest.approx(level, abs=0.08)
    assert abs(float(one.chances[0] - other.chances[0])) < 0.03


def test_a_side_not_known_gives_both() -> None:
    found = solved(taken(depth_m=1.0, null_offset_m=0.25, bearing=None))
    assert float(found.weights @ (found.shift > 0.0)) == pytest.approx(0.5, abs=0.08)


def test_a_range_about_everything_says_nothing() -> None:
    nothing = solved(taken(depth_m=1.0))
    anywhere = solved(taken(depth_m=1.0, null_offset_m=Measured.between(-30.0, 30.0)))
    levels = (0.1, 0.5, 0.9)
    np.testing.assert_allclose(
        quantile(nothing.ln_depth, nothing.weights, *levels),
        quantile(anywhere.ln_depth, anywhere.weights, *levels),
        atol=0.05,
    )
    np.testing.assert_allclose(nothing.chances, anywhere.chances, atol=0.03)


def test_more_readings_narrow_the_band() -> None:
    """Where everything agrees on one line 1 m deep."""
    alone = solved(taken(depth_m=1.0))
    gap = solved(taken(depth_m=1.0, null_offset_m=0.0))
    every = solved(
        taken(
            depth_m=1.0,
            null_offset_m=0.0,
            raised_by_m=0.3,
            raised_depth_m=1.3,
            half_left_m=1.05,
            half_right_m=1.05,
        )
    )
    widths = [float(np.diff(quantile(x.ln_depth, x.weights, 0.1, 0.9))[0]) for x in (alone, gap, every)]
    assert widths[0] > widths[1] > 1.2 * widths[2]
    assert every.chances[0] > gap.chances[0] > alone.chances[0]


@pytest.mark.parametrize(
    ("factor", "label"), [(10.0, FACTORS), (1.0 / 0.3048, FACTORS + 2), (12.0, FACTORS + 4)]
)
def test_a_slip_of_the_pen_is_seen_through(factor: float, label: int) -> None:
    """Half points, null and raised reading speak for 0.9 m; the raised depth slipped as the depth did."""
    found = solved(
        taken(
            depth_m=0.9 * factor, raised_by_m=0.3, raised_depth_m=1.2 * factor,
            null_offset_m=0.0, half_left_m=0.95, half_right_m=0.95,
        )
    )  # fmt: skip
    assert int(found.slip_chances().argmax()) == label
    assert math.exp(quantile(found.ln_depth, found.weights, 0.5)[0]) == pytest.approx(0.9, rel=0.08)


def test_feet_and_inches_as_a_decimal() -> None:
    """2.11 written where the display showed 2 ft 11 in, which the half points say as well."""
    deep = 35 * 0.0254
    depth = Measured(2.11 * 0.3048, rounding=0.01 * 0.3048)
    found = solved(
        taken(depth_m=depth, null_offset_m=0.0, half_left_m=deep + LOWER, half_right_m=deep + LOWER)
    )
    chances = found.slip_chances()
    assert int(chances[1:].argmax()) + 1 == FEET_INCHES
    assert feet_inches_meant(0.9) is None  # 2.9528 ft
    assert feet_inches_meant(2.00 * 0.3048) is None


def test_a_flipped_null_is_suspected() -> None:
    """Half points of a line beside an opposite one to the right; the null of them, and its mirror."""
    cells = {"depth_m": 0.72, "half_left_m": 0.95, "half_right_m": 0.66}
    right = solved(taken(null_offset_m=-0.146, **cells))
    wrong = solved(taken(null_offset_m=0.146, **cells))
    assert float(wrong.weights @ wrong.flipped) > 10.0 * float(right.weights @ right.flipped)


def test_a_depth_that_was_withheld_speaks_for_a_deep_line() -> None:
    plain, withheld = solved(taken(null_offset_m=0.0)), solved(taken(null_offset_m=0.0, depth_refused=True))
    medians = [float(quantile(x.ln_depth, x.weights, 0.9)[0]) for x in (plain, withheld)]
    assert medians[1] > medians[0] + 0.1


def test_sonde_mode_written_down_is_undone() -> None:
    shown = float(shown_in_sonde_mode(1.0, spacing=SPACING, lower_height=LOWER))
    found = solved(taken(depth_m=shown, depth_method=DepthMethod.SONDE, null_offset_m=0.0))
    assert math.exp(quantile(found.ln_depth, found.weights, 0.5)[0]) == pytest.approx(1.0, rel=0.05)
    assert label_odds(DepthMethod.SONDE).sum() == pytest.approx(1.0)


def test_sonde_mode_is_that_of_physics() -> None:
    for depth in (0.4, 1.0, 2.5):
        theirs = float(shown_in_sonde_mode(depth, spacing=SPACING, lower_height=LOWER))
        assert shown_by_sonde_mode(depth, LOWER, SPACING) == pytest.approx(theirs, rel=1e-9)


def test_a_test_hole_is_the_truth() -> None:
    hole = TestHole("T", "E", Place(0.12, 0.0), 2, True, Measured(1.05), Measured(0.1))
    found = solved(taken(depth_m=0.8, null_offset_m=0.1, hole=hole))
    assert math.exp(quantile(found.ln_depth, found.weights, 0.5)[0]) == pytest.approx(1.10, abs=0.03)
    assert quantile(found.shift, found.weights, 0.5)[0] == pytest.approx(0.12, abs=0.03)


def test_a_hole_that_found_nothing_moves_the_line_away() -> None:
    hole = TestHole("T", "E", Place(0.0, 0.0), 2, False, dug_to_m=Measured(2.0))
    plain = solved(taken(depth_m=1.0, null_offset_m=0.0))
    missed = solved(taken(depth_m=1.0, null_offset_m=0.0, hole=hole))
    under = [float(x.weights @ (np.abs(x.shift) < 0.1)) for x in (plain, missed)]
    assert under[1] < 0.7 * under[0]


def test_a_mark_on_the_null_or_on_nothing_known() -> None:
    peak = solved(taken(depth_m=1.0))
    null = solved(taken(depth_m=1.0, mark_by=MarkBy.NULL))
    unknown = solved(taken(depth_m=1.0, mark_by=MarkBy.UNKNOWN))
    spread = [float(np.diff(quantile(x.shift, x.weights, 0.2, 0.8))[0]) for x in (peak, null, unknown)]
    assert spread[0] < spread[1]
    assert spread[0] < spread[2]


def test_another_line_of_the_job_is_thought_of_first() -> None:
    beside = np.array([[0.9, 0.3, 0.0, 0.1, 0.0, 0.45, 0.6]])
    d = taken(depth_m=0.72, null_offset_m=-0.15)
    found = solve_place(d, known(beside), [1], QUICK)
    one = found.lines == 1
    w = found.weights[one] / found.weights[one].sum()
    assert quantile(found.offset[one, 0], w, 0.5)[0] == pytest.approx(0.9, abs=0.4)


def test_a_cell_is_the_chance_over_its_width() -> None:
    wide = cell_density(-1.0, 1.0, 0.0, 1.0)
    assert wide == pytest.approx((stats.norm.cdf(1.0) - stats.norm.cdf(-1.0)) / 2.0, rel=1e-12)
    assert cell_density(7.0, 8.0, 0.0, 1.0) == pytest.approx(
        stats.norm.sf(7.0) - stats.norm.sf(8.0), rel=1e-9
    )
    assert cell_density(0.3, 0.3, 0.0, 1.0) == pytest.approx(stats.norm.pdf(0.3))
