"""`marks.csv`: what is read, and what is refused with which line."""

from __future__ import annotations

from typing import Any

import pytest

from plumbmark.model.mark import MarkKind, MarkState

MARKS = """\
mark,line,easting_m,northing_m,kind,colour,painted_at,by,photo,state,state_at,toward_deg,distance_ft,note
m1,E1,573360.10,6355870.0,,red,2024-05-06T09:01:00-05:00,crew-2,photos/1.jpg,,,,,by the kerb
m2,E1,573364.00,6355872.0,offset,red,,,,faded,2024-06-01T09:00:00-05:00,180,6.56,
m3,,573366.00,6355872.0,corridor,white,,,,gone,,,,
"""


def test_every_column(full: Any) -> None:
    job, warnings = full.write({"marks.csv": MARKS}).accepted()
    assert warnings == []
    first, second, third = job.marks
    assert (first.id, first.line, first.kind, first.state) == ("m1", "E1", MarkKind.CENTRE, MarkState.STANDS)
    assert (first.colour, first.by, first.photo, first.note) == (
        "red",
        "crew-2",
        "photos/1.jpg",
        "by the kerb",
    )
    assert first.painted_at is not None
    assert first.shows == (573360.10, 6355870.0)
    assert (second.kind, second.state, second.row) == (MarkKind.OFFSET, MarkState.FADED, 3)
    assert second.shows == pytest.approx((573364.0, 6355872.0 - 6.56 * 0.3048))
    assert (third.line, third.state) == (None, MarkState.GONE)


def test_places_by_baseline(full: Any) -> None:
    text = "mark,line,baseline,station_m,offset_m\nm1,E1,B1,4.0,-10.0\n"
    job, _ = full.write({"marks.csv": text}).accepted()
    assert job.marks[0].shows == pytest.approx((573364.0, 6355870.0))


@pytest.mark.parametrize(
    ("old", "new", "where", "part"),
    [
        ("m2,E1", "m1,E1", "marks.csv row 3 mark", "'m1' is the id of row 2 already"),
        ("m1,E1", "m1,E9", "marks.csv row 2 line", "'E9' is no line of this job"),
        (",offset,", ",dotted,", "marks.csv row 3 kind", "'dotted' is not one of centre"),
        (",white,", ",mauve,", "marks.csv row 4 colour", "'mauve' is not one of blue, green"),
        (",faded,", ",lost,", "marks.csv row 3 state", "'lost' is not one of stands, faded"),
        (
            ",180,6.56",
            ",180,",
            "marks.csv row 3 distance_ft",
            "an offset mark needs toward_deg",
        ),
        (
            ",180,6.56",
            ",,6.56",
            "marks.csv row 3 toward_deg",
            "an offset mark needs toward_deg",
        ),
        ("gone,,,", "gone,,90,", "marks.csv row 4 toward_deg", "is for a mark of the kind offset"),
        ("photos/1.jpg", "../1.jpg", "marks.csv row 2 photo", "leaves the job folder"),
        ("photos/1.jpg", "/tmp/1.jpg", "marks.csv row 2 photo", "leaves the job folder"),
        ("2024-05-06T09:01:00-05:00", "noon", "marks.csv row 2 painted_at", "is not a time in ISO 8601"),
        ("573360.10,6355870.0", ",6355870.0", "marks.csv row 2 easting_m", "is blank"),
        ("m1,E1", ",E1", "marks.csv row 2 mark", "is blank, and every row needs one"),
    ],
)
def test_refused(full: Any, old: str, new: str, where: str, part: str) -> None:
    full.write({"marks.csv": MARKS}).edit(("marks.csv", old, new))
    _, errors, _ = full.read()
    assert any(line.startswith(f"{where}: ") and part in line for line in errors), errors
