"""A hook-up plan as JSON: keys end in their unit, currents in milliamperes."""

from __future__ import annotations

import json
from typing import Any

from plumbmark.handover.linefit_text import linefit_data
from plumbmark.handover.plan_words import cautions, change_words, first_sentence, what_to_expect
from plumbmark.model.linefit import LineFit
from plumbmark.model.plan import HookupPlan, Trial

FORMAT = "plumbmark-plan/1"


def plan_bytes(plan: HookupPlan, fit: LineFit | None = None) -> bytes:
    """The plan as UTF-8 JSON, the same bytes for the same plan."""
    network = plan.network
    document = {
        "format": FORMAT,
        "job": network.id,
        "target": network.target,
        "resistivity_ohm_m": network.resistivity_ohm_m,
        "words": [first_sentence(plan), what_to_expect(plan.ranked[0], network)],
        "ranked": [{"connection": t.connection.id, "frequency_hz": t.frequency_hz} for t in plan.ranked],
        "trials": [_trial(trial) for trial in plan.trials],
        "changes": [
            {"words": change_words(plan, k), "trial": _trial(change.trial)}
            for k, change in enumerate(plan.changes)
        ],
        "cautions": list(cautions(network)),
        "after_readings": None if fit is None else linefit_data(fit, network),
        "warnings": [{"where": w.where, "what": w.what} for w in plan.warnings],
    }
    return (json.dumps(document, indent=1, allow_nan=False, ensure_ascii=False) + "\n").encode()


def _trial(trial: Trial) -> dict[str, Any]:
    return {
        "connection": trial.connection.id,
        "hookup": trial.connection.kind.value,
        "frequency_hz": trial.frequency_hz,
        "given_ma": _ma(trial.given_a),
        "given_v": None if trial.given_v is None else round(trial.given_v, 6),
        "limit": trial.limit.value,
        "traceable_from_m": None if trial.traceable_m is None else round(trial.traceable_m[0], 3),
        "traceable_to_m": None if trial.traceable_m is None else round(trial.traceable_m[1], 3),
        "holds_from_m": None if trial.holds_m is None else round(trial.holds_m[0], 3),
        "holds_to_m": None if trial.holds_m is None else round(trial.holds_m[1], 3),
        "share_on_others": round(trial.share_on_others, 6),
        "other_currents": [{"conductor": name, "current_ma": _ma(a)} for name, a in trial.other_currents_a],
        "stations": [
            {
                "chainage_m": round(s.chainage_m, 3),
                "easting_m": round(s.easting_m, 3),
                "northing_m": round(s.northing_m, 3),
                "depth_m": round(s.depth_m, 4),
                "current_ma": _ma(s.current_a),
                "peak_shift_m": round(s.shift_m, 4),
                "shown_depth_m": round(s.shown_depth_m, 4),
                "followed": s.followed,
                "holds": s.holds,
            }
            for s in trial.stations
        ],
    }


def _ma(current_a: float | None) -> float | None:
    return None if current_a is None else float(f"{1e3 * current_a:.6g}")
