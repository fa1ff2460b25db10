"""The sweep screen: maps that never look better than they are, passes walked and to be walked."""

from __future__ import annotations

import base64
from dataclasses import replace

import numpy as np
import pytest
from pydantic import TypeAdapter

from plumbmark.handover.screen_sweep import MOST_CELLS, NO_DIG, small_map, sweep_screen
from plumbmark.model.job import Job
from plumbmark.model.reading import Place
from plumbmark.model.record import Dig, DigKind
from plumbmark.model.screen_sweep import SweepScreen
from plumbmark.model.sweep import ChanceMap, Heard, Pass, PassPoint, SearchMethod
from plumbmark.planning.sweep import sweep_job

FORM = TypeAdapter(SweepScreen)
DIG = Dig("D1", DigKind.EXCAVATION, (((0.0, 0.0), (8.0, 0.0), (8.0, 5.0), (0.0, 5.0)),), 1.2)


def a_map(rows: int, columns: int) -> ChanceMap:
    """Chances at random, one corner outside."""
    rng = np.random.default_rng(3)
    inside = np.ones((rows, columns), bool)
    inside[: rows // 3, : columns // 3] = False
    chance, signal = (np.where(inside, rng.random((rows, columns)), 0.0) for _ in range(2))
    nothing = np.zeros((rows, columns))
    return ChanceMap(
        1.0,
        2.0,
        30.0,
        0.25,
        inside,
        inside,
        chance,
        signal,
        nothing,
        nothing,
        nothing[..., None],
        (1.0,),
        (0.1,),
    )


def cells(encoded: str, rows: int, columns: int) -> np.ndarray:
    return np.frombuffer(base64.b64decode(encoded), np.uint8).reshape(rows, columns)


def test_a_small_map_is_given_cell_by_cell_rounded_down() -> None:
    fine = a_map(9, 14)
    small = small_map(fine)
    assert (small.rows, small.columns, small.merged, small.cell_m) == (9, 14, 1, 0.25)
    chance = cells(small.chance, 9, 14)
    assert ((chance == 255) == ~fine.inside).all()
    told = chance[fine.inside] / 100.0
    assert (told <= fine.chance[fine.inside] + 1e-9).all()
    assert (fine.chance[fine.inside] - told < 0.0101).all()


@pytest.mark.parametrize(("rows", "columns"), [(160, 240), (400, 31), (1, 20_001)])
def test_cells_put_together_show_the_worst_of_them(rows, columns) -> None:
    fine = a_map(rows, columns)
    small = small_map(fine)
    assert small.rows * small.columns <= MOST_CELLS
    assert small.cell_m == pytest.approx(0.25 * small.merged)
    for encoded, values in ((small.chance, fine.chance), (small.signal, fine.signal)):
        told = cells(encoded, small.rows, small.columns)
        for r, c in np.ndindex(min(small.rows, 40), min(small.columns, 40)):
            block = np.s_[
                r * small.merged : (r + 1) * small.merged, c * small.merged : (c + 1) * small.merged
            ]
            there = values[block][fine.inside[block]]
            assert told[r, c] == (255 if not there.size else int(100 * there.min() + 1e-9))


def test_without_a_pass_the_plan_is_shown_as_a_plan() -> None:
    job = Job("j", digs=(DIG,))
    screen = sweep_screen(job, sweep_job(job))
    assert screen.says.startswith("Not swept yet.")
    assert not any(m.walked or m.walks or m.gaps for m in screen.methods)
    assert all("nobody searched so yet" in m.says and m.further for m in screen.methods)
    assert "never means that nothing is there" in screen.caveats[-1]


def test_passes_walked_stand_beside_what_nobody_searched_by() -> None:
    points = (PassPoint(Place(-1.0, 2.0), 2), PassPoint(Place(9.0, 2.0), 3))
    walked = Pass("p1", 2, SearchMethod.PASSIVE_POWER, points, signal=Heard.NONE)
    job = Job("j", digs=(DIG,), passes=(walked,))
    screen = sweep_screen(job, sweep_job(job))
    (done,) = [m for m in screen.methods if m.walked]
    assert done.method == "passive power"
    assert [w.path for w in done.walks] == [((-1.0, 2.0), (9.0, 2.0))]
    assert done.gaps
    assert done.further
    assert {m.method for m in screen.methods if not m.walked} == {"passive radio", "active"}
    assert [m.walks for m in screen.methods if not m.walked] == [(), ()]


def test_without_a_dig_the_screen_teaches() -> None:
    screen = sweep_screen(Job("j"), None)
    assert (screen.empty, screen.methods) == (NO_DIG, ())
    assert screen.caveats


def test_a_large_site_stays_small_and_comes_back_as_it_was() -> None:
    dig = replace(DIG, rings=(((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)),))
    job = Job("j", digs=(dig,))
    screen = sweep_screen(job, sweep_job(job))
    data = FORM.dump_json(screen)
    assert len(data) < 200_000
    assert FORM.validate_json(data) == screen
