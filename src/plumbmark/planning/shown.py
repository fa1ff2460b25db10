"""What a receiver would show over one conductor of a network: where the peak is, and which depth.

At each station every conductor that passes through the plane square to the target there counts as a long
line with the current it carries at that point. Within two depths of a bend, a tee or an end that is not so,
and no station stands there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.model.network import Network
from plumbmark.physics.display import depth_at, peak_of
from plumbmark.physics.halfspace import HALFSPACE_IMAGES, halfspace_images
from plumbmark.physics.images import across_upright
from plumbmark.physics.skin import inverse_skin_depth
from plumbmark.planning.runs import Runs, foot_on

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]
INTS = NDArray[np.int64]

#: Stations along a target, at most; and how far apart at least [m].
MOST_STATIONS: Final = 40
SPACING_M: Final = 1.0
#: No station within so many depths of a bend, tee or end of the target.
DEPTHS_OFF: Final = 2.0
#: Conductors farther off across than this are not seen [m].
SEEN_M: Final = 8.0
_BEND_RAD: Final = 0.2


@dataclass(frozen=True, slots=True)
class Stations:
    """Places over a target, and the sections that pass through the plane square to it there.

    `section`, `offset_m` and `cosine` have shape (stations, most): section -1 is none. The first is of the
    target itself. `fraction` is how far along the section the plane cuts it.
    """

    chainage_m: FLOATS
    easting_m: FLOATS
    northing_m: FLOATS
    depth_m: FLOATS
    section: INTS
    offset_m: FLOATS
    line_depth_m: FLOATS
    cosine: FLOATS
    fraction: FLOATS


def stations_over(network: Network, runs: Runs, target: str) -> Stations:
    """Stations along a conductor.

    Parameters
    ----------
    network : Network
    runs : Runs
    target : str
        Id of a conductor.

    Returns
    -------
    Stations
        None of them where the conductor is shorter than its bends and ends allow.
    """
    number = next(i for i, c in enumerate(network.conductors) if c.id == target)
    conductor = network.conductors[number]
    count = min(MOST_STATIONS, max(2, math.ceil(conductor.length_m / SPACING_M)))
    tried = np.linspace(0.0, conductor.length_m, 2 * count + 1)[1::2]
    odd = _odd_places(network, number)
    kept = [s for s in tried if min(abs(s - o) for o in odd) >= DEPTHS_OFF * conductor.point_at(s)[2]]
    own = np.flatnonzero(runs.conductor == number)
    rows = [_through(runs, own, conductor.point_at(s), s) for s in kept]
    most = max((len(row) for row in rows), default=1)
    table = np.full((len(rows), most, 5), np.nan)
    for k, row in enumerate(rows):
        table[k, : len(row)] = row
    places = np.array([conductor.point_at(s) for s in kept]).reshape(-1, 3)
    return Stations(
        chainage_m=np.array(kept),
        easting_m=places[:, 0],
        northing_m=places[:, 1],
        depth_m=places[:, 2],
        section=np.where(np.isnan(table[..., 0]), -1, table[..., 0]).astype(np.int64),
        offset_m=np.nan_to_num(table[..., 1]),
        line_depth_m=np.nan_to_num(table[..., 2], nan=1.0),
        cosine=np.nan_to_num(table[..., 3]),
        fraction=np.nan_to_num(table[..., 4]),
    )


def _odd_places(network: Network, number: int) -> list[float]:
    """Chainages of the ends, bends and tees of a conductor."""
    conductor = network.conductors[number]
    found = [0.0, conductor.length_m]
    vertices, marks = conductor.vertices_m, conductor.chainages_m
    headings = [math.atan2(b[1] - a[1], b[0] - a[0]) for a, b in pairwise(vertices)]
    for k, (before, after) in enumerate(pairwise(headings), start=1):
        if abs(math.remainder(after - before, math.tau)) > _BEND_RAD:
            found.append(marks[k])
    for other in network.conductors:
        for end, vertex in ((other.start, other.vertices_m[0]), (other.end, other.vertices_m[-1])):
            if end.on == conductor.id:
                found.append(foot_on(conductor, vertex)[0])
    return found


def _through(
    runs: Runs, own: INTS, point: tuple[float, float, float], chainage_m: float
) -> list[tuple[float, float, float, float, float]]:
    """Sections through the plane square to the target: (section, offset, depth, cosine, fraction)."""
    low = np.minimum(runs.from_chainage_m[own], runs.to_chainage_m[own])
    high = np.maximum(runs.from_chainage_m[own], runs.to_chainage_m[own])
    mine = own[np.flatnonzero((low <= chainage_m) & (chainage_m <= high))[0]]
    rising = 1.0 if runs.to_chainage_m[mine] > runs.from_chainage_m[mine] else -1.0
    ahead = rising * (runs.end[mine] - runs.start[mine])[:2]
    ahead = ahead / np.hypot(*ahead)
    right = np.array([ahead[1], -ahead[0]])
    shift = runs.start[:, :2] - np.array(point[:2])
    run = (runs.end - runs.start)[:, :2]
    forward = run @ ahead
    with np.errstate(divide="ignore", invalid="ignore"):
        fraction = -(shift @ ahead) / forward
    offset = shift @ right + fraction * (run @ right)
    cosine = forward / np.hypot(run[:, 0], run[:, 1])
    hit = (fraction >= 0) & (fraction < 1) & (np.abs(offset) < SEEN_M) & (np.abs(cosine) > 0.5)
    others = [k for k in np.flatnonzero(hit) if k != mine]
    found = []
    for k in (mine, *others):
        t = float(np.clip(fraction[k], 0.0, 1.0))
        depth = -float(runs.start[k, 2] + t * (runs.end[k, 2] - runs.start[k, 2]))
        found.append((float(k), float(offset[k]) if k != mine else 0.0, depth, float(cosine[k]), t))
    return found


def shown_over(
    network: Network, stations: Stations, at_ends: COMPLEXES, frequencies: FLOATS
) -> tuple[COMPLEXES, FLOATS, FLOATS, FLOATS]:
    """Current, peak, displayed depth and signal over the target.

    Parameters
    ----------
    network : Network
    stations : Stations
    at_ends : complex array, shape (f, sections, 2, k), [A]
        Currents at the two ends of each section, for k connections.
    frequencies : array, shape (f,), [Hz]

    Returns
    -------
    current : complex array, shape (f, k, stations), [A]
        Of the target, positive towards increasing chainage.
    peak, shown_depth : array, shape (f, k, stations), [m]
        Of the peak, to the right; what the display shows there.
    signal : array, shape (f, k, stations), [A/m]
        Field across at the peak, times 2 pi.
    """
    section = np.maximum(stations.section, 0)
    t = stations.fraction[..., None]
    both = at_ends[:, section]  # (f, stations, most, 2, k)
    along = both[..., 0, :] * (1.0 - t) + both[..., 1, :] * t
    along = along * np.where(stations.section < 0, 0.0, np.sign(stations.cosine))[..., None]
    weight = np.where(np.arange(section.shape[1]) == 0, 1.0, np.abs(stations.cosine))
    current = np.ascontiguousarray(np.moveaxis(along * weight[..., None], 3, 1))  # (f, k, stations, most)
    shape = current.shape[:3]
    peak, shown, signal = np.empty(shape), np.empty(shape), np.empty(shape)
    receiver = network.receiver
    for i, frequency in enumerate(frequencies):
        inverse = inverse_skin_depth(float(frequency), network.resistivity_ohm_m)
        _displays(
            stations.offset_m,
            stations.line_depth_m,
            current[i],
            inverse,
            receiver.lower_coil_height_m,
            receiver.coil_spacing_m,
            peak[i],
            shown[i],
            signal[i],
        )
    return current[..., 0], peak, shown, signal


@kernel
def _displays(
    offset: FLOATS,
    line_depth: FLOATS,
    current: COMPLEXES,
    inverse_skin: float,
    lower: float,
    spacing: float,
    out_peak: FLOATS,
    out_depth: FLOATS,
    out_signal: FLOATS,
) -> None:
    """Fill peak [m], displayed depth [m] and signal [A/m] of each connection at each station."""
    cases, count, most = current.shape
    at = np.empty(most * HALFSPACE_IMAGES)
    depth = np.empty(most * HALFSPACE_IMAGES, np.complex128)
    value = np.empty(most * HALFSPACE_IMAGES, np.complex128)
    p = np.empty(HALFSPACE_IMAGES, np.complex128)
    c = np.empty(HALFSPACE_IMAGES, np.complex128)
    for case in range(cases):
        for s in range(count):
            n = 0
            for j in range(most):
                if current[case, s, j] == 0.0:
                    continue
                halfspace_images(line_depth[s, j], inverse_skin, p, c)
                for q in range(HALFSPACE_IMAGES):
                    at[n] = offset[s, j]
                    depth[n] = p[q]
                    value[n] = current[case, s, j] * c[q]
                    n += 1
            if n == 0 or current[case, s, 0] == 0.0:
                out_peak[case, s] = math.inf
                out_depth[case, s] = math.inf
                out_signal[case, s] = 0.0
                continue
            x = peak_of(offset[s, 0], lower, at, depth, value, n)
            out_peak[case, s] = x - offset[s, 0]
            out_depth[case, s] = depth_at(x, lower, spacing, 0.0, 0.0, at, depth, value, n)
            out_signal[case, s] = abs(across_upright(x, lower, at, depth, value, n)[0])
