"""Soil, ends, branches and broken conductors from the current along a line."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from plumbmark.exchange.jobfolder import read_job
from plumbmark.exchange.jobfolder.network import read_network
from plumbmark.handover.linefit_text import linefit_data, linefit_sentences
from plumbmark.model.conductors import conductor_kinds
from plumbmark.model.linefit import CurrentRun, Lack
from plumbmark.model.network import Conductor, Network
from plumbmark.planning.linefit import fit_line
from plumbmark.planning.readings import fit_readings

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "birch-tracer"
LENGTH, FREQUENCY = 150.0, 1000.0
LEAST_A = 2e-4


def ladder(
    side: int, *, branch: tuple[float, float] | None, broken: float | None, far_ohm: float
) -> np.ndarray:
    """Current in each metre of a wire for 40 V through 200 ohm at one end, by lumped cells."""
    cells = round(LENGTH)
    omega = 2 * math.pi * FREQUENCY
    z = 8.3e-3 + 1j * omega * 2.3e-6
    y = 5e-8 + 1j * omega * 131e-12
    k = cells + 1 if broken is None else round(broken)
    size = cells + 2
    g = np.zeros((size, size), complex)
    g[size - 1, size - 1] = 1e-12
    near = np.array([n + (n >= k) for n in range(cells)])
    far = np.array([n + 1 + (n >= k) for n in range(cells)])
    for a, b in zip(near, far, strict=True):
        g[a, a] += 1 / z + y / 2
        g[b, b] += 1 / z + y / 2
        g[a, b] -= 1 / z
        g[b, a] -= 1 / z
    if broken is not None:
        for a, ohms in ((k, 500.0), (k + 1, 700.0)):
            g[a, a] += 1 / ohms + 1 / 4000.0
        g[k, k + 1] -= 1 / 4000.0
        g[k + 1, k] -= 1 / 4000.0
    if branch is not None:
        at = round(branch[0])
        g[at, at] += 1 / branch[1]
    first, last = (near[0], far[-1]) if side == 0 else (far[-1], near[0])
    g[first, first] += 1 / 200.0
    g[last, last] += 1 / far_ohm
    source = np.zeros(size, complex)
    source[first] = 0.2
    v = np.linalg.solve(g, source)
    return np.abs((v[near] - v[far]) / z)


def runs(seed: int = 1, slip: int | None = None, **site: object) -> list[CurrentRun]:
    rng = np.random.default_rng(seed)
    found = []
    for side in (0, 1):
        s = np.arange(4.0, LENGTH - 3.0, 8.0) if side == 0 else np.arange(LENGTH - 4.0, 3.0, -8.0)
        true = np.interp(s, np.arange(round(LENGTH)) + 0.5, ladder(side, **site))  # type: ignore[arg-type]
        shown = true * np.exp(0.03 * rng.normal(size=s.size))
        if slip is not None:
            shown[slip] *= 10.0
        shown[true < LEAST_A] = np.nan
        found.append(CurrentRun(0.0 if side == 0 else LENGTH, FREQUENCY, s, shown))
    return found


def wire() -> Conductor:
    return Conductor("wire", conductor_kinds()["copper-tracer-14"], ((0.0, 0.0, 0.8), (LENGTH, 0.0, 0.8)))


def test_nothing_is_lacking_where_nothing_is() -> None:
    fit = fit_line(wire(), runs(branch=None, broken=None, far_ohm=30.0))
    assert fit.likeliest is Lack.NOTHING
    assert fit.fits_to < 0.05


def test_an_open_end_is_told_from_a_ground() -> None:
    fit = fit_line(wire(), runs(branch=None, broken=None, far_ohm=1e6))
    assert fit.likeliest is Lack.NOTHING
    assert fit.end_ohm.low > 1000.0


@pytest.mark.parametrize("at", [30.0, 97.0])
def test_a_branch_is_found_where_it_is(at: float) -> None:
    fit = fit_line(wire(), runs(branch=(at, 40.0), broken=None, far_ohm=30.0))
    place = fit.position_m[Lack.BRANCH]
    assert fit.chances[Lack.NOTHING] < 0.05
    assert place.low <= at <= place.high
    assert abs(place.value - at) < 0.05 * LENGTH


@pytest.mark.parametrize("at", [42.0, 118.0])
def test_a_break_is_found_where_it_is(at: float) -> None:
    fit = fit_line(wire(), runs(branch=None, broken=at, far_ohm=30.0))
    place = fit.position_m[Lack.BROKEN]
    assert fit.chances[Lack.NOTHING] < 0.05
    assert fit.chances[Lack.BROKEN] > 0.4
    assert place.low <= at <= place.high
    assert abs(place.value - at) < 0.05 * LENGTH


def test_a_row_copied_wrong_is_no_branch() -> None:
    fit = fit_line(wire(), runs(branch=None, broken=None, far_ohm=30.0, slip=5))
    assert fit.likeliest is Lack.NOTHING


def test_chances_add_up_and_bands_are_in_order() -> None:
    fit = fit_line(wire(), runs(branch=(60.0, 15.0), broken=None, far_ohm=300.0)[:1])
    assert sum(fit.chances.values()) == pytest.approx(1.0)
    for place in fit.position_m.values():
        assert 0.0 <= place.low <= place.value <= place.high <= LENGTH


def test_the_example_is_broken_where_it_is() -> None:
    network, _ = read_network(EXAMPLE)
    job, _ = read_job(EXAMPLE)
    assert network is not None
    assert job is not None
    fit, findings = fit_readings(network, job)
    assert findings == []
    assert fit is not None
    assert fit.likeliest is Lack.BROKEN
    place = fit.position_m[Lack.BROKEN]
    assert place.low < 118.0 < place.high
    said = " ".join(linefit_sentences(fit, network))
    assert "wire looks broken about" in said
    assert "19 times in 20" in said
    assert "To file" in said
    data = linefit_data(fit, network)
    assert data["broken"]["chance"] == pytest.approx(fit.chances[Lack.BROKEN], abs=1e-3)


def test_a_bond_is_looked_for_where_another_line_passes() -> None:
    kinds = conductor_kinds()
    water = Conductor("water", kinds["copper-water-service"], ((60.0, -9.0, 1.0), (60.0, 9.0, 1.0)))
    network = Network("t", "wire", (wire(), water), display_units="m")
    fit = fit_line(wire(), runs(branch=(60.0, 5.0), broken=None, far_ohm=30.0))
    said = " ".join(linefit_sentences(fit, network))
    if fit.likeliest is Lack.BRANCH and abs(fit.position_m[Lack.BRANCH].value - 60.0) < 1.5:
        assert "look for a bond to it first" in said
    assert fit.chances[Lack.NOTHING] < 0.05
