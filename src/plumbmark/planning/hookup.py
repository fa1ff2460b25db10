"""The hook-up plan: every connection at every frequency, ranked, and what would be better."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.errors import GeometryError
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Hookup
from plumbmark.model.network import Network
from plumbmark.model.plan import Change, HookupPlan, Limit, PlanStation, Trial
from plumbmark.physics.transmission import quasi_tem_limit
from plumbmark.planning.changes import changes_to_try
from plumbmark.planning.circuit import build_circuit
from plumbmark.planning.drive import drive_network
from plumbmark.planning.runs import Runs, cut_runs, foot_on
from plumbmark.planning.shown import Stations, shown_over, stations_over

FLOATS = NDArray[np.float64]

#: A signal is followed where its peak is nearer to the line than this part of its depth: farther off, the
#: crew is on its way to another line. Common practice, no source.
FOLLOWED_DEPTHS: Final = 0.5
#: What `holds` asks of mark and displayed depth, as for a solved station.
HOLDS_SHIFT_M: Final = 0.10
HOLDS_DEPTH: Final = 0.10
#: Within this of an induction transmitter the receiver hears its coil, and nothing holds [m].
TRANSMITTER_NEAR_M: Final = 15.0
#: A change that moves nothing else is told where it takes so much of the signal off other lines.
WORTH: Final = 0.1


def highest_frequency(network: Network) -> float:
    """Highest frequency at which the model of a network holds [Hz]."""
    deepest = max(v[2] for c in network.conductors for v in c.vertices_m)
    return quasi_tem_limit(network.resistivity_ohm_m, deepest)


def try_connections(network: Network) -> list[Trial]:
    """Every connection at every frequency.

    Parameters
    ----------
    network : Network

    Returns
    -------
    list of Trial
        Frequency by frequency, the connections of the network in order.

    Raises
    ------
    GeometryError
        If a frequency lies above that at which the model holds.
    """
    top = highest_frequency(network)
    if max(network.frequencies_hz) > top:
        raise GeometryError(
            f"{max(network.frequencies_hz):g} Hz is above {top:.3g} Hz, up to which buried lines can be "
            f"worked out in soil of {network.resistivity_ohm_m:g} ohm m"
        )
    runs = cut_runs(network)
    circuit = build_circuit(network, runs)
    drive = drive_network(network, circuit)
    stations = stations_over(network, runs, network.target)
    current, peak, shown, signal = shown_over(
        network, stations, drive.section_current_a, circuit.frequencies_hz
    )
    trials = []
    for i, frequency in enumerate(network.frequencies_hz):
        spread = _spread(network, runs, np.abs(drive.section_current_a[i]))
        for k, connection in enumerate(network.connections):
            values = (current[i, k], peak[i, k], shown[i, k], signal[i, k])
            trials.append(_trial(network, k, frequency, stations, values, *spread[k], drive.limit[i][k]))
            if connection.kind is not Hookup.INDUCTION:
                given = float(drive.given_a[i, k]), float(drive.given_v[i, k])
                trials[-1] = replace(trials[-1], given_a=given[0], given_v=given[1])
    return trials


def plan_hookups(network: Network) -> HookupPlan:
    """Rank the connections of a network, and try what could be changed.

    Parameters
    ----------
    network : Network

    Returns
    -------
    HookupPlan

    Raises
    ------
    GeometryError
        If the model holds at none of the frequencies.

    Notes
    -----
    A connection on a conductor goes before induction, which ties the signal to no line. Then trials rank
    by how much of the target holds and how much can be traced, both to the tenth; then
    by how far mark and depth are off, to the half of what `holds` allows; then by the share of the signal on
    other lines, to the tenth, and the lower frequency.
    """
    top = highest_frequency(network)
    usable = tuple(f for f in network.frequencies_hz if f <= top)
    warnings = []
    if not usable:
        raise GeometryError(
            f"none of the frequencies is below {top:.3g} Hz, up to which buried lines can be worked out "
            f"in soil of {network.resistivity_ohm_m:g} ohm m"
        )
    if len(usable) < len(network.frequencies_hz):
        left = ", ".join(f"{f:g}" for f in network.frequencies_hz if f > top)
        warnings.append(
            Finding(
                Severity.WARNING,
                "network.toml [transmitter] frequencies_hz",
                f"{left} Hz left out: in soil of {network.resistivity_ohm_m:g} ohm m the sums hold up to "
                f"{top:.3g} Hz",
            )
        )
    network = replace(network, frequencies_hz=usable)
    trials = try_connections(network)
    ranked = best_of_each(network, trials)
    changes = _changes(network, ranked[0])
    return HookupPlan(network, tuple(ranked), tuple(trials), tuple(changes), tuple(warnings))


def merit(network: Network, trial: Trial) -> tuple[float, ...]:
    """What trials are ranked by; the greater the better."""
    length = network.conductor(network.target).length_m
    tied = trial.connection.kind is not Hookup.INDUCTION and trial.traceable_m is not None
    return (
        float(tied),
        round(_extent(trial.holds_m) / length, 1),
        round(_extent(trial.traceable_m) / length, 1),
        -round(2.0 * (trial.times_off or 0.0)) if trial.times_off is not None else -1e6,
        -round(trial.share_on_others, 1),
        -trial.frequency_hz,
    )


def best_of_each(network: Network, trials: Sequence[Trial]) -> list[Trial]:
    """The best frequency of each connection, the best connection first."""
    best: dict[str, Trial] = {}
    for trial in trials:
        known = best.get(trial.connection.id)
        if known is None or merit(network, trial) > merit(network, known):
            best[trial.connection.id] = trial
    return sorted(best.values(), key=lambda trial: merit(network, trial), reverse=True)


def _extent(stretch: tuple[float, float] | None) -> float:
    return 0.0 if stretch is None else stretch[1] - stretch[0]


def _changes(network: Network, best: Trial) -> list[Change]:
    """Changes that pay, each tried on its own; of each sort the best."""
    found: dict[str, Change] = {}
    before = merit(network, best)
    for sort, words, changed in changes_to_try(network, best):
        after = best_of_each(changed, try_connections(changed))[0]
        value = merit(changed, after)
        more = value[0] - before[0] > WORTH / 2 or (
            value[0] == before[0] and value[1] - before[1] > WORTH / 2
        )
        less = value[:2] >= before[:2] and best.share_on_others - after.share_on_others >= WORTH
        known = found.get(sort)
        if (more or less) and (known is None or value > merit(network, known.trial)):
            found[sort] = Change(words, after)
    return sorted(found.values(), key=lambda change: merit(network, change.trial), reverse=True)


def _spread(
    network: Network, runs: Runs, amperes: FLOATS
) -> list[tuple[float, tuple[tuple[str, float], ...]]]:
    """Share of the signal on other lines, and the most on each, for each connection."""
    target = network.conductor(network.target)
    own = {c.id for c in network.conductors if c.id == target.id or (c.line and c.line == target.line)}
    names = [c.id for c in network.conductors]
    on_other = np.array([names[i] not in own for i in runs.conductor])
    carried = amperes.mean(axis=1) * runs.length_m[:, None]
    total = np.maximum(carried.sum(axis=0), 1e-30)
    found = []
    for k in range(amperes.shape[2]):
        most = {
            name: float(amperes[runs.conductor == i, :, k].max())
            for i, name in enumerate(names)
            if name not in own
        }
        ordered = tuple(sorted(most.items(), key=lambda item: -item[1]))
        found.append((float(carried[on_other, k].sum() / total[k]), ordered))
    return found


def _trial(
    network: Network,
    number: int,
    frequency: float,
    stations: Stations,
    values: tuple[NDArray[np.complex128], FLOATS, FLOATS, FLOATS],
    share: float,
    others: tuple[tuple[str, float], ...],
    limit: str,
) -> Trial:
    connection = network.connections[number]
    current, peak, shown, signal = values
    least = network.receiver.least_current_a / (1.0 + network.receiver.lower_coil_height_m)
    followed = (signal >= least) & (np.abs(peak) <= FOLLOWED_DEPTHS * stations.depth_m)
    off = np.maximum(
        np.abs(peak) / HOLDS_SHIFT_M, np.abs(shown - stations.depth_m) / (HOLDS_DEPTH * stations.depth_m)
    )
    holds = followed & (off <= 1.0)
    start = connection.at_m or 0.0
    if connection.kind is Hookup.INDUCTION:
        assert connection.easting_m is not None
        assert connection.northing_m is not None
        place = (connection.easting_m, connection.northing_m)
        start = foot_on(network.conductor(network.target), place)[0]
        far = np.hypot(stations.easting_m - place[0], stations.northing_m - place[1])
        holds &= far >= TRANSMITTER_NEAR_M
    elif connection.conductor != network.target and connection.conductor is not None:
        at = network.conductor(connection.conductor).point_at(start)
        start = foot_on(network.conductor(network.target), at)[0]
    rows = tuple(
        PlanStation(
            float(stations.chainage_m[k]),
            float(stations.easting_m[k]),
            float(stations.northing_m[k]),
            float(stations.depth_m[k]),
            float(abs(current[k])),
            float(peak[k]),
            float(shown[k]),
            bool(followed[k]),
            bool(holds[k]),
        )
        for k in range(len(stations.chainage_m))
    )
    induced = connection.kind is Hookup.INDUCTION
    return Trial(
        connection,
        frequency,
        None,
        None,
        Limit(limit),
        rows,
        _stretch(stations.chainage_m, followed, start),
        _longest(stations.chainage_m, holds) if induced else _stretch(stations.chainage_m, holds, start),
        float(np.median(off[followed])) if np.any(followed) else None,
        share,
        others,
    )


def _stretch(chainage: FLOATS, good: NDArray[np.bool_], start: float) -> tuple[float, float] | None:
    """The unbroken good stretch that begins at the station nearest to the start."""
    if not len(chainage):
        return None
    k = int(np.argmin(np.abs(chainage - start)))
    if not good[k]:
        return None
    low = high = k
    while low > 0 and good[low - 1]:
        low -= 1
    while high < len(good) - 1 and good[high + 1]:
        high += 1
    return _ends(chainage, low, high)


def _longest(chainage: FLOATS, good: NDArray[np.bool_]) -> tuple[float, float] | None:
    """The longest unbroken good stretch, wherever it is."""
    starts = [k for k in np.flatnonzero(good) if k == 0 or not good[k - 1]]
    found = [s for k in starts if (s := _stretch(chainage, good, float(chainage[k]))) is not None]
    return max(found, key=_extent, default=None)


def _ends(chainage: FLOATS, low: int, high: int) -> tuple[float, float]:
    """From and to chainage of stations, each standing for half the way to the next."""
    half = 0.5 * float(chainage[1] - chainage[0]) if len(chainage) > 1 else 0.5
    return max(float(chainage[low]) - half, 0.0), float(chainage[high]) + half
