"""A clearance check in sentences, shared by the terminal and the report."""

from __future__ import annotations

import math
from typing import Final

from plumbmark.base.units import FOOT_M
from plumbmark.handover import words
from plumbmark.handover.tape import place_words
from plumbmark.model.clearance import (
    ClearanceAnswer,
    Demand,
    DigAnswer,
    Encounter,
    HoleAdvice,
    Met,
    StretchAnswer,
    Zone,
)
from plumbmark.model.estimate import Interval
from plumbmark.model.job import Job
from plumbmark.model.record import DigKind

NO_MACHINE: Final = (
    "Nothing here permits a machine inside a tolerance zone. In it, hand dig or vacuum until the line is "
    "seen. Law, one-call notices and the owner's instructions come first; a wider zone of theirs holds."
)
LEAST_SAID: Final = "1 in 100 is the least that is said of what nobody has seen, however small the figure is."
MINIMUM: Final = (
    "Test holes that law, owner or contract ask for come first; these come on top. Outside the band means "
    "stop."
)
_SMALL_M2: Final = 0.25  # scraps of ground between two answers are not listed
_MEANS: Final = {
    Demand.TEST_HOLE: "see the line in a test hole before anything else is dug here",
    Demand.HAND_DIG: "by hand or vacuum only",
    Demand.NOT_KNOWN: "no answer: find out first",
    Demand.NOTHING: "and the questions above stay open here",
}


def rule_words(job: Job, answer: ClearanceAnswer) -> str:
    """Which zone was taken, and where it comes from."""
    rule, units = answer.rule, job.display_units
    note = f" {rule.note}" if rule.note else ""
    return (
        f"Zone taken: {rule.title} ({rule.name}): {words.length(rule.distance_m, units)} from the outside of "
        f"a line on each side. Source: {rule.source}.{note} Separation asked for: "
        f"{words.length(answer.asked_m, units)}."
    )


def dig_name(job: Job, dig_id: str) -> str:
    """A dig as people call it: "trench drain, 2 ft deep"."""
    dig = next(d for d in job.digs if d.id == dig_id)
    if dig.depth_m is not None:
        return f"{dig.kind.value} {dig.id}, {words.length(dig.depth_m, job.display_units)} deep"
    if dig.depths_m:
        low, high = (words.length(v, job.display_units) for v in (min(dig.depths_m), max(dig.depths_m)))
        return f"{dig.kind.value} {dig.id}, {low} to {high} deep"
    return f"{dig.kind.value} {dig.id}, depth not given"


def dig_headline(job: Job, answer: DigAnswer) -> str:
    """The answer for a dig in one breath."""
    name = dig_name(job, answer.dig)
    also = sorted(
        {s.demand for s in answer.stretches} - {answer.demand, Demand.NOTHING}, key=lambda d: -d.rank
    )
    more = f" In parts of it: {', '.join(d.value for d in also)}." if also else ""
    return f"{name[0].upper()}{name[1:]}: {answer.demand.value}.{more}"


def stretch_words(job: Job, stretch: StretchAnswer) -> str:
    """A part of a dig and what it demands."""
    units = job.display_units
    dig = next(d for d in job.digs if d.id == stretch.dig)
    on_account = f" ({', '.join(stretch.names)})" if stretch.names else ""
    if dig.kind is DigKind.EXCAVATION or stretch.from_m is None or stretch.to_m is None:
        ring = stretch.rings[0]
        middle = (
            sum(p[0] for p in ring[:-1]) / (len(ring) - 1),
            sum(p[1] for p in ring[:-1]) / (len(ring) - 1),
        )
        where = f"{area_words(stretch.area_m2, units)} about {place_words(job, *middle)}"
    else:
        where = f"From {words.length(stretch.from_m, units)} to {words.length(stretch.to_m, units)} along"
    return f"{where}: {stretch.demand.value}{on_account}, {_MEANS[stretch.demand]}."


def listed(answer: DigAnswer) -> list[StretchAnswer]:
    """Parts of a dig that are large enough to be listed."""
    return [s for s in answer.stretches if s.area_m2 >= _SMALL_M2 or s.demand.rank > Demand.NOT_KNOWN.rank]


def area_words(area_m2: float, units: str) -> str:
    """An area, in square feet or metres.

    Examples
    --------
    >>> area_words(4.0, "ft-in"), area_words(4.0, "m")
    ('43 sq ft', '4.0 square metres')
    """
    if units == "ft-in":
        return f"{area_m2 / FOOT_M**2:,.0f} sq ft"
    return f"{area_m2:,.1f} square metres"


def odds(probability: float, exposed: bool = False) -> str:
    """A chance of harm. Never under 1 in 100 for what nobody saw; seen by eye, down to 1 in 1,000.

    Examples
    --------
    >>> odds(0.4), odds(0.014), odds(0.01), odds(0.004, exposed=True), odds(1e-5, exposed=True)
    ('about 4 in 10', 'about 1 in 70', 'about 1 in 100', 'about 1 in 250', 'less than 1 in 1,000')
    """
    if probability >= 0.05:
        return words.chance(probability)
    if probability < 0.001 and exposed:
        return "less than 1 in 1,000"
    one_in = 1.0 / max(probability, 0.001 if exposed else 0.01)
    step = 10.0 ** math.floor(math.log10(one_in)) / (10.0 if one_in < 30 else 2.0)
    return f"about 1 in {round(one_in / step) * step:,.0f}"


def horizontal_words(encounter: Encounter, units: str) -> str:
    """How near in plan."""
    gap = encounter.horizontal_m
    if gap.value <= 0.0:
        how = {"parallel": "runs along in it", "crossing": "runs under or through it"}
        said = how.get(encounter.shape, "may reach into it")
        if gap.high > 0.0:
            said += f", or passes it by up to {words.ends(Interval(0, 0, gap.high), units)[1]}"
        return said
    low, high = words.ends(Interval(gap.value, max(gap.low, 0.0), gap.high), units)
    if gap.low <= 0.0:
        return f"can reach into it, or lie up to {high} from it"
    return f"{low} to {high} from it in plan"


def vertical_words(encounter: Encounter, kind: DigKind, units: str) -> str:
    """How near in depth, for a line under or through the dig; empty where that is not known."""
    gap = encounter.vertical_m
    if gap is None:
        return ""
    if kind is DigKind.BORE:
        if gap.high <= 0.0:
            return "the two meet in depth"
        low, high = words.ends(Interval(gap.value, max(gap.low, 0.0), gap.high), units)
        return f"{'0' if gap.low <= 0.0 else low} to {high} between the two in depth"
    if gap.low >= 0.0:
        low, high = words.ends(gap, units)
        return f"its top {low} to {high} below the bottom of the dig"
    above = words.ends(Interval(-gap.value, max(-gap.high, 0.0), -gap.low), units)[1]
    if gap.high <= 0.0:
        return f"its top up to {above} above the bottom of the dig: in the dig"
    return (
        f"its top anywhere from {above} above the bottom of the dig to "
        f"{words.ends(Interval(gap.value, 0.0, gap.high), units)[1]} below it"
    )


def encounter_lines(job: Job, encounter: Encounter) -> list[str]:
    """An encounter: what is met, how near, with which odds, and why that is demanded."""
    units = job.display_units
    kind = next(d.kind for d in job.digs if d.id == encounter.dig)
    name = {
        Met.LINE: f"Line {encounter.name}",
        Met.RECORD: f"Record {encounter.name}",
        Met.SECOND_LINE: f"A second line {encounter.name}",
    }[encounter.met]
    where = place_words(job, encounter.easting_m, encounter.northing_m)
    near = "; ".join(
        t for t in (horizontal_words(encounter, units), vertical_words(encounter, kind, units)) if t
    )
    lines = [
        f"{name}: {encounter.demand.value}. Nearest at {where}.",
        f"It {near}, 19 times in 20." if encounter.met is not Met.SECOND_LINE else f"It {near}.",
        chances(encounter, units),
    ]
    return lines + [words.sentence(text) for text in encounter.because]


def chances(encounter: Encounter, units: str) -> str:
    """Odds that it is struck and that the dig comes too near; in plan alone where no depth is known."""
    strike, less = (
        odds(p, encounter.exposed) for p in (encounter.strike_probability, encounter.asked_probability)
    )
    asked = words.length(encounter.asked_m, units)
    if encounter.vertical_m is None:
        return f"In the way in plan: {strike}. Closer than {asked} in plan: {less}."
    return f"Struck if dug blindly as drawn: {strike}. Closer than {asked}: {less}."


def zone_words(job: Job, zone: Zone) -> str:
    """A zone: how wide, with which diameter, and where it is narrower than what is known."""
    units = job.display_units
    said = (
        f"{zone.line}: {words.length(zone.half_width_m, units)} each side of the mark; diameter "
        f"{words.length(zone.diameter_m, units)}, {zone.diameter_said}."
    )
    if zone.narrow:
        spans = " and ".join(
            f"{words.along(a, units)} to {words.along(b, units)}" if b - a > 0.3 else words.along(a, units)
            for a, b in zone.narrow[:6]
        )
        more = f" and {len(zone.narrow) - 6} more places" if len(zone.narrow) > 6 else ""
        said += f" At {spans} along{more} the lawful zone is narrower than what is known: the line can "
        said += "lie outside it."
    return said


def hole_lines(job: Job, hole: HoleAdvice) -> list[str]:
    """A test hole: where, and what to do."""
    where = place_words(job, hole.easting_m, hole.northing_m)
    head = (
        f"{hole.number}. {hole.line} at {words.along(hole.chainage_m, job.display_units)} along it: {where}."
    )
    return [head, *(words.sentence(text) for text in hole.words)]
