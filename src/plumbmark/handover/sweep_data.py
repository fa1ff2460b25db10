"""A sweep as JSON: `plumbmark-sweep/1`. Lengths in metres, currents in mA, bearings in degrees."""

from __future__ import annotations

import json
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.model.sweep import ChanceMap, Gap, MethodSweep, SweepAnswer, SweepRecord, Walk

FORMAT: Final = "plumbmark-sweep/1"


def sweep_bytes(answer: SweepAnswer) -> bytes:
    """The answer as the bytes of a JSON file.

    Parameters
    ----------
    answer : SweepAnswer

    Returns
    -------
    bytes
        Numbers are finite; a chance, a signal or a current of a cell outside the ground is null, and so is a
        least current where a line of some direction is missed whatever it carries.
    """
    said = json.dumps(sweep_json(answer), allow_nan=False, ensure_ascii=False, separators=(",", ":"))
    return (said + "\n").encode()


def sweep_json(answer: SweepAnswer) -> dict[str, Any]:
    """The answer as plain values."""
    return {
        "format": FORMAT,
        "job": answer.job,
        "record": None if answer.record is None else _record(answer.record),
        "ground": [[list(point) for point in ring] for ring in answer.outlines],
        "walked": [_method(s) for s in answer.walked],
        "planned": [_method(s) for s in answer.planned],
        "rounds": [
            {"dig": r.dig, "off_m": r.off_m, "heard_share": round(r.share, 4), "path": _path(r.walk)}
            for r in answer.rounds
        ],
        "rules_out": list(answer.rules_out),
        "does_not_rule_out": list(answer.cannot),
        "assumed": list(answer.assumed),
    }


def _record(record: SweepRecord) -> dict[str, Any]:
    return {
        "whole": record.whole,
        "says": record.says,
        "digs": [
            {
                "dig": d.dig,
                "area_m2": round(d.area_m2, 3),
                "swept_m2": round(d.swept_m2, 3),
                "by_method_m2": {m.value: round(area, 3) for m, area in d.by_method},
            }
            for d in record.digs
        ],
        "missing": [m.value for m in record.missing],
        "unexplained": list(record.unexplained),
        "not_said": list(record.not_said),
        "caveats": list(record.caveats),
    }


def _method(sweep: MethodSweep) -> dict[str, Any]:
    search = sweep.search
    return {
        "method": search.method.value,
        "frequency_hz": search.frequency_hz,
        "antenna": None if search.antenna is None else search.antenna.value,
        "threshold_ma": _ma(search.threshold_a),
        "current_ma": _ma(search.current_a),
        "current_sigma_factor": search.current_sigma_factor,
        "best_chance": round(sweep.best_chance, 4),
        "mean_chance": round(sweep.mean_chance, 4),
        "area_m2": round(sweep.area_m2, 3),
        "swept_m2": round(sweep.swept_m2, 3),
        "least": [{"depth_m": item.depth_m, "current_ma": _ma(item.current_a)} for item in sweep.least],
        "passes": [{"where": w.where, "path": _path(w)} for w in sweep.walks],
        "gaps": [_gap(gap) for gap in sweep.gaps],
        "further": [{"where": w.where, "path": _path(w)} for w in sweep.further],
        "further_is_fewest": sweep.fewest,
        "maps": [_map(m) for m in sweep.maps],
    }


def _gap(gap: Gap) -> dict[str, Any]:
    return {
        "gap": gap.name,
        "area_m2": round(gap.area_m2, 4),
        "easting_m": round(gap.easting_m, 3),
        "northing_m": round(gap.northing_m, 3),
        "in_dig": gap.in_dig,
        "missed_bearing_deg": None if gap.missed_deg is None else round(gap.missed_deg, 1),
        "least": {"depth_m": gap.least.depth_m, "current_ma": _ma(gap.least.current_a)},
        "where": gap.where,
    }


def _map(chances: ChanceMap) -> dict[str, Any]:
    return {
        "easting_m": round(chances.easting_m, 4),
        "northing_m": round(chances.northing_m, 4),
        "bearing_deg": chances.bearing_deg,
        "cell_m": chances.cell_m,
        "in_dig": chances.in_dig.astype(int).tolist(),
        "chance": _cells(chances.chance, chances, 3),
        "signal": _cells(chances.signal, chances, 3),
        "least_ma": [
            {"depth_m": depth, "current_ma": _cells(1e3 * chances.least_a[..., i], chances, 6)}
            for i, depth in enumerate(chances.least_depths_m)
        ],
    }


def _cells(values: NDArray[np.float64], chances: ChanceMap, digits: int) -> list[list[float | None]]:
    """Rows of cells; null outside the ground and where there is no finite number."""
    good = chances.inside & np.isfinite(values)
    rounded = np.where(good, np.round(np.where(good, values, 0.0), digits), 0.0).astype(object)
    rounded[~good] = None
    rows: list[list[float | None]] = rounded.tolist()
    return rows


def _path(walk: Walk) -> list[list[float]]:
    return [[round(e, 3), round(n, 3)] for e, n in walk.path]


def _ma(current_a: float | None) -> float | None:
    return None if current_a is None else float(f"{1e3 * current_a:.6g}")
