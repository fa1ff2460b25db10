"""Stations, displays over a network, limits of a transmitter, ranking and changes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plumbmark.base.errors import GeometryError
from plumbmark.model.conductors import conductor_kinds
from plumbmark.model.job import Hookup
from plumbmark.model.network import (
    Bond,
    Conductor,
    Connection,
    End,
    EndKind,
    Network,
    Stake,
    Transmitter,
)
from plumbmark.model.plan import Limit
from plumbmark.physics.display import displayed_depth, peak_position
from plumbmark.physics.halfspace import HALFSPACE_IMAGES, halfspace_images
from plumbmark.physics.skin import inverse_skin_depth
from plumbmark.planning import shown
from plumbmark.planning.changes import changes_to_try
from plumbmark.planning.circuit import build_circuit
from plumbmark.planning.drive import drive_network
from plumbmark.planning.hookup import highest_frequency, plan_hookups, try_connections
from plumbmark.planning.runs import cut_runs

KINDS = conductor_kinds()
GROUND = End(EndKind.GROUNDED, 10.0)
CLAMP = Connection("clamp", Hookup.CLAMP, "A", 20.0)


def network(**changes: object) -> Network:
    a = Conductor("A", KINDS["copper-tracer-14"], ((0.0, 0.0, 0.9), (60.0, 0.0, 0.9)), GROUND, GROUND)
    b = Conductor("B", KINDS["telephone-cable"], ((0.0, 1.0, 0.6), (60.0, 1.0, 0.6)), GROUND, GROUND)
    plain = Network(
        "t", "A", (a, b), stakes=(Stake("S", 0.0, -9.0),),
        connections=(CLAMP, Connection("direct", Hookup.DIRECT, "A", 0.0, "S")),
        resistivity_ohm_m=80.0, frequencies_hz=(1e3, 1e4),
    )  # fmt: skip
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_stations_keep_off_ends_bends_and_tees() -> None:
    bent = Conductor(
        "A", KINDS["copper-tracer-14"], ((0.0, 0.0, 1.0), (30.0, 0.0, 1.0), (30.0, 30.0, 1.0)), GROUND
    )
    tee = Conductor(
        "T", KINDS["coaxial-cable"], ((12.0, 0.0, 1.0), (12.0, 9.0, 0.8)), End(EndKind.TEE, on="A")
    )
    site = network(conductors=(bent, tee), connections=(CLAMP,))
    s = shown.stations_over(site, cut_runs(site), "A").chainage_m
    assert s.size > 10
    for odd in (0.0, 12.0, 30.0, 60.0):
        assert np.abs(s - odd).min() >= 2.0


def test_display_is_that_of_the_physics() -> None:
    site = network()
    runs = cut_runs(site)
    drive = drive_network(site, build_circuit(site, runs))
    stations = shown.stations_over(site, runs, "A")
    frequencies = np.array(site.frequencies_hz)
    current, peak, depth, _ = shown.shown_over(site, stations, drive.section_current_a, frequencies)
    k = 7
    inverse = inverse_skin_depth(1e4, 80.0)
    at, depths, values = [], [], []
    t = stations.fraction[k]
    for j, section in enumerate(stations.section[k]):
        p, c = np.empty(HALFSPACE_IMAGES, complex), np.empty(HALFSPACE_IMAGES, complex)
        halfspace_images(float(stations.line_depth_m[k, j]), inverse, p, c)
        ends = drive.section_current_a[1, section, :, 0]
        amperes = ends[0] * (1 - t[j]) + ends[1] * t[j]
        at += [float(stations.offset_m[k, j])] * HALFSPACE_IMAGES
        depths += list(p)
        values += list(amperes * c)
    assert len(set(at)) == 2
    x = peak_position(at, depths, values, coil_height=0.05)
    assert peak[1, 0, k] == pytest.approx(x, abs=1e-7)
    z = displayed_depth(at, depths, values, mark=x, lower_coil_height=0.05, coil_spacing=0.4)
    assert depth[1, 0, k] == pytest.approx(z, rel=1e-9)
    assert abs(current[1, 0, k]) > 0


@pytest.mark.kernel
def test_display_kernel_in_both_modes() -> None:
    current = np.array([[[0.1 + 0j, -0.03 + 0.01j]]])
    args = (np.array([[0.0, 0.8]]), np.array([[0.9, 0.6]]), current, 0.02, 0.05, 0.4)
    found = []
    for run in (shown._displays, getattr(shown._displays, "py_func", shown._displays)):
        out = [np.empty((1, 1)) for _ in range(3)]
        run(*args, *out)
        found.append(np.concatenate(out).ravel())
    assert np.allclose(*found, rtol=1e-12)


def test_one_line_alone_shows_itself() -> None:
    site = network(conductors=network().conductors[:1])
    for trial in try_connections(site):
        for station in trial.stations:
            assert abs(station.shift_m) < 1e-6
            assert station.shown_depth_m == pytest.approx(station.depth_m, rel=0.04)
        assert trial.share_on_others == 0.0
        assert trial.holds_m is not None


@pytest.mark.parametrize(
    ("limits", "limit"),
    [
        ({"voltage_v": 1.0}, Limit.VOLTAGE),
        ({"current_a": 1e-3}, Limit.CURRENT),
        ({"power_w": 1e-3}, Limit.POWER),
    ],
)
def test_the_first_limit_holds(limits: dict[str, float], limit: Limit) -> None:
    transmitter = replace(Transmitter(), **limits)
    trial = next(t for t in try_connections(network(transmitter=transmitter)) if t.connection.id == "direct")
    assert trial.limit is limit
    assert trial.given_a is not None
    assert trial.given_v is not None
    assert trial.given_a <= transmitter.current_a * (1 + 1e-9)
    assert trial.given_v <= transmitter.voltage_v * (1 + 1e-9)
    assert trial.given_a * trial.given_v >= (0.5 if limit is Limit.POWER else 0.0) * transmitter.power_w


def test_the_band_is_enforced() -> None:
    wet = network(resistivity_ohm_m=2.0)
    top = highest_frequency(wet)
    with pytest.raises(GeometryError, match="is above"):
        try_connections(replace(wet, frequencies_hz=(1e3, 2 * top)))
    plan = plan_hookups(replace(wet, frequencies_hz=(1e3, 2 * top)))
    assert plan.network.frequencies_hz == (1e3,)
    assert "left out" in plan.warnings[0].what
    with pytest.raises(GeometryError, match="none of the frequencies"):
        plan_hookups(replace(wet, frequencies_hz=(2 * top,)))


def test_a_connection_on_the_line_goes_before_induction() -> None:
    coil = Connection("coil", Hookup.INDUCTION, easting_m=10.0, northing_m=0.0, bearing_deg=90.0)
    plan = plan_hookups(network(connections=(coil, CLAMP)))
    assert [t.connection.id for t in plan.ranked] == ["clamp", "coil"]
    near = [
        s
        for t in plan.trials
        if t.connection.id == "coil"
        for s in t.stations
        if abs(s.easting_m - 10.0) < 14.0
    ]
    assert near
    assert not any(s.holds for s in near)


def test_a_bond_sends_signal_back_and_is_never_for_the_crew() -> None:
    bonded = network(bonds=(Bond("bar", "A", 60.0, "B", 60.0),), connections=(CLAMP,))
    plan = plan_hookups(bonded)
    free = plan_hookups(network(connections=(CLAMP,)))
    assert plan.ranked[0].share_on_others > free.ranked[0].share_on_others + 0.1
    said = [words for _, words, _ in changes_to_try(bonded, plan.ranked[0]) if "bar" in words]
    assert said
    assert all("qualified people" in words and "do not touch" in words for words in said)


def test_stakes_are_tried_square_to_the_line_and_off_every_line() -> None:
    site = network()
    best = next(t for t in try_connections(site) if t.connection.id == "direct")
    tried = [found for sort, _, found in changes_to_try(site, best) if sort == "stake"]
    assert tried
    for found in tried:
        stake = found.stakes[-1]
        assert stake.easting_m == pytest.approx(0.0, abs=1e-9)
        assert abs(stake.northing_m) >= 4.9


def test_a_stake_beside_a_bare_line_puts_signal_on_it() -> None:
    water = Conductor(
        "W", KINDS["copper-water-service"], ((-30.0, -9.0, 1.0), (30.0, -9.0, 1.0)), End(), GROUND
    )
    site = network(conductors=(network().conductors[0], water), frequencies_hz=(1e3,))
    near = replace(site, stakes=(Stake("S", 0.0, -8.4),), connections=(site.connections[1],))
    far = replace(near, stakes=(Stake("S", 0.0, 9.0),))
    shares = [try_connections(s)[0].other_currents_a[0][1] for s in (near, far)]
    assert shares[0] > 2.0 * shares[1]
