"""Lines seen from the side: what one shot says, and what several together do."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from plumbmark.inference import side_model, side_shot
from plumbmark.inference.cells import cell_likelihood, slip_density
from plumbmark.inference.scene import put_line
from plumbmark.inference.side_model import second_lines
from plumbmark.inference.smooth import course_basis, depth_basis
from plumbmark.inference.solve import solve_job, solve_with_posterior
from plumbmark.inference.tempered import temper
from plumbmark.inference.told import Drawn, covariance_of
from plumbmark.model.estimate import StationEstimate, Trust
from plumbmark.model.job import Hookup, Job, Line, Receiver, Setup, Soil
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, SideReading, TestHole
from plumbmark.physics.halfspace import line_over_ground_field_quadrature
from plumbmark.physics.side import side_at
from plumbmark.physics.skin import skin_depth

LOWER, SPACING, FREQUENCY = 0.05, 0.4, 33000.0


def images(depth: float, rho: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, int]:
    at, deep, current = np.empty(64), np.empty(64, complex), np.empty(64, complex)
    n = put_line(0, 0.0, depth, 1.0, 0.0, float(skin_depth(FREQUENCY, rho)), at, deep, current)
    return at, deep, current, n


@pytest.mark.parametrize(("rho", "published"), [(100.0, 0.66), (10.0, 1.93)])
def test_direction_beside_a_line_in_conducting_ground(rho: float, published: float) -> None:
    """A line 1 m deep from 5.8 m, 33 kHz, coil 5 cm up: as one 0.66 and 1.93 m deep (the estimator's notes).

    By the quadrature, which shares no code with the images, and by the kernel that shots are weighed with.
    """
    across, upright = line_over_ground_field_quadrature(
        5.8, LOWER, depth=1.0, current=1.0, skin_depth=float(skin_depth(FREQUENCY, rho))
    )
    assert 5.8 * abs(complex(across)) / abs(complex(upright)) - LOWER == pytest.approx(published, abs=0.005)
    fields = np.empty((4, 3))
    at, deep, current, n = images(1.0, rho)
    side_shot.lean_fields(5.8, LOWER, SPACING, 0.0, at, deep, current, n, fields)
    distance, depth = side_shot.shown_leaning(fields, 1.0, 0.0, 0.0, LOWER, SPACING)
    assert 5.8 * (depth + LOWER) / distance - LOWER == pytest.approx(published, abs=0.005)


def test_one_degree_of_lean_from_5_8_m_is_10_cm_of_depth() -> None:
    """The estimator's notes; tan of the direction times the distance."""
    at, deep, current, n = images(1.0, 1e9)
    fields = np.empty((4, 3))
    side_shot.lean_fields(5.8, 0.0, SPACING, 0.0, at, deep, current, n, fields)
    lean = math.radians(1.0)
    shown = side_shot.shown_leaning(fields, math.cos(lean), math.sin(lean), 0.5, 0.0, SPACING)
    assert abs(5.8 * shown[1] / shown[0] - 1.0) == pytest.approx(0.10, abs=0.01)


@pytest.mark.parametrize("python", [False, True])
@pytest.mark.parametrize(("stand", "depth", "rho", "lean"), [(3.0, 1.1, 20.0, 1.5), (-5.0, 0.6, 100.0, -2.0)])
def test_display_is_that_of_the_physics(
    stand: float, depth: float, rho: float, lean: float, python: bool
) -> None:
    tilt = np.array([[math.radians(lean)]])
    one = np.ones(1)
    out = np.empty((1, 1, 2))
    kernel = side_shot.shown_many
    function: Callable[..., None] = getattr(kernel, "py_func", kernel) if python else kernel
    skin = float(skin_depth(FREQUENCY, rho)) * one
    where = np.array([[stand]])
    deep = np.array([[math.log(depth)]])
    function(where, deep, skin, LOWER * one, SPACING * one, 0.002 * one, tilt, np.empty((0, 4)), out)
    at, images_deep, current, n = images(depth, rho)
    expected = side_at(stand, LOWER, SPACING, math.radians(lean), 0.002, at, images_deep, current, n)
    assert out[0, 0] == pytest.approx(expected, rel=2e-4)


def test_likelihood_of_a_shot_is_the_integral_over_its_lean() -> None:
    """Against a fine sum over displays of `physics.side`, slips and rounding included."""
    at, deep, current, n = images(1.0, 50.0)
    shot = np.array([3.1, 0.005, 0.9, 0.05])
    lean = np.linspace(-5.0, 5.0, 2001) * side_shot.TILT_SIGMA
    weight = np.exp(-0.5 * (lean / side_shot.TILT_SIGMA) ** 2)
    total = 0.0
    for t, w in zip(lean, weight / weight.sum(), strict=True):
        shown = side_at(3.0, LOWER, SPACING, float(t), 0.001, at, deep, current, n)
        product = 1.0
        for c in range(2):
            good = cell_likelihood(shot[2 * c], shot[2 * c + 1], shown[c], 0.03 * shown[c])
            product *= 0.98 * good + 0.02 * slip_density(shot[2 * c])
        total += w * product
    said = side_shot.shot_log_likelihood(
        3.0, LOWER, SPACING, 0.001, 1.0, shot, at, deep, current, n, np.empty((4, 3))
    )
    assert said == pytest.approx(math.log(total), abs=2e-3)


def test_cell_of_a_range_is_its_integral_and_a_slip_is_a_density() -> None:
    x = np.linspace(0.001, 400.0, 400001)
    assert np.trapezoid([slip_density(v) for v in x[::20]], x[::20]) == pytest.approx(1.0, abs=0.01)
    assert cell_likelihood(1.0, 0.4, 1.1, 0.1) == pytest.approx(1.25 * 0.99865, rel=2e-3)
    assert cell_likelihood(1.0, 0.0, 1.0, 0.1) == pytest.approx(3.9894, rel=1e-4)


def test_bases_have_the_covariance_of_the_chains() -> None:
    """Slope of ln depth: Ornstein-Uhlenbeck; slope of the course: a random walk; both by simulation."""
    at = np.array([0.0, 2.0, 7.0])
    rng = np.random.default_rng(3)
    steps, paths = 700, 4000
    h = 7.0 / steps
    slope = 0.016 * rng.normal(size=paths)
    value = np.zeros(paths)
    turn, course = np.zeros(paths), np.zeros(paths)
    seen = []
    for k in range(steps):
        if k == 200:
            seen.append((value.copy(), course.copy(), turn.copy()))
        value += h * slope
        course += h * turn
        slope += -h / 5.0 * slope + 0.016 * math.sqrt(2.0 * h / 5.0) * rng.normal(size=paths)
        turn += 0.025 * math.sqrt(h) * rng.normal(size=paths)
    seen.append((value, course, turn))
    depth = depth_basis(at)[:, 1:]
    place, tilt = (b[:, 2:] for b in course_basis(at, 1.0, 1.0))
    for row, (d, c, t) in zip((1, 2), seen, strict=True):
        assert math.sqrt((depth[row] ** 2).sum()) == pytest.approx(d.std(), rel=0.05)
        assert math.sqrt((place[row] ** 2).sum()) == pytest.approx(c.std(), rel=0.05)
        assert math.sqrt((tilt[row] ** 2).sum()) == pytest.approx(t.std(), rel=0.05)
        assert (place[row] * tilt[row]).sum() == pytest.approx(np.mean(c * t), rel=0.08)


def test_tempered_particles_find_two_explanations_and_their_evidence() -> None:
    """A value seen as |u| = 2: two modes, each half; evidence by quadrature."""

    def likelihood(u: np.ndarray) -> np.ndarray:
        return np.asarray(-0.5 * ((np.abs(u[:, 0]) - 2.0) / 0.1) ** 2)

    found = temper(likelihood, 2, 800, np.random.default_rng(4))
    x = np.linspace(-6.0, 6.0, 200001)
    inside = np.exp(-0.5 * ((np.abs(x) - 2.0) / 0.1) ** 2 - 0.5 * x * x) / math.sqrt(2.0 * math.pi)
    assert found.log_evidence == pytest.approx(math.log(np.trapezoid(inside, x)), abs=0.25)
    assert (found.particles[:, 0] > 0.0).mean() == pytest.approx(0.5, abs=0.12)
    assert np.abs(found.particles[:, 0]).std() == pytest.approx(0.1, rel=0.15)


def test_covariance_of_a_place_lies_along_the_way_the_receiver_faced() -> None:
    """Draws along bearing 30 degrees: the covariance is that direction's alone."""
    away = np.random.default_rng(6).normal(size=(4000, 1))
    sin, cos = 0.5, math.sqrt(0.75)
    even = np.full(4000, 1.0 / 4000)
    drawn = Drawn(away, np.zeros_like(away), sin * away, cos * away, even, even)
    expected = away.var(ddof=1) * np.array([[sin * sin, sin * cos], [sin * cos, cos * cos]])
    assert covariance_of(drawn)[0] == pytest.approx(expected, rel=1e-3)


def test_second_lines_are_drawn_as_elsewhere() -> None:
    drawn = second_lines(np.random.default_rng(5).normal(size=(20000, 4)))
    assert np.abs(drawn[:, 0]).min() >= 0.2
    assert np.abs(drawn[:, 0]).max() <= 3.5
    assert (drawn[:, 0] > 0.0).mean() == pytest.approx(0.5, abs=0.02)
    assert np.log(drawn[:, 1]).std() == pytest.approx(0.5, rel=0.03)
    assert np.median(np.hypot(drawn[:, 2], drawn[:, 3])) == pytest.approx(0.43, abs=0.03)


# --- whole lines ---------------------------------------------------------------------------------


def seen_job(offsets: list[float], *, rho: float = 1e5, spoil: float | None = None, **more: object) -> Job:
    """A line 1.2 m down along north through easting 50, seen by exact displays from beside."""
    at, deep, current, n = images(1.2, rho)
    rows = []
    for k, x in enumerate(offsets):
        distance, depth = side_at(x, LOWER, SPACING, 0.0, 0.0, at, deep, current, n)
        depth = spoil if spoil is not None and k == 1 else depth
        place = Place(50.0 + x, 60.0 + 1.5 * k)
        rows.append(
            SideReading(
                f"s{k}",
                "X1",
                place,
                k + 2,
                270.0 if x > 0 else 90.0,
                Measured(round(distance, 2), 0.0, 0.01),
                Measured(round(depth, 2), 0.0, 0.01),
            )
        )
    line = Line("X1", setups=(Setup("", "X1", Hookup.DIRECT, FREQUENCY, "R1"),))
    receivers = (Receiver("R1", LOWER, SPACING),)
    return Job("beside", lines=(line,), receivers=receivers, side_readings=tuple(rows), **more)  # type: ignore[arg-type]


@pytest.fixture(autouse=True)
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fewer particles: what is asked here does not hang on the last digit."""
    monkeypatch.setattr(side_model, "MOVES", (5, 6))


def holds(s: StationEstimate) -> bool:
    away = 50.0 - s.mark_easting_m
    sign = math.sin(math.radians(s.right_deg))
    return (
        s.depth_m.low < 1.2 < s.depth_m.high and s.lateral_shift_m.low < sign * away < s.lateral_shift_m.high
    )


def test_shots_from_both_sides_close_in_on_the_line() -> None:
    dry = Soil(100000.0, 1.1)
    one = solve_job(seen_job([3.0], soil=dry)).lines[0].stations[0]
    several = solve_job(seen_job([3.0, -2.5, 2.0, -1.5], soil=dry)).lines[0].stations
    assert holds(one)
    assert all(map(holds, several))
    assert several[0].depth_m.high - several[0].depth_m.low < 0.7 * (one.depth_m.high - one.depth_m.low)
    assert "from the other side" in one.next_step
    assert one.trust is Trust.UNPROVEN


def test_clay_is_seen_through_where_it_is_known_and_carried_where_not() -> None:
    """In 10 ohm m the display is far off; the band holds the truth all the same."""
    shots = [4.0, -3.0, 2.0]
    job = seen_job(shots, rho=10.0, soil=Soil(10.0, 1.3))
    assert abs(job.side_readings[0].depth_m.value / 1.2 - 1.0) > 0.2  # type: ignore[union-attr]
    assert all(map(holds, solve_job(job).lines[0].stations))
    assert all(map(holds, solve_job(seen_job(shots, rho=10.0)).lines[0].stations))


def test_slip_is_asked_about_and_does_not_carry_the_answer() -> None:
    stations = (
        solve_job(seen_job([2.0, -2.0, 1.5, -1.5], spoil=12.0, soil=Soil(100000.0, 1.1))).lines[0].stations
    )
    assert any("A slip (a decimal point)?" in said for said in stations[1].because)
    assert holds(stations[1])


def test_test_hole_on_the_line_settles_depth_and_place() -> None:
    hole = TestHole("h1", "X1", Place(50.0, 61.0, 0.02), 2, True, Measured(1.19), Measured(0.02))
    for s in solve_job(seen_job([3.0, -3.0], test_holes=(hole,))).lines[0].stations:
        assert holds(s)
        assert s.depth_m.high - s.depth_m.low < 0.3


def test_no_direction_written_is_a_round_band() -> None:
    job = seen_job([3.0])
    shot = SideReading("s0", "X1", Place(50.0, 60.0), 2, None, Measured(3.0), Measured(1.0))
    (s,) = solve_job(Job("x", lines=job.lines, side_readings=(shot,))).lines[0].stations
    assert (s.easting_m, s.northing_m) == (50.0, 60.0)
    assert s.lateral_shift_m.low == -s.lateral_shift_m.high
    assert s.lateral_shift_m.high > 2.5


def test_joint_samples_agree_with_the_bands() -> None:
    answer, posterior = solve_with_posterior(seen_job([3.0, -2.0]))
    drawn = posterior.draw(2000, 3)["X1"]
    s = answer.lines[0].stations[0]
    k = int(np.abs(drawn.chainage_m - s.chainage_m).argmin())
    low, high = np.quantile(drawn.depth_m[:, k], (0.025, 0.975))
    assert (low, high) == pytest.approx((s.depth_m.low, s.depth_m.high), rel=0.08)
