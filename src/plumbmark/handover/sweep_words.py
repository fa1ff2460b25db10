"""A sweep in sentences, shared by the terminal and the picture page."""

from __future__ import annotations

from collections.abc import Iterable

from plumbmark.base.spoken import listed, spoken_area, spoken_current, spoken_length
from plumbmark.handover import words
from plumbmark.model.sweep import Gap, MethodSweep, Round, SweepAnswer, Walk

NOT_NOTHING = (
    '"Looked, no signal" is a fact about current, not about the ground: it never means that nothing is '
    "there. "
    "In the tolerance zone of anything known, and wherever something may lie that no sweep finds, hand dig "
    "or "
    "vacuum."
)
SWEPT_MEANING = (
    "Swept: a line through the spot, whichever way it runs, is heard at least half as strong as from "
    "straight "
    "above it."
)
_MOST = 12
#: Whether passes were walked -> what no signal does, and what it does not.
RULES = {True: ("rules out", "does not rule out"), False: ("would rule out", "would not rule out")}


def headline(answer: SweepAnswer, units: str) -> str:
    """The answer in one or two sentences."""
    if answer.record is None:
        walks = answer.planned[0].walks
        far = words.along(sum(w.length_m for w in walks), units)
        by = listed(s.search.method.words for s in answer.planned)
        return f"Not swept yet. Walk {words.count(len(walks), 'pass', 'passes')}, {far} in all, by {by}."
    if answer.record.unexplained:
        first = answer.record.unexplained[0]
        return f"Pass {first} met a signal that has no mark. Trace it and mark it before anything else."
    gaps = [gap for sweep in answer.walked for gap in sweep.gaps]
    missing = listed(m.words for m in answer.record.missing)
    if gaps:
        worst = max(answer.walked, key=lambda s: len(s.gaps))
        left = spoken_area(worst.area_m2 - worst.swept_m2, units)
        more = listed(
            f"{words.count(len(s.further), 'more pass', 'more passes')} by {s.search.method.words}"
            for s in answer.walked
            if s.further
        )
        rest = f" Nobody searched by {missing} yet." if missing else ""
        where = "in the dig" if any(g.in_dig for g in gaps) else "beside the dig"
        walk = f" Walk {more}." if more else ""
        return f"The sweep has gaps {where}: {left}.{walk}{rest}"
    if missing:
        return f"Swept without gaps, and nobody searched by {missing} yet."
    if answer.record.not_said:
        return "Swept without gaps, and not every pass says whether a signal was met."
    return "Swept without gaps, and every signal met has its mark. That does not mean that nothing is there."


def method_row(sweep: MethodSweep, units: str) -> tuple[str, ...]:
    """Method, passes, ground swept of all, how often a line would be noticed."""
    return (
        sweep.search.method.words,
        f"{len(sweep.walks):,}",
        _of_all(sweep.swept_m2, sweep.area_m2, units),
        words.chance(sweep.mean_chance),
        words.chance(sweep.best_chance),
    )


def _of_all(swept_m2: float, area_m2: float, units: str) -> str:
    whole = spoken_area(area_m2, units)
    left = area_m2 - swept_m2
    if left <= 0.0:
        return f"all {whole}"
    return f"none of {whole}" if swept_m2 <= 0.0 else f"all but {_number(left, units)} of {whole}"


def _number(area_m2: float, units: str) -> str:
    return spoken_area(area_m2, units).removesuffix(" square feet").removesuffix(" square metres")


HEAD = ("searched by", "passes", "swept", "noticed", "at best")
NOTICED_MEANING = (
    "Noticed: so often a line that carries what such lines carry would be noticed, over all directions and "
    "depths it may have; no sweep does better than from straight above."
)


def gap_sentence(gap: Gap, units: str) -> str:
    """One gap: where, how large, what would be missed there."""
    where = "in the dig" if gap.in_dig else "beside the dig"
    lines = "of most directions" if gap.missed_deg is None else f"running {way(gap.missed_deg)}"
    if gap.least.current_a is None:
        why = f"lines {lines} would be missed"
    else:
        deep = spoken_length(gap.least.depth_m, units)
        why = f"a line {lines}, {deep} deep, would have to carry {spoken_current(gap.least.current_a)}"
    return f"Gap {gap.name}, {where}, {spoken_area(gap.area_m2, units)} about {gap.where}: {why}."


def way(bearing_deg: float) -> str:
    """A direction that may be taken either way.

    Examples
    --------
    >>> way(20.0), way(95.0)
    ('north to south', 'east to west')
    """
    names = ("north to south", "north-east to south-west", "east to west", "south-east to north-west")
    return names[round(bearing_deg / 45.0) % 4]


def walk_sentence(number: int, walk: Walk, units: str) -> str:
    """One pass to be walked."""
    return f"{number}. {walk.where[0].upper()}{walk.where[1:]}, {spoken_length(walk.length_m, units)}."


def gap_lists(answer: SweepAnswer, units: str) -> list[tuple[str, list[str]]]:
    """Gaps under the methods that leave them, methods with the same gaps together."""
    return _shared(
        [(s, tuple(gap_sentence(gap, units) for gap in s.gaps)) for s in answer.walked if s.gaps], "gap"
    )


def further_lists(answer: SweepAnswer, units: str) -> list[tuple[str, list[str]]]:
    """Passes that are still to be walked, under the methods that need them."""
    need = [(s, s.further) for s in answer.walked if s.further]
    done = {s.search.method for s in answer.walked}
    need += [(s, s.walks) for s in answer.planned if s.search.method not in done]
    return _shared(
        [(s, tuple(walk_sentence(i, w, units) for i, w in enumerate(walks, 1))) for s, walks in need], "pass"
    )


def _shared(lists: Iterable[tuple[MethodSweep, tuple[str, ...]]], noun: str) -> list[tuple[str, list[str]]]:
    """Equal lists once, under all their methods."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for sweep, said in lists:
        groups.setdefault(said, []).append(sweep.search.method.words)
    found = []
    for said, methods in groups.items():
        shown = list(said[:_MOST])
        if len(said) > _MOST:
            shown.append(f"And {len(said) - _MOST:,} more, in the file of numbers (--json).")
        by = listed(methods)
        plural = "passes" if noun == "pass" else None
        found.append((f"{by[0].upper()}{by[1:]}: {words.count(len(said), noun, plural)}", shown))
    return found


def round_sentence(once: Round, units: str) -> str:
    """The last sweep, round a dig."""
    return (
        f"Once the marks are down, walk once round dig {once.dig}, {spoken_length(once.off_m, units)} off "
        "its edge "
        f"and facing the way you walk ({spoken_length(once.walk.length_m, units)}). A line that enters the "
        "dig "
        f"crosses that round; {words.chance(once.share)} are heard at least half as strong as from "
        "straight above. "
        "Every signal met must have its mark, and every mark its signal."
    )
