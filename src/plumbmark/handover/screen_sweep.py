"""The sweep screen: what was searched, and what could still lie there unnoticed?"""

from __future__ import annotations

import base64
import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.spoken import spoken_current, spoken_length
from plumbmark.handover import sweep_words as said
from plumbmark.handover import words
from plumbmark.handover.screen_drawn import digits4, drawn_digs, extent_of, metres, path_of
from plumbmark.model.job import Job
from plumbmark.model.screen_sweep import (
    SweepGap,
    SweepLeast,
    SweepMap,
    SweepMethod,
    SweepScreen,
    SweepWalk,
)
from plumbmark.model.sweep import ChanceMap, LeastCurrent, MethodSweep, Search, SweepAnswer

NO_DIG: Final = (
    "No dig is drawn. A sweep is of the ground that will be opened: draw it, and the passes to walk stand "
    "here."
)
#: Cells of one map at most: more are put together, so that the screen stays small enough to keep.
MOST_CELLS: Final = 6000
_OUTSIDE: Final = 255


def sweep_screen(job: Job, answer: SweepAnswer | None) -> SweepScreen:
    """What was searched and what was not, with the passes to walk.

    Parameters
    ----------
    job : Job
    answer : SweepAnswer, optional
        None where no dig is drawn.

    Returns
    -------
    SweepScreen
        Of every method the map of the passes walked, or of those planned where nobody searched so yet.
    """
    units = job.display_units
    digs = drawn_digs(job)
    if answer is None:
        return SweepScreen(
            job=job.id,
            units=units,
            empty=NO_DIG,
            says="",
            caveats=(said.NOT_NOTHING,),
            extent=None,
            ground=(),
            digs=digs,
            methods=(),
            rounds=(),
            rules_out=(),
            does_not=(),
            assumed=(),
            meanings=(),
        )
    done = {s.search.method for s in answer.walked}
    methods = [_method(s, units, walked=True) for s in answer.walked]
    methods += [_method(s, units, walked=False) for s in answer.planned if s.search.method not in done]
    caveats: tuple[str, ...] = (said.NOT_NOTHING,)
    if answer.record is not None:
        caveats = (answer.record.says, *answer.record.caveats, said.NOT_NOTHING)
    ground = tuple(path_of(ring) for ring in answer.outlines)
    core = [p for ring in ground for p in ring]
    walks = [p for m in methods for w in (*m.walks, *m.further) for p in w.path]
    return SweepScreen(
        job=job.id,
        units=units,
        empty="",
        says=said.headline(answer, units),
        caveats=tuple(words.sentence(text) for text in caveats),
        extent=extent_of(core, walks),
        ground=ground,
        digs=digs,
        methods=tuple(methods),
        rounds=tuple(SweepWalk(path_of(r.walk.path), said.round_sentence(r, units)) for r in answer.rounds),
        rules_out=answer.rules_out,
        does_not=answer.cannot,
        assumed=answer.assumed,
        meanings=(said.SWEPT_MEANING, said.NOTICED_MEANING),
    )


def _method(sweep: MethodSweep, units: str, *, walked: bool) -> SweepMethod:
    by, _, swept, noticed, best = said.method_row(sweep, units)
    name = f"{by[0].upper()}{by[1:]}"
    many = words.count(len(sweep.walks), "pass", "passes")
    if walked:
        says = f"{name}: {many} walked, {swept} swept. A line there is noticed {noticed}, at best {best}."
    else:
        says = (
            f"{name}: nobody searched so yet. {many} planned; a line there would be noticed {noticed}, at "
            f"best {best}."
        )
    further = sweep.further if walked else sweep.walks
    return SweepMethod(
        method=by,
        walked=walked,
        says=says,
        walks=tuple(
            SweepWalk(path_of(w.path), words.sentence(w.where)) for w in (sweep.walks if walked else ())
        ),
        least=tuple(_least(item, sweep.search, units) for item in sweep.least),
        gaps=tuple(
            SweepGap(g.name, path_of([(g.easting_m, g.northing_m)])[0], g.in_dig, said.gap_sentence(g, units))
            for g in (sweep.gaps if walked else ())
        ),
        further=tuple(
            SweepWalk(path_of(w.path), said.walk_sentence(i, w, units)) for i, w in enumerate(further, 1)
        ),
        maps=tuple(small_map(m) for m in sweep.maps),
    )


def _least(item: LeastCurrent, search: Search, units: str) -> SweepLeast:
    deep = spoken_length(item.depth_m, units)
    if item.current_a is None:
        text = f"{deep} deep: a line of some direction is missed in the dig whatever it carries."
        return SweepLeast(item.depth_m, None, text)
    text = (
        f"{deep} deep: anywhere in the dig a line of any direction is noticed 19 times in 20 from "
        f"{spoken_current(item.current_a)} up"
    )
    if search.current_a is not None:
        text += f"; such lines carry about {spoken_current(search.current_a)}"
    return SweepLeast(item.depth_m, digits4(1e3 * item.current_a), f"{text}.")


def small_map(chances: ChanceMap, most: int = MOST_CELLS) -> SweepMap:
    """A map with few enough cells; those put together show the worst of them.

    Parameters
    ----------
    chances : ChanceMap
    most : int
        Cells at most.

    Returns
    -------
    SweepMap
    """
    rows, columns = chances.inside.shape
    merged = max(1, math.ceil(math.sqrt(rows * columns / most)))
    while math.ceil(rows / merged) * math.ceil(columns / merged) > most:
        merged += 1
    chance, signal = (_hundredths(v, chances, merged) for v in (chances.chance, chances.signal))
    return SweepMap(
        easting_m=metres(chances.easting_m),
        northing_m=metres(chances.northing_m),
        bearing_deg=round(chances.bearing_deg, 3),
        cell_m=metres(chances.cell_m * merged),
        rows=chance.shape[0],
        columns=chance.shape[1],
        merged=merged,
        chance=base64.b64encode(chance.tobytes()).decode(),
        signal=base64.b64encode(signal.tobytes()).decode(),
    )


def _hundredths(values: NDArray[np.float64], chances: ChanceMap, merged: int) -> NDArray[np.uint8]:
    """Hundredths rounded down, the least of each block of cells that lie inside; 255 outside."""
    fine = np.floor(100.0 * np.clip(values, 0.0, 1.0) + 1e-9)
    cells = np.where(chances.inside, fine, float(_OUTSIDE))
    rows, columns = cells.shape
    spare = ((0, -rows % merged), (0, -columns % merged))
    cells = np.pad(cells, spare, constant_values=float(_OUTSIDE))
    blocks = cells.reshape(cells.shape[0] // merged, merged, cells.shape[1] // merged, merged)
    worst: NDArray[np.uint8] = blocks.min(axis=(1, 3)).astype(np.uint8)
    return worst
