"""A clearance check as JSON: `plumbmark-clearance/1`. Lengths in metres, bearings in degrees."""

from __future__ import annotations

import json
from typing import Any, Final

from plumbmark.model.clearance import (
    ClearanceAnswer,
    DigAnswer,
    Encounter,
    HoleAdvice,
    Ring,
    StretchAnswer,
    Zone,
)
from plumbmark.model.estimate import Interval

FORMAT: Final = "plumbmark-clearance/1"


def clearance_bytes(answer: ClearanceAnswer) -> bytes:
    """The answer as the bytes of a JSON file; all numbers are finite."""
    said = json.dumps(clearance_json(answer), allow_nan=False, ensure_ascii=False, separators=(",", ":"))
    return (said + "\n").encode()


def clearance_json(answer: ClearanceAnswer) -> dict[str, Any]:
    """The answer as plain values."""
    rule = answer.rule
    return {
        "format": FORMAT,
        "job": answer.job,
        "rule": {
            "name": rule.name,
            "title": rule.title,
            "distance_m": _round(rule.distance_m),
            "source": rule.source,
        },
        "asked_m": _round(answer.asked_m),
        "unanswered": list(answer.unanswered),
        "notes": list(answer.notes),
        "digs": [_dig(d) for d in answer.digs],
        "test_holes": [_hole(h) for h in answer.holes],
        "zones": [_zone(z) for z in answer.zones],
    }


def _round(value: float) -> float:
    return round(value, 4)


def _band(prefix: str, band: Interval | None) -> dict[str, float | None]:
    """A value and the ends of its band, as the answer of a solve writes them."""
    low, value, high = (None,) * 3 if band is None else map(_round, (band.low, band.value, band.high))
    return {f"{prefix}_m": value, f"{prefix}_low_m": low, f"{prefix}_high_m": high}


def _rings(rings: tuple[Ring, ...]) -> list[list[list[float]]]:
    return [[[round(e, 3), round(n, 3)] for e, n in ring] for ring in rings]


def _dig(dig: DigAnswer) -> dict[str, Any]:
    return {
        "dig": dig.dig,
        "demand": dig.demand.value,
        "because": list(dig.because),
        "stretches": [_stretch(s) for s in dig.stretches],
        "encounters": [_encounter(e) for e in dig.encounters],
    }


def _stretch(s: StretchAnswer) -> dict[str, Any]:
    return {
        "demand": s.demand.value,
        "names": list(s.names),
        "from_m": None if s.from_m is None else _round(s.from_m),
        "to_m": None if s.to_m is None else _round(s.to_m),
        "area_m2": _round(s.area_m2),
        "rings": _rings(s.rings),
    }


def _encounter(e: Encounter) -> dict[str, Any]:
    return {
        "met": e.met.value,
        "name": e.name,
        "shape": e.shape,
        "demand": e.demand.value,
        "from_chainage_m": _round(e.from_chainage_m),
        "to_chainage_m": _round(e.to_chainage_m),
        "easting_m": _round(e.easting_m),
        "northing_m": _round(e.northing_m),
        "chainage_m": _round(e.chainage_m),
        **_band("horizontal", e.horizontal_m),
        **_band("vertical", e.vertical_m),
        "asked_m": _round(e.asked_m),
        "asked_probability": round(e.asked_probability, 5),
        "strike_probability": round(e.strike_probability, 5),
        "floored": e.floored,
        "exposed": e.exposed,
        "because": list(e.because),
    }


def _hole(h: HoleAdvice) -> dict[str, Any]:
    return {
        "number": h.number,
        "line": h.line,
        "chainage_m": _round(h.chainage_m),
        "easting_m": _round(h.easting_m),
        "northing_m": _round(h.northing_m),
        "from_deg": round(h.from_deg, 1),
        **_band("lateral", h.lateral_m),
        **_band("depth_to_top", h.top_m),
        "settled": round(h.settled, 4),
        "words": list(h.words),
    }


def _zone(z: Zone) -> dict[str, Any]:
    return {
        "line": z.line,
        "diameter_m": _round(z.diameter_m),
        "diameter_said": z.diameter_said,
        "half_width_m": _round(z.half_width_m),
        "lawful": _rings(z.lawful),
        "honest": _rings(z.honest),
        "narrow": [[_round(a), _round(b)] for a, b in z.narrow],
    }
