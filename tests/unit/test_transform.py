"""From one coordinate system to another: which way, how good, what is missing, which foot."""

from __future__ import annotations

import numpy as np
import pytest

from plumbmark.base.errors import CoordinateSystemError
from plumbmark.survey.transform import system_words, transformation

US_FOOT = 1200.0 / 3937.0


@pytest.mark.parametrize(
    ("code", "unit", "metres"),
    [
        ("local", "metre", 1.0),
        ("EPSG:32631", "metre", 1.0),
        ("EPSG:2230", "US survey foot (1200/3937 m)", US_FOOT),
        ("EPSG:2222", "international foot (0.3048 m)", 0.3048),  # Arizona east counts international feet
        ("EPSG:4326", "degree", None),
    ],
)
def test_a_system_says_its_unit(code: str, unit: str, metres: float | None) -> None:
    said = system_words(code)
    assert said.unit == unit
    assert said.metres_per_unit == (None if metres is None else pytest.approx(metres, rel=1e-12))
    assert said.datum


@pytest.mark.parametrize(
    "code", ["EPSG:1", "EPSG:9999999", "WGS84", "", "EPSG:5703", "EPSG:4978", "EPSG:9518"]
)
def test_a_system_that_is_none_of_places_in_plan_is_refused(code: str) -> None:
    with pytest.raises(CoordinateSystemError):
        system_words(code)


def test_metres_to_survey_feet_are_a_scale_alone() -> None:
    """NAD83 / California zone 6, in metres (EPSG:26946) and in US survey feet (EPSG:2230)."""
    east, north = np.array([2_000_000.0, 1_915_000.0]), np.array([500_000.0, 565_000.0])
    way = transformation("EPSG:26946", "EPSG:2230", east, north)
    x, y = way(east, north)
    assert np.allclose(x * US_FOOT, east, atol=1e-4)
    assert np.allclose(y * US_FOOT, north, atol=1e-4)
    assert way.accuracy_m == 0.0
    assert way.warnings() == ()


def best_at_hand(source: int, target: int) -> bool:
    import warnings

    from pyproj.transformer import TransformerGroup

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return bool(TransformerGroup(source, target, always_xy=True).best_available)


def test_a_missing_grid_is_warned_of() -> None:
    if best_at_hand(27700, 4326):
        pytest.skip("the grids of this machine hold the best way")
    east, north = np.array([530_000.0]), np.array([180_000.0])
    way = transformation("EPSG:27700", "EPSG:4326", east, north)
    assert way.accuracy_m == 2.0
    (said,) = way.warnings()
    assert "needs the grid file" in said
    assert "accuracy 2 m" in way.words()


def test_an_accuracy_that_nobody_knows_is_said_so() -> None:
    if best_at_hand(26911, 26711):
        pytest.skip("the grids of this machine hold the best way")
    east, north = np.array([530_000.0]), np.array([4_180_000.0])
    way = transformation("EPSG:26911", "EPSG:26711", east, north)
    assert way.accuracy_m is None
    assert "accuracy not known" in way.words()
    assert any("as good as nobody knows" in said for said in way.warnings())


def test_places_without_a_way_are_an_error() -> None:
    far = np.array([1e30])
    with pytest.raises(CoordinateSystemError, match="there is no way"):
        transformation("EPSG:32631", "EPSG:4326", np.array([5e5]), np.array([5e6]))(far, far)
