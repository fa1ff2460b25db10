"""What a transmitter puts into a network: direct, by clamp or by induction, within its limits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.model.job import Hookup
from plumbmark.model.network import Connection, Network
from plumbmark.physics.coupling import dipole_emf
from plumbmark.planning.circuit import Circuit, solve_circuit
from plumbmark.planning.runs import attachment

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class Drive:
    """Currents of a network under its connections, each at the transmitter's limit.

    Attributes
    ----------
    section_current_a : complex array, shape (f, sections, 2, connections)
        At the from-end and the to-end of each section.
    given_a, given_v : array, shape (f, connections)
        What the transmitter puts out at its terminals; of a clamp, on the line; nan for induction.
    limit : tuple of tuple of str, (f, connections)
        What holds it back: ``voltage``, ``power``, ``current`` or ``moment``.
    """

    section_current_a: COMPLEXES
    given_a: FLOATS
    given_v: FLOATS
    limit: tuple[tuple[str, ...], ...]


def drive_network(network: Network, circuit: Circuit) -> Drive:
    """Solve a network under each of its connections.

    Parameters
    ----------
    network : Network
    circuit : Circuit
        Of the same network.

    Returns
    -------
    Drive

    Notes
    -----
    Each connection is solved for an ampere or a volt, and all that follows from it scaled to the first limit
    reached. A clamp is an ideal transformer of `clamp_turns` to one.
    """
    f, k = len(circuit.frequencies_hz), len(network.connections)
    injected = np.zeros((f, circuit.nodes, k), complex)
    driven = np.zeros((f, len(circuit.from_node), k), complex)
    for n, connection in enumerate(network.connections):
        if connection.kind is Hookup.DIRECT:
            here, there = _terminals(network, circuit, connection)
            injected[:, here, n] += 1.0
            injected[:, there, n] -= 1.0
        elif connection.kind is Hookup.CLAMP:
            driven[:, circuit.clamps[_on(connection)], n] = 1.0
        else:
            driven[:, : len(circuit.runs.conductor), n] = _induced(network, circuit, connection)
    voltage, current, at_ends = solve_circuit(circuit, injected, driven)
    scale = np.ones((f, k))
    given_a, given_v = np.full((f, k), np.nan), np.full((f, k), np.nan)
    limits = []
    for i in range(f):
        row = []
        for n, connection in enumerate(network.connections):
            if connection.kind is Hookup.DIRECT:
                here, there = _terminals(network, circuit, connection)
                amperes, volts = 1.0 + 0.0j, voltage[i, here, n] - voltage[i, there, n]
                turns = 1.0
            elif connection.kind is Hookup.CLAMP:
                amperes, volts = current[i, circuit.clamps[_on(connection)], n], 1.0 + 0.0j
                turns = network.transmitter.clamp_turns
            else:
                row.append("moment")
                continue
            scale[i, n], limit = _limit(network, amperes, volts, turns)
            given_a[i, n], given_v[i, n] = scale[i, n] * abs(amperes), scale[i, n] * abs(volts)
            row.append(limit)
        limits.append(tuple(row))
    return Drive(at_ends * scale[:, None, None, :], given_a, given_v, tuple(limits))


def _limit(network: Network, amperes: complex, volts: complex, turns: float) -> tuple[float, str]:
    """How much of a trial the transmitter can give, and what stops it there."""
    t = network.transmitter
    watts = abs((volts * amperes.conjugate()).real)
    most = {
        "voltage": t.voltage_v / turns / abs(volts),
        "current": t.current_a * turns / max(abs(amperes), 1e-30),
        "power": math.sqrt(t.power_w / max(watts, 1e-30)),
    }
    least = min(most, key=lambda name: most[name])
    return most[least], least


def _on(connection: Connection) -> tuple[str, float]:
    assert connection.conductor is not None
    assert connection.at_m is not None
    return connection.conductor, connection.at_m


def _terminals(network: Network, circuit: Circuit, connection: Connection) -> tuple[int, int]:
    assert connection.stake is not None
    stake = circuit.electrodes.names[connection.stake]
    return attachment(network, circuit.runs, *_on(connection)), int(circuit.electrodes.node[stake])


def _induced(network: Network, circuit: Circuit, connection: Connection) -> COMPLEXES:
    """Voltage along every section, (f, sections), of a coil set along a bearing, its axis square to it."""
    assert connection.easting_m is not None
    assert connection.northing_m is not None
    bearing = math.radians(connection.bearing_deg or 0.0)
    axis = np.array([math.cos(bearing), -math.sin(bearing), 0.0])  # to the right of the bearing
    place = (connection.easting_m, connection.northing_m, connection.height_m)
    return dipole_emf(
        circuit.frequencies_hz,
        network.transmitter.moment_a_m2 * axis,
        place,
        circuit.runs.start,
        circuit.runs.end,
    )
