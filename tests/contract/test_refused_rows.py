"""Tables with a row or a column that is refused: where, and what is said."""

from __future__ import annotations

from collections.abc import Callable

import pytest

R, P, S, H, TIES = "readings.csv", "profiles.csv", "side_readings.csv", "test_holes.csv", "ties.csv"
ROW4 = "r4,C1,,,,573368.00,6355871.01,unknown,,,,,,,yes,,,,"

#: edits, where, what the line says
OTHERS: dict[str, tuple[str, str, str, str, tuple[str, ...]]] = {
    "reading twice": (R, "\nr2,E1", "\nr1,E1", f"{R} row 3 reading", ("'r1'", "row 2 already")),
    "setup of another line": (
        R,
        ROW4,
        ROW4.replace("C1,", "C1,S2", 1),
        f"{R} row 5 setup",
        ("'S2' is no setup of line C1",),
    ),
    "row too long": (R, ROW4, ROW4 + ",5,6", f"{R} row 5", ("21 cells", "19 columns", "'5'")),
    "column twice": (
        R,
        "current_sign,raised_by_m",
        "bearing_deg,raised_by_m",
        f"{R} row 1 bearing_deg",
        ("two columns",),
    ),
    "quantity twice": (
        R,
        "half_right_m,depth_m",
        "depth_ft,depth_m",
        f"{R} row 1 depth_m",
        ("same quantity as depth_ft",),
    ),
    "quantity with and without unit": (
        R,
        "half_right_m,depth_m",
        "depth,depth_m",
        f"{R} row 1 depth_m",
        ("same quantity as depth",),
    ),
    "eastings twice": (
        R,
        "half_right_m,depth_m",
        "easting_ft,depth_m",
        f"{R} row 1 easting_ft",
        ("same quantity as easting_m",),
    ),
    "column of ids missing": (R, "reading,line", "read,line", f"{R} row 1", ("has no column reading",)),
    "column of lines missing": (
        R,
        "reading,line",
        "reading,lime",
        f"{R} row 1",
        ("has no column line (E1, C1)",),
    ),
    "column without a name": (
        R,
        "current_ma,current_sign",
        "current_ma,",
        f"{R} row 1",
        ("column 17 has no name", "row 2"),
    ),
    "quote never closed": (
        R,
        ROW4,
        ROW4.replace("unknown", '"unknown'),
        f"{R} row 5",
        ("quotation mark", "never closed"),
    ),
    "text after a quote": (R, ROW4, ROW4.replace("unknown", '"un"known'), f"{R} row 5", ("quotation mark",)),
    "semicolons": (
        R,
        "reading,line,setup,taken_at",
        "reading;line;setup;taken_at",
        f"{R} row 1 reading;line;setup;taken_at",
        (),
    ),
    "profile without offset": (
        P,
        "91,-1.0,0.05",
        "91,,0.05",
        f"{P} row 2 offset_m",
        ("is blank", "every row needs one"),
    ),
    "profile without its column": (
        P,
        "bearing_deg,offset_m",
        "bearing_deg,along_m",
        f"{P} row 1",
        ("has no column offset_m",),
    ),
    "profile's bearing changes": (
        P,
        "6355870.02,91,1.0",
        "6355870.02,93,1.0",
        f"{P} row 4 bearing_deg",
        ("'93' differs from '91' in row 2",),
    ),
    "profile's place changes": (
        P,
        "573364.0,6355870.02,91,1.0",
        "573365.0,6355870.02,91,1.0",
        f"{P} row 4 easting_m",
        ("'573365.0' differs",),
    ),
    "profile's line changes": (
        P,
        "r2,E1,,573364.0,",
        "r2,C1,,573364.0,",
        f"{P} row 4 line",
        ("'C1' differs from 'E1'",),
    ),
    "profile's scale changes": (
        P,
        "5.0,5.0,linear",
        "5.0,5.0,db",
        f"{P} row 4 scale",
        ("'db' differs from 'linear'",),
    ),
    "profile's setup changes": (P, "r2,,,,,,0.0", "r2,,S2,,,,0.0", f"{P} row 3 setup", ()),
    "profile of no line": (
        P,
        "r2,E1,,573364.00",
        "r2,E8,,573364.00",
        f"{P} row 2 line",
        ("'E8' is no line",),
    ),
    "profile's scale": (
        P,
        "0.05,5.1,4.9,linear",
        "0.05,5.1,4.9,log",
        f"{P} row 2 scale",
        ("'log' is not one of linear, db, unknown",),
    ),
    "amplitude below zero": (
        P,
        "0.05,5.1,4.9",
        "0.05,-5.1,4.9",
        f"{P} row 2 horizontal",
        ("'-5.1' is negative", "scale is db"),
    ),
    "upright amplitude below zero": (
        P,
        "0.05,5.1,4.9",
        "0.05,5.1,-4.9",
        f"{P} row 2 vertical",
        ("'-4.9' is negative",),
    ),
    "amplitude in words": (
        P,
        "0.05,5.1,4.9",
        "0.05,loud,4.9",
        f"{P} row 2 horizontal",
        ("'loud' is not a number",),
    ),
    "height below ground": (
        P,
        "91,-1.0,0.05",
        "91,-1.0,-0.05",
        f"{P} row 2 height_m",
        ("'-0.05' is negative",),
    ),
    "profile without place": (
        P,
        "x9,C1,,573372.00,6355871.00,90,-1.0",
        "x9,C1,,,,90,-1.0",
        f"{P} row 5 place",
        ("is missing",),
    ),
    "profile's id": (P, "r2,,,,,,0.0", ",,,,,,0.0", f"{P} row 3 profile", ("is blank",)),
    "side reading without id": (S, "s1,E1", ",E1", f"{S} row 2 side_reading", ("is blank",)),
    "side reading backwards": (
        S,
        "180,3.0,1.1",
        "180,-3.0,1.1",
        f"{S} row 2 distance_m",
        ("'-3.0' is negative",),
    ),
    "side reading towards": (
        S,
        "180,3.0,1.1",
        "720,3.0,1.1",
        f"{S} row 2 toward_deg",
        ("'720' is not within",),
    ),
    "side reading's depth": (S, "180,3.0,1.1", "180,3.0,-1.1", f"{S} row 2 depth_m", ("'-1.1' is negative",)),
    "side reading twice": (
        S,
        "180,3.0,1.1\n",
        "180,3.0,1.1\ns1,E1,,573367,6355873,180,3,1\n",
        f"{S} row 3 side_reading",
        ("'s1'", "row 2"),
    ),
    "test hole twice": (H, "h2,C1", "h1,C1", f"{H} row 3 test_hole", ("'h1'", "row 2")),
    "test hole found": (
        H,
        "0,yes,0.95",
        "0,maybe,0.95",
        f"{H} row 2 found",
        ("'maybe' is not one of yes, no",),
    ),
    "test hole above ground": (
        H,
        "yes,0.95",
        "yes,-0.95",
        f"{H} row 2 depth_to_top_m",
        ("'-0.95' is negative",),
    ),
    "test hole's diameter": (
        H,
        "0.95,0.03",
        "0.95,30 mm",
        f"{H} row 2 outside_diameter_m",
        ("'30 mm' states millimetres",),
    ),
    "test hole dug to": (H, ",1.2,", ",deep,", f"{H} row 3 dug_to_m", ("'deep' is not a length",)),
    "test hole of no line": (H, "h2,C1", "h2,W1", f"{H} row 3 line", ("'W1' is no line",)),
    "tie to no corner": (
        TIES,
        "P1,pole",
        "P1,mast",
        f"{TIES} row 4 corner",
        ("'mast' is no corner", "house-NE, house-NW, pole"),
    ),
    "tie without corner": (TIES, "P1,pole", "P1,", f"{TIES} row 4 corner", ("is blank",)),
    "tie without distance": (TIES, "P1,pole,11.18", "P1,pole,", f"{TIES} row 4 distance_m", ("is blank",)),
    "tie below zero": (TIES, "P1,pole,11.18", "P1,pole,-11.18", f"{TIES} row 4 distance_m", ("negative",)),
    "tie of no place": (TIES, "P1,pole", ",pole", f"{TIES} row 4 place", ("is blank",)),
    "ties without their column": (
        TIES,
        "place,corner",
        "place,point",
        f"{TIES} row 1",
        ("has no column corner",),
    ),
}


@pytest.mark.parametrize("name", OTHERS)
def test_other(refused: Callable[..., None], name: str) -> None:
    file, old, new, where, parts = OTHERS[name]
    if name == "semicolons":  # three of the columns are known still, and the rest is refused
        refused(((file, old, new),), f"{R} row 1", ("has no column reading",))
        return
    refused(((file, old, new),), where, parts)
