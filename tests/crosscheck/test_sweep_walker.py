"""Chances of a sweep against a walker simulated step by step (the longer run is bench/bench_sweep.py)."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from plumbmark.model.job import Job
from plumbmark.model.sweep import Antenna, Search, SearchMethod, SweepPlan
from plumbmark.planning.sweep import filled, likely_lines
from plumbmark.planning.sweep_chance import noticed
from plumbmark.planning.sweep_legs import pass_legs

BENCH = Path(__file__).parents[2] / "bench" / "bench_sweep.py"
LINES = 4000


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    spec = importlib.util.spec_from_file_location("bench_sweep", BENCH)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench_sweep"] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    "name", ["one coil, one way", "one coil, far apart", "one coil, bent, facing east", "three coils, bent"]
)
def test_chance_is_the_share_that_a_walker_notices(bench: ModuleType, name: str) -> None:
    rng = np.random.default_rng(5)
    plan = SweepPlan(depth_m=0.8, depth_sigma_factor=1.6)
    search = filled(Search(SearchMethod.PASSIVE_POWER, current_a=0.03))
    passes = bench.layouts()[name]
    spot = np.array([[3.1, 2.3]])
    legs = np.vstack([pass_legs(p, p.antenna or Antenna.ONE_AXIS) for p in passes])
    ours = noticed(spot, legs, likely_lines(Job("j", sweep=plan), search), np.empty(0)).chance[0]
    counted = bench.simulated(passes, spot[0], search, plan, LINES, rng)
    assert abs(ours - counted) < 0.005 + 3.3 * np.sqrt(0.25 / LINES)
