"""Places that are refused: none, half of one, two, outside, swapped, tied to nothing."""

from __future__ import annotations

from typing import Any

import pytest

R = "readings.csv"
GRID = '[job]\nid = "m"\ncrs = "EPSG:32631"\n[[lines]]\nid = "E1"\n'
LOCAL = '[job]\nid = "m"\n[[lines]]\nid = "E1"\n'
CORNERS = (
    '[[corners]]\nid = "a"\neasting_m = 0.0\nnorthing_m = 0.0\n'
    '[[corners]]\nid = "b"\neasting_m = 10.0\nnorthing_m = 0.0\n'
    '[[corners]]\nid = "c"\neasting_m = 5.0\nnorthing_m = 9.0\n'
)
LINE = (
    '[[baselines]]\nid = "B1"\nstart_easting_m = 573360.0\nstart_northing_m = 6355860.0\n'
    "end_easting_m = 573390.0\nend_northing_m = 6355860.0\n"
)

#: job.toml, columns of the place, its cells, where, what the line says
CASES: dict[str, tuple[str, str, str, str, tuple[str, ...]]] = {
    "no column": (LOCAL, "note", "x", "row 1", ("no column that gives a place", "easting_m and northing_m")),
    "nothing given": (LOCAL, "easting_m,northing_m", ",", "row 2 place", ("is missing", "longitude_deg")),
    "easting alone": (
        LOCAL,
        "easting_m,northing_m",
        "5,",
        "row 2 northing_m",
        ("is blank", "easting_m is given"),
    ),
    "northing alone": (
        LOCAL,
        "easting_m,northing_m",
        ",5",
        "row 2 easting_m",
        ("is blank", "northing_m is given"),
    ),
    "no column of northings": (LOCAL, "easting_m", "5", "row 2 northing_m", ("not a column",)),
    "easting in feet, northing blank": (
        LOCAL,
        "easting_ft,northing_ft",
        "5,",
        "row 2 northing_ft",
        ("is blank", "easting_ft"),
    ),
    "two forms": (
        GRID,
        "easting_m,northing_m,longitude_deg,latitude_deg",
        "573360,6355870,4.2,57.3",
        "row 2 longitude_deg",
        ("second place", "easting_m"),
    ),
    "grid and tie": (
        LOCAL + CORNERS,
        "easting_m,northing_m,place",
        "5,5,P1",
        "row 2 place",
        ("second place beside easting_m",),
    ),
    "grid and half a baseline": (
        GRID + LINE,
        "easting_m,northing_m,baseline",
        "573360,6355870,B1",
        "row 2 baseline",
        ("second place",),
    ),
    "longitude alone": (GRID, "longitude_deg,latitude_deg", "4.2,", "row 2 latitude_deg", ("is blank",)),
    "longitude in a local job": (
        LOCAL,
        "longitude_deg,latitude_deg",
        "4.2,57.3",
        "row 2 longitude_deg",
        ('"local"', "EPSG"),
    ),
    "longitude too large": (
        GRID,
        "longitude_deg,latitude_deg",
        "184.2,57.3",
        "row 2 longitude_deg",
        ("'184.2'", "-180 to 180"),
    ),
    "latitude too large": (
        GRID,
        "longitude_deg,latitude_deg",
        "4.2,97.3",
        "row 2 latitude_deg",
        ("'97.3'", "-90 to 90"),
    ),
    "longitude in minutes": (
        GRID,
        "longitude_deg,latitude_deg",
        "4°12',57.3",
        "row 2 longitude_deg",
        ("is not a number",),
    ),
    "longitude as a range": (
        GRID,
        "longitude_deg,latitude_deg",
        "4.1..4.2,57.3",
        "row 2 longitude_deg",
        ("a single number",),
    ),
    "longitude and latitude swapped": (
        GRID,
        "longitude_deg,latitude_deg",
        "57.3,4.2",
        "row 2 longitude_deg",
        ("area of use of EPSG:32631", "swapped"),
    ),
    "longitude elsewhere": (
        GRID,
        "longitude_deg,latitude_deg",
        "-104.2,57.3",
        "row 2 longitude_deg",
        ("area of use",),
    ),
    "coordinates swapped": (
        GRID,
        "easting_m,northing_m",
        "6355870,573360",
        "row 2 easting_m",
        ("area of use of EPSG:32631", "WGS 84 / UTM zone 31N", "swapped"),
    ),
    "degrees for metres": (GRID, "easting_m,northing_m", "4.2,57.3", "row 2 easting_m", ("area of use",)),
    "a local place on a grid": (
        GRID,
        "easting_m,northing_m",
        "12.5,3.0",
        "row 2 easting_m",
        ("area of use",),
    ),
    "kilometres": (GRID, "easting_m,northing_m", "573.36,6355.87", "row 2 easting_m", ("area of use",)),
    "position sigma below zero": (
        LOCAL,
        "easting_m,northing_m,position_sigma_m",
        "1,2,-0.1",
        "row 2 position_sigma_m",
        ("negative",),
    ),
    "position sigma as a range": (
        LOCAL,
        "easting_m,northing_m,position_sigma_m",
        "1,2,0.1..0.2",
        "row 2 position_sigma_m",
        ("single number",),
    ),
    "no such baseline": (
        GRID + LINE,
        "baseline,station_m,offset_m",
        "B2,1,0",
        "row 2 baseline",
        ("'B2' is no baseline", "(B1)"),
    ),
    "baselines there are none": (
        LOCAL,
        "baseline,station_m,offset_m",
        "B1,1,0",
        "row 2 baseline",
        ("it has none",),
    ),
    "baseline without station": (
        GRID + LINE,
        "baseline,station_m,offset_m",
        "B1,,0",
        "row 2 station_m",
        ("is blank",),
    ),
    "baseline without offset": (
        GRID + LINE,
        "baseline,station_m,offset_m",
        "B1,1,",
        "row 2 offset_m",
        ("is blank", "baseline is given"),
    ),
    "baseline without column of offsets": (
        GRID + LINE,
        "baseline,station_m",
        "B1,1",
        "row 2 offset_m",
        ("not a column",),
    ),
    "station without baseline": (
        GRID + LINE,
        "baseline,station_m,offset_m",
        ",1,0",
        "row 2 baseline",
        ("is blank", "station_m"),
    ),
    "station without end": (
        GRID + LINE,
        "baseline,station_m,offset_m",
        "B1,1e9,0",
        "row 2 station_m",
        ("not within",),
    ),
    "offset in words": (
        GRID + LINE,
        "baseline,station_m,offset_m",
        "B1,1,left",
        "row 2 offset_m",
        ("'left' is not a length",),
    ),
    "tie without a file": (
        LOCAL + CORNERS,
        "place",
        "P1",
        "row 2 place",
        ("'P1'", "ties.csv", "no such file"),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_refused(empty: Any, name: str) -> None:
    job, columns, cells, where, parts = CASES[name]
    empty.write({"job.toml": job, R: f"reading,line,{columns}\nr1,E1,{cells}\n"})
    _, errors, _ = empty.read()
    assert len(errors) == 1, errors
    assert errors[0].startswith(f"{R} {where}: ")
    assert all(part in errors[0] for part in parts), errors[0]


TIES: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "one distance": ("P1,a,5\n", "ties.csv row 2 place", ("'P1'", "two different corners")),
    "one corner twice": ("P1,a,5\nP1,a,5.1\n", "ties.csv row 2 place", ("two different corners",)),
    "circles apart": ("P1,a,2\nP1,b,3\n", "ties.csv row 2 place", ("'P1'", "do not meet")),
    "circle within circle": ("P1,a,30\nP1,b,3\n", "ties.csv row 2 place", ("do not meet",)),
    "three that disagree": ("P1,a,5\nP1,b,5.5\nP1,c,30\n", "ties.csv row 2 place", ("do not meet",)),
    "another place": ("P2,a,6\nP2,b,6\n", "readings.csv row 2 place", ("'P1' is no place of ties.csv (P2)",)),
    "no rows": ("", "readings.csv row 2 place", ("'P1' is no place of ties.csv (it has none)",)),
}


@pytest.mark.parametrize("name", TIES)
def test_ties_refused(empty: Any, name: str) -> None:
    rows, where, parts = TIES[name]
    empty.write(
        {
            "job.toml": LOCAL + CORNERS,
            R: "reading,line,place\nr1,E1,P1\n",
            "ties.csv": f"place,corner,distance_m\n{rows}",
        }
    )
    _, errors, _ = empty.read()
    assert len(errors) == 1, errors
    assert errors[0].startswith(f"{where}: ")
    assert all(part in errors[0] for part in parts), errors[0]


def test_walk_across_by_baseline_needs_two_offsets(empty: Any) -> None:
    empty.write(
        {
            "job.toml": GRID + LINE,
            "profiles.csv": "profile,line,baseline,station_m,offset_m,horizontal\nx,E1,B1,5,0.5,3\n",
        }
    )
    _, errors, _ = empty.read()
    assert len(errors) == 1
    assert errors[0].startswith("profiles.csv row 1 offset_m: is there once")


def test_outside_is_told_for_each_row(empty: Any) -> None:
    rows = "r1,E1,573360,6355870\nr2,E1,6355870,573360\nr3,E1,573361,6355870\nr4,E1,1,2\n"
    empty.write({"job.toml": GRID, R: f"reading,line,easting_m,northing_m\n{rows}"})
    _, errors, _ = empty.read()
    assert [line.split(":")[0] for line in errors] == [f"{R} row {row} easting_m" for row in (3, 5)]
    assert "swapped" in errors[0]
    assert "swapped" not in errors[1]
