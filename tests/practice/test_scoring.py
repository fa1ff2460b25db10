"""The scorer of the bench, on answers whose score is known beforehand."""

from __future__ import annotations

import importlib.util
import math
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from plumbmark.model.estimate import (
    Identity,
    Interval,
    LineEstimate,
    Neighbour,
    Solution,
    StationEstimate,
    Trust,
)
from plumbmark.model.job import Job
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading
from plumbmark.practice import Site, make_site, write_site

SCORING = Path(__file__).parents[2] / "bench" / "scoring.py"


@pytest.fixture(scope="module")
def scoring() -> ModuleType:
    spec = importlib.util.spec_from_file_location("bench_scoring", SCORING)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench_scoring"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def site() -> Site:
    return make_site("second_plain", 11)


@pytest.fixture(scope="module")
def folder(site: Site, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scored")
    write_site(site, path)
    return path


def _job(site: Site) -> Job:
    readings = tuple(
        Reading(
            r.id,
            r.line,
            Place(r.easting_m, r.northing_m),
            k + 2,
            depth_m=None if not isinstance(r.depth_m, float) else Measured(r.depth_m),
            current_a=None if r.current_a is None else Measured(r.current_a),
        )
        for k, r in enumerate(site.rows)
    )
    return Job(site.id, readings=readings)


def _knowing(site: Site, miss: float = 0.0) -> Solution:
    """The answer of someone who knows the truth, every interval moved off it by `miss` half-widths."""
    stations = []
    rows = {r.id: r for r in site.rows}
    for t in site.truth:
        r = rows[t.station]
        assert r.bearing_deg is not None
        right = math.radians(round(r.bearing_deg) % 360 + 90.0)
        lateral = (t.easting_m - r.easting_m) * math.sin(right) + (t.northing_m - r.northing_m) * math.cos(
            right
        )

        def band(value: float, half: float) -> Interval:
            return Interval(value + miss * half, value + (miss - 1) * half, value + (miss + 1) * half)

        stations.append(
            StationEstimate(
                "reading", t.station, 0.0, t.easting_m, t.northing_m, r.easting_m, r.northing_m,
                math.degrees(right) % 360, band(lateral, 0.05), band(t.depth_m, 0.04 * t.depth_m),
                band(t.current_a, 0.1 * t.current_a), 1.0 if t.alone else 0.0, 0.8, Trust.HOLDS, (), "",
            )
        )  # fmt: skip
    second = Neighbour(0.0, 10.0, Interval(1.0, 0.9, 1.1), 1.0, -0.3, 0.9, None)
    line = LineEstimate(site.lines[0].id, Identity.LIKELY, (), tuple(stations), (second,))
    return Solution(site.id, (line,), None)


def test_an_answer_that_knows_the_truth(scoring: ModuleType, site: Site, folder: Path) -> None:
    score = scoring.score_job(folder, _job(site), _knowing(site), 1.0)
    assert len(score.stations) == len(site.truth)
    assert score.missing == ()
    for s, t in zip(score.stations, site.truth, strict=True):
        assert s.lateral_held
        assert s.depth_held
        assert s.current_held
        assert abs(s.lateral_error) < 2e-3  # truth.csv is in millimetres
        assert abs(s.depth_error) < 1e-3
        assert s.lateral_winkler == pytest.approx(0.1)
        assert s.depth_winkler == pytest.approx(0.08, abs=1e-4)
        assert s.within_10_truth
        assert s.single_line == float(t.alone)
        assert s.alone == t.alone
    assert [(x.claimed, x.there, x.matters) for x in score.lines] == [
        (True, True, not all(t.alone for t in site.truth))
    ]


def test_an_answer_that_is_off(scoring: ModuleType, site: Site, folder: Path) -> None:
    # three half-widths off: nothing held, 15 cm off in plan, and the score pays 40 times the miss
    score = scoring.score_job(folder, _job(site), _knowing(site, 3.0), 1.0)
    for s in score.stations:
        assert (s.lateral_held, s.depth_held, s.current_held) == (False, False, False)
        assert s.lateral_error == pytest.approx(0.15, abs=2e-3)
        assert s.lateral_winkler == pytest.approx(0.1 + 40 * 0.10, abs=0.1)
        assert not s.within_10_truth


def test_mark_and_display_are_scored_apart(scoring: ModuleType, site: Site, folder: Path) -> None:
    score = scoring.score_job(folder, _job(site), _knowing(site), 1.0)
    for s, t, r in zip(score.stations, site.truth, site.rows, strict=True):
        gap = math.hypot(t.easting_m - r.easting_m, t.northing_m - r.northing_m)
        assert abs(s.mark_error) == pytest.approx(
            gap, abs=0.02 + 0.03 * gap
        )  # bearings are a few degrees off
        assert isinstance(r.depth_m, float)
        assert s.display_depth == pytest.approx(r.depth_m / t.depth_m - 1, abs=1e-3)


def test_a_station_left_out_is_told(scoring: ModuleType, site: Site, folder: Path) -> None:
    whole = _knowing(site)
    line = replace(whole.lines[0], stations=whole.lines[0].stations[1:])
    score = scoring.score_job(folder, _job(site), replace(whole, lines=(line,)), 1.0)
    assert len(score.missing) == 1
    assert site.truth[0].station in score.missing[0]


def test_winkler(scoring: ModuleType) -> None:
    # Gneiting and Raftery 2007 (43) at 95 %: width, and 2 / 0.05 times the miss
    assert scoring.winkler(1.0, 3.0, 2.0) == 2.0
    assert scoring.winkler(1.0, 3.0, 3.5) == pytest.approx(2.0 + 40 * 0.5)
    assert scoring.winkler(1.0, 3.0, 0.9) == pytest.approx(2.0 + 40 * 0.1)


def test_best_constant_band_is_the_95_percent_quantile(scoring: ModuleType) -> None:
    # for symmetric errors the interval score is least at the central 95 % (same source): 1.96 sigma
    errors = np.random.default_rng(2).normal(0, 0.1, 20000)
    half, score = scoring.best_constant_band(errors, relative=False)
    assert half == pytest.approx(0.196, rel=0.06)
    # and then it is 2 phi(1.96) / 0.05 * 2 sigma = 4.675 sigma
    assert score == pytest.approx(0.4675, rel=0.03)
