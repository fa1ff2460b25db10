"""Makes tests/exchange/canonical_vectors.json: values, their one form as JSON, and its SHA-256.

The values were thought of where writers of JSON differ. What each has to be written as is spelled out by hand
below, not written by the code: Python and the page are both held to it.

    python tests/create_data/make_canonical_vectors.py
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

OUT = Path(__file__).resolve().parents[1] / "exchange" / "canonical_vectors.json"

#: What each value has to be written as, by hand.
CANONICAL: list[tuple[str, Any, str]] = [
    ("empty object", {}, "{}"),
    ("keys are sorted", {"b": 1, "a": {"d": [], "c": None}}, '{"a":{"c":null,"d":[]},"b":1}'),
    ("keys that look like numbers", {"10": "x", "9": "y", "1": "z"}, '{"1":"z","10":"x","9":"y"}'),
    ("capitals before small letters", {"a": True, "B": False, "_": 0}, '{"B":false,"_":0,"a":true}'),
    ("a number as typed", {"depth": "3 ft 1 in", "x": "0.920"}, '{"depth":"3 ft 1 in","x":"0.920"}'),
    ("quote, backslash, slash", ['"', "\\", "/"], '["\\"","\\\\","/"]'),
    ("short escapes", ["\b\t\n\f\r"], '["\\b\\t\\n\\f\\r"]'),
    ("other control characters", ["\x00\x01\x0b\x1f\x7f"], '["\\u0000\\u0001\\u000b\\u001f\x7f"]'),
    ("line and paragraph separators", ["\u2028\u2029"], '["\u2028\u2029"]'),
    ("outside ASCII", ["Grüße, 3\u2032 1\u2033, 漢"], '["Grüße, 3\u2032 1\u2033, 漢"]'),
    ("outside the basic plane", ["\U0001f4cd \U00020000"], '["\U0001f4cd \U00020000"]'),
    ("not normalised", ["e\u0301", "\u00e9"], '["e\u0301","\u00e9"]'),
    ("not escaped for pages", ["<a href='x'>&"], "[\"<a href='x'>&\"]"),
    (
        "integers",
        [0, -1, 9007199254740991, 9007199254740992, -9007199254740992],
        "[0,-1,9007199254740991,9007199254740992,-9007199254740992]",
    ),
    ("a text, a truth, nothing", ["", True, None], '["",true,null]'),
    ("nested", [[[{"a": [{"b": ["c"]}]}]]], '[[[{"a":[{"b":["c"]}]}]]]'),
]


def canonical_vectors() -> list[dict[str, Any]]:
    return [
        {"name": name, "value": value, "text": text, "sha256": hashlib.sha256(text.encode()).hexdigest()}
        for name, value, text in CANONICAL
    ]


if __name__ == "__main__":
    OUT.write_text(json.dumps(canonical_vectors(), ensure_ascii=True, indent=1) + "\n")
