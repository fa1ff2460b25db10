"""Jobs made from exact displays over known lines, so that the answer is known beforehand."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from plumbmark.inference import solve
from plumbmark.inference.sampler import Effort
from plumbmark.model.job import Hookup, Job, Line, NullKind, Receiver, Setup, Soil
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading
from plumbmark.physics.display import (
    displayed_current,
    displayed_depth,
    half_distances,
    null_position,
    peak_position,
)

LOWER, SPACING = 0.05, 0.4


def cm(value: float) -> Measured:
    return Measured(round(value, 2), 0.0, 0.01)


def straight_job(
    *,
    depth: float = 1.0,
    stations: int = 10,
    pitch: float = 3.0,
    bearing: float = 20.0,
    second: tuple[float, float, float] | None = None,  # offset to the right [m], depth [m], current ratio
    raised: float | None = None,
    noise: float = 0.0,  # share of the usual noise
    seed: int = 1,
    job: str = "made",
) -> Job:
    """A straight line in ground that conducts next to nothing, read every `pitch` metres.

    The line runs from (100, 200) along `bearing`; each mark stands on the peak, its numbers are those of the
    display, rounded to centimetres and, with `noise`, scattered as the file contract says.
    """
    rng = np.random.default_rng(seed)
    others = [] if second is None else [second]
    lines = (
        [0.0, *(o[0] for o in others)],
        [depth, *(o[1] for o in others)],
        [0.01, *(0.01 * o[2] for o in others)],
    )
    peak = peak_position(*lines, coil_height=LOWER)
    null = null_position(*lines, coil_height=LOWER)
    left, right = half_distances(*lines, coil_height=LOWER)
    coils = {"mark": peak, "lower_coil_height": LOWER, "coil_spacing": SPACING}
    shown = displayed_depth(*lines, **coils)
    amps = displayed_current(*lines, mark=peak, shown_depth=shown, lower_coil_height=LOWER)
    b = math.radians(bearing)
    rows = []
    for k in range(stations):
        e = noise * rng.normal(0.0, 0.03, 6)
        aside = peak + e[0]
        east = 100.0 + k * pitch * math.sin(b) + aside * math.cos(b)
        north = 200.0 + k * pitch * math.cos(b) - aside * math.sin(b)
        up = (
            {}
            if raised is None
            else {
                "raised_by_m": cm(raised),
                "raised_depth_m": cm(displayed_depth(*lines, **coils, raised_by=raised) * (1.0 + e[5])),
            }
        )
        rows.append(
            Reading(
                f"r{k:02d}",
                "E1",
                Place(east, north),
                k + 2,
                bearing_deg=bearing,
                null_offset_m=cm(null - aside),
                half_left_m=cm(left - (peak - aside) + e[1]),
                half_right_m=cm(right + (peak - aside) + e[2]),
                depth_m=cm(shown * (1.0 + e[3])),
                current_a=Measured(amps * (1.0 + 4.0 / 3.0 * e[4]), 0.0, 1e-4),
                **up,
            )
        )
    return Job(
        job,
        soil=Soil(30000.0, 1.1),
        receivers=(Receiver("R1", LOWER, SPACING, NullKind.PHASE),),
        lines=(Line("E1", setups=(Setup("", "E1", Hookup.DIRECT, 512.0, "R1"),)),),
        readings=tuple(rows),
    )


@pytest.fixture(scope="session")
def make_job() -> Callable[..., Job]:
    """`straight_job`, for tests that want their own."""
    return straight_job


@pytest.fixture(scope="session")
def spoil() -> Callable[..., Job]:
    """The same job with cells of one row changed."""

    def change(job: Job, row: int, **cells: object) -> Job:
        rows = list(job.readings)
        rows[row] = replace(rows[row], **cells)  # type: ignore[arg-type]
        return replace(job, readings=tuple(rows))

    return change


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search short enough for many tests; the answers differ little for such clean jobs."""
    effort = Effort(draws=300, particles=64, moves=1, rounds=2, threads=1)
    monkeypatch.setattr(solve, "_search", lambda _job: solve._Search(effort, 1, solve.WINDOW))
