"""Places joined to what was written down at the same time."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from plumbmark.exchange.readers.places import Row, metres, metres_of

#: How far apart in time a place and an entry may be [s]; common practice, no source.
WITHIN_S: Final = 5.0
#: Faster than this nobody reads a receiver [m/s]; no source.
STANDING_M_PER_S: Final = 0.5


@dataclass(frozen=True, slots=True)
class Fix:
    """A place at a moment: its cells, and how fast the receiver moved [m/s], None where not known."""

    at: datetime
    cells: Row
    speed_m_per_s: float | None


@dataclass(frozen=True, slots=True)
class Near:
    """The place nearest in time to a moment: how many seconds it is later, negative where it is earlier."""

    fix: Fix
    later_s: float

    def cells(self) -> Row:
        """Cells of the place; its sigma is wider by how far the receiver may have gone in between."""
        gone = abs(self.later_s) * (self.fix.speed_m_per_s or 0.0)
        sigma = metres(self.fix.cells, "position_sigma")
        if sigma is None or gone < 0.001:
            return dict(self.fix.cells)
        cells = {name: cell for name, cell in self.fix.cells.items() if not name.startswith("position_sigma")}
        return {**cells, "position_sigma_m": f"{math.hypot(sigma, gone):.3f}"}


def fixes_of(rows: Sequence[Row], time_column: str) -> list[Fix]:
    """Places with their times, in the order of time.

    Parameters
    ----------
    rows : sequence of dict
        With a time in `time_column`; those without, and those without a place, are left out.
    time_column : str

    Returns
    -------
    list of Fix
        The speed is that between the places before and after, where those are within `WITHIN_S`.
    """
    timed = sorted(
        (
            (datetime.fromisoformat(row[time_column]), place, row)
            for row, place in zip(rows, metres_of(rows), strict=True)
            if row.get(time_column) and place is not None
        ),
        key=lambda each: each[0],
    )
    found = []
    for k, (at, _, row) in enumerate(timed):
        before, after = timed[max(k - 1, 0)], timed[min(k + 1, len(timed) - 1)]
        seconds = (after[0] - before[0]).total_seconds()
        speed = math.dist(before[1], after[1]) / seconds if 0.0 < seconds <= 2.0 * WITHIN_S else None
        cells = {name: cell for name, cell in row.items() if name not in (time_column, "note")}
        found.append(Fix(at, cells, speed))
    return found


def nearest(fixes: Sequence[Fix], at: datetime) -> Near | None:
    """The place nearest in time, if it is within `WITHIN_S`.

    Parameters
    ----------
    fixes : sequence of Fix
        In the order of time.
    at : datetime

    Returns
    -------
    Near or None
    """
    k = bisect_left(fixes, at, key=lambda fix: fix.at)
    beside = [Near(fix, (fix.at - at).total_seconds()) for fix in fixes[max(k - 1, 0) : k + 1]]
    close = [near for near in beside if abs(near.later_s) <= WITHIN_S]
    return min(close, key=lambda near: abs(near.later_s), default=None)
