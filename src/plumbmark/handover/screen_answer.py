"""The screen of a job's answer: the sentence at each place, what is asked, the one next step."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from plumbmark.handover import answer, words
from plumbmark.handover.moments import moment
from plumbmark.handover.screen_questions import TABLES, plain_reasons, questions_of
from plumbmark.inference.asking import NOTHING_LEFT, ask_next
from plumbmark.model.estimate import Interval, LineEstimate, Solution, StationEstimate, Trust
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Job, Signal
from plumbmark.model.reading import Reading
from plumbmark.model.screen_answer import (
    AnswerScreen,
    LineAnswer,
    PlaceAnswer,
    Question,
    TrustCount,
)
from plumbmark.model.screen_parts import Band, Go, JobState
from plumbmark.model.wire import Remark

#: What a reading sheet is opened at, for each action.
ASKS: Final = {"null": "null", "raise": "raise", "half points": "halves"}
_BUTTONS: Final = {
    "null": "Find the null at reading {}",
    "raise": "Raise the receiver at reading {}",
    "half points": "Find the half points at reading {}",
    "walk across": "Walk across at reading {}",
    "test hole": "Write down a test hole",
}
#: Below this chance a second line is told along the line, not at each place.
_SAID_HERE: Final = 0.5
_NEAR_M: Final = 0.5
_AS_FACED: Final = "Left and right are as you faced along the line when you took each reading."
FIRST: Final = Go("Take the first reading", "read")
ANOTHER: Final = Go("Take another reading", "read")


def answer_screen(job_id: str, job: Job | None, solution: Solution | None, state: JobState) -> AnswerScreen:
    """What is known of a job now.

    Parameters
    ----------
    job_id : str
    job : Job or None
        None where its files cannot be read.
    solution : Solution or None
        The newest there is, also where a newer one is being computed.
    state : JobState

    Returns
    -------
    AnswerScreen
    """
    lines: tuple[LineAnswer, ...] = ()
    questions: tuple[Question, ...] = questions_of(None, state)
    if job is not None and solution is not None:
        questions = questions_of(solution, state)
        lines = tuple(_line(job, line, state) for line in solution.lines)
    step, gain = _next_step(job, solution, state, lines)
    ends = job.ticket.expires_at if job is not None and job.ticket is not None else None
    warnings = answer.all_warnings(job, solution) if job is not None and solution is not None else []
    return AnswerScreen(
        job_id,
        job.title if job is not None else "",
        state.answered_at,
        ends,
        ends is not None and state.now >= ends,
        expiry_words(job, state),
        _headline(lines, counts_of(solution)),
        counts_of(solution),
        lines,
        questions,
        step,
        gain,
        tuple(_remarks(warnings)),
        answer.TRUST_MEANING,
        answer.CAUTION,
    )


def counts_of(solution: Solution | None) -> TrustCount:
    """How many places of a job hold, are loose, are unproven."""
    every = [s.trust for line in solution.lines for s in line.stations] if solution is not None else []
    return TrustCount(*(every.count(trust) for trust in Trust))


def counted(counts: TrustCount) -> str:
    """How many readings hold.

    Examples
    --------
    >>> counted(TrustCount(3, 0, 1)), counted(TrustCount(0, 1, 0))
    ('3 readings hold, 1 unproven', '1 reading is loose')
    """
    parts: list[str] = []
    for number, one, many in (
        (counts.holds, "holds", "hold"),
        (counts.loose, "is loose", "are loose"),
        (counts.unproven, "is unproven", "are unproven"),
    ):
        if number:
            verb = (one if number == 1 else many) if not parts else one.removeprefix("is ")
            parts.append(f"{words.count(number, 'reading') if not parts else number} {verb}")
    return ", ".join(parts)


def _headline(lines: tuple[LineAnswer, ...], counts: TrustCount) -> str:
    """The answer of the whole job in one breath; empty where there is none."""
    if len(lines) < 2:
        return "".join(line.headline for line in lines)
    return f"{len(lines)} lines: {counted(counts) or 'no place to solve'}."


def expiry_words(job: Job | None, state: JobState) -> str:
    """When an answer was computed, and what ends it.

    Parameters
    ----------
    job : Job or None
    state : JobState

    Returns
    -------
    str
        Empty where there is no answer.
    """
    if state.answered_at is None:
        return ""
    said = f"This answer is of {moment(state.answered_at, state.now)}."
    ends = job.ticket.expires_at if job is not None and job.ticket is not None else None
    changes = "when the ground or the lines change"
    if ends is None:
        return f"{said} It ends with the ticket (when that is was not written down), or {changes}."
    if state.now >= ends:
        return f"{said} It ended with the ticket, {moment(ends, state.now)}: read again on a new ticket."
    return f"{said} It ends with the ticket, {moment(ends, state.now)}, or {changes}."


def _remarks(findings: list[Finding]) -> list[Remark]:
    return [Remark(f.where, words.sentence(f.what)) for f in findings if f.severity is Severity.WARNING]


# -- lines and places -------------------------------------------------------------------------------------


def _line(job: Job, line: LineEstimate, state: JobState) -> LineAnswer:
    units = job.display_units
    toward = answer.towards(line)
    beside = [answer.second_line(n, units, toward) for n in line.neighbours]
    beside += [answer.current_event(e, line, units) for e in line.current_events]
    facing = answer.left_and_right(line)
    if any((TABLES[s.source], s.id) in state.places for s in line.stations):
        beside, facing = [], _AS_FACED
    readings = {r.id: r for r in job.readings if r.line == line.line}
    places = [
        _place(job, line, s, back, readings.get(s.id) if s.source == "reading" else None, state)
        for s, back in zip(line.stations, answer.faces_back(line), strict=True)
    ]
    return LineAnswer(
        line.line,
        answer.line_name(job, line.line),
        answer.headline(job, line),
        answer.what_to_paint(line, units) if line.stations else "",
        answer.how_deep(line, units),
        answer.which_line(line),
        line.identity,
        facing,
        tuple(beside),
        tuple(places),
    )


def _place(
    job: Job, line: LineEstimate, s: StationEstimate, back: bool, reading: Reading | None, state: JobState
) -> PlaceAnswer:
    units = job.display_units
    value, ends = words.current(s.current_a)
    step, said = place_step(job, s, reading, state.cannot)
    return PlaceAnswer(
        line.line,
        TABLES[s.source],
        s.id,
        answer.station_name(s),
        state.places.get((TABLES[s.source], s.id), ""),
        place_sentence(line, s, back, units),
        f"{words.depth(s.depth_m, units)}, {s.trust.value}",
        s.trust,
        _band(s.depth_m, units),
        _sideways(s.lateral_shift_m, units),
        f"{value} mA ({ends})" if reading is not None and reading.current_a is not None else "",
        words.chance(s.within_10_probability),
        plain_reasons(s, state),
        step,
        said,
    )


def place_sentence(line: LineEstimate, s: StationEstimate, back: bool, units: str) -> str:
    """Where to paint, how deep it is and what lies beside it, at one place.

    Parameters
    ----------
    line : LineEstimate
    s : StationEstimate
        One of its stations.
    back : bool
        Whether right at this station is left as one walks toward larger chainage.
    units : str
        ``"ft-in"`` or ``"m"``.

    Returns
    -------
    str
    """
    alone = replace(line, stations=(s,))
    said = [_where(alone, s, units), answer.how_deep(alone, units)]
    near = [
        n
        for n in line.neighbours
        if n.from_chainage_m - _NEAR_M <= s.chainage_m <= n.to_chainage_m + _NEAR_M
        and n.probability >= _SAID_HERE
    ]
    if near:
        best = max(near, key=lambda n: n.probability)
        offset = best.offset_m
        if back:
            offset = Interval(-offset.value, -offset.high, -offset.low)
        spot = words.paint(offset, units).replace("at the mark", "right over or under it")
        for side in ("right", "left"):
            spot = spot.replace(f" {side}", f" to the {side}") if spot.endswith(f" {side}") else spot
        whose = f" ({best.is_line})" if best.is_line else ""
        said.append(f"A second line{whose} is {words.likelihood(best.probability)} {spot}.")
    return " ".join(said)


def _where(alone: LineEstimate, s: StationEstimate, units: str) -> str:
    """Where to paint; where the band is wide, how far off the line could be."""
    off = s.lateral_shift_m
    band = words.sideways(off, units)
    if s.source == "side_reading" and not alone.unsettled:
        far = words.length(off.value, units, off.high - off.low)
        return f"It is {far} from where you stood, the way you pointed ({band.removesuffix(' right')})."
    paint = answer.what_to_paint(alone, units)
    if alone.unsettled or off.high - off.low <= answer.WIDE_M:
        return paint
    reach = f"he line could be {'at' if band == 'at the mark' else f'{band} of'} your mark."
    return f"Do not paint on this alone: t{reach}" if answer.says_nothing(s) else f"{paint} T{reach}"


def _band(interval: Interval, units: str) -> Band:
    low, high = words.ends(interval, units)
    said = words.length(interval.value, units, interval.high - interval.low)
    return Band(*_rounded(interval), said, low, high)


def _sideways(interval: Interval, units: str) -> Band:
    width = interval.high - interval.low

    def end(value: float) -> str:
        return words.paint(Interval(value, value - 0.5 * width, value + 0.5 * width), units)

    return Band(*_rounded(interval), words.paint(interval, units), end(interval.low), end(interval.high))


def _rounded(interval: Interval) -> tuple[float, float, float]:
    return round(interval.value, 3), round(interval.low, 3), round(interval.high, 3)


# -- what next --------------------------------------------------------------------------------------------


def place_step(
    job: Job, s: StationEstimate, reading: Reading | None, cannot: frozenset[str]
) -> tuple[Go | None, str]:
    """What to do next at one place, as a button and in words.

    Parameters
    ----------
    job : Job
    s : StationEstimate
    reading : Reading or None
        Its row, where it is a reading.
    cannot : frozenset of str
        Actions that the crew cannot do.

    Returns
    -------
    Go or None, str
        None where nothing more is asked for here.
    """
    if s.trust is Trust.HOLDS:
        return None, "Enough here, go on."
    by_sonde = reading is not None and any(
        x.signal is Signal.SONDE and x.id == reading.line for x in job.lines
    )
    if s.source == "side_reading" or by_sonde:
        if s.next_step.startswith("Only a test hole") and "test hole" in cannot:
            return None, NOTHING_LEFT
        sheet = "sonde" if by_sonde else "side"
        return Go(f"Go on at {answer.station_name(s)}", f"{sheet}/{s.id}"), words.sentence(s.next_step)
    if s.next_step.startswith("Sweep across"):  # a swap is to be settled first
        return Go("Settle which line this is", "which"), words.sentence(s.next_step)
    walked = s.source == "profile" or any(p.id == s.id and p.line == _line_of(reading) for p in job.profiles)
    action, said = ask_next(reading, walked, cannot)
    return (action_button(action, s.id) if action else None), said


def _line_of(reading: Reading | None) -> str | None:
    return reading.line if reading is not None else None


def action_button(action: str, key: str) -> Go:
    """The button that opens what an action needs.

    Examples
    --------
    >>> action_button("raise", "7")
    Go(words='Raise the receiver at reading 7', route='read/7/raise')
    """
    route = f"read/{key}/{ASKS[action]}" if action in ASKS else f"walk/{key}"
    return Go(_BUTTONS[action].format(key), "hole" if action == "test hole" else route)


def _next_step(
    job: Job | None, solution: Solution | None, state: JobState, lines: tuple[LineAnswer, ...]
) -> tuple[Go, str]:
    """The one thing to do, and what it does to the band."""
    if state.frozen is not None:
        return Go("The job is frozen: see the handover", "handover"), ""
    if job is None:
        return Go("See what could not be read", ""), ""
    if solution is None or not any(line.places for line in lines):
        return (ANOTHER if job.readings else FIRST), ""
    unsettled = next((line for line in solution.lines if line.unsettled), None)
    if unsettled is not None:
        before, after = unsettled.unsettled[0]
        said = f"Settle whether lines were swapped between readings {before} and {after}"
        return Go(said, f"which/{unsettled.line}"), ""
    step = solution.next_step
    if step is not None and step.reading is not None and step.action in _BUTTONS:
        place = next(
            (p for x in lines for p in x.places if p.line == step.line and p.key == step.reading), None
        )
        if step.action not in state.cannot:
            gain = ""
            if step.depth_band_m is not None and step.depth_band_after_m is not None:
                wide, narrow = (
                    words.length(x, job.display_units) for x in (step.depth_band_m, step.depth_band_after_m)
                )
                there = f"at {place.name}" if place else "there"
                gain = f"The band of depth {there} should shrink from {wide} to about {narrow}."
            return action_button(step.action, step.reading), gain
        if place is not None and place.next_step is not None:
            return place.next_step, ""
    elif step is None or step.action in _BUTTONS:
        asked = [p for x in lines for p in x.places if p.next_step is not None]
        worst = [p for trust in (Trust.UNPROVEN, Trust.LOOSE) for p in asked if p.trust is trust]
        if worst and worst[0].next_step is not None:
            return worst[0].next_step, ""
    return Go("Enough here: go on to the next thing to do", "guide"), ""
