"""Reversals of the current along a line, from the directions that a receiver showed."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference.stations import Station
from plumbmark.model.estimate import CurrentEvent

FLOATS = NDArray[np.float64]

WRONG_ODDS = 0.05  # one direction read or written the wrong way round
FEWEST = 2  # readings on each side, so that one slip is no reversal


def reversals_of(stations: list[Station], turn: FLOATS, current: FLOATS) -> tuple[CurrentEvent, ...]:
    """Places where the current turns round, between two stretches of like direction.

    Parameters
    ----------
    stations : list of Station, in the order of the route
    turn : shape (n,)
        +1 where a row looks along the route, -1 where it looks back. Whether the direction was meant along
        the row or along the line nobody wrote down: what turns round less often is taken.
    current : shape (n,), [A]
        For the change of size that goes with it.
    """
    shown = [
        (i, s.reading.current_sign)
        for i, s in enumerate(stations)
        if s.reading is not None and s.reading.current_sign is not None
    ]
    if len(shown) < 2 * FEWEST:
        return ()
    along = np.array([float(sign) for _i, sign in shown])
    rows = np.array([i for i, _sign in shown])
    turned = along * turn[rows]
    signs = turned if np.abs(np.diff(turned)).sum() < np.abs(np.diff(along)).sum() else along
    cuts = [0, *(k for k in range(1, len(signs)) if signs[k] != signs[k - 1]), len(signs)]
    runs = list(pairwise(cuts))
    events = []
    for (a, b), (c, d) in pairwise(runs):
        weight = min(b - a, d - c)
        if weight < FEWEST:
            continue
        before, after = rows[b - 1], rows[c]
        change = 20.0 * math.log10(max(current[after], 1e-9) / max(current[before], 1e-9))
        middle = 0.5 * (stations[before].chainage_m + stations[after].chainage_m)
        events.append(CurrentEvent(middle, "reversal", round(change, 1), round(1.0 - WRONG_ODDS**weight, 3)))
    return tuple(events)
