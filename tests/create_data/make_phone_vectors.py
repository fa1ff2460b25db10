"""Makes tests/browser/phone_vectors.json: what the program says of one place, for the page to say the same.

    PYTHONPATH=src python tests/create_data/make_phone_vectors.py

Answers read off the table for the phone, the sentences about a line with one reading, and what to do next.
"""

from __future__ import annotations

import json
import random
from dataclasses import astuple, replace
from itertools import product
from pathlib import Path
from typing import Any

from plumbmark.handover import answer
from plumbmark.inference.nextstep import step_words
from plumbmark.inference.phone_table import GapClass, PhoneReading, SoilClass, lookup
from plumbmark.inference.stations import Station
from plumbmark.model.estimate import Identity, Interval, LineEstimate, StationEstimate, Trust
from plumbmark.model.job import Line
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading

OUT = Path(__file__).parents[1] / "browser" / "phone_vectors.json"
SHIFTS = ((-0.1, -0.18, 0.02), (0.01, -0.05, 0.05), (0.04, 0.0, 0.3), (-0.4, -1.4, 0.2), (0.1, -0.8, 0.8))
DEPTHS = ((0.89, 0.75, 1.10), (0.9, 0.6, 1.6), (1.2, 0.4, 3.0), (0.3, 0.0, 0.5))


def places() -> list[PhoneReading]:
    """Each answer once, and places at random, past the ends of the nodes too."""
    draw = random.Random(6)
    halves = [(None, None), (1.0, 1.05), (1.1, None)]
    fixed = [
        PhoneReading(depth, gap, raised, left, right, soil)
        for depth, gap, raised, (left, right), soil in product(
            (0.3, 0.7, 1.0, 2.4), (None, 0.0, 0.15, *GapClass), (None, 1.31), halves, SoilClass
        )
        if depth == 1.0 or (raised is None and left is None)
    ]
    for _ in range(300):
        depth = round(draw.uniform(0.2, 3.0), 3)
        gap = draw.choice([None, *GapClass, round(draw.uniform(-0.6, 0.6) * depth, 3)])
        raised = draw.choice([None, round(depth + 0.3 + draw.uniform(-0.1, 0.15), 3)])
        half = [draw.choice([None, round(depth * draw.uniform(0.7, 1.4) + 0.07, 3)]) for _ in range(2)]
        fixed.append(PhoneReading(depth, gap, raised, half[0], half[1], draw.choice(list(SoilClass))))
    return fixed


def sentences(shift: Interval, depth: Interval, units: str) -> list[str]:
    """What is said of a line that was read once."""
    station = StationEstimate(
        id="1", source="reading", chainage_m=0.0, easting_m=0.0, northing_m=0.0, mark_easting_m=0.0,
        mark_northing_m=0.0, right_deg=90.0, lateral_shift_m=shift, depth_m=depth,
        current_a=Interval(0.01, 0.01, 0.01), single_line_probability=0.9, within_10_probability=0.9,
        trust=Trust.LOOSE, because=(), next_step="",
    )  # fmt: skip
    line = LineEstimate("E1", Identity.LIKELY, (), (station,), (), ())
    return [answer.what_to_paint(line, units), answer.how_deep(line, units)]


def next_words(taken: tuple[bool, ...], trust: Trust) -> str:
    """What to do next where the null, a raised depth, half points were taken or not."""
    one = Measured(0.3)
    reading = Reading("1", "E1", Place(0.0, 0.0), 2, depth_m=Measured(1.0))
    null, raised, half = taken
    reading = replace(
        reading,
        null_offset_m=one if null else None,
        raised_depth_m=one if raised else None,
        half_left_m=one if half else None,
    )
    return step_words(Station("reading", "1", reading.place, 0.0, "", 2, 0.0, reading), trust, Line("E1"))


def vectors() -> dict[str, Any]:
    """Readings and their answers, intervals and their sentences, what was taken and what is next."""
    told = [(r, lookup(r)) for r in places()]
    return {
        "places": [
            {
                "depth": r.depth_m,
                "gap": r.gap_m,
                "raisedDepth": r.raised_depth_m,
                "halves": [h for h in (r.half_left_m, r.half_right_m) if h is not None],
                "soil": r.soil,
                "answer": None if a is None else astuple(a),
            }
            for r, a in told
        ],
        "sentences": [
            {
                "shift": shift,
                "depth": depth,
                "units": units,
                "said": sentences(Interval(*shift), Interval(*depth), units),
            }
            for shift, depth, units in product(SHIFTS, DEPTHS, ("ft-in", "m"))
        ],
        "next": [
            {"taken": taken, "trust": trust, "said": next_words(taken, trust)}
            for taken, trust in product(product((False, True), repeat=3), Trust)
        ],
        "caution": answer.CAUTION,
    }  # fmt: skip


def written(value: dict[str, Any]) -> str:
    """JSON with one line for each case."""
    body = ",\n".join(
        f"{json.dumps(key)}: "
        + ("[\n" + ",\n".join(map(json.dumps, part)) + "\n]" if isinstance(part, list) else json.dumps(part))
        for key, part in value.items()
    )
    return "{\n" + body + "\n}\n"


if __name__ == "__main__":
    OUT.write_text(written(vectors()), "utf-8")
