r"""The network as a circuit: one symmetric system of equations for each frequency.

Unknown are the voltage of every node, the mean current :math:`\bar I` of every branch (sections, bonds,
clamps) and the current into the soil of every ground electrode. Along a section with evenly spread series
voltage :math:`E` and soil potential :math:`u`, the telegraph equations give exactly

.. math:: Zl\,\bar I = V_1 - V_2 + E, \qquad
          I_1 = \bar I + S_o (V_1 - u) + S_a (V_2 - u), \quad I_2 = \bar I - S_o (V_2 - u) - S_a (V_1 - u),

with matrices over the sections of a bundle (`transmission.section_shunt`). Pieces that do not run side by
side add their mutual impedance to :math:`Zl`; electrodes share soil potential with each other and with the
sections near them. The ground's part of Z is that of straight stretches of their real length, by Neumann's
sum: of short ones it is well below that of long lines.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csc_matrix
from scipy.sparse.linalg import splu
from scipy.spatial import cKDTree

from plumbmark.model.job import Hookup
from plumbmark.model.network import ConductorKind, EndKind, Network
from plumbmark.physics.coupling import pieces_mutual
from plumbmark.physics.grounding import rod_mutual, rod_potential, rod_resistance
from plumbmark.physics.transmission import (
    coating_admittance,
    ground_return_impedance,
    section_shunt,
    soil_wavenumber,
    spreading_coefficient,
    tube_impedance,
)
from plumbmark.planning.runs import Runs, attachment, clamp_sides

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]
INTS = NDArray[np.int64]

#: Pieces that do not run along each other couple within this distance [m].
ANGLED_REACH_M = 30.0
#: A rod where nothing else is said of a ground: 8 ft of 5/8 in, common practice, no source.
ROD_LENGTH_M, ROD_RADIUS_M = 2.44, 0.0079
_NEAREST_M = 0.1


@dataclass(frozen=True, slots=True)
class Electrodes:
    """Where current enters the soil at a point: grounds of the network first, stakes after them.

    `ohms` is the matrix of their potentials; `names` those of the stakes.
    """

    node: INTS
    ohms: FLOATS
    easting_m: FLOATS
    northing_m: FLOATS
    length_m: FLOATS
    shares: NDArray[np.bool_]
    names: dict[str, int]


@dataclass(frozen=True, slots=True)
class Circuit:
    """A network ready to be solved at each of its frequencies.

    `impedance` (Zl with all mutual ones), `own` and `across` are lists over frequency of sparse matrices over
    branches and sections. Branches are sections first, then bonds, then clamps.
    """

    runs: Runs
    frequencies_hz: FLOATS
    electrodes: Electrodes
    from_node: INTS
    to_node: INTS
    nodes: int
    clamps: dict[tuple[str, float], int]
    impedance: list[csc_matrix]
    own: list[csc_matrix]
    across: list[csc_matrix]
    soil: FLOATS  # (sections, electrodes): potential for each ampere


def build_circuit(network: Network, runs: Runs) -> Circuit:
    """Impedances and admittances of every section, bond and electrode, at every frequency.

    Parameters
    ----------
    network : Network
    runs : Runs
        Its sections, from `cut_runs`.

    Returns
    -------
    Circuit
    """
    frequencies = np.asarray(network.frequencies_hz)
    electrodes, nodes = _electrodes(network, runs)
    from_node, to_node = list(runs.from_node), list(runs.to_node)
    resistances: list[float] = []
    for bond in network.bonds:
        from_node.append(attachment(network, runs, bond.conductor, bond.at_m))
        to_node.append(attachment(network, runs, bond.other, bond.other_at_m))
        resistances.append(bond.resistance_ohm)
    clamps: dict[tuple[str, float], int] = {}
    for connection in network.connections:
        if connection.kind is Hookup.CLAMP and connection.conductor and connection.at_m is not None:
            key = (connection.conductor, connection.at_m)
            if key not in clamps:
                clamps[key] = len(from_node)
                before, after = clamp_sides(network, runs, *key)
                from_node.append(before)
                to_node.append(after)
                resistances.append(0.0)
    impedance, own, across = _section_matrices(network, runs, frequencies, np.array(resistances))
    return Circuit(
        runs=runs,
        frequencies_hz=frequencies,
        electrodes=electrodes,
        from_node=np.array(from_node),
        to_node=np.array(to_node),
        nodes=nodes,
        clamps=clamps,
        impedance=impedance,
        own=own,
        across=across,
        soil=_soil_shares(runs, electrodes, network.resistivity_ohm_m),
    )


def solve_circuit(
    circuit: Circuit, injected: COMPLEXES, driven: COMPLEXES
) -> tuple[COMPLEXES, COMPLEXES, COMPLEXES]:
    """Voltages and currents under currents injected at nodes and voltages driven along branches.

    Parameters
    ----------
    circuit : Circuit
    injected : complex array, shape (f, nodes, k), [A]
        For k cases at each frequency.
    driven : complex array, shape (f, branches, k), [V]

    Returns
    -------
    voltage : complex array, shape (f, nodes, k), [V]
    current : complex array, shape (f, branches, k), [A]
        Mean along each branch, from its from-node to its to-node.
    at_ends : complex array, shape (f, sections, 2, k), [A]
        At the from-end and at the to-end of each section.
    """
    f, _, cases = injected.shape
    sections, branches, nodes = len(circuit.runs.conductor), len(circuit.from_node), circuit.nodes
    rods = len(circuit.electrodes.node)
    voltage = np.empty((f, nodes, cases), complex)
    current = np.empty((f, branches, cases), complex)
    at_ends = np.empty((f, sections, 2, cases), complex)
    first = _incidence(circuit.from_node[:sections], nodes)
    last = _incidence(circuit.to_node[:sections], nodes)
    joined = _incidence(circuit.from_node, nodes) - _incidence(circuit.to_node, nodes)
    standing = _incidence(circuit.electrodes.node, nodes)
    for i in range(f):
        own, across = circuit.own[i], circuit.across[i]
        leak = first @ own @ first.T + last @ own @ last.T + first @ across @ last.T + last @ across @ first.T
        # soil potential at a section shifts both its ends
        soil = csc_matrix(circuit.soil)
        spread = (own + across) @ soil
        pulled = standing - (first + last) @ spread
        ohms = csc_matrix(circuit.electrodes.ohms) - 2.0 * soil.T @ spread
        system = _blocks(leak, joined, pulled, -circuit.impedance[i], -ohms)
        right = np.zeros((nodes + branches + rods, cases), complex)
        right[:nodes] = injected[i]
        right[nodes : nodes + branches] = -driven[i]
        found = splu(system).solve(right)
        voltage[i], current[i] = found[:nodes], found[nodes : nodes + branches]
        shift = circuit.soil @ found[nodes + branches :]
        v1, v2 = first.T @ voltage[i] - shift, last.T @ voltage[i] - shift
        at_ends[i, :, 0] = current[i, :sections] + own @ v1 + across @ v2
        at_ends[i, :, 1] = current[i, :sections] - own @ v2 - across @ v1
    return voltage, current, at_ends


def _blocks(leak: Any, joined: Any, pulled: Any, impedance: Any, ohms: Any) -> csc_matrix:
    from scipy.sparse import bmat

    return csc_matrix(
        bmat([[leak, joined, pulled], [joined.T, impedance, None], [pulled.T, None, ohms]], dtype=complex)
    )


def _incidence(node: INTS, nodes: int) -> Any:
    """Sparse (nodes, branches), one where a branch hangs on a node."""
    n = len(node)
    return csc_matrix((np.ones(n), (node, np.arange(n))), shape=(nodes, n))


def _electrodes(network: Network, runs: Runs) -> tuple[Electrodes, int]:
    """Grounds of the network and stakes; each stake adds a node."""
    node: list[int] = []
    place: list[tuple[float, float]] = []
    size: list[tuple[float, float]] = []
    given: list[float | None] = []

    def add(at: int, east: float, north: float, length: float, radius: float, ohms: float | None) -> None:
        node.append(at)
        place.append((east, north))
        size.append((length, radius))
        given.append(ohms)

    for c in network.conductors:
        for end, s in ((c.start, 0.0), (c.end, c.length_m)):
            if end.kind is EndKind.GROUNDED:
                at = attachment(network, runs, c.id, s)
                add(at, *c.point_at(s)[:2], ROD_LENGTH_M, ROD_RADIUS_M, end.resistance_ohm)
    for ground in network.grounds:
        at = attachment(network, runs, ground.conductor, ground.at_m)
        where = network.conductor(ground.conductor).point_at(ground.at_m)
        add(at, *where[:2], ROD_LENGTH_M, ROD_RADIUS_M, ground.resistance_ohm)
    names: dict[str, int] = {}
    for stake in network.stakes:
        names[stake.id] = len(node)
        at = runs.nodes + len(names) - 1
        add(at, stake.easting_m, stake.northing_m, stake.length_m, stake.radius_m, None)
    rho = network.resistivity_ohm_m
    e, n = np.array([p[0] for p in place]), np.array([p[1] for p in place])
    length, radius = np.array([s[0] for s in size]), np.array([s[1] for s in size])
    shares = np.array([g is None for g in given], bool)
    ohms = np.zeros((len(node), len(node)))
    if len(node):
        apart = np.maximum(np.hypot(e[:, None] - e, n[:, None] - n), _NEAREST_M)
        ohms = np.where(shares[:, None] & shares, rod_mutual(rho, 0.5 * (length[:, None] + length), apart), 0)
        alone = rod_resistance(rho, length, radius)
        np.fill_diagonal(ohms, [a if g is None else max(g, 1e-3) for a, g in zip(alone, given, strict=True)])
    found = Electrodes(np.array(node, int), ohms, e, n, length, shares, names)
    return found, runs.nodes + len(names)


def _soil_shares(runs: Runs, electrodes: Electrodes, rho: float) -> FLOATS:
    """Mean soil potential along each section for each ampere of each electrode [ohm]."""
    out = np.zeros((len(runs.conductor), len(electrodes.node)))
    steps = np.array([-0.7745966692, 0.0, 0.7745966692]), np.array([5.0, 8.0, 5.0]) / 18.0
    middle, half = 0.5 * (runs.start + runs.end), 0.5 * (runs.end - runs.start)
    for k in np.flatnonzero(electrodes.shares):
        for step, weight in zip(*steps, strict=True):
            at = middle + step * half
            apart = np.hypot(at[:, 0] - electrodes.easting_m[k], at[:, 1] - electrodes.northing_m[k])
            near = np.maximum(apart, _NEAREST_M)
            out[:, k] += weight * rod_potential(rho, float(electrodes.length_m[k]), near, -at[:, 2])
    return out


def _section_matrices(
    network: Network, runs: Runs, frequencies: FLOATS, resistances: FLOATS
) -> tuple[list[csc_matrix], list[csc_matrix], list[csc_matrix]]:
    rho, f = network.resistivity_ohm_m, len(frequencies)
    kinds = [network.conductors[i].kind for i in runs.conductor]
    depth = -0.5 * (runs.start[:, 2] + runs.end[:, 2])
    length = runs.length_m
    metal, coating = _own_values(kinds, frequencies)
    first, second = _bundle_pairs(runs)
    h1, h2, apart = _pair_places(runs, depth, kinds, first, second)
    ground = _unique_ground(frequencies, rho, h1, h2, apart)
    ground = _of_finite_length(runs, frequencies, rho, (first, second), (ground, apart, length))
    alone = first == second
    z = ground.copy()
    z[:, alone] += metal[:, first[alone]]
    reach = _spreading_reach(network, runs, z[:, alone], coating, rho, h1[alone], apart[alone])
    # one length for a pair: the mean of their logarithms keeps the matrix symmetric
    both = np.sqrt(reach[:, first] * reach[:, second])
    potential = spreading_coefficient(rho, h1, h2, apart, both).astype(complex)
    potential[:, alone] += np.where(coating == 0, 0.0, 1.0 / np.where(coating == 0, 1.0, coating))[
        :, first[alone]
    ]
    own = np.zeros((f, len(first)), complex)
    across = np.zeros((f, len(first)), complex)
    for sections, where in _stacks(runs, first):
        n = sections.shape[1]
        zn = z[:, where].reshape(f, -1, n, n)
        yn = np.linalg.inv(potential[:, where].reshape(f, -1, n, n))
        long = np.broadcast_to(length[sections].mean(axis=1), zn.shape[:2])
        at_end, between = section_shunt(zn, yn, long)
        own[:, where], across[:, where] = at_end.reshape(f, -1), between.reshape(f, -1)
    total = z * np.sqrt(length[first] * length[second])
    i, j, mutual = _angled(runs, frequencies, rho)
    s = len(kinds)
    bonds = np.arange(s, s + len(resistances))
    rows, columns = np.concatenate([first, i, j, bonds]), np.concatenate([second, j, i, bonds])
    impedance = []
    for k in range(f):
        values = np.concatenate([total[k], mutual[k], mutual[k], resistances])
        impedance.append(csc_matrix(coo_matrix((values, (rows, columns)), shape=(s + len(bonds),) * 2)))
    square = [
        [csc_matrix(coo_matrix((v[k], (first, second)), shape=(s, s))) for k in range(f)]
        for v in (own, across)
    ]
    return impedance, square[0], square[1]


def _own_values(kinds: list[ConductorKind], frequencies: FLOATS) -> tuple[COMPLEXES, COMPLEXES]:
    """Impedance of the metal and admittance of the coating of each section, (f, s); 0 admittance is bare."""
    metal = np.empty((len(frequencies), len(kinds)), complex)
    coating = np.zeros((len(frequencies), len(kinds)), complex)
    for kind in set(kinds):
        at = np.array([k is kind or k == kind for k in kinds])
        wall = kind.wall_m or kind.radius_m
        z = tube_impedance(
            frequencies, kind.radius_m, wall, kind.resistivity_ohm_m, kind.relative_permeability
        )
        metal[:, at] = (z + kind.joint_ohm_per_m)[:, None]
        if kind.coating_m is not None:
            y = coating_admittance(
                frequencies, kind.radius_m, kind.coating_m, kind.relative_permittivity, kind.coating_ohm_m2
            )
            coating[:, at] = y[:, None]
    return metal, coating


def _bundle_pairs(runs: Runs) -> tuple[INTS, INTS]:
    """All ordered pairs of sections of one bundle, each section with itself too."""
    rows = np.concatenate([np.repeat(b, len(b)) for b in runs.bundles])
    columns = np.concatenate([np.tile(b, len(b)) for b in runs.bundles])
    return rows, columns


def _stacks(runs: Runs, first: INTS) -> list[tuple[INTS, INTS]]:
    """Bundles of one size together: their sections (k, n), and where their pairs stand (k n n,)."""
    sizes = np.array([len(b) for b in runs.bundles])
    offsets = np.concatenate([[0], np.cumsum(sizes**2)])
    found = []
    for n in np.unique(sizes):
        which = np.flatnonzero(sizes == n)
        sections = np.stack([runs.bundles[k] for k in which])
        where = (offsets[which][:, None] + np.arange(n * n)).ravel()
        found.append((sections, where))
    return found


def _pair_places(
    runs: Runs, depth: FLOATS, kinds: list[ConductorKind], first: INTS, second: INTS
) -> tuple[FLOATS, FLOATS, FLOATS]:
    """Depths of the two of each pair and their distance across; a section with itself: its radius."""
    middle = 0.5 * (runs.start + runs.end)[:, :2]
    along = (runs.end - runs.start)[:, :2]
    along = along / np.linalg.norm(along, axis=1)[:, None]
    shift = middle[second] - middle[first]
    both = along[first] + along[second]  # of two that are not quite parallel, the direction between
    both = both / np.linalg.norm(both, axis=1)[:, None]
    across = np.abs(both[:, 0] * shift[:, 1] - both[:, 1] * shift[:, 0])
    radius = np.array([kind.radius_m for kind in kinds])
    outer = np.array([kind.outer_radius_m for kind in kinds])
    # two that the drawing lays in one place touch each other
    steep = depth[first] - depth[second]
    touching = outer[first] + outer[second]
    across = np.sqrt(np.maximum(across**2, touching**2 - steep**2))
    across = np.where(first == second, radius[first], across)
    return depth[first], depth[second], across


def _unique_ground(frequencies: FLOATS, rho: float, h1: FLOATS, h2: FLOATS, apart: FLOATS) -> COMPLEXES:
    """Ground-return impedance of every pair, (f, pairs); pairs alike are worked out once."""
    keys = np.stack([np.minimum(h1, h2), np.maximum(h1, h2), apart], axis=1)
    scale = np.where(apart[:, None] < 0.05, 1e6, 1e3) * np.ones(3)
    _, place, back = np.unique(np.round(keys * scale), axis=0, return_index=True, return_inverse=True)
    low, high, x = keys[place].T
    found = ground_return_impedance(frequencies[:, None], rho, low, high, x)
    return found[:, back.ravel()]


def _of_finite_length(
    runs: Runs,
    frequencies: FLOATS,
    rho: float,
    pairs: tuple[INTS, INTS],
    values: tuple[COMPLEXES, FLOATS, FLOATS],
) -> COMPLEXES:
    """Impedances of long lines, (f, pairs), made those of lines as long as they are.

    Neumann's sum over two whole tracks, spread over the length on which they run side by side; where that is
    more than the long lines' impedance (much lies beyond), the latter stays.
    """
    (first, second), (ground, apart, length) = pairs, values
    tracks = len(runs.track_pieces)
    one_way, other_way = runs.track[first], runs.track[second]
    # a pair and its mirror share one sum, so that the matrix stays symmetric to the last digit
    key = np.minimum(one_way, other_way) * tracks + np.maximum(one_way, other_way)
    names, place, back = np.unique(key, return_index=True, return_inverse=True)
    beside = np.bincount(back, weights=np.sqrt(length[first] * length[second]))
    beside[names // tracks != names % tracks] *= 0.5  # each stretch came twice
    a, b, c, d, owner = [], [], [], [], []
    for n, name in enumerate(names):
        one, other = runs.track_pieces[name // tracks], runs.track_pieces[name % tracks]
        shift = np.zeros(3)
        if name // tracks == name % tracks:
            run = one[0, 1] - one[0, 0]
            shift[:2] = np.array([-run[1], run[0]]) / np.hypot(run[0], run[1]) * apart[place[n]]
        for p in one:
            for q in other:
                a.append(p[0])
                b.append(p[1])
                c.append(q[0] + shift)
                d.append(q[1] + shift)
                owner.append(n)
    henry = pieces_mutual(a, b, c, d, soil_wavenumber(frequencies, rho))
    total = np.stack([henry[:, np.array(owner) == n].sum(axis=1) for n in range(len(names))], axis=1)
    finite = (2j * math.pi * frequencies[:, None] * total / beside)[:, back]
    share = np.minimum(np.abs(finite) / np.abs(ground), 1.0)
    return np.asarray(np.where(share < 1.0, finite, ground))


def _spreading_reach(
    network: Network, runs: Runs, z: COMPLEXES, coating: COMPLEXES, rho: float, h: FLOATS, radius: FLOATS
) -> FLOATS:
    """Length over which what a section leaks spreads in the soil, (f, s) [m]."""
    whole = np.array([network.conductors[i].length_m for i in runs.conductor])
    reach = np.broadcast_to(whole, z.shape)
    for _ in range(2):
        series = spreading_coefficient(rho, h, h, radius, reach).astype(complex)
        series = np.maximum(series.real, 1e-3) + np.where(
            coating == 0, 0.0, 1.0 / np.where(coating == 0, 1.0, coating)
        )
        reach = np.minimum(whole, 1.52 / np.abs(np.sqrt(z / series)))
    return np.asarray(np.maximum(reach, 1.0))


def _angled(runs: Runs, frequencies: FLOATS, rho: float) -> tuple[INTS, INTS, COMPLEXES]:
    """Pairs of pieces of two conductors that run at an angle, and their mutual impedance, (f, pairs)."""
    middle = 0.5 * (runs.start + runs.end)
    pairs = cKDTree(middle[:, :2]).query_pairs(ANGLED_REACH_M, output_type="ndarray")
    i, j = pairs[:, 0], pairs[:, 1]
    along = (runs.end - runs.start) / runs.length_m[:, None]
    cosine = np.abs(np.einsum("pi,pi->p", along[i], along[j]))
    use = (runs.group[i] != runs.group[j]) & (runs.conductor[i] != runs.conductor[j]) & (cosine > 0.05)
    i, j = i[use], j[use]
    if not len(i):
        return i, j, np.zeros((len(frequencies), 0), complex)
    m = soil_wavenumber(frequencies, rho)
    henry = pieces_mutual(runs.start[i], runs.end[i], runs.start[j], runs.end[j], m)
    return i, j, 2j * math.pi * frequencies[:, None] * henry
