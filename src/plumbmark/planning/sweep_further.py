"""The fewest further passes that close all gaps: a set to be covered, solved to its end."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from plumbmark.model.sweep import Point

FLOATS = NDArray[np.float64]
BOOLS = NDArray[np.bool_]
Chord = tuple[Point, Point]

SAMPLE: Final = 300
SECONDS: Final = 5.0
_ROUNDS: Final = 12
WALKED_M: Final = 2.0  # nobody is sent for less
_STEPS: Final = 16  # a pass is cut by sixteenths


def fewest_passes(
    open_pairs: BOOLS, candidates: Sequence[Chord], closes: Callable[[Chord, NDArray[np.intp]], BOOLS]
) -> tuple[list[Chord], bool]:
    """Choose candidates so that every open pair of spot and direction is closed by one of them.

    Parameters
    ----------
    open_pairs : bool array, shape (n, k)
        Spots and directions of a line that earlier passes leave open.
    candidates : sequence of chords
    closes : function
        Of a chord and indices of spots: which directions it closes there, shape (m, k).

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
    rows = _rows(asked, open_pairs, candidates, closes)
    whole, proven, chosen = True, True, list[int]()
    for _ in range(_ROUNDS):
        closable = rows.any(axis=1)
        whole &= bool(closable.all())
        chosen, exact = _cover(rows[closable])
        proven &= exact
        left = open_pairs[spots].copy()
        for c in chosen:
            left &= ~closes(candidates[c], spots)
        still = spots[left.any(axis=1)]
        fresh = still[~np.isin(still, asked)]
        if not len(fresh):
            break
        fresh = fresh[:: max(1, len(fresh) // SAMPLE)]
        asked = np.union1d(asked, fresh)
        rows = np.unique(np.vstack([rows, _rows(fresh, open_pairs, candidates, closes)]), axis=0)
    else:
        proven = False
    return _cut(open_pairs, spots, [candidates[c] for c in chosen], closes), proven and whole


def _rows(
    spots: NDArray[np.intp],
    open_pairs: BOOLS,
    candidates: Sequence[Chord],
    closes: Callable[[Chord, NDArray[np.intp]], BOOLS],
) -> BOOLS:
    """Which candidates close each open pair, each pattern once, shape (pairs, candidates)."""
    wanted = open_pairs[spots]
    columns = [closes(chord, spots)[wanted] for chord in candidates]
    return np.unique(np.column_stack(columns), axis=0)


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
        options={"time_limit": SECONDS},
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


def _cut(
    open_pairs: BOOLS,
    spots: NDArray[np.intp],
    chords: list[Chord],
    closes: Callable[[Chord, NDArray[np.intp]], BOOLS],
) -> list[Chord]:
    """Shorten each pass from both ends as far as nothing opens again."""
    wanted = open_pairs[spots]
    closed = [closes(chord, spots) & wanted for chord in chords]
    times = np.sum(closed, axis=0, dtype=np.int32) if closed else np.zeros(wanted.shape, np.int32)
    for i, chord in enumerate(chords):
        needed = closed[i] & (times == 1)
        begin, end = 0, _STEPS
        least = min(_STEPS, math.ceil(_STEPS * WALKED_M / max(math.dist(*chord), WALKED_M)))
        while begin < end - least and not np.any(needed & ~closes(_part(chord, begin + 1, end), spots)):
            begin += 1
        while begin < end - least and not np.any(needed & ~closes(_part(chord, begin, end - 1), spots)):
            end -= 1
        chords[i] = _part(chord, begin, end)
        times -= closed[i]
        times += closes(chords[i], spots) & wanted
    return chords


def _part(chord: Chord, begin: int, end: int) -> Chord:
    """A pass from one of its sixteenths to another."""
    a, b = np.array(chord)
    p, q = a + begin / _STEPS * (b - a), a + end / _STEPS * (b - a)
    return (float(p[0]), float(p[1])), (float(q[0]), float(q[1]))
