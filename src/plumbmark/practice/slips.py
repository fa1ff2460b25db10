"""Slips of the pen, such as crews really make, put into honest rows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from plumbmark.practice.office import ahead_at, without_bearing
from plumbmark.practice.site import Row

KINDS = ("depth", "ft_in", "null_flip", "current", "repeat", "wrong_line")


def _slip_depth(rng: np.random.Generator, row: Row, feet: bool) -> Row:
    """x10 or /10; or inches in a feet box, feet in a metre box."""
    if row.depth_m is None or isinstance(row.depth_m, tuple):
        return row
    if rng.random() < 0.5:
        return replace(row, depth_m=row.depth_m * (10.0 if rng.random() < 0.7 else 0.1), slip="depth")
    return replace(row, depth_as="inches" if feet else "feet", slip="depth")


def _repeat(rng: np.random.Generator, row: Row, before: Row) -> Row:
    """The values of the row before written again, sometimes with its place."""
    copied = replace(before, id=row.id, minute=row.minute, slip="repeat")
    if rng.random() < 0.5:
        return copied
    return replace(copied, easting_m=row.easting_m, northing_m=row.northing_m)


def put_slips(
    rng: np.random.Generator,
    rows: list[Row],
    *,
    feet: bool,
    on_other_line: Callable[[Row], Row | None],
) -> list[Row]:
    """Rows with about one in five slipped; the truth of where each was taken stays with the row's place.

    Parameters
    ----------
    rows : list of Row
        Honest rows in the order they were taken.
    feet : bool
        Depths are written in a feet column, so that "2.11" can stand for 2 ft 11 in.
    on_other_line : callable
        Gives the row as it would have been read over another line of the site, None if there is none.
    """
    out = list(rows)
    count = max(1, min(len(rows) - 2, int(rng.poisson(0.2 * len(rows)))))
    where = rng.choice(np.arange(1, len(rows)), size=count, replace=False)
    for k in sorted(int(i) for i in where):
        row, kind = out[k], str(rng.choice(KINDS))
        if kind == "ft_in" and feet and row.depth_m is not None:
            out[k] = replace(row, depth_as="ft_in", slip="ft_in")
        elif kind in ("depth", "ft_in"):
            out[k] = _slip_depth(rng, row, feet)
        elif kind == "null_flip" and isinstance(row.null_m, float):
            out[k] = replace(row, null_m=-row.null_m, slip="null_flip")
        elif kind == "current" and row.current_a is not None:
            out[k] = replace(
                row, current_a=row.current_a * (10.0 if rng.random() < 0.7 else 0.1), slip="current"
            )
        elif kind == "repeat" and out[k - 1].slip == "":
            out[k] = _repeat(rng, row, out[k - 1])
        elif kind == "wrong_line":
            out[k] = on_other_line(row) or row
    return out


def blank_some(rng: np.random.Generator, rows: list[Row], chance: float) -> list[Row]:
    """Rows with cells left empty here and there."""
    out = []
    for k, row in enumerate(rows):
        if rng.random() < chance:
            row = replace(row, null_m=None)
        if rng.random() < 0.5 * chance:
            row = replace(row, current_a=None)
        ahead = ahead_at(rows, k)
        if rng.random() < 0.5 * chance and ahead is not None and row.slip != "wrong_line":
            row = without_bearing(row, ahead)
        if rng.random() < 0.3 * chance:
            row = replace(row, depth_m=None)
        out.append(row)
    return out
