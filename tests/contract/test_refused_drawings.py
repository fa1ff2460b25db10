"""GeoJSON that is refused: where, and what is said."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

REC, DIG = "records.geojson", "dig.geojson"
LINE = '"coordinates": [[573360, 6355870], [573390, 6355870]]'
BORE = '"coordinates": [[573360, 6355860], [573370, 6355860]]'
RING = "[[[573360, 6355860], [573370, 6355860], [573370, 6355865], [573360, 6355860]]]"

#: file, text that stands once in it, what it becomes, where, what the line says
CASES: dict[str, tuple[str, str, str, str, tuple[str, ...]]] = {
    "not JSON": (REC, LINE, '"coordinates": [', REC, ("is not JSON",)),
    "NaN": (REC, '"depth_m": 0.9', '"depth_m": NaN', REC, ("not JSON", "number NaN")),
    "infinity": (REC, "[573390, 6355870]", "[Infinity, 6355870]", REC, ("number Infinity",)),
    "number without end": (
        REC,
        "[573390, 6355870]",
        "[1e999, 6355870]",
        "feature 1 coordinates",
        ("position",),
    ),
    "member twice": (REC, '"depth_m": 0.9', '"depth_m": 0.9, "depth_m": 1', REC, ("'depth_m' twice",)),
    "not a collection": (REC, '"FeatureCollection"', '"Topology"', f"{REC} type", ("'Topology'",)),
    "no features": (REC, '"features": [', '"things": [', f"{REC} features", ("not a list",)),
    "not a feature": (REC, '"Feature",', '"Thing",', "feature 1", ("is not a Feature",)),
    "another system": (REC, "EPSG::32631", "EPSG::32632", f"{REC} crs", ("EPSG::32632", "EPSG:32631")),
    "a system of no form": (REC, "urn:ogc:def:crs:EPSG::32631", "UTM", f"{REC} crs", ("'UTM'",)),
    "id of a record": (REC, '"id": "rec-1"', '"id": "rec 1"', "feature 1 id", ("'rec 1'", "1 to 64 of")),
    "id a number": (REC, '"id": "rec-1"', '"id": 1', "feature 1 id", ("1 is not a text",)),
    "utility of a record": (
        REC,
        '"utility": "electric"',
        '"utility": "power"',
        "feature 1 utility",
        ("'power'",),
    ),
    "depth as text": (
        REC,
        '"depth_m": 0.9',
        '"depth_m": "0.9"',
        "feature 1 depth_m",
        ("'0.9' is not a number",),
    ),
    "depth as a flag": (REC, '"depth_m": 0.9', '"depth_m": true', "feature 1 depth_m", ("true is not",)),
    "depth below zero": (
        REC,
        '"depth_m": 0.9',
        '"depth_m": -0.9',
        "feature 1 depth_m",
        ("-0.9", "0 or more"),
    ),
    "diameter of zero": (
        REC,
        '_diameter_m": 0.03',
        '_diameter_m": 0',
        "feature 1 outside_diameter_m",
        ("0",),
    ),
    "source a number": (REC, '"as-built"', "7", "feature 1 source", ("7", "text")),
    "date a number": (REC, '"1998"', "1998", "feature 1 date", ("1998", "text")),
    "sigma below zero": (REC, 'sigma_m": 1.0', 'sigma_m": -1.0', "feature 1 position_sigma_m", ("-1",)),
    "record a point": (REC, '"LineString"', '"Point"', "feature 1 geometry", ("'Point'", "LineString")),
    "record nowhere": (REC, '"LineString"', "null", "feature 1 geometry", ("null is not LineString",)),
    "one position": (
        REC,
        LINE,
        '"coordinates": [[573360, 6355870]]',
        "feature 1 coordinates",
        ("two positions",),
    ),
    "no positions": (REC, LINE, '"coordinates": []', "feature 1 coordinates", ("two positions",)),
    "a number alone": (
        REC,
        "[573390, 6355870]",
        "573390",
        "feature 1 coordinates",
        ("573390 is not a position",),
    ),
    "half a position": (
        REC,
        "[573390, 6355870]",
        "[573390]",
        "feature 1 coordinates",
        ("is not a position",),
    ),
    "text in a position": (REC, "[573390, 6355870]", '[573390, "N"]', "feature 1 coordinates", ("position",)),
    "flag in a position": (
        REC,
        "[573390, 6355870]",
        "[573390, true]",
        "feature 1 coordinates",
        ("position",),
    ),
    "record elsewhere": (REC, "[573390, 6355870]", "[90, 70]", "feature 1 coordinates", ("area of use",)),
    "record swapped": (REC, "[573390, 6355870]", "[6355870, 573390]", "feature 1 coordinates", ("swapped",)),
    "no kind": (DIG, '"kind": "bore", ', "", "feature 2 kind", ("is missing",)),
    "kind of dig": (
        DIG,
        '"kind": "bore"',
        '"kind": "pit"',
        "feature 2 kind",
        ("'pit'", "excavation, trench, bore"),
    ),
    "dig twice": (DIG, '"id": "bore-1"', '"id": "dig-1"', "feature 2 id", ("'dig-1'", "above")),
    "bore of an area": (DIG, '"kind": "excavation"', '"kind": "bore"', "feature 1 geometry", ("'Polygon'",)),
    "excavation of a line": (
        DIG,
        '"kind": "bore"',
        '"kind": "excavation"',
        "feature 2 geometry",
        ("Polygon",),
    ),
    "depths too many": (
        DIG,
        "[1.0, 1.4]",
        "[1.0, 1.2, 1.4]",
        "feature 2 depths_m",
        ("3 depths", "2 vertices"),
    ),
    "depths too few": (DIG, "[1.0, 1.4]", "[1.0]", "feature 2 depths_m", ("1 depths", "2 vertices")),
    "depths one number": (DIG, "[1.0, 1.4]", "1.4", "feature 2 depths_m", ("1.4", "list of numbers")),
    "depths of text": (DIG, "[1.0, 1.4]", '["1.0", 1.4]', "feature 2 depths_m", ("'1.0' is not a number",)),
    "depths below zero": (DIG, "[1.0, 1.4]", "[-1.0, 1.4]", "feature 2 depths_m", ("-1",)),
    "depths and a depth": (
        DIG,
        "[1.0, 1.4]",
        '[1.0, 1.4], "depth_m": 1',
        "feature 2 depths_m",
        ("keep one",),
    ),
    "ring left open": (
        DIG,
        RING,
        RING.replace(", [573360, 6355860]]]", ", [573361, 6355861]]]"),
        "feature 1 coordinates",
        ("does not end where it starts",),
    ),
    "ring too short": (
        DIG,
        RING,
        "[[[573360, 6355860], [573370, 6355860], [573360, 6355860]]]",
        "feature 1 coordinates",
        ("fewer than four",),
    ),
    "ring of no list": (DIG, RING, "[7]", "feature 1 coordinates", ("7 is not a list of positions",)),
    "polygon of nothing": (DIG, RING, "[]", "feature 1 coordinates", ("Polygon",)),
    "polygon of null": (DIG, RING, "null", "feature 1 coordinates", ("Polygon",)),
    "diameter in inches": (
        DIG,
        '"diameter_m": 0.1',
        '"diameter_m": "4 in"',
        "feature 2 diameter_m",
        ("'4 in'",),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_refused(refused: Callable[..., None], name: str) -> None:
    file, old, new, where, parts = CASES[name]
    refused(((file, old, new),), where if where.startswith(file) else f"{file} {where}", parts)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "is not JSON"),
        ("[]", "FeatureCollection is needed"),
        ("7", "FeatureCollection is needed"),
        ("[" * 100_000, "too deep"),
        ('{"type": "FeatureCollection", "features": [' + "1" * 5000 + "]}", "is not JSON"),
        ('{"type": "FeatureCollection", "features": {}}', "not a list of features"),
        ('{"type": "FeatureCollection", "features": [null]}', "is not a Feature"),
        (
            '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": 7}]}',
            "not an object",
        ),
        ('{"type": "FeatureCollection", "crs": 7, "features": []}', "7 is not the system of the job"),
    ],
)
def test_texts_of_a_wrong_kind(full: Any, text: str, part: str) -> None:
    _, errors, _ = full.write({DIG: text}).read()
    assert any(line.startswith(DIG) and part in line for line in errors), errors


def test_metres_in_a_file_of_degrees(full: Any) -> None:
    """Without a member that says so, coordinates are longitude and latitude."""
    full.edit((REC, ' "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32631"}},\n', ""))
    _, errors, _ = full.read()
    assert len(errors) == 1
    assert errors[0].startswith(
        f"{REC} feature 1 coordinates: longitude 573360, latitude 6355870 lies outside"
    )
    assert '"crs" member' in errors[0]
