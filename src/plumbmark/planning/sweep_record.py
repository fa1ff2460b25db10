"""What walked passes are worth to the digs of a job: the record that a clearance check asks for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from plumbmark.base.spoken import listed, spoken_area
from plumbmark.model.job import Job
from plumbmark.model.record import Dig
from plumbmark.model.sweep import DigSweep, Heard, MethodSweep, Pass, Search, SearchMethod, SweepRecord
from plumbmark.planning.sweep_chance import is_swept
from plumbmark.planning.sweep_ground import Ground, footprint
from plumbmark.planning.sweep_legs import pass_legs
from plumbmark.planning.sweep_priors import ANTENNA
from plumbmark.planning.sweep_says import cannot, rules_out

FLOATS = NDArray[np.float64]

NEARLY_ALL = 0.999
NEXT_READING_M = 12.0  # farther apart, the line between two readings may lie elsewhere
SQUARE_ENOUGH = 0.7  # cosine of the angle to square across


def make_record(
    job: Job, searches: Sequence[Search], walked: Sequence[MethodSweep], pieces: Sequence[Ground]
) -> SweepRecord:
    """What was swept of each dig, and what that leaves open.

    Parameters
    ----------
    job : Job
    searches : sequence of Search
        What was to be searched for.
    walked : sequence of MethodSweep
        By the passes of the job, one for each method walked.
    pieces : sequence of Ground
        Those of the maps in `walked`.

    Returns
    -------
    SweepRecord
    """
    digs = tuple(_dig(dig, searches, walked, pieces) for dig in job.digs)
    done = {sweep.search.method for sweep in walked}
    missing = tuple(s.method for s in searches if s.method not in done)
    unexplained = tuple(p.id for p in job.passes if p.signal is Heard.UNEXPLAINED)
    not_said = tuple(p.id for p in job.passes if p.signal is None)
    all_over = all(d.swept_m2 >= NEARLY_ALL * d.area_m2 for d in digs)
    return SweepRecord(
        digs,
        missing,
        unexplained,
        not_said,
        all_over and not missing and not unexplained and not not_said,
        _says(job, digs, searches, unexplained),
        _caveats(job, digs, missing, unexplained, not_said, walked),
    )


def _dig(
    dig: Dig, searches: Sequence[Search], walked: Sequence[MethodSweep], pieces: Sequence[Ground]
) -> DigSweep:
    area = footprint(dig)
    mine = [
        shapely.dwithin(shapely.points(piece.points), area, 0.5 * piece.cell_m) & piece.in_dig[piece.inside]
        for piece in pieces
    ]
    count = max(1, sum(int(m.sum()) for m in mine))

    def share(sweeps: Sequence[MethodSweep]) -> float:
        """Of the dig, swept by all of these."""
        good = 0
        for i, (piece, own) in enumerate(zip(pieces, mine, strict=True)):
            cells: NDArray[np.bool_] = own.copy()
            for sweep in sweeps:
                cells &= is_swept(sweep.maps[i])[piece.inside]
            good += int(cells.sum())
        return good / count

    asked = [s for s in walked if s.search.method in {search.method for search in searches}]
    whole = share(asked) if len(asked) == len(searches) else 0.0
    return DigSweep(
        dig.id,
        float(area.area),
        whole * float(area.area),
        tuple((s.search.method, share([s]) * float(area.area)) for s in walked),
    )


def _says(job: Job, digs: Sequence[DigSweep], searches: Sequence[Search], unexplained: Sequence[str]) -> str:
    units = job.display_units
    total = sum(d.area_m2 for d in digs)
    shares: dict[str, list[str]] = {}
    for search in searches:
        swept = [area for d in digs for method, area in d.by_method if method is search.method]
        if swept:
            whole = sum(swept) >= NEARLY_ALL * total
            share = "all" if whole else spoken_area(sum(swept), units) if sum(swept) > 0.0 else "none"
            shares.setdefault(share, []).append(search.method.words)
    none = [s.method.words for s in searches if all(s.method not in dict(d.by_method) for d in digs)]
    said = ", ".join(f"{share} by {listed(methods)}" for share, methods in shares.items())
    text = f"Swept of the dig's {spoken_area(total, units)}: {said or 'none'}"
    if none:
        text += f"; nobody searched by {listed(none)}"
    if unexplained:
        passes = _passes(unexplained)
        return f"{text}; {passes[0].lower()}{passes[1:]} met a signal that has no mark."
    return f"{text}; no signal without a mark was written down."


def _caveats(
    job: Job,
    digs: Sequence[DigSweep],
    missing: Sequence[SearchMethod],
    unexplained: Sequence[str],
    not_said: Sequence[str],
    walked: Sequence[MethodSweep],
) -> tuple[str, ...]:
    said = []
    if unexplained:
        said.append(
            f"{_passes(unexplained)} met a signal without a mark: trace it to both sides and mark it before "
            "anything is answered for this dig."
        )
    for method in missing:
        said.append(f"Nobody searched by {method.words}: lines that only this finds are not known.")
    units = job.display_units
    for dig in digs:
        for method, done in dig.by_method:
            if done < NEARLY_ALL * dig.area_m2:
                left = spoken_area(dig.area_m2 - done, units)
                said.append(f"Dig {dig.dig}, {method.words}: {left} not swept, and not known.")
    if not_said:
        said.append(
            f"{_passes(not_said)} {'does' if len(not_said) == 1 else 'do'} not say whether a signal was met: "
            "ask who walked; until then it is not known."
        )
    said += _deaf(job)
    said += rules_out(job, walked, done=True)
    return (*said, *cannot())


def _deaf(job: Job) -> list[str]:
    """Passes that crossed a marked line squarely and say that they met nothing."""
    by_line: dict[str, list[tuple[float, float]]] = {}
    for reading in job.readings:
        by_line.setdefault(reading.line, []).append((reading.place.easting_m, reading.place.northing_m))
    quiet = [p for p in job.passes if p.signal is Heard.NONE and p.method is not SearchMethod.PASSIVE_RADIO]
    said = []
    for line, places in by_line.items():
        runs = [(a, b) for a, b in pairwise(places) if 0.0 < math.dist(a, b) <= NEXT_READING_M]
        found = [p.id for p in quiet if any(_crosses(leg, a, b) for leg in _facing(p) for a, b in runs)]
        if found:
            said.append(
                f"{_passes(found)} crossed the marked line {line} and met no signal: either it carries "
                "none of "
                "that kind, or the receiver did not hear. Try it over a line that is known."
            )
    return said


def _facing(walk: Pass) -> FLOATS:
    return pass_legs(walk, walk.antenna or ANTENNA)


def _crosses(leg: FLOATS, a: tuple[float, float], b: tuple[float, float]) -> bool:
    """Whether a leg crosses a stretch of line and hears most of its signal."""
    run = np.subtract(b, a) / math.dist(a, b)
    hears = not leg[4:6].any() or abs(leg[4] * run[1] - leg[5] * run[0]) >= SQUARE_ENOUGH
    return bool(hears) and LineString([leg[0:2], leg[2:4]]).intersects(LineString([a, b]))


def _passes(ids: Sequence[str]) -> str:
    if len(ids) == 1:
        return f"Pass {ids[0]}"
    shown = list(ids[:8])
    more = [f"{len(ids) - 8} more"] if len(ids) > 8 else []
    return f"Passes {listed([*shown, *more])}"
