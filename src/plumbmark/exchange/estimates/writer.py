"""A solution to JSON: `plumbmark-estimates/1`.

Lengths are written to a tenth of a millimetre, currents to six significant digits, chances to six
decimals. Each rounding is monotone, so that low, value and high stay in order.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any, Final

from plumbmark.base.errors import AnswerError
from plumbmark.model.estimate import (
    CurrentEvent,
    Interval,
    LineEstimate,
    Neighbour,
    NextStep,
    Solution,
    StationEstimate,
)
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Job

FORMAT: Final = "plumbmark-estimates/1"
_MA_PER_A: Final = 1e3


def estimates_json(solution: Solution, job: Job | None = None) -> dict[str, Any]:
    """The answer as plain values.

    Parameters
    ----------
    solution : Solution
    job : Job, optional
        The job it answers: what was said of its files goes among the warnings, unless it is there already.

    Returns
    -------
    dict
        Numbers are finite, lengths in metres, currents in mA RMS; `low` and `high` are the ends of the
        interval that holds the truth 19 times in 20.

    Raises
    ------
    AnswerError
        If a number is not finite or an interval is out of order.
    """
    return {
        "format": FORMAT,
        "job": solution.job,
        "lines": [_line(line) for line in solution.lines],
        "next_step": None if solution.next_step is None else _next_step(solution.next_step),
        "warnings": _warnings(job, solution),
    }


def estimates_text(solution: Solution, job: Job | None = None) -> str:
    """The answer as text of a JSON file. Parameters and errors are those of `estimates_json`."""
    return json.dumps(estimates_json(solution, job), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def estimates_bytes(solution: Solution, job: Job | None = None) -> bytes:
    """The same in UTF-8."""
    return estimates_text(solution, job).encode("utf-8")


def _line(line: LineEstimate) -> dict[str, Any]:
    return {
        "line": line.line,
        "identity": str(line.identity),
        "identity_because": list(line.identity_because),
        "stations": [_station(station) for station in line.stations],
        "neighbours": [_neighbour(neighbour) for neighbour in line.neighbours],
        "current_events": [_event(event) for event in line.current_events],
    }


def _station(station: StationEstimate) -> dict[str, Any]:
    where = f"{station.source} {station.id}"
    return {
        station.source: station.id,
        "chainage_m": _length(station.chainage_m, where),
        "easting_m": _length(station.easting_m, where),
        "northing_m": _length(station.northing_m, where),
        **_interval("lateral_shift_m", "lateral_", "_m", station.lateral_shift_m, where, _length),
        **_interval("depth_m", "depth_", "_m", station.depth_m, where, _length),
        **_interval("current_ma", "current_", "_ma", station.current_a, where, _current),
        "single_line_probability": _chance(station.single_line_probability, where),
        "within_10_probability": _chance(station.within_10_probability, where),
        "trust": str(station.trust),
        "because": list(station.because),
        "next_step": station.next_step,
    }


def _neighbour(neighbour: Neighbour) -> dict[str, Any]:
    where = "neighbour"
    return {
        "from_chainage_m": _length(neighbour.from_chainage_m, where),
        "to_chainage_m": _length(neighbour.to_chainage_m, where),
        **_interval("offset_m", "offset_", "_m", neighbour.offset_m, where, _length),
        "depth_m": _length(neighbour.depth_m, where),
        "current_ratio": _length(neighbour.current_ratio, where),
        "probability": _chance(neighbour.probability, where),
        "is_line": neighbour.is_line,
    }


def _event(event: CurrentEvent) -> dict[str, Any]:
    where = f"current event {event.kind}"
    return {
        "chainage_m": _length(event.chainage_m, where),
        "kind": event.kind,
        "change_db": _length(event.change_db, where),
        "probability": _chance(event.probability, where),
    }


def _next_step(step: NextStep) -> dict[str, Any]:
    lengths = ("raise_m", "at_easting_m", "at_northing_m", "depth_band_m", "depth_band_after_m")
    return {
        "action": step.action,
        "line": step.line,
        "reading": step.reading,
        **{
            name: None if (value := getattr(step, name)) is None else _length(value, "next step")
            for name in lengths
        },
        "words": step.words,
    }


def _warnings(job: Job | None, solution: Solution) -> list[dict[str, str]]:
    told: dict[Finding, None] = dict.fromkeys((*(job.findings if job else ()), *solution.warnings))
    return [
        {"where": finding.where, "what": finding.what}
        for finding in told
        if finding.severity is Severity.WARNING
    ]


def _interval(
    name: str,
    before: str,
    after: str,
    interval: Interval,
    where: str,
    rounded: Callable[[float, str], float],
) -> dict[str, float]:
    value, low, high = (rounded(v, where) for v in (interval.value, interval.low, interval.high))
    if not low <= value <= high:
        raise AnswerError(f"{where}: {name} {value} is not between {low} and {high}")
    return {name: value, f"{before}low{after}": low, f"{before}high{after}": high}


def _finite(value: float, where: str) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise AnswerError(f"{where}: {number} is not a finite number")
    return number


def _length(value: float, where: str) -> float:
    return round(_finite(value, where), 4) + 0.0  # no minus zero


def _current(value_a: float, where: str) -> float:
    return float(f"{_finite(value_a, where) * _MA_PER_A:.6g}") + 0.0


def _chance(value: float, where: str) -> float:
    number = _finite(value, where)
    if not 0.0 <= number <= 1.0:
        raise AnswerError(f"{where}: {number} is not a probability")
    return round(number, 6)
