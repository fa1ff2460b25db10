"""The frame for calibration tells a right posterior from one that is too narrow or moved."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

BENCH = Path(__file__).parents[2] / "bench" / "calibration.py"


@pytest.fixture(scope="module")
def frame() -> ModuleType:
    import sys

    spec = importlib.util.spec_from_file_location("calibration", BENCH)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["calibration"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


def p_of(frame: ModuleType, spread: float, moved: float) -> float:
    """Conjugate Gaussian: prior N(0, 1), one datum of sigma 1, so the posterior is N(y/2, 1/2)."""
    rng = np.random.default_rng(3)
    counted = []
    for _ in range(2000):
        truth = rng.normal(size=1)
        datum = truth + rng.normal(size=1)
        draws = 0.5 * datum[:, None] + moved + spread * np.sqrt(0.5) * rng.normal(size=(1, 400))
        counted.append(frame.ranks(draws, truth, rng)[0])
    return float(frame.uniform_p_value(np.array(counted)))


def test_the_right_posterior_is_uniform(frame: ModuleType) -> None:
    assert p_of(frame, 1.0, 0.0) > 0.01


@pytest.mark.parametrize(("spread", "moved"), [(0.8, 0.0), (1.25, 0.0), (1.0, 0.15)])
def test_a_wrong_one_is_not(frame: ModuleType, spread: float, moved: float) -> None:
    assert p_of(frame, spread, moved) < 1e-4


def test_ties_are_broken_at_random(frame: ModuleType) -> None:
    rng = np.random.default_rng(1)
    found = [int(frame.ranks(np.zeros((1, 199)), np.zeros(1), rng)[0]) for _ in range(400)]
    assert min(found) < 20
    assert max(found) > 180


def test_weighted_draws_come_out_in_proportion(frame: ModuleType) -> None:
    rng = np.random.default_rng(2)
    out = frame.resampled(np.array([[0.0, 1.0, 2.0]]), np.array([1.0, 0.0, 3.0]), 4000, rng)
    assert set(np.unique(out)) == {0.0, 2.0}
    assert abs(float(out.mean()) - 1.5) < 0.06
