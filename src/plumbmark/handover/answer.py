"""The answer in sentences, shared by the terminal and the picture page."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from plumbmark.base.spoken import MONTHS
from plumbmark.handover import words
from plumbmark.model.estimate import (
    CurrentEvent,
    Identity,
    Interval,
    LineEstimate,
    Neighbour,
    Solution,
    StationEstimate,
    Trust,
)
from plumbmark.model.finding import Finding
from plumbmark.model.job import Job, Utility

CAUTION = (
    "A depth from the surface is an estimate, never a licence to dig by machine. The tolerance zone stays as "
    "wide as the law makes it: in it, hand dig or vacuum until the line is seen. One-call notices and local "
    "law apply, and the instructions of the line's owner come before anything said here."
)
TRUST_MEANING = (
    "Holds: the paint is within 4 in (10 cm) and the depth within a tenth of the truth at least 97 times in "
    "100. Loose: at least 6 times in 10. Unproven: less often than that. Bands hold the truth 19 times in 20."
)

Listed = list[list[int]]
"""For each line the indices of the stations that are listed one by one."""

# A stroke of paint is about 3 cm wide (common ground practice of Canada, 3-8); shifts below it move nothing.
_STROKE_M = 0.03
#: A band of the place wider than this is told with it (2 ft; no source).
WIDE_M = 0.6
_NOUN = {"reading": "reading", "profile": "walk across", "side_reading": "reading from the side"}
_COUNTED = {Trust.HOLDS: ("holds", "hold"), Trust.LOOSE: ("is loose", "are loose")}
_COUNTED[Trust.UNPROVEN] = ("is unproven", "are unproven")


def station_name(station: StationEstimate) -> str:
    """What people call a station: "reading r07", "walk across p2"."""
    return f"{_NOUN.get(station.source, station.source)} {station.id}"


def line_name(job: Job, line_id: str) -> str:
    """A line with what it carries: "E1, electric"."""
    for line in job.lines:
        if line.id == line_id:
            carries = "utility unknown" if line.utility is Utility.UNKNOWN else line.utility.value
            return f"{line_id}, {carries}"
    return line_id


def is_invented(job: Job) -> bool:
    """Whether the job says of itself that it never happened."""
    return "invented" in f"{job.title} {job.id}".lower()


def taken_on(job: Job) -> str:
    """When the readings were taken, empty where nobody wrote it down."""
    days = sorted({r.taken_at.date() for r in job.readings if r.taken_at is not None})
    if not days:
        return ""
    said = [f"{day.day} {MONTHS[day.month - 1]} {day.year}" for day in days]
    return f"Read on {said[0]}." if len(days) == 1 else f"Read from {said[0]} to {said[-1]}."


def worst(line: LineEstimate) -> StationEstimate | None:
    """The station that can be leaned on least; of equals, the one with the widest band of depth."""
    if not line.stations:
        return None
    return min(line.stations, key=lambda s: (s.within_10_probability, s.depth_m.low - s.depth_m.high))


def all_warnings(job: Job, solution: Solution) -> list[Finding]:
    """What the reader and the solver remarked, each once."""
    return list(dict.fromkeys((*job.findings, *solution.warnings)))


def listed_stations(solution: Solution, most: int) -> Listed:
    """Which stations are listed one by one: all, or those leaned on least and an even choice of the rest."""
    every = [(k, i) for k, line in enumerate(solution.lines) for i in range(len(line.stations))]
    if len(every) > most:
        doubt = sorted(every, key=lambda at: solution.lines[at[0]].stations[at[1]].within_10_probability)
        chosen = set(doubt[: most // 2])
        rest = [at for at in every if at not in chosen]
        chosen.update(rest[i * len(rest) // (most - most // 2)] for i in range(most - most // 2))
        every = sorted(chosen)
    listed: Listed = [[] for _ in solution.lines]
    for k, i in every:
        listed[k].append(i)
    return listed


def left_out(listed: int, total: int) -> str:
    """That not all stations are listed, and where the others are."""
    return (
        f"{listed:,} of {total:,} places are listed: those that can be leaned on least, and an even choice "
        "of the others. The file of numbers (--json) has all of them."
    )


def headline(job: Job, line: LineEstimate) -> str:
    """The answer for a line, in one breath."""
    name = line_name(job, line.line)
    if not line.stations:
        return f"{name}: no place to solve."
    total = len(line.stations)
    number = {trust: sum(s.trust == trust for s in line.stations) for trust in Trust}
    if total == 1:
        only = line.stations[0]
        return f"{name}: {station_name(only)} {_COUNTED[only.trust][0]}."
    noun = "readings" if all(s.source == "reading" for s in line.stations) else "places"
    for trust in Trust:
        if number[trust] == total:
            every = f"both {noun}" if total == 2 else f"all {total:,} {noun}"
            return f"{name}: {every} {_COUNTED[trust][1]}."
    parts = [
        f"{number[trust]:,}{f' of {total:,} {noun}' if i == 0 else ''} {_COUNTED[trust][number[trust] != 1]}"
        for i, trust in enumerate(t for t in Trust if number[t])
    ]
    return f"{name}: {', '.join(parts)}."


def says_nothing(s: StationEstimate) -> bool:
    """Whether a reading says too little of where the line is to paint on it alone."""
    shift = s.lateral_shift_m
    return s.trust is Trust.UNPROVEN and shift.high - shift.low > WIDE_M


def what_to_paint(line: LineEstimate, units: str) -> str:
    """How far the paint moves, most at which reading; nothing of that where lines may have been swapped."""
    if line.unsettled:
        pairs = " and ".join(f"between readings {a} and {b}" for a, b in line.unsettled)
        return f"You may have swapped lines {pairs}. Settle that before any more paint."
    total = len(line.stations)
    told = [s for s in line.stations if total == 1 or not says_nothing(s)]
    if not told:
        return "Do not paint on these readings alone: at none of them is it known where the line is."
    most = max(told, key=lambda s: abs(s.lateral_shift_m.value))
    left = total - len(told)
    rest = f" Do not paint on the reading alone at {left:,} of {total:,} places." if left else ""
    # in a wide band a shift may round to none
    moves = [
        s
        for s in told
        if abs(s.lateral_shift_m.value) > _STROKE_M and words.paint(s.lateral_shift_m, units) != "at the mark"
    ]
    if not moves:
        off = words.length(most.lateral_shift_m.value, units)
        within = "" if off.startswith("0 ") else f", to within {off}"
        return "The paint belongs on your mark" + ("." if total == 1 else f"s{within}.") + rest
    most = max(moves, key=lambda s: abs(s.lateral_shift_m.value))
    where = words.paint(most.lateral_shift_m, units)
    if total == 1:
        return f"Paint {where} of your mark."
    if len(moves) == 1:
        return f"Move the paint at {station_name(most)} alone: {where}.{rest}"
    every = "both places" if total == 2 else f"all {total:,} places"
    places = every if len(moves) == total else f"{len(moves):,} of {total:,} places"
    return f"Move the paint at {places}, most at {station_name(most)}: {where}.{rest}"


def how_deep(line: LineEstimate, units: str) -> str:
    """The depths along a line and how shallow the band comes."""
    if not line.stations:
        return ""
    if len(line.stations) == 1:
        depth = line.stations[0].depth_m
        value = words.length(depth.value, units, depth.high - depth.low)
        return f"{value[0].upper()}{value[1:]} to the middle of it, could be {words.band(depth, units)}."
    # One hopeless place does not blur the others.
    wide = sorted(s.depth_m.high - s.depth_m.low for s in line.stations)[len(line.stations) // 2]
    values = [s.depth_m.value for s in line.stations]
    low, high = (words.length(v, units, wide) for v in (min(values), max(values)))
    span = low if low == high else f"{low} to {high.removeprefix('about ')}"
    shallow = min(line.stations, key=lambda s: s.depth_m.low)
    deep = max(line.stations, key=lambda s: s.depth_m.high)
    top, bottom = words.ends(shallow.depth_m, units)[0], words.ends(deep.depth_m, units)[1]
    top = "the ground" if float(top.split()[0]) == 0 else top
    return (
        f"The middle of it is {span} down. The band comes up to {top} at {station_name(shallow)} and goes "
        f"down to {bottom} at {station_name(deep)}."
    )


def which_line(line: LineEstimate) -> str:
    """Identity and what it rests on."""
    said = {Identity.PROVEN: "Proven.", Identity.LIKELY: "Likely.", Identity.NOT_KNOWN: "Not known."}
    return " ".join(["Which line?", said[line.identity], *map(words.sentence, line.identity_because)])


def right_of_travel(line: LineEstimate) -> list[float]:
    """Bearing of the right-hand side at each station, walking toward larger chainage [deg]."""
    stations = line.stations
    rights: list[float] = []
    for i, station in enumerate(stations):
        before, after = stations[max(i - 1, 0)], stations[min(i + 1, len(stations) - 1)]
        east, north = after.easting_m - before.easting_m, after.northing_m - before.northing_m
        if math.hypot(east, north) < 1e-6:
            rights.append(station.right_deg)
        else:
            rights.append((math.degrees(math.atan2(east, north)) + 90.0) % 360.0)
    return rights


def faces_back(line: LineEstimate) -> list[bool]:
    """Whether a station's own right is the left of a walk toward larger chainage."""
    return [
        math.cos(math.radians(station.right_deg - right)) < 0
        for station, right in zip(line.stations, right_of_travel(line), strict=True)
    ]


def left_and_right(line: LineEstimate) -> str:
    """Which way one faces when the answer says left or right."""
    stations = line.stations
    if not stations:
        return ""
    if len(stations) == 1:
        facing = round(stations[0].right_deg - 90.0) % 360
        return f"Left and right are as you face along the line, {facing} degrees from grid north."
    back = faces_back(line)
    first, last = station_name(stations[0]), station_name(stations[-1])
    if all(back):
        return f"Left and right are as you walk from {last} toward {first}."
    text = f"Left and right are as you walk from {first} toward {last}"
    if any(back):
        turned = [s.id for s, b in zip(stations, back, strict=True) if b]
        named = words.listing(turned, [s.id for s in stations])
        text += f"; at {named} as you face the other way, where the written bearing points"
    return text + "."


def second_line(neighbour: Neighbour, units: str, towards: str) -> str:
    """A second line in a sentence; `towards` says which way one walks."""
    offset = neighbour.offset_m
    where = words.paint(offset, units).replace("at the mark", "right over or under it")
    side = where.replace(" right", " to the right").replace(" left", " to the left")
    if where.startswith("right over"):
        side = where
    # Its depth has no band of its own: told by the half foot or the decimetre.
    deep = words.length(neighbour.depth_m, units, 0.7).removeprefix("about ")
    strength = max(0.1, round(abs(neighbour.current_ratio), 1))
    way = "the other way" if neighbour.current_ratio < 0 else "the same way"
    text = (
        f"A second line is {words.likelihood(neighbour.probability)} {side} "
        f"({words.sideways(offset, units, 'right over it')}), from "
        f"{words.along(neighbour.from_chainage_m, units)} to {words.along(neighbour.to_chainage_m, units)} "
        f"along{towards}, about {deep} deep, with about {100 * strength:.0f} % of the current, {way}: "
        f"{words.chance(neighbour.probability)}."
    )
    if neighbour.is_line is not None:
        text += f" It is taken to be {neighbour.is_line}."
    return text


def towards(line: LineEstimate) -> str:
    """Phrase for the direction of increasing chainage; empty for a lone station."""
    if len(line.stations) < 2:
        return ""
    return f" as you walk from {station_name(line.stations[0])} toward {station_name(line.stations[-1])}"


def current_event(event: CurrentEvent, line: LineEstimate, units: str) -> str:
    """A change of the current in a sentence."""
    before = [s.id for s in line.stations if s.chainage_m <= event.chainage_m]
    after = [s.id for s in line.stations if s.chainage_m > event.chainage_m]
    between = f", between {before[-1]} and {after[0]}," if before and after else ""
    ratio = 10 ** (event.change_db / 20)
    size = f"{100 * ratio:.0f} %" if ratio < 1.5 else f"{ratio:.1f} times"
    verb = {"drop": f"drops to {size} of what it was", "rise": f"rises to {size} of what it was"}.get(
        event.kind, "turns round" if event.kind == "reversal" else event.kind
    )
    verb += f" under the hook-up {event.setup}" if event.setup else ""
    where, odds = words.along(event.chainage_m, units), words.chance(event.probability)
    return f"At {where} along{between} the current {verb}: {odds}."


def grouped(
    line: LineEstimate,
    remarks: Callable[[StationEstimate], Iterable[str]],
    stations: Sequence[StationEstimate] | None = None,
) -> list[tuple[str, tuple[str, ...]]]:
    """Remarks of stations, the same remarks together.

    Parameters
    ----------
    line : LineEstimate
    remarks : callable
        The remarks of a station.
    stations : sequence of StationEstimate, optional
        Those of the line that are asked; all where not given.

    Returns
    -------
    list of (str, tuple of str)
        Which stations, in words, and the sentences that all of them share.
    """
    who: dict[str, list[StationEstimate]] = {}
    for station in line.stations if stations is None else stations:
        for text in dict.fromkeys(words.sentence(text) for text in remarks(station)):
            if text:
                who.setdefault(text, []).append(station)
    groups: dict[tuple[str, ...], tuple[list[StationEstimate], list[str]]] = {}
    for text, members in who.items():
        key = tuple(s.id for s in members)
        groups.setdefault(key, (members, []))[1].append(text)
    order = [s.id for s in line.stations]
    return [(_group_name(members, order), tuple(said)) for members, said in groups.values()]


def _group_name(stations: Sequence[StationEstimate], order: Sequence[str]) -> str:
    if len(stations) == len(order) > 1:
        return "Everywhere"
    if len(stations) == 1:
        name = station_name(stations[0])
        return name[0].upper() + name[1:]
    same = {s.source for s in stations}
    noun = "Readings" if same == {"reading"} else "Places"
    return f"{noun} {words.listing([s.id for s in stations], order)}"


def shown(value: float | None, half_range: float, units: str) -> str:
    """A length as somebody wrote it down: a number, a range, or nothing."""
    if value is None:
        return ""
    if half_range > 0:
        return words.band(Interval(value, value - half_range, value + half_range), units)
    return words.length(value, units)
