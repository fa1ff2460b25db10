"""Makes tests/browser/length_vectors.json: how lengths are read and said, here and on the page.

PYTHONPATH=src python tests/create_data/make_length_vectors.py
"""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path
from typing import Any

from plumbmark.base.errors import UnitError
from plumbmark.base.units import parse_length_or_range
from plumbmark.handover import words
from plumbmark.model.estimate import Interval

OUT = Path(__file__).parents[1] / "browser" / "length_vectors.json"
UNITS = ("ft-in", "m")
CELLS = (
    *(
        "3 ft 6 in",
        "3'6\"",
        "3\u20326\u2033",
        "42 in",
        "1.07 m",
        "107 cm",
        "1070mm",
        "3.5 ft",
        "-4 in",
        "-2 ft 3 in",
    ),
    *(
        "+.5 m",
        "1e-1 m",
        "0.0 m",
        "0 in",
        "2 in..4 in",
        "2..4 in",
        "-2 in..2 in",
        "0.05 m..0.12 m",
        "1 ft..5 ft",
    ),
    *(
        "11 in..1 ft 1 in",
        "2 ft 11.5 in",
        " 3 ft 0 in ",
        "2..1 ft 3 in",
        "4 in..2 in",
        "3 ft 12 in",
        "107",
        "abc",
        "",
    ),
    *(
        "1,07 m",
        "1.2.3 m",
        "..3 in",
        "1 m..",
        "1 m..2 m..3 m",
        "NaN m",
        "0x1 m",
        "1 yd",
        "1e999 m",
        "3 m 4 cm",
    ),
)
VALUES = (0.0, 0.004, 0.0127, 0.0762, 0.1, 0.295, 0.3048, 0.889, 0.9144, 1.0668, 1.5, 2.345)
BANDS = (
    *(
        (0.89, 0.75, 1.10),
        (0.9, 0.6, 1.6),
        (1.2, 0.4, 3.0),
        (0.3, 0.0, 0.5),
        (0.05, -0.02, 0.2),
        (1.0, 1.0, 1.0),
    ),
    *((-0.1, -0.18, 0.02), (0.01, -0.05, 0.05), (0.1, 0.05, 0.15), (-0.3, -0.9, -0.1), (0.0, -0.7, 0.7)),
    *((0.2, 0.0, 0.4), (-0.2, -0.4, 0.0), (0.4, -0.9, 1.4), (0.003, -0.004, 0.006), (0.0, 0.0, 0.0)),
)
CHANCES = (0.0, 0.009, 0.01, 0.049, 0.05, 0.3, 0.45, 0.72, 0.92, 0.925, 0.97, 0.99, 0.995)


def read(cell: str) -> list[float] | None:
    """Ends of what a cell says [m]."""
    try:
        found = parse_length_or_range(cell, None)
    except UnitError:
        return None
    return [found.low, found.high]


def vectors() -> dict[str, list[Any]]:
    """Cells and what they mean; numbers and how they are said."""
    said = []
    for (value, low, high), units in product(BANDS, UNITS):
        told = Interval(value, low, high)
        said.append(
            {
                "interval": [value, low, high],
                "units": units,
                "step": words.step_m(high - low, units),
                "length": words.length(value, units, high - low),
                "band": words.band(told, units),
                "paint": words.paint(told, units),
                "sideways": words.sideways(told, units),
            }
        )
    return {
        "cells": [[cell, read(cell)] for cell in CELLS],
        "lengths": [[value, units, words.length(value, units)] for value, units in product(VALUES, UNITS)],
        "bands": said,
        "chances": [[chance, words.chance(chance)] for chance in CHANCES],
    }


def written(value: dict[str, list[Any]]) -> str:
    """JSON with one line for each case."""
    parts = (
        f"{json.dumps(key)}: [\n" + ",\n".join(map(json.dumps, rows)) + "\n]" for key, rows in value.items()
    )
    return "{\n" + ",\n".join(parts) + "\n}\n"


if __name__ == "__main__":
    OUT.write_text(written(vectors()), "utf-8")
