"""Marks as JSON: `plumbmark-marks/1`. Lengths in metres, bearings in degrees."""

from __future__ import annotations

import json
from typing import Any, Final

from plumbmark.model.job import Job
from plumbmark.model.mark import Mark, MarkPlan, PaintedMark

FORMAT: Final = "plumbmark-marks/1"


def marks_bytes(job: Job, plan: MarkPlan) -> bytes:
    """What to paint, and what was painted, as the bytes of a JSON file."""
    said = {
        "format": FORMAT,
        "job": plan.job,
        "spacing_m": plan.spacing_m,
        "computed": [_mark(m) for m in plan.marks],
        "as_painted": [_painted(m) for m in job.marks],
        "differences": [
            {
                "mark": d.mark,
                "line": d.line,
                "chainage_m": round(d.chainage_m, 4),
                "beside_m": round(d.beside_m, 4),
                "band_low_m": round(d.low_m, 4),
                "band_high_m": round(d.high_m, 4),
                "in_band": d.in_band,
            }
            for d in plan.differences
        ],
        "remarks": [{"where": r.where, "what": r.what} for r in plan.remarks],
    }
    return (json.dumps(said, allow_nan=False, ensure_ascii=False, separators=(",", ":")) + "\n").encode()


def _mark(m: Mark) -> dict[str, Any]:
    return {
        "line": m.line,
        "number": m.number,
        "kind": m.kind.value,
        "easting_m": round(m.easting_m, 4),
        "northing_m": round(m.northing_m, 4),
        "chainage_m": round(m.chainage_m, 4),
        "along_deg": round(m.along_deg, 1),
        "colour": m.colour,
        "text": m.text,
        "baseline": m.tape.baseline,
        "station_m": None if m.tape.station_m is None else round(m.tape.station_m, 4),
        "offset_m": None if m.tape.offset_m is None else round(m.tape.offset_m, 4),
        "ties": [{"corner": corner, "distance_m": round(away, 4)} for corner, away in m.tape.ties],
        "tie_side": m.tape.tie_side,
        "edges": None if m.edges is None else [[round(e, 4), round(n, 4)] for e, n in m.edges],
        "toward_deg": None if m.toward_deg is None else round(m.toward_deg, 1),
        "distance_m": None if m.distance_m is None else round(m.distance_m, 4),
        "because": m.because,
    }


def _painted(m: PaintedMark) -> dict[str, Any]:
    return {
        "mark": m.id,
        "line": m.line,
        "kind": m.kind.value,
        "easting_m": round(m.place.easting_m, 4),
        "northing_m": round(m.place.northing_m, 4),
        "colour": m.colour,
        "painted_at": None if m.painted_at is None else m.painted_at.isoformat(),
        "by": m.by,
        "photo": m.photo,
        "state": m.state.value,
        "state_at": None if m.state_at is None else m.state_at.isoformat(),
        "toward_deg": m.toward_deg,
        "distance_m": m.distance_m,
        "note": m.note,
    }
