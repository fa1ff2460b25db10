"""Why an answer is what it is, in words a technician uses; trust and identity."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.spoken import spoken_current, spoken_length
from plumbmark.inference import priors as p
from plumbmark.inference.answer import Numbers
from plumbmark.inference.prepare import Prepared
from plumbmark.inference.slips import likely_slip
from plumbmark.inference.stations import Station
from plumbmark.inference.swaps import CHANGED, Swapped, lands_on, seen_throughout
from plumbmark.model.estimate import Identity, Interval, LineEstimate, StationEstimate, Trust
from plumbmark.model.job import Hookup, Job, Line, Setup

SWAP_SHARE = 0.5  # one side of a swap is the line that was meant; nobody knows which
HOLDS = 0.97
LOOSE = 0.6
NEAR_TRANSMITTER_M = 15.0


def tell_beside(answer: LineEstimate, beside: Sequence[tuple[Station, Interval]], units: str) -> LineEstimate:
    """The answer of a line that has marks, with what readings from the side say between them.

    Parameters
    ----------
    answer : LineEstimate
    beside : sequence of (Station, Interval)
        Each reading from the side at its foot on the course of the marks, and the depth there [m]. It is told
        at the station before it, or at the first.
    units : str
        ``"ft-in"`` or ``"m"``.
    """
    stations = list(answer.stations)
    said: dict[int, list[str]] = {}
    for s, depth in beside:
        before = [k for k, t in enumerate(stations) if t.chainage_m <= s.chainage_m]
        value, low, high = (spoken_length(v, units) for v in (depth.value, depth.low, depth.high))
        said.setdefault(max(before, default=0), []).append(f"{value} down at {s.id} ({low} to {high})")
    for k, places in said.items():
        words = f"Read from the side on from here, the middle of it is {', '.join(places)}"
        stations[k] = replace(stations[k], because=(*stations[k].because, words))
    return replace(answer, stations=tuple(stations))


def tell_swaps(
    job: Job,
    answer: LineEstimate,
    stations: Sequence[Station],
    swaps: Sequence[Swapped],
    marks: Mapping[str, NDArray[np.float64]],
) -> LineEstimate:
    """The answer of a line with the swaps said at both readings and held against its identity.

    Until it is settled which side is the line, no number holds for it with more than an even chance.

    Parameters
    ----------
    job : Job
    answer : LineEstimate
    stations : sequence of Station
        Of the line, test holes among them.
    swaps : sequence of Swapped
        None leaves the answer as it is.
    marks : mapping of line id to marks, shape (n, 2), [m]
        The other lines of the job.
    """
    if not swaps:
        return answer
    told = {(s.source, s.id): s for s in answer.stations}
    for q in swaps:
        said = _swap_words(q, lands_on(q, marks, answer.neighbours), job.display_units)
        for key in ((q.before.source, q.before.id), (q.after.source, q.after.id)):
            told[key] = replace(told[key], because=(said, *told[key].because))
    pairs = " and ".join(f"between readings {q.before.id} and {q.after.id}" for q in swaps)
    if seen_throughout(swaps, stations):
        exposed = f"the marks step sideways {pairs}, and the line was exposed on both sides of it"
        because = (*answer.identity_because, exposed)
        return replace(answer, stations=tuple(told.values()), identity_because=because)
    doubted = tuple(
        replace(
            _either_side(s, told, swaps),
            within_10_probability=SWAP_SHARE * s.within_10_probability,
            trust=Trust.UNPROVEN,
            next_step=f"Sweep across {pairs} for a second peak: which line is this?",
        )
        for s in told.values()
    )
    because = (
        f"the marks step sideways {pairs}: they may be of two lines",
        *answer.identity_because,
        _SWAP_CHECKS,
    )
    return replace(
        answer,
        stations=doubted,
        identity=Identity.NOT_KNOWN,
        identity_because=because,
        unsettled=tuple((q.before.id, q.after.id) for q in swaps),
    )


def _either_side(
    s: StationEstimate, told: Mapping[tuple[str, str], StationEstimate], swaps: Sequence[Swapped]
) -> StationEstimate:
    """The answer at a station with bands that also hold the line if it is the one across the nearest steps.

    The named line may be the other one there: as far aside as the marks step, and as deep as there.
    """
    shift, depth, current = s.lateral_shift_m, s.depth_m, s.current_a
    before = [q for q in swaps if q.after.chainage_m <= s.chainage_m + 1e-9]
    after = [q for q in swaps if q.before.chainage_m >= s.chainage_m - 1e-9]
    for q, sign in [(q, -1.0) for q in before[-1:]] + [(q, 1.0) for q in after[:1]]:
        first = told[(q.before.source, q.before.id)]
        second = told[(q.after.source, q.after.id)]
        ahead_e = second.mark_easting_m - first.mark_easting_m
        ahead_n = second.mark_northing_m - first.mark_northing_m
        # the step is right of the route; the row's own right may look the other way
        right = math.radians(s.right_deg)
        aside = sign * math.copysign(q.step_m, ahead_e * math.sin(right) + ahead_n * math.cos(right))
        there = first if sign < 0.0 else second
        shift = Interval(shift.value, min(shift.low, shift.low + aside), max(shift.high, shift.high + aside))
        depth = _hull(depth, there.depth_m)
        current = _hull(current, there.current_a)
    return replace(s, lateral_shift_m=shift, depth_m=depth, current_a=current)


def _hull(here: Interval, there: Interval) -> Interval:
    """`here` with a band that reaches over `there` as well."""
    return Interval(here.value, min(here.low, there.low), max(here.high, there.high))


_SWAP_CHECKS = (
    "to settle it, cheapest first: stand between the two readings and sweep across for a second peak; "
    "read the direction of the current at both, if the receiver shows it; have the transmitter turned off "
    "for a moment, a signal that stays is not yours; go back to the connection and follow it again; "
    "read both at a second frequency"
)


def _swap_words(q: Swapped, lands: str | None, units: str) -> str:
    side = "right" if q.step_m > 0.0 else "left"
    said = [f"the marks step {spoken_length(abs(q.step_m), units)} to the {side} there"]
    for name, pair, speak in (
        ("the depth shown", q.depths_m, lambda v: spoken_length(v, units)),
        ("the current", q.currents_a, spoken_current),
    ):
        if pair is not None and abs(math.log(pair[1] / pair[0])) > CHANGED:
            said.append(f"{name} changes from {speak(pair[0])} to {speak(pair[1])}")
    words = ", ".join(said)
    if lands is not None:
        words += f". That is where {f'line {lands} lies' if lands else 'a second line is likely'}"
    return f"You may have swapped lines between readings {q.before.id} and {q.after.id}: {words}"


def _near_transmitter(setup: Setup, s: Station) -> bool:
    if setup.hookup is not Hookup.INDUCTION:
        return False
    if setup.transmitter_easting_m is None or setup.transmitter_northing_m is None:
        return False
    away = math.hypot(
        s.place.easting_m - setup.transmitter_easting_m, s.place.northing_m - setup.transmitter_northing_m
    )
    return away < NEAR_TRANSMITTER_M


def trust_of(line: Line, setup: Setup, s: Station, within: float) -> Trust:
    """How far the numbers at a station can be leaned on, with the caps for what is not modelled."""
    if within < LOOSE:
        return Trust.UNPROVEN
    if within < HOLDS or setup.hookup is Hookup.PASSIVE or _near_transmitter(setup, s):
        return Trust.LOOSE
    return Trust.HOLDS


def reasons_of(
    job: Job,
    line: Line,
    setup: Setup,
    s: Station,
    n: Numbers,
    i: int,
    depth: Interval,
    shift: tuple[float, float, float],
    trust: Trust,
    ready: Prepared,
) -> tuple[str, ...]:
    """The reasons for the answer at station `i`, the weightiest first."""
    units = job.display_units
    said: list[str] = []
    slip = likely_slip(s, n, i, depth, shift, ready, units)
    if slip is not None:
        said.append(slip)
    if s.repeat_of:
        said.append(
            f"The numbers are those of reading {s.repeat_of} to the last digit. Written down twice? "
            "They were left out here"
        )
    reading = s.reading
    if n.single[i] < 0.5:
        shown = reading.depth_m.value if reading is not None and reading.depth_m is not None else None
        where = _second_words(n, units)
        said.append(f"A second line bends the field here{where}")
        if shown is not None and abs(shown / depth.value - 1.0) > 0.05:
            said.append(
                f"The display showed {spoken_length(shown, units)}; that is not the depth of this line"
            )
    elif n.single[i] < 0.9:
        said.append("A second line nearby cannot be ruled out from what was read")
    elif _checked(s):
        said.append("What was taken here fits one line alone")
    if not _checked(s):
        said.append("Only peak and depth were read: nothing here would show a second line")
    if setup.hookup is Hookup.PASSIVE:
        said.append("Passive signal comes from several cores: a hint of where, not better than loose")
    elif _near_transmitter(setup, s):
        said.append(
            "Within 15 m of the transmitter its own field reaches the receiver: not better than loose"
        )
    if ready.legs.to_bend[i] < 3.0 * depth.value:
        said.append("Close to a bend the field is not that of a straight line: the band is wider")
    wide = trench_of(job, line)
    if wide is not None:
        others = ", ".join(x for t in job.trenches if line.id in t.lines for x in t.lines if x != line.id)
        corridor, rise = spoken_length(wide, units), spoken_length(p.TRENCH_RISE_M, units)
        said.append(
            f"Shares a trench with {others}: a corridor {corridor} wide, the centre of their signal here; "
            f"the top line may lie {rise} above it or more"
        )
    elif trust is not Trust.UNPROVEN:
        said.append("True only if nothing else lies in the same trench")
    return tuple(said)


def trench_of(job: Job, line: Line) -> float | None:
    """Width of the trench that a line shares with others [m], or None if it is not known to share one."""
    shared = [t for t in job.trenches if line.id in t.lines]
    return max((t.width_m or p.TRENCH_WIDTH_M for t in shared), default=None)


def _checked(s: Station) -> bool:
    r = s.reading
    if s.profile is not None:
        return True
    return r is not None and any(
        v is not None for v in (r.null_offset_m, r.half_left_m, r.half_right_m, r.raised_depth_m)
    )


def _second_words(n: Numbers, units: str) -> str:
    if not n.neighbours:
        return ", on which side is not known"
    best = max(n.neighbours, key=lambda q: q.probability)
    side = "right" if best.offset_m.value > 0 else "left"
    name = f" (line {best.is_line})" if best.is_line else ""
    return f", likely {spoken_length(abs(best.offset_m.value), units)} to the {side} going up the line{name}"
