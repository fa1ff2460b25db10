"""What the page's script draws from: numbers only, words stand in the page itself."""

from __future__ import annotations

import json
from typing import Any

from plumbmark.handover import answer, words
from plumbmark.handover.page_plan import View
from plumbmark.handover.page_svg import colour_class
from plumbmark.model.estimate import LineEstimate, Neighbour, Solution
from plumbmark.model.job import Job
from plumbmark.model.reading import Reading


def page_data(job: Job, solution: Solution, listed: answer.Listed, view: View) -> str:
    """JSON for the script, safe inside a `script` element.

    Returns
    -------
    str
        Lengths in metres and places in pixels of the plan, rounded to what a drawing can show.
    """
    readings = {(r.line, r.id): r for r in job.readings}
    texts: dict[str, int] = {}
    lines = [
        _line(job, line, keep, readings, texts, view)
        for line, keep in zip(solution.lines, listed, strict=True)
    ]
    data = {
        "units": job.display_units,
        "pxPerM": round(view.px_per_m, 4),
        "worst": _worst_row(solution, listed),
        "lines": lines,
        "texts": list(texts),
    }
    said = json.dumps(data, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return said.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _worst_row(solution: Solution, listed: answer.Listed) -> int:
    rows = [
        (s.within_10_probability, s.depth_m.low - s.depth_m.high)
        for line, keep in zip(solution.lines, listed, strict=True)
        for s in (line.stations[i] for i in keep)
    ]
    return min(range(len(rows)), key=rows.__getitem__) if rows else -1


def _line(
    job: Job,
    line: LineEstimate,
    keep: list[int],
    readings: dict[tuple[str, str], Reading],
    texts: dict[str, int],
    view: View,
) -> dict[str, Any]:
    described = next((x for x in job.lines if x.id == line.line), None)
    back = answer.faces_back(line)
    stations = []
    for i in keep:
        s = line.stations[i]
        x, y = view.at(s.mark_easting_m, s.mark_northing_m)
        reading = readings.get((line.line, s.id)) if s.source == "reading" else None
        null = reading.null_offset_m if reading else None
        shown = reading.depth_m if reading else None
        stations.append(
            {
                "id": s.id,
                "name": answer.station_name(s),
                "xy": [round(x, 2), round(y, 2)],
                "ch": round(s.chainage_m, 2),
                "shift": _three(s.lateral_shift_m.low, s.lateral_shift_m.value, s.lateral_shift_m.high),
                "depth": _three(s.depth_m.low, s.depth_m.value, s.depth_m.high),
                "ends": words.ends(s.depth_m, job.display_units),
                "null": None if null is None else round(null.value, 3),
                "shown": None if shown is None else round(shown.value, 3),
                "said": ""
                if shown is None
                else answer.shown(shown.value, shown.half_range, job.display_units),
                "back": back[i],
                "why": [texts.setdefault(words.sentence(t), len(texts)) for t in s.because if t.strip()],
                "next": texts.setdefault(words.sentence(s.next_step), len(texts)) if s.next_step else -1,
            }
        )
    utility = described.utility.value if described else None
    return {
        "name": answer.line_name(job, line.line),
        "colour": colour_class(utility),
        "diameter": described.outside_diameter_m if described else None,
        "second": [_second(job, n) for n in line.neighbours],
        "stations": stations,
    }


def _second(job: Job, neighbour: Neighbour) -> dict[str, Any]:
    utility = next((x.utility.value for x in job.lines if x.id == neighbour.is_line), None)
    offset = neighbour.offset_m
    whose = f" ({neighbour.is_line})" if neighbour.is_line else ""
    return {
        "from": round(neighbour.from_chainage_m, 3),
        "to": round(neighbour.to_chainage_m, 3),
        "offset": _three(offset.low, offset.value, offset.high),
        "depth": round(neighbour.depth_m, 3),
        "colour": colour_class(utility),
        "words": f"second line{whose}, {words.chance(neighbour.probability)}",
        "beside": words.length(offset.value, job.display_units, offset.high - offset.low),
    }


def _three(low: float, value: float, high: float) -> list[float]:
    return [round(low, 3), round(value, 3), round(high, 3)]
