"""`passes.csv`: rows gathered into passes of a sweep."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.jobtoml import JobFile
from plumbmark.exchange.jobfolder.places import read_places
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.rows import Sheet, Tied
from plumbmark.model.sweep import Pass, PassPoint, SearchMethod

LONG_LEG_M: Final = 100.0
RUNNING_M_PER_S: Final = 5.0
NO_GROUND_M: Final = 0.05
MAINS_HZ: Final = (50.0, 60.0)
HIGHEST_HARMONIC_HZ: Final = 5000.0
#: What belongs to a pass as a whole: said on its first row, and the same or blank on the others.
_OWN: Final = ("method", "frequency_hz", "antenna", "signal", "by", "note")


def read_passes(sheet: Sheet, job: JobFile, tied: Tied | None, remarks: Remarks) -> list[Pass]:
    """Passes in the order of their first rows; wrong ones are told of and left out."""
    rows: dict[str, list[int]] = {}
    for i, ident in enumerate(sheet.column("pass")):
        if ident is not None:
            rows.setdefault(ident, []).append(i)
    places = read_places(sheet.table, sheet.cells, job, tied, remarks)
    headings, times = list(sheet.column("heading_deg")), list(sheet.column("taken_at"))
    own = {name: list(sheet.column(name)) for name in _OWN}
    passes: list[Pass] = []
    for ident, at in rows.items():
        start = at[0]
        _check_repeats(sheet, at, remarks)
        method, frequency = own["method"][start], own["frequency_hz"][start]
        if method is None:
            if "method" not in sheet.cells or not sheet.cells["method"].text[start]:
                what = f"is missing, and pass {ident} needs one ({', '.join(SearchMethod)})"
                remarks.error(sheet.where(start, "method"), what)
            continue
        points = [
            PassPoint(place, sheet.table.rows[i], None if heading is None else heading.value, times[i])
            for i in at
            if (place := places[i]) is not None
            for heading in (headings[i],)
        ]
        if len(points) < len(at):
            continue
        if frequency is not None:
            _check_frequency(sheet, start, method, frequency.value, remarks)
        _check_course(sheet, ident, at, points, remarks)
        passes.append(
            Pass(
                ident,
                sheet.table.rows[start],
                method,
                tuple(points),
                own["antenna"][start],
                None if frequency is None else frequency.value,
                own["signal"][start],
                own["by"][start] or "",
                own["note"][start] or "",
            )
        )
    return passes


def _check_repeats(sheet: Sheet, at: Sequence[int], remarks: Remarks) -> None:
    for name in _OWN:
        cells = sheet.cells.get(name)
        if cells is None or name in ("by", "note"):
            continue
        first = cells.text[at[0]]
        for i in at[1:]:
            if cells.text[i] and cells.values[i] != cells.values[at[0]]:
                said = f"{shown(first)} in row {sheet.table.rows[at[0]]}" if first else "its first row, blank"
                what = f"{shown(cells.text[i])} differs from {said}, and both are rows of one pass"
                remarks.error(sheet.where(i, name), what)


def _check_frequency(sheet: Sheet, i: int, method: SearchMethod, hertz: float, remarks: Remarks) -> None:
    where = sheet.where(i, "frequency_hz")
    if hertz <= 0.0:
        remarks.error(where, "is 0, and a frequency is more than 0 (leave it blank where it is not known)")
    elif method is SearchMethod.PASSIVE_POWER and not (
        hertz <= HIGHEST_HARMONIC_HZ
        and any(abs(hertz - m * max(round(hertz / m), 1)) < 0.5 for m in MAINS_HZ)
    ):
        what = f"{hertz:g} Hz is no harmonic of 50 or 60 Hz up to {HIGHEST_HARMONIC_HZ:,.0f} Hz"
        remarks.warn(where, f"{what}: was this pass passive-radio or active?")


def _check_course(
    sheet: Sheet, ident: str, at: Sequence[int], points: Sequence[PassPoint], remarks: Remarks
) -> None:
    """What nobody walks: no ground at all, very long straight legs, a runner's pace, time going back."""
    places = [(p.place.easting_m, p.place.northing_m) for p in points]
    legs = [math.dist(a, b) for a, b in pairwise(places)]
    if sum(legs) < NO_GROUND_M:
        what = f"pass {ident} has one place alone, so it covers no ground (give where it began and ended)"
        remarks.warn(sheet.where(at[0], "pass"), what)
    for i, leg, before, after in zip(at[1:], legs, points[:-1], points[1:], strict=True):
        if leg > LONG_LEG_M:
            what = f"lies {leg:.0f} m from the row before: the pass counts as straight between the two"
            remarks.warn(f"{sheet.table.file} row {sheet.table.rows[i]}", what)
        if before.taken_at is None or after.taken_at is None:
            continue
        seconds = (after.taken_at - before.taken_at).total_seconds()
        if seconds < 0.0:
            what = "is earlier than the row before, and rows of a pass are in the order walked"
            remarks.warn(sheet.where(i, "taken_at"), what)
        elif seconds > 0.0 and leg > RUNNING_M_PER_S * seconds:
            what = f"is {leg:.0f} m from the row before after {seconds:g} s: nobody walks so fast"
            remarks.warn(sheet.where(i, "taken_at"), what)
