"""Tables with a cell, a column or a row that is refused: where, and what is said."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

R = "readings.csv"
ROW1 = (
    "r1,E1,,2024-05-06T08:01:00-05:00,crew-2,573360.00,6355870.00,peak,90,"
    "0.02,1.01,0.98,1.00,two-coil,,8.0,+,0.30,1.31"
)


NAMES = (
    "reading,line,setup,taken_at,by,easting_m,northing_m,mark_by,bearing_deg,null_offset_m,half_left_m,"
    "half_right_m,depth_m,depth_method,depth_refused,current_ma,current_sign,raised_by_m,raised_depth_m"
)


def row1(**cells: str) -> str:
    """The first row of readings with some cells changed."""
    names = NAMES.split(",")
    values = dict(zip(names, ROW1.split(","), strict=True))
    assert set(cells) <= set(values)
    return ",".join({**values, **cells}.values())


LENGTH = "(for example 1.07, or 3 ft 6 in in a column named depth)"
#: column and content of row 2 of readings.csv, and what the line says
CELLS: list[tuple[str, str, tuple[str, ...]]] = [
    ("depth_m", "abc", ("'abc' is not a length", LENGTH)),
    ("depth_m", "1,07", ()),  # see test_decimal_comma; here it makes the row too long
    ("depth_m", "nan", ("'nan' is not a length", LENGTH)),
    ("depth_m", "NaN", ("'NaN' is not a length",)),
    ("depth_m", "inf", ("'inf' is not a length",)),
    ("depth_m", "-inf", ("'-inf' is not a length",)),
    ("depth_m", "Infinity", ("'Infinity' is not a length",)),
    ("depth_m", "0x1F", ("'0x1F' is not a length",)),
    ("depth_m", "1_000", ("'1_000' is not a length",)),
    ("depth_m", "1e999", ("'1e999' is not a finite number",)),
    ("depth_m", "\u0661.\u0660", ("'\u0661.\u0660' is not a length",)),
    ("depth_m", "\uff11.0", ("'\uff11.0' is not a length",)),
    ("depth_m", "\u22121.0", ("'\u22121.0' is not a length",)),
    ("depth_m", "1.0.7", ("is not a length",)),
    ("depth_m", "1 07", ("is not a length",)),
    ("depth_m", "?", ("'?' is not a length",)),
    ("depth_m", "~1", ("'~1' is not a length",)),
    ("depth_m", "<1", ("'<1' is not a length",)),
    ("depth_m", "-0.5", ("'-0.5' is negative", "0 or more")),
    ("depth_m", "-0.5..0.5", ("'-0.5..0.5' is negative",)),
    ("depth_m", "1.2..1.0", ("'1.2..1.0'", "higher end first")),
    ("depth_m", "1.0..", ("'1.0..' is not a range",)),
    ("depth_m", "..1.0", ("'..1.0' is not a range",)),
    ("depth_m", "1..2..3", ("is not a range",)),
    ("depth_m", "1.0..x", ("is not a length",)),
    ("depth_m", "42 in", ("'42 in' states inches", "its column is in metres")),
    ("depth_m", "3 ft 6 in", ("states feet and inches", "its column is in metres", "name the column depth")),
    ("depth_m", "107 cm", ("states centimetres",)),
    ("depth_m", "20000", ("'20000' is not within 0 to 10,000 m",)),
    ("depth_m", "true", ("'true' is not a length",)),
    ("null_offset_m", "left 0.1", ("'left 0.1' is not a length", "a column named null_offset")),
    ("null_offset_m", "0.1L", ("'0.1L' is not a length",)),
    ("null_offset_m", "0.3..-0.1", ("higher end first",)),
    ("half_left_m", "-1.01", ("'-1.01' is negative",)),
    ("half_right_m", "-0.98", ("'-0.98' is negative",)),
    ("raised_by_m", "-0.30", ("'-0.30' is negative",)),
    ("raised_depth_m", "-1.31", ("'-1.31' is negative",)),
    ("raised_depth_m", "deep", ("'deep' is not a length", "a column named raised_depth")),
    ("current_ma", "-8.0", ("'-8.0' is negative",)),
    ("current_ma", "8 mA", ("'8 mA' is not a number",)),
    ("current_ma", "8..7", ("higher end first",)),
    ("current_ma", "high", ("'high' is not a number (for example 1.07)",)),
    ("current_ma", "1e10", ("'1e10' is not within 0 to 1,000,000,000 mA",)),
    ("current_sign", "plus", ("'plus' is not one of +, -",)),
    ("current_sign", "1", ("'1' is not one of +, -",)),
    ("bearing_deg", "361", ("'361' is not within -360 to 360 degrees",)),
    ("bearing_deg", "-400", ("'-400' is not within -360 to 360",)),
    ("bearing_deg", "north", ("'north' is not a number",)),
    ("bearing_deg", "N45E", ("'N45E' is not a number",)),
    ("bearing_deg", "90°", ("'90°' is not a number",)),
    ("mark_by", "Peak", ("'Peak' is not one of peak, null, guided, unknown",)),
    ("mark_by", "paint", ("'paint' is not one of peak, null, guided, unknown",)),
    ("depth_method", "gradient", ("'gradient' is not one of two-coil, sonde, unknown",)),
    ("depth_refused", "true", ("'true' is not one of yes, no",)),
    ("depth_refused", "1", ("'1' is not one of yes, no",)),
    ("depth_refused", "Y", ("'Y' is not one of yes, no",)),
    ("taken_at", "2024-05-06T08:01:00", ("has no offset", "2024-05-06T08:03:00-05:00")),
    ("taken_at", "2024-05-06", ("has no offset",)),
    ("taken_at", "6/5/2024 8:01", ("'6/5/2024 8:01' is not a time in ISO 8601",)),
    ("taken_at", "2024-13-06T08:01:00Z", ("is not a time",)),
    ("taken_at", "yesterday", ("'yesterday' is not a time",)),
    ("reading", "", ("is blank",)),
    ("reading", "r 1", ("'r 1' is not an id", "1 to 64 of")),
    ("reading", ".r1", ("'.r1' is not an id", "not starting with a dot")),
    ("reading", "r/1", ("'r/1' is not an id",)),
    ("reading", "é1", ("'é1' is not an id",)),
    ("reading", "a" * 65, ("is not an id",)),
    ("line", "E2", ("'E2' is no line of this job (E1, C1)",)),
    ("line", "e1", ("'e1' is no line of this job (E1, C1)",)),
    ("line", "", ("is blank", "several lines (E1, C1)")),
    ("line", "E 1", ("'E 1' is not an id",)),
    ("setup", "S1", ("'S1' is no setup of line E1 (S2)",)),
    ("easting_m", "abc", ("'abc' is not a length",)),
    ("easting_m", "nan", ("'nan' is not a length",)),
    ("easting_m", "1e9", ("'1e9' is not within -100,000,000 to 100,000,000 m",)),
    ("northing_m", "6355870.0 N", ("'6355870.0 N' is not a length",)),
]


@pytest.mark.parametrize(("column", "cell", "parts"), CELLS, ids=[f"{c}={v}"[:40] for c, v, _ in CELLS])
def test_cell_of_a_reading(
    refused: Callable[..., None], column: str, cell: str, parts: tuple[str, ...]
) -> None:
    where = f"{R} row 2 {column}" if parts else f"{R} row 2"
    refused(((R, ROW1, row1(**{column: cell})),), where, parts or ("20 cells", "19 columns"))


def test_decimal_comma(full: Any) -> None:
    full.edit((R, ROW1, row1(depth_m='"1,07"')))
    _, errors, _ = full.read()
    assert errors == [
        "readings.csv row 2 depth_m: '1,07' is not a length (a decimal point is needed, for example 1.07)"
    ]


def test_the_message_of_the_contract(full: Any) -> None:
    """Word for word as in the contract's example, but for the row."""
    full.edit((R, ROW1, row1(depth_m="abc")))
    _, errors, _ = full.read()
    assert errors == [
        "readings.csv row 2 depth_m: 'abc' is not a length "
        "(for example 1.07, or 3 ft 6 in in a column named depth)"
    ]


def test_a_cell_without_a_unit_in_a_column_without_one(minimal: Any) -> None:
    minimal.write({R: "reading,line,easting_m,northing_m,depth\nr1,E1,1,2,1.07\nr2,E1,3,2,1.1 m\n"})
    _, errors, _ = minimal.read()
    assert len(errors) == 1
    assert errors[0].startswith("readings.csv row 2 depth: '1.07' states no unit")


def test_every_wrong_row_has_its_line(minimal: Any) -> None:
    rows = "".join(f"r{i},E1,{i},0,x\n" for i in range(200))
    minimal.write({R: "reading,line,easting_m,northing_m,depth_m\n" + rows})
    _, errors, _ = minimal.read()
    assert [line.split(" depth_m")[0] for line in errors] == [f"readings.csv row {i + 2}" for i in range(200)]


def test_text_of_a_cell_is_shown_on_one_line(minimal: Any) -> None:
    minimal.write({R: 'reading,line,easting_m,northing_m,depth_m\nr1,E1,1,2,"a\n\x1b[31mb"\n'})
    _, errors, _ = minimal.read()
    assert len(errors) == 1
    assert r"'a\n\x1b[31mb' is not a length" in errors[0]
