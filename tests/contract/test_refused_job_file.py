"""`job.toml` that is refused: where, and what is said."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

T = "job.toml"
#: text that stands once in the full job's file, what it becomes, where it is told of, what the line holds
CASES: dict[str, tuple[str, str, str, tuple[str, ...]]] = {
    "no id": ('id = "alder-17"\n', "", "[job] id", ("is missing",)),
    "id of a wrong type": ('id = "alder-17"', "id = 17", "[job] id", ("17", "text in quotes")),
    "id with a blank": ('id = "alder-17"', 'id = "alder 17"', "[job] id", ("'alder 17'", "1 to 64 of")),
    "id with a dot first": (
        'id = "alder-17"',
        'id = ".alder"',
        "[job] id",
        ("'.alder'", "not starting with a dot"),
    ),
    "empty id": ('id = "alder-17"', 'id = ""', "[job] id", ("''", "1 to 64 of")),
    "id too long": ('id = "alder-17"', f'id = "{"a" * 65}"', "[job] id", ("aaa...", "1 to 64 of")),
    "id of other letters": ('id = "alder-17"', 'id = "älder"', "[job] id", ("A-Z a-z 0-9",)),
    "title of a wrong type": (
        'title = "Alder Street 17"',
        "title = 1998-05-01",
        "[job] title",
        ("1998-05-01", "text"),
    ),
    "no such system": ('crs = "EPSG:32631"', 'crs = "EPSG:99999"', "[job] crs", ("'EPSG:99999'", "register")),
    "system in words": (
        'crs = "EPSG:32631"',
        'crs = "UTM 31"',
        "[job] crs",
        ("'UTM 31'", '"local"', "EPSG:32631"),
    ),
    "system of degrees": ('crs = "EPSG:32631"', 'crs = "EPSG:4326"', "[job] crs", ("WGS 84", "metres")),
    "system in feet": (
        'crs = "EPSG:32631"',
        'crs = "EPSG:2229"',
        "[job] crs",
        ("US survey foot", '"EPSG:26945"'),
    ),
    "another system in feet": (
        'crs = "EPSG:32631"',
        'crs = "EPSG:2263"',
        "[job] crs",
        ("foot", '"EPSG:32118"'),
    ),
    "feet without a twin": (
        'crs = "EPSG:32631"',
        'crs = "EPSG:26731"',
        "[job] crs",
        ("foot", "in metres", "UTM"),
    ),
    "system with heights": (
        'crs = "EPSG:32631"',
        'crs = "EPSG:7405"',
        "[job] crs",
        ("heights", "EPSG:27700"),
    ),
    "system of heights alone": (
        'crs = "EPSG:32631"',
        'crs = "EPSG:5714"',
        "[job] crs",
        ("not a projected system",),
    ),
    "westing and southing": (
        'crs = "EPSG:32631"',
        'crs = "EPSG:2048"',
        "[job] crs",
        ("west or south", "UTM"),
    ),
    "system of a wrong type": ('crs = "EPSG:32631"', "crs = 32631", "[job] crs", ("32631", "text in quotes")),
    "display units": (
        'display_units = "ft-in"',
        'display_units = "feet"',
        "[job] display_units",
        ("'feet'", "ft-in, m"),
    ),
    "resistivity of zero": (
        "resistivity_ohm_m = 60",
        "resistivity_ohm_m = 0",
        "[soil] resistivity_ohm_m",
        ("0", "more than 0"),
    ),
    "resistivity below zero": (
        "resistivity_ohm_m = 60",
        "resistivity_ohm_m = -5",
        "[soil] resistivity_ohm_m",
        ("-5",),
    ),
    "resistivity of infinity": (
        "resistivity_ohm_m = 60",
        "resistivity_ohm_m = inf",
        "[soil] resistivity_ohm_m",
        ("finite",),
    ),
    "resistivity not a number": (
        "resistivity_ohm_m = 60",
        "resistivity_ohm_m = nan",
        "[soil] resistivity_ohm_m",
        ("finite",),
    ),
    "resistivity as text": (
        "resistivity_ohm_m = 60",
        'resistivity_ohm_m = "60"',
        "[soil] resistivity_ohm_m",
        ("'60'", "not a number"),
    ),
    "resistivity as a flag": (
        "resistivity_ohm_m = 60",
        "resistivity_ohm_m = true",
        "[soil] resistivity_ohm_m",
        ("true", "not a number"),
    ),
    "sigma factor below one": (
        "sigma_factor = 2",
        "sigma_factor = 0.5",
        "[soil] resistivity_sigma_factor",
        ("0.5", "1 or more"),
    ),
    "resistivity in hex": (
        "resistivity_ohm_m = 60",
        "resistivity_ohm_m = 0x3C",
        "line 7 resistivity_ohm_m",
        ("0x3C", "plain decimal"),
    ),
    "frequency with underscore": (
        "frequency_hz = 33000",
        "frequency_hz = 33_000",
        "line 24 frequency_hz",
        ("33_000", "underscores"),
    ),
    "receiver without id": (
        '[[receivers]]\nid = "R1"',
        "[[receivers]]",
        "[[receivers]] 1 id",
        ("is missing",),
    ),
    "coil below ground": (
        "lower_coil_height_m = 0.05",
        "lower_coil_height_m = -0.05",
        "[[receivers]] 1 lower_coil_height_m",
        ("-0.05", "0 or more"),
    ),
    "coils in one place": (
        "coil_spacing_m = 0.40",
        "coil_spacing_m = 0",
        "[[receivers]] 1 coil_spacing_m",
        ("more than 0",),
    ),
    "coil spacing in words": (
        "coil_spacing_m = 0.40",
        'coil_spacing_m = "0.4 m"',
        "[[receivers]] 1 coil_spacing_m",
        ("'0.4 m'",),
    ),
    "kind of null": (
        'null_kind = "unknown"',
        'null_kind = "deep"',
        "[[receivers]] 1 null_kind",
        ("'deep'", "phase, least, unknown"),
    ),
    "line without id": ('[[lines]]\nid = "C1"', "[[lines]]", "[[lines]] 2 id", ("is missing",)),
    "line twice": ('id = "C1"', 'id = "E1"', "[[lines]] 2 id", ("'E1'", "another one above")),
    "utility": (
        'utility = "electric"',
        'utility = "power"',
        "[[lines]] 1 utility",
        ("'power'", "electric, lighting, gas", "unknown"),
    ),
    "utility as a list": (
        'utility = "electric"',
        'utility = ["electric"]',
        "[[lines]] 1 utility",
        ("text in quotes",),
    ),
    "diameter below zero": (
        "outside_diameter_m = 0.03",
        "outside_diameter_m = -0.03",
        "[[lines]] 1 outside_diameter_m",
        ("-0.03",),
    ),
    "diameter of zero": (
        "outside_diameter_m = 0.03",
        "outside_diameter_m = 0",
        "[[lines]] 1 outside_diameter_m",
        ("more than 0",),
    ),
    "diameter in millimetres": (
        "outside_diameter_m = 0.03",
        "outside_diameter_m = 300",
        "[[lines]] 1 outside_diameter_m",
        ("300", "at most 100"),
    ),
    "state": (
        'state = "live"',
        'state = "dead"',
        "[[lines]] 1 state",
        ("'dead'", "live, abandoned, unknown"),
    ),
    "owner as a number": ('owner = "the village"', "owner = 7", "[[lines]] 1 owner", ("7", "text")),
    "private as a word": (
        "private = false",
        'private = "no"',
        "[[lines]] 1 private",
        ("'no'", "true or false"),
    ),
    "signal": ('signal = "line"', 'signal = "probe"', "[[lines]] 1 signal", ("'probe'", "line, sonde")),
    "hook-up": (
        'hookup = "direct"',
        'hookup = "clip"',
        "[[lines]] 1 hookup",
        ("'clip'", "direct, clamp, induction, passive"),
    ),
    "frequency of zero": (
        "frequency_hz = 33000",
        "frequency_hz = 0",
        "[[lines]] 1 frequency_hz",
        ("more than 0",),
    ),
    "frequency as text": (
        "frequency_hz = 33000",
        'frequency_hz = "33k"',
        "[[lines]] 1 frequency_hz",
        ("'33k'", "number"),
    ),
    "frequency without end": (
        "frequency_hz = 33000",
        f"frequency_hz = 1{'0' * 400}",
        "[[lines]] 1 frequency_hz",
        ("finite",),
    ),
    "receiver of a line": (
        'receiver = "R1"\nidentity',
        'receiver = "R9"\nidentity',
        "[[lines]] 1 receiver",
        ("'R9'", "(R1)"),
    ),
    "identity in one word": (
        'identity = ["connected"]',
        'identity = "connected"',
        "[[lines]] 1 identity",
        ("'connected'", "list"),
    ),
    "identity unknown": (
        'identity = ["connected"]',
        'identity = ["hoped"]',
        "[[lines]] 1 identity",
        ("'hoped'", "connected, followed-to-fitting, second-setup-agrees, exposed"),
    ),
    "identity of numbers": (
        'identity = ["connected"]',
        "identity = [1]",
        "[[lines]] 1 identity",
        ("1", "text"),
    ),
    "setup without id": ('[[setups]]\nid = "S2"', "[[setups]]", "[[setups]] 1 id", ("is missing",)),
    "setup without line": ('id = "S2"\nline = "E1"', 'id = "S2"', "[[setups]] 1 line", ("is missing",)),
    "setup of no line": (
        'id = "S2"\nline = "E1"',
        'id = "S2"\nline = "E9"',
        "[[setups]] 1 line",
        ("'E9'", "(E1, C1)"),
    ),
    "setup by no receiver": (
        'receiver = "R1"\ntransmitter',
        'receiver = "R2"\ntransmitter',
        "[[setups]] 1 receiver",
        ("'R2'", "(R1)"),
    ),
    "setup's hook-up": (
        'hookup = "induction"',
        'hookup = "Induction"',
        "[[setups]] 1 hookup",
        ("'Induction'", "induction"),
    ),
    "transmitter by half": (
        "transmitter_northing_m = 6355861.0\n",
        "",
        "[[setups]] 1 transmitter_northing_m",
        ("is missing",),
    ),
    "transmitter elsewhere": (
        "transmitter_easting_m = 573364.0",
        "transmitter_easting_m = 64.0",
        "[[setups]] 1 transmitter_easting_m",
        ("area of use", "EPSG:32631"),
    ),
    "trench of no line": (
        'lines = ["E1", "C1"]',
        'lines = ["E1", "X9"]',
        "[[trenches]] 1 lines",
        ("'X9'", "(E1, C1)"),
    ),
    "trench of a line twice": (
        'lines = ["E1", "C1"]',
        'lines = ["E1", "E1"]',
        "[[trenches]] 1 lines",
        ("twice",),
    ),
    "trench in one word": ('lines = ["E1", "C1"]', 'lines = "E1"', "[[trenches]] 1 lines", ("list of ids",)),
    "trench of nothing": ('lines = ["E1", "C1"]\n', "", "[[trenches]] 1 lines", ("is missing",)),
    "trench of width below zero": (
        "width_m = 0.5",
        "width_m = -0.5",
        "[[trenches]] 1 width_m",
        ("-0.5", "0 or more"),
    ),
    "baseline without end": (
        "end_easting_m = 573390.0\n",
        "",
        "[[baselines]] 1 end_easting_m",
        ("is missing",),
    ),
    "baseline of no length": (
        "end_easting_m = 573390.0",
        "end_easting_m = 573360.0",
        "[[baselines]] 1",
        ("one point",),
    ),
    "baseline elsewhere": (
        "end_easting_m = 573390.0",
        "end_easting_m = 5733900.0",
        "[[baselines]] 1 end_easting_m",
        ("area of use",),
    ),
    "corner swapped": (
        "easting_m = 573365.0\nnorthing_m = 6355880.0",
        "easting_m = 6355880.0\nnorthing_m = 573365.0",
        "[[corners]] 3 easting_m",
        ("6.35588e+06", "swapped"),
    ),
    "corner twice": (
        'id = "pole"',
        'id = "house-NW"',
        "[[corners]] 3 id",
        ("'house-NW'", "another one above"),
    ),
    "corner by half": ("northing_m = 6355880.0\n", "", "[[corners]] 3 northing_m", ("is missing",)),
    "corner far out": (
        "easting_m = 573365.0",
        "easting_m = 1e300",
        "[[corners]] 3 easting_m",
        ("1e+300", "at most"),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_refused(refused: Callable[..., None], name: str) -> None:
    old, new, where, parts = CASES[name]
    refused(((T, old, new),), f"{T} {where}", parts)


@pytest.mark.parametrize(
    ("text", "where", "part"),
    [
        ("", "job.toml [job]", "missing"),
        ("[job]\n", "job.toml [job] id", "missing"),
        ('job = "x"\n[[lines]]\nid = "E1"\n', "job.toml [job]", "not a table"),
        ('[job]\nid = "x"\n', "job.toml [[lines]]", "missing"),
        ('lines = []\n[job]\nid = "x"\n', "job.toml [[lines]]", "missing"),
        ('[job]\nid = "x"\n[lines]\nid = "E1"\n', "job.toml lines", "[[lines]]"),
        ('soil = 60\n[job]\nid = "x"\n[[lines]]\nid = "E1"\n', "job.toml [soil]", "not a table"),
        ('receivers = "R1"\n[job]\nid = "x"\n[[lines]]\nid = "E1"\n', "job.toml receivers", "[[receivers]]"),
        ("[job\n", "job.toml", "not TOML: expected"),
        ('[job]\nid = "x"\nid = "y"\n', "job.toml", "line 3"),
        ("[job]\nid = x\n", "job.toml", "line 2"),
        ('[job]\nid = "x"\n[job]\n', "job.toml", "line 3"),
        ("x = " + "[" * 5000, "job.toml", "not TOML"),
        ("x = 1" + "0" * 5000, "job.toml", "not TOML"),
    ],
)
def test_tables_of_a_wrong_kind(empty: Any, text: str, where: str, part: str) -> None:
    _, errors, _ = empty.write({"job.toml": text}).read()
    assert any(line.startswith(f"{where}: ") and part in line for line in errors), errors


def test_all_at_once(full: Any) -> None:
    full.edit(
        (T, 'utility = "electric"', 'utility = "power"'),
        (T, "outside_diameter_m = 0.03", "outside_diameter_m = -1"),
        ("readings.csv", "r1,E1,,2024", "r1,E7,,2024"),
        ("ties.csv", "P1,pole,11.18", "P1,mast,11.18"),
        ("test_holes.csv", ",no,,,1.2,", ",maybe,,,1.2,"),
        ("dig.geojson", '"kind": "bore"', '"kind": "tunnel"'),
    )
    _, errors, _ = full.read()
    assert [line.split(": ")[0] for line in errors] == [
        "job.toml [[lines]] 1 utility",
        "job.toml [[lines]] 1 outside_diameter_m",
        "test_holes.csv row 3 found",
        "ties.csv row 4 corner",
        "readings.csv row 2 line",
        "dig.geojson feature 2 kind",
    ]


def test_a_broken_entry_is_told_of_once(full: Any) -> None:
    """Rows that name a baseline or line which was told of already say nothing of it again."""
    full.edit(
        (T, "end_easting_m = 573390.0\n", ""),
        (
            "test_holes.csv",
            "test_hole,line,easting_m,northing_m,",
            "test_hole,line,baseline,station_m,offset_m,",
        ),
        ("test_holes.csv", "573362.0,6355870.0,yes", "B1,2.0,-10.0,yes"),
        ("test_holes.csv", "573362.0,6355871.0,no", "B1,2.0,-11.0,no"),
    )
    _, errors, _ = full.read()
    assert errors == ["job.toml [[baselines]] 1 end_easting_m: is missing"]
