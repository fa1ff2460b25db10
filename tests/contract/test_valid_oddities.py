"""Files that look odd and are right, and what is only worth a warning."""

from __future__ import annotations

import math
from typing import Any

import pytest

HEAD = "reading,line,easting_m,northing_m"
TWO = f"{HEAD}\nr1,E1,1.0,2.0\nr2,E1,3.0,2.0\n"


def depths(folder: Any, header: str, *cells: str) -> list[Any]:
    rows = "".join(f"r{i},E1,{i},0,{cell}\n" for i, cell in enumerate(cells))
    job, warnings = folder.write({"readings.csv": f"{HEAD},{header}\n{rows}"}).accepted()
    assert warnings == []
    return [r.depth_m for r in job.readings]


@pytest.mark.parametrize(
    "data",
    [
        TWO.encode("utf-8-sig"),
        TWO.replace("\n", "\r\n").encode(),
        TWO.replace("\n", "\r").encode(),
        TWO.rstrip("\n").encode(),
        (TWO + "\n\r\n ,,\n,,,\n").encode(),
        ("sep=;\n" + TWO.replace(",", ";")).encode(),
        ("sep=;\r\n" + TWO.replace(",", ";").replace("\n", "\r\n")).encode("utf-8-sig"),
        ('"sep=;"\n' + TWO.replace(",", ";")).encode(),
        ("SEP=\t\n" + TWO.replace(",", "\t")).encode(),
        ("sep=,\n" + TWO).encode(),
        TWO.replace("r1", '"r1"').replace("1.0", '"1.0"').encode(),
        TWO.replace(",", " , ").encode(),
        TWO.replace("1.0", "+1.0").replace("3.0", "3.").encode(),
        TWO.replace("1.0", "1e0").replace("3.0", "0.3e+1").encode(),
        TWO.replace("\n", ",\n").encode(),
        TWO.replace("northing_m", "northing_m,,").replace("2.0", "2.0,,").encode(),
    ],
    ids=range(16),
)  # fmt: skip
def test_ways_to_write_one_table(minimal: Any, data: bytes) -> None:
    job, warnings = minimal.write({"readings.csv": data}).accepted()
    assert warnings == []
    assert [(r.id, r.row, r.place.easting_m, r.place.northing_m) for r in job.readings] == [
        ("r1", 2, 1.0, 2.0),
        ("r2", 3, 3.0, 2.0),
    ]


def test_a_separator_line_is_not_counted(minimal: Any) -> None:
    text = "sep=;\nreading;line;easting_m;northing_m\nr1;E1;1;2\nr2;E1;x;2\n"
    _, errors, _ = minimal.write({"readings.csv": text}).read()
    assert [line.split(":")[0] for line in errors] == ["readings.csv row 3 easting_m"]


def test_job_file_with_mark_and_line_ends(minimal: Any) -> None:
    data = '[job]\r\nid = "m"\r\n[[lines]]\r\nid = "E1"\r\n'.encode("utf-8-sig")
    assert minimal.write({"job.toml": data}).accepted()[1] == []


def test_rows_in_any_order_stay_in_it(minimal: Any) -> None:
    rows = "".join(f"r{i},E1,{e},0\n" for i, e in enumerate((10, 2, 6, 0)))
    job, warnings = minimal.write({"readings.csv": f"{HEAD}\n{rows}"}).accepted()
    assert [r.place.easting_m for r in job.readings] == [10.0, 2.0, 6.0, 0.0]
    assert warnings == []


def test_a_line_break_in_a_note_counts_as_one_row(minimal: Any) -> None:
    text = f'{HEAD},note,depth_m\nr1,E1,1,2,"two\nlines",1\nr2,E1,3,2,,x\n'
    _, errors, _ = minimal.write({"readings.csv": text}).read()
    assert [line.split(":")[0] for line in errors] == ["readings.csv row 3 depth_m"]


def test_mixed_units_in_a_column_without_one(minimal: Any) -> None:
    got = depths(minimal, "depth", "3 ft 6 in", '"3\'6"""', "42 in", "1.07 m", "107 cm", "1070 mm", "3'6\"")
    assert [round(d.value, 9) for d in got] == [1.0668, 1.0668, 1.0668, 1.07, 1.07, 1.07, 1.0668]


def test_typographic_quotes(minimal: Any) -> None:
    got = depths(minimal, "depth", "3\u20196\u201d", "3\u2032 6\u2033", "3 FT 6 IN")
    assert [round(d.value, 9) for d in got] == [1.0668] * 3


@pytest.mark.parametrize(
    ("header", "cell", "metres"),
    [
        ("depth_m", "1.07", 1.07),
        ("depth_m", "1.07 m", 1.07),
        ("depth_ft", "3.5", 1.0668),
        ("depth_ft", "3.5 ft", 1.0668),
        ("depth_ft", "3.5'", 1.0668),
        ("depth_in", "42", 1.0668),
        ("depth_in", '"42"""', 1.0668),
        ("depth_cm", "107", 1.07),
        ("depth_mm", "1070", 1.07),
        ("depth_m", "0", 0.0),
        ("depth_m", "-0", 0.0),
        ("depth_m", ".5", 0.5),
    ],
)
def test_any_unit_for_any_length(minimal: Any, header: str, cell: str, metres: float) -> None:
    (got,) = depths(minimal, f"bearing_deg,{header}", f"90,{cell}")
    assert math.isclose(got.value, metres, abs_tol=1e-12)


def test_a_cell_with_its_column_unit_in_quotes_is_not_another_unit(minimal: Any) -> None:
    text = f'{HEAD},depth_in\nr1,E1,1,2,"3\'6"""\nr2,E1,3,2,42\n'
    _, errors, _ = minimal.write({"readings.csv": text}).read()
    assert [line.split(":")[0] for line in errors] == ["readings.csv row 2 depth_in"]


def test_ranges(minimal: Any) -> None:
    got = depths(minimal, "depth", "2 in..4 in", "2..4 in", "1 ft..1 ft 6 in", "0.9 m..1.1 m", "1.0 m..1.0 m")
    inch = 0.0254
    ends = [(2 * inch, 4 * inch), (2 * inch, 4 * inch), (12 * inch, 18 * inch), (0.9, 1.1), (1.0, 1.0)]
    for measured, (low, high) in zip(got, ends, strict=True):
        assert math.isclose(measured.low, low)
        assert math.isclose(measured.high, high)
        assert measured.rounding == 0.0


def test_ranges_below_zero_where_signs_mean_sides(minimal: Any) -> None:
    text = f"{HEAD},null_offset_in\nr1,E1,1,2,-24..-12\nr2,E1,3,2,-1..1\n"
    job, _ = minimal.write({"readings.csv": text}).accepted()
    first = job.readings[0].null_offset_m
    assert (round(first.low, 4), round(first.high, 4)) == (-0.6096, -0.3048)


@pytest.mark.parametrize(
    ("header", "cells", "step"),
    [
        ("depth_m", ("1.07", "1.1", "2"), 0.01),
        ("depth_m", ("1", "2", "3"), 1.0),
        ("depth_in", ("42", "43", "45"), 0.0254),
        ("depth", ("3 ft 6 in", "3 ft", "42 in"), 0.0254),
        ("depth", ("3 ft 6.5 in", "3 ft 7 in"), 0.00254),
        ("depth_m", ("1.05", "1.10", "1.25", "1.40", "1.55", "0.90"), 0.05),
        ("depth_m", ("1.02", "1.10", "1.26", "1.40", "1.58", "0.90"), 0.02),
        ("depth_m", ("1.50", "2.00", "3.00", "2.50", "1.00", "4.50"), 0.5),
        ("depth_m", ("1.05", "1.10", "1.25", "1.40", "1.55"), 0.01),  # five values: too few to tell
        ("depth_m", ("1.05", "1.10", "1.05", "1.10", "1.05", "1.10"), 0.01),  # two values, over and over
        ("depth_ft", ("4.08", "3.83", "3.67", "3.50", "3.42", "3.25"), 0.0254),  # decimal feet, whole inches
        ("depth_ft", ("4.05", "3.83", "3.61", "3.50", "3.44", "3.29"), 0.003048),
    ],
)
def test_rounding_of_a_column(minimal: Any, header: str, cells: tuple[str, ...], step: float) -> None:
    assert {round(d.rounding, 9) for d in depths(minimal, header, *cells)} == {round(step, 9)}


def test_rounding_of_mixed_units_is_by_unit(minimal: Any) -> None:
    got = depths(minimal, "depth", "1.07 m", "3 ft 6 in", "1.1 m", "107 cm")
    assert [round(d.rounding, 6) for d in got] == [0.01, 0.0254, 0.01, 0.01]


def test_currents_are_in_milliamperes(minimal: Any) -> None:
    text = f"{HEAD},current_ma\nr1,E1,1,2,8.0\nr2,E1,3,2,7..9\nr3,E1,5,2,0\n"
    job, _ = minimal.write({"readings.csv": text}).accepted()
    first, second, third = (r.current_a for r in job.readings)
    assert math.isclose(first.value, 8e-3)
    assert math.isclose(first.rounding, 1e-4)
    assert (round(second.low, 6), round(second.high, 6), third.value) == (7e-3, 9e-3, 0.0)


WARNINGS: dict[str, tuple[str, str, str, str, tuple[str, ...]]] = {
    "unknown column": (
        "readings.csv",
        "taken_at,by",
        "taken_at,weather",
        "readings.csv row 1 weather",
        ("not a column",),
    ),
    "misspelt column": (
        "readings.csv",
        "taken_at,by",
        "taken_at,bearing",
        "readings.csv row 1 bearing",
        ("bearing_deg meant",),
    ),
    "unknown key": (
        "job.toml",
        'owner = "the village"',
        "depth_m = 1.0",
        "job.toml [[lines]] 1 depth_m",
        ("not a key",),
    ),
    "misspelt key": (
        "job.toml",
        'owner = "the village"',
        'ownr = "x"',
        "job.toml [[lines]] 1 ownr",
        ("is owner meant?",),
    ),
    "unknown key of the job": (
        "job.toml",
        'title = "Alder Street 17"',
        "ticket = 7",
        "job.toml [job] ticket",
        ("not a key",),
    ),
    "unknown key of the soil": (
        "job.toml",
        "resistivity_ohm_m = 60",
        "resistivity = 60",
        "job.toml [soil] resistivity",
        ("resistivity_ohm_m meant",),
    ),
    "unknown table": (
        "job.toml",
        "[soil]",
        "[weather]\nrain = true\n[soil]",
        "job.toml weather",
        ("not a table",),
    ),
    "line without receiver": (
        "job.toml",
        'receiver = "R1"\n[[setups]]',
        "[[setups]]",
        "job.toml line C1",
        ("names no receiver",),
    ),
    "trench of one line": (
        "job.toml",
        '["E1", "C1"]',
        '["E1"]',
        "job.toml [[trenches]] 1 lines",
        ("fewer than two",),
    ),
    "unknown property": (
        "records.geojson",
        '"source"',
        '"colour"',
        "records.geojson feature 1 colour",
        ("not a key",),
    ),
    "unknown member": (
        "dig.geojson",
        '"features"',
        '"version": 1, "features"',
        "dig.geojson version",
        ("not read",),
    ),
    "record of another line": (
        "records.geojson",
        '"line": "E1"',
        '"line": "X9"',
        "records.geojson feature 1 line",
        ("'X9'", "for itself"),
    ),
    "depth refused and given": (
        "readings.csv",
        "1.02,,,7.9",
        "1.02,,yes,7.9",
        "readings.csv row 3 depth_refused",
        ("as well",),
    ),
    "raised without depth": (
        "readings.csv",
        ",+,0.30,1.31",
        ",+,0.30,",
        "readings.csv row 2 raised_depth",
        ("says nothing",),
    ),
    "raised by nothing said": (
        "readings.csv",
        ",+,0.30,1.31",
        ",+,,1.31",
        "readings.csv row 2 raised_by",
        ("says nothing",),
    ),
    "not found, depth of search open": (
        "test_holes.csv",
        ",1.2,",
        ",,",
        "test_holes.csv row 3 dug_to_m",
        ("not known",),
    ),
    "not found, and a depth": (
        "test_holes.csv",
        "no,,,1.2",
        "no,0.5,,1.2",
        "test_holes.csv row 3 depth_to_top_m",
        ("found is no",),
    ),
    "walk with its reading's id elsewhere": (
        "profiles.csv",
        "x9,C1,,573372.00,6355871.00,90,-1.0",
        "r4,C1,,573372.00,6355871.00,90,-1.0",
        "profiles.csv row 5 profile",
        ("4.00 m", "own zero"),
    ),
    "walk with the id of another line's reading": (
        "profiles.csv",
        "x9,C1,,573372.00,6355871.00,90,-1.0",
        "r1,C1,,573372.00,6355871.00,90,-1.0",
        "profiles.csv row 5 profile",
        ("another line, E1",),
    ),
    "point of a walk without amplitude": (
        "profiles.csv",
        "0.05,5.1,4.9",
        "0.05,,",
        "profiles.csv row 2",
        ("neither",),
    ),
    "range of bearings": (
        "readings.csv",
        "peak,90,",
        "peak,80..100,",
        "readings.csv row 2 bearing_deg",
        ("middle",),
    ),
    "tie with a residual": (
        "ties.csv",
        "P1,pole,11.18",
        "P1,pole,11.78",
        "ties.csv row 2 distance_m",
        ("longer than the other distances",),
    ),
    "tie of two distances": (
        "ties.csv",
        "P1,pole,11.18\n",
        "",
        "ties.csv row 2 place",
        ("fit two places", "nearer to the other places"),
    ),
    "blank row between": (
        "readings.csv",
        "\nr3,",
        "\n,,,\n\nr3,",
        "readings.csv row 4",
        ("is blank", "1 after it"),
    ),
    "short row": ("readings.csv", "yes,,,,", "yes", "readings.csv row 5", ("fewer cells",)),
}


@pytest.mark.parametrize("name", WARNINGS)
def test_worth_a_warning(full: Any, name: str) -> None:
    file, old, new, where, parts = WARNINGS[name]
    edits = [(file, old, new)]
    if name.startswith("walk with"):
        ident = new.split(",")[0]
        edits.append((file, "x9,C1,,573372.00,6355871.00,90,1.0", f"{ident},C1,,573372.00,6355871.00,90,1.0"))
    _, warnings = full.edit(*edits).accepted()
    told = [line for line in warnings if line.startswith(f"{where}: ")]
    assert len(told) == 1, warnings
    assert all(part in told[0] for part in parts), told


def test_sonde_columns_on_a_line(minimal: Any) -> None:
    text = f"{HEAD},null_ahead_m\nr1,E1,1,2,0.7\nr2,E1,3,2,\n"
    _, warnings = minimal.write({"readings.csv": text}).accepted()
    assert warnings == [
        'readings.csv row 2 null_ahead_m: is for a sonde, and line E1 has no signal = "sonde"'
    ]
    minimal.edit(("job.toml", 'id = "E1"', 'id = "E1"\nsignal = "sonde"'))
    assert minimal.accepted()[1] == []


def test_files_of_other_names(minimal: Any) -> None:
    extra = {"truth.csv": "x", "photo.jpg": b"\xff", "notes.txt": "x", "Readings.csv": "x", "visits.csv": "x"}
    (minimal.path / "photos").mkdir()
    _, warnings = minimal.write(extra).accepted()
    assert warnings == [
        "Readings.csv: is not a file of a job folder, so it was not read; readings.csv is read",
        "visits.csv: is not a file of a job folder, so it was not read",
    ]


def test_link_inside_the_folder(minimal: Any) -> None:
    (minimal.path / "readings.csv").rename(minimal.path / "monday.txt")
    (minimal.path / "readings.csv").symlink_to("monday.txt")
    assert len(minimal.accepted()[0].readings) == 2


def test_link_to_the_folder(minimal: Any, tmp_path: Any) -> None:
    (tmp_path / "link").symlink_to(minimal.path)
    minimal.path = tmp_path / "link"
    assert len(minimal.accepted()[0].readings) == 2


def test_line_with_nothing_to_solve(minimal: Any) -> None:
    minimal.edit(("job.toml", 'id = "E1"', 'id = "E1"\n[[lines]]\nid = "W1"'))
    _, warnings = minimal.accepted()
    assert warnings == ["line W1: nothing to solve: no reading, profile or reading from the side names it"]


@pytest.mark.parametrize("rows", ["r1,E1,1,2\n", "r1,E1,1,2\nr2,E1,1.1,2.1\n"])
def test_lone_place_without_bearing(minimal: Any, rows: str) -> None:
    _, warnings = minimal.write({"readings.csv": f"{HEAD}\n{rows}"}).accepted()
    assert len(warnings) == 1
    assert warnings[0].startswith(
        "readings.csv row 2 bearing_deg: is not given, and the place is the only one"
    )


@pytest.mark.parametrize("rows", ["r1,E1,1,2,45\n", "r1,E1,1,2,\nr2,E1,1,3,\n"])
def test_no_warning_with_a_bearing_or_a_second_place(minimal: Any, rows: str) -> None:
    assert minimal.write({"readings.csv": f"{HEAD},bearing_deg\n{rows}"}).accepted()[1] == []


def test_only_line_needs_no_name(minimal: Any) -> None:
    text = "reading,easting_m,northing_m\nr1,1,2\nr2,3,2\n"
    job, warnings = minimal.write({"readings.csv": text}).accepted()
    assert {r.line for r in job.readings} == {"E1"}
    assert warnings == [
        "readings.csv row 1: has no column line, so every row is taken to be of E1, the only one of the job"
    ]
    job, warnings = minimal.write({"readings.csv": f"{HEAD}\nr1,E1,1,2\nr2,,3,2\nr3,,5,2\n"}).accepted()
    assert {r.line for r in job.readings} == {"E1"}
    assert len(warnings) == 1
    assert warnings[0].startswith("readings.csv row 3 line: is blank")


def test_rows_that_leave_their_setup_open(minimal: Any) -> None:
    """What two listed setups have in common is known of such rows, and nothing else."""
    setups = "".join(
        f'[[setups]]\nid = "S{k}"\nline = "E1"\nhookup = "direct"\nfrequency_hz = {f}\n'
        for k, f in ((1, 1000), (2, 33000))
    )
    minimal.write({"job.toml": f'[job]\nid = "m"\n[[lines]]\nid = "E1"\n{setups}'})
    job, warnings = minimal.accepted()
    open_one = job.lines[0].setups[0]
    assert (open_one.id, str(open_one.hookup), open_one.frequency_hz) == ("", "direct", None)
    assert [s.id for s in job.lines[0].setups] == ["", "S1", "S2"]
    assert len(warnings) == 1
    assert "(S1, S2)" in warnings[0]


def test_the_only_listed_setup_is_meant(minimal: Any) -> None:
    minimal.edit(("job.toml", 'id = "E1"', 'id = "E1"\n[[setups]]\nid = "S1"\nline = "E1"\nhookup = "clamp"'))
    job, warnings = minimal.accepted()
    assert {r.setup for r in job.readings} == {"S1"}
    assert [s.id for s in job.lines[0].setups] == ["S1"]
    assert warnings == []


def test_position_sigma_in_any_unit_and_coarse_places(minimal: Any) -> None:
    text = "reading,line,easting_ft,northing_ft,position_sigma_cm\nr1,E1,10,20,5\nr2,E1,13,20,\n"
    job, _ = minimal.write({"readings.csv": text}).accepted()
    first, second = (r.place for r in job.readings)
    assert math.isclose(first.easting_m, 3.048)
    # Written to the foot: a uniform error of one foot counts beside the fix, 5 cm stated or 2 cm assumed.
    foot = 0.3048 / math.sqrt(12)
    assert math.isclose(first.sigma_m, math.hypot(0.05, foot))
    assert math.isclose(second.sigma_m, math.hypot(0.02, foot))


def test_web_map_coordinates_are_warned_of(minimal: Any) -> None:
    minimal.edit(("job.toml", 'id = "m"', 'id = "m"\ncrs = "EPSG:3857"'))
    text = f"{HEAD}\nr1,E1,500000,7000000\nr2,E1,500003,7000000\n"
    _, warnings = minimal.write({"readings.csv": text}).accepted()
    assert len(warnings) == 1
    assert "1.67 times as long" in warnings[0]  # 1/cos of latitude 53.1


def test_same_folder_same_answer(full: Any) -> None:
    full.edit(("readings.csv", "taken_at,by", "taken_at,weather"), ("ties.csv", "P1,pole,11.18\n", ""))
    assert full.read() == full.read()
