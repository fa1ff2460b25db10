"""The fewest further passes that close all gaps: a set to be covered, solved to its end."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from plumbmark.model.sweep import Point

BOOLS = NDArray[np.bool_]
INDICES = NDArray[np.intp]
Chord = tuple[Point, Point]

SAMPLE: Final = 300
NODES: Final = 300  # of the search: a count, not a time, so that the same input has the same answer
_ROUNDS: Final = 12
_CHUNK: Final = 500
WALKED_M: Final = 2.0  # nobody is sent for less
_STEPS: Final = 16  # a pass is cut by sixteenths


@dataclass(frozen=True, slots=True)
class Closing:
    """What one pass closes: of these spots, which directions, shape (m, k); nothing at the others."""

    spots: INDICES
    directions: BOOLS


Closes = Callable[[Chord, INDICES], Closing]


def fewest_passes(open_pairs: BOOLS, candidates: Sequence[Chord], closes: Closes) -> tuple[list[Chord], bool]:
    """Choose candidates so that every open pair of spot and direction is closed by one of them.

    Parameters
    ----------
    open_pairs : bool array, shape (n, k)
        Spots and directions of a line that earlier passes leave open.
    candidates : sequence of chords
    closes : function
        Of a chord and the spots asked about, in rising order: what it closes among these.

    Returns
    -------
    chosen : list of chords
        Each cut to what it is needed for.
    fewest : bool
        Proven that no fewer candidates do, and that no pair is left open.

    Notes
    -----
    Set cover as an integer program (HiGHS). Some spots are asked first, then those that the answer leaves
    open are added until none is: the last answer is the least for all, for it is for some of them.
    """
    spots = np.flatnonzero(open_pairs.any(axis=1))
    if not len(spots) or not candidates:
        return [], not len(spots)
    asked = spots[:: max(1, len(spots) // SAMPLE)]
    rows, whole = _rows(asked, open_pairs, candidates, closes)
    proven, chosen = True, list[int]()
    for _ in range(_ROUNDS):
        chosen, exact = _cover(rows)
        proven &= exact
        left = open_pairs.copy()
        for c in chosen:
            found = closes(candidates[c], spots)
            left[found.spots] &= ~found.directions
        still = np.flatnonzero(left.any(axis=1))
        fresh = still[~np.isin(still, asked)]
        if not len(fresh):
            break
        fresh = fresh[:: max(1, len(fresh) // SAMPLE)]
        asked = np.union1d(asked, fresh)
        more, all_closed = _rows(fresh, open_pairs, candidates, closes)
        rows, whole = _least(np.vstack([rows, more])), whole and all_closed
    else:
        proven = False
    return _cut(open_pairs, spots, [candidates[c] for c in chosen], closes), proven and whole


def _rows(
    spots: INDICES, open_pairs: BOOLS, candidates: Sequence[Chord], closes: Closes
) -> tuple[BOOLS, bool]:
    """Which candidates close each open pair, but for what others imply; whether each pair has one.

    The first has the shape (pairs, candidates), without the pairs that no candidate closes.
    """
    wanted = open_pairs[spots]
    rows = np.zeros((int(wanted.sum()), len(candidates)), bool)
    for column, chord in enumerate(candidates):
        closed = np.zeros_like(wanted)
        found = closes(chord, spots)
        closed[np.searchsorted(spots, found.spots)] = found.directions
        rows[:, column] = closed[wanted]
    closable = rows.any(axis=1)
    return _least(rows[closable]), bool(closable.all())


def _least(rows: BOOLS) -> BOOLS:
    """Each pattern once, without those that hold another: who closes that one closes these as well.

    No row may be empty.
    """
    packed = np.packbits(rows, axis=1)
    keys = np.ascontiguousarray(packed).view(np.dtype((np.void, packed.shape[1])))[:, 0]
    rows = rows[np.sort(np.unique(keys, return_index=True)[1])]
    rows = rows[np.argsort(rows.sum(axis=1), kind="stable")]
    counts, kept = rows.astype(np.float32), np.zeros(len(rows), bool)
    size = counts.sum(axis=1)
    for start in range(0, len(rows), _CHUNK):
        block = slice(start, start + _CHUNK)
        shared = counts[block] @ counts[: start + _CHUNK].T
        holds = (shared == size[None, : start + _CHUNK]) & (size[block, None] > size[None, : start + _CHUNK])
        kept[block] = ~holds.any(axis=1)
    return rows[kept]


def _cover(rows: BOOLS) -> tuple[list[int], bool]:
    """Fewest columns with one in every row."""
    if not len(rows):
        return [], True
    columns = rows.shape[1]
    found = milp(
        np.ones(columns),
        constraints=LinearConstraint(rows.astype(float), lb=1.0),
        bounds=Bounds(0.0, 1.0),
        integrality=np.ones(columns),
        options={"node_limit": NODES},
    )
    if found.x is None:
        return _greedy(rows), False
    return np.flatnonzero(found.x > 0.5).tolist(), found.status == 0


def _greedy(rows: BOOLS) -> list[int]:
    chosen, left = [], rows
    while len(left):
        best = int(left.sum(axis=0).argmax())
        chosen.append(best)
        left = left[~left[:, best]]
    return chosen


def _cut(open_pairs: BOOLS, spots: INDICES, chords: list[Chord], closes: Closes) -> list[Chord]:
    """Shorten each pass from both ends as far as nothing opens again."""
    times = np.zeros(open_pairs.shape, np.int16)
    for chord in chords:
        found = closes(chord, spots)
        times[found.spots] += found.directions
    for i, chord in enumerate(chords):
        whole = closes(chord, spots)
        near = whole.spots
        needed = open_pairs[near] & whole.directions & (times[near] == 1)

        begin, end = 0, _STEPS
        least = min(_STEPS, math.ceil(_STEPS * WALKED_M / max(math.dist(*chord), WALKED_M)))
        while begin < end - least and _suffices(_part(chord, begin + 1, end), near, needed, closes):
            begin += 1
        while begin < end - least and _suffices(_part(chord, begin, end - 1), near, needed, closes):
            end -= 1
        chords[i] = _part(chord, begin, end)
        times[near] -= whole.directions
        part = closes(chords[i], spots)
        times[part.spots] += part.directions
    return chords


def _suffices(chord: Chord, spots: INDICES, needed: BOOLS, closes: Closes) -> bool:
    found = closes(chord, spots)
    left = needed.copy()
    left[np.searchsorted(spots, found.spots)] &= ~found.directions
    return not left.any()


def _part(chord: Chord, begin: int, end: int) -> Chord:
    """A pass from one of its sixteenths to another."""
    a, b = np.array(chord)
    p, q = a + begin / _STEPS * (b - a), a + end / _STEPS * (b - a)
    return (float(p[0]), float(p[1])), (float(q[0]), float(q[1]))
