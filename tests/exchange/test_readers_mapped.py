"""What columns are taken for, what is asked, and what becomes of the cells."""

from __future__ import annotations

import csv
import io
import string
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbmark.exchange.jobfolder.columns import read_columns
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.schema import READINGS
from plumbmark.exchange.jobfolder.table import Table
from plumbmark.exchange.readers import LogError, Part, read_log
from plumbmark.exchange.readers.guess import guessed
from plumbmark.exchange.readers.mapped import Mapped, free_key
from plumbmark.exchange.readers.places import Given
from plumbmark.exchange.readers.understood import Understood, understood
from plumbmark.model.log import ColumnMeaning, LogMapping


def seen(text: str, mapping: LogMapping | None = None, job: Given | None = None) -> Understood:
    return understood(read_log("log.csv", text.encode()), mapping, None, job or Given())


def mapped(text: str, job: Given | None = None, **answers: str) -> Mapped:
    found = seen(text, LogMapping(answers=answers), job)
    assert found.open == (), "a question is open"
    return found.mapped(job or Given(), "log.csv")


def rows(found: Mapped) -> dict[str, dict[str, str]]:
    return {key: held[0] for key, held in found.entries}


# -- guesses


@pytest.mark.parametrize(
    ("name", "field", "unit"),
    [
        ("Depth (ft)", "depth", "ft"),
        ("DEPTH_M", "depth", "m"),
        ("lineDepth [cm]", "depth", "cm"),
        ("Depth", "depth", ""),
        ("Signal current mA", "current", "ma"),
        ("Current", "current", ""),
        ("Raised depth (m)", "raised_depth", "m"),
        ("Null offset in", "null_offset", "in"),
        ("Half signal left cm", "half_left", "cm"),
        ("Freq (kHz)", "frequency", "khz"),
        ("Bearing", "bearing_deg", "deg"),
        ("Lat", "latitude_deg", "deg"),
        ("Easting (m)", "easting", "m"),
        ("Std dev (m)", "position_sigma", "m"),
        ("Date/Time", "time", ""),
        ("Remarks", "note", ""),
        ("Cable", "line", ""),
        ("Depth of cover (m)", "", ""),
        ("Accuracy (m)", "", ""),
        ("Battery", "", ""),
        ("Offline depot", "", ""),
    ],
)
def test_a_column_is_taken_for_what_its_name_says(name: str, field: str, unit: str) -> None:
    (guess,) = guessed(Part("", (name,), (("1",),), (2,)), "readings")
    assert (guess.field, guess.unit) == (field, unit)


def test_cover_and_accuracy_are_left_out_with_the_reason() -> None:
    cover, accuracy = guessed(Part("", ("Cover (m)", "Accuracy (m)"), (("1", "1"),), (2,)), "readings")
    assert "to the top" in cover.why
    assert "one sigma" in accuracy.why


def test_cells_that_state_their_unit_need_none_in_the_name() -> None:
    found = rows(mapped("No,Depth\n1,3 ft 1 in\n2,1.07 m\n"))
    assert [row["depth"] for row in found.values()] == ["3 ft 1 in", "1.07 m"]


def test_a_depth_without_a_unit_is_asked_about() -> None:
    assert [q.id for q in seen("No,Depth\n1,3.1\n").open] == ["unit:Depth"]
    assert seen("No,Depth\n1,3.1\n", LogMapping(answers={"unit:Depth": "ft"})).mapping.columns[1].unit == "ft"
    assert [q.id for q in seen("No,Depth\n1,3.1\n", LogMapping(answers={"unit:Depth": "ells"})).open] == [
        "unit:Depth"
    ]


def test_two_columns_for_one_thing_are_an_error() -> None:
    twice = LogMapping(columns=(ColumnMeaning("a", "depth", "m"), ColumnMeaning("b", "depth", "m")))
    found = seen("a,b\n1,2\n", twice)
    assert ["a" in f.what and "b" in f.what for f in found.findings if f.severity == "error"] == [True]


def test_what_a_person_says_counts_over_a_guess() -> None:
    said = LogMapping(columns=(ColumnMeaning("X9 (ft)", "depth", ""), ColumnMeaning("Depth", "", "")))
    found = seen("X9 (ft),Depth\n3.1,9\n", said)
    assert [(guess.field, guess.unit) for guess in found.guesses] == [("depth", "ft"), ("", "")]


# -- cells


def test_digits_stay_as_they_were_written() -> None:
    found = rows(mapped("No,Depth (m),Current (A)\n1,0.920,0.0230\n"))
    assert found["1"] == {"depth_m": "0.920", "current_ma": "23.0"}


def test_decimal_commas_are_seen_and_thousands_asked_about() -> None:
    assert rows(mapped("No;Depth (m)\n1;0,92\n"))["1"] == {"depth_m": "0.92"}
    assert [q.id for q in seen("No;Depth (mm)\n1;1,200\n").open] == ["decimal"]
    assert rows(mapped("No;Depth (mm)\n1;1,200\n", decimal="."))["1"] == {"depth_mm": "1200"}
    assert rows(mapped("No;Depth (mm)\n1;1,200\n", decimal=","))["1"] == {"depth_mm": "1.200"}


def test_zero_is_asked_about_and_never_taken_for_nothing_by_itself() -> None:
    text = "No,Depth (m)\n1,0.00\n2,0.9\n"
    assert [q.id for q in seen(text).open] == ["zero"]
    assert rows(mapped(text, zero="zero"))["1"] == {"depth_m": "0.00"}
    assert rows(mapped(text, zero="blank")) == {"2": {"depth_m": "0.9"}}


def test_a_cell_that_cannot_be_read_stands_in_the_remark_and_is_told() -> None:
    found = mapped("No,Depth (m),Remarks\n1,abc,by the kerb\n2,0.9,\n3,-0.9,\n")
    assert rows(found)["1"] == {"note": "by the kerb; Depth (m): abc"}
    assert rows(found)["3"] == {"note": "Depth (m): -0.9"}
    assert [f.where for f in found.findings] == ["log.csv row 2 Depth (m)", "log.csv row 4 Depth (m)"]


@pytest.mark.parametrize("blank", ["---", "N/A", "null", "."])
def test_words_for_nothing_are_blanks_and_told(blank: str) -> None:
    found = mapped(f"No,Depth (m),Current (mA)\n1,{blank},20\n2,0.9,21\n")
    assert rows(found)["1"] == {"current_ma": "20"}
    assert "nothing was taken" in found.findings[0].what


def test_times_need_a_clock_and_dates_an_order() -> None:
    text = "No,Date,Time,Depth (m)\n1,03/04/2026,2:03:22 pm,0.9\n"
    assert [q.id for q in seen(text).open] == ["dates", "zone"]
    found = rows(mapped(text, dates="dmy", zone="Europe/Paris"))  # summer time: two hours ahead
    assert found["1"]["taken_at"] == "2026-04-03T14:03:22+02:00"
    assert rows(mapped(text, dates="mdy", zone="-06:00"))["1"]["taken_at"] == "2026-03-04T14:03:22-06:00"
    assert [q.id for q in seen(text, LogMapping(answers={"dates": "dmy", "zone": "Mars/Olympus"})).open] == [
        "zone"
    ]
    assert seen("No,Date,Depth (m)\n1,25/11/2026 14:03,1\n").answers == {"dates": "dmy"}


def test_degrees_minutes_and_seconds() -> None:
    text = 'No,Lat,Lon,Depth (m)\n1,"50°30\'00""N","4 15 00 E",0.9\n'
    found = rows(mapped(text, Given("EPSG:32631"), sigma="2 cm"))
    assert (float(found["1"]["latitude_deg"]), float(found["1"]["longitude_deg"])) == (50.5, 4.25)
    assert found["1"]["position_sigma_m"] == "0.02"


def test_keys_are_ids_and_nobody_has_two() -> None:
    found = mapped("No,Depth (m)\nP 1/a,0.9\nP 1/a,0.8\n,0.7\n")
    assert list(rows(found)) == ["P-1-a", "P-1-a-2", "3"]
    assert "called 'P 1/a' in the log" in rows(found)["P-1-a"]["note"]
    assert free_key("7", {"7", "7-2"}) == "7-3"


def test_the_line_is_asked_for_where_the_job_has_several() -> None:
    job = Given(lines=("E1", "G1"))
    assert [q.id for q in seen("No,Depth (m)\n1,0.9\n", None, job).open] == ["line"]
    assert rows(mapped("No,Depth (m)\n1,0.9\n", job, line="G1"))["1"]["line"] == "G1"


# -- places


def test_places_in_degrees_do_not_fit_a_job_of_its_own_metres() -> None:
    text = "No,Lon,Lat,Depth (m)\n1,4.9,52.3,0.9\n"
    placed = Given("local", has_places=True)
    found = mapped(text, placed, sigma="3")
    assert rows(found)["1"]["note"] == "place longitude_deg 4.9, latitude_deg 52.3"
    assert any("not on the plan" in f.what for f in found.findings)
    asked = seen(text).open
    assert [q.id for q in asked] == ["grid", "sigma"]
    assert asked[0].choices[0].value == "EPSG:32631"  # zone 31 is 0 to 6 degrees east
    assert rows(mapped(text, grid="EPSG:32631", sigma="3"))["1"]["longitude_deg"] == "4.9"


def test_easting_and_northing_of_another_system_are_brought_over() -> None:
    """Half a degree of the next zone: pyproj's transformer gives the place, called directly."""
    from pyproj import Transformer

    east, north = Transformer.from_crs(4326, 32632, always_xy=True).transform(6.1, 52.3)
    text = f"No,Easting (m),Northing (m),Depth (m)\n1,{east:.4f},{north:.4f},0.9\n"
    job = Given("EPSG:32631", has_places=True)
    assert [q.id for q in seen(text, None, job).open] == ["crs", "sigma"]
    found = rows(mapped(text, job, crs="EPSG:32632", sigma="0.02"))["1"]
    expected = Transformer.from_crs(4326, 32631, always_xy=True).transform(6.1, 52.3)
    assert (float(found["easting_m"]), float(found["northing_m"])) == pytest.approx(expected, abs=0.002)


def test_a_pass_keeps_its_ends_and_leaves_out_what_stands_on_one_spot() -> None:
    lines = ["Time,Easting (m),Northing (m)"] + [
        f"2026-11-25 14:00:{k:02d}Z,{0.1 * k:.1f},0" for k in range(11)
    ]
    said = LogMapping("passes", answers={"crs": "job", "sigma": "0.5", "method": "passive-power"})
    found = understood(read_log("walk one.csv", "\n".join(lines).encode()), said, None, Given())
    ((key, kept),) = found.mapped(Given(), "walk one.csv").entries
    assert key == "walk-one"
    assert [row["easting_m"] for row in kept] == ["0.0", "0.3", "0.6", "0.9", "1.0"]
    assert [row.get("method") for row in kept] == ["passive-power", None, None, None, None]


# -- whatever comes

CELL = st.text(max_size=12) | st.sampled_from(
    [
        "3.1",
        "3,1",
        "1,200",
        "0",
        "---",
        "3 ft 1 in",
        "25/11/2026",
        "14:03",
        "4.9",
        "=1+1",
        "E",
        "50°30'N",
        "2..1",
    ]
)
NAME = st.sampled_from(
    [
        "Depth",
        "Depth (ft)",
        "Current mA",
        "Date",
        "Time",
        "Lat",
        "Lon",
        "Easting m",
        "Northing m",
        "No",
        "Line",
    ]
) | st.text(string.printable, max_size=10)
ANSWERS = {"zone": "+00:00", "day": "2026-11-25", "sigma": "3", "crs": "job", "grid": "no", "line": "E1"}


@given(st.lists(st.lists(CELL, max_size=6), max_size=8), st.lists(NAME, min_size=1, max_size=6), st.data())
def test_any_table_is_understood_or_refused_and_what_it_gives_can_be_read(
    body: list[list[str]], header: list[str], data: st.DataObject
) -> None:
    out = io.StringIO()
    csv.writer(out).writerows([header, *body])
    try:
        log = read_log("log.csv", out.getvalue().encode("utf-8", errors="replace"))
    except LogError:
        return
    use = data.draw(st.sampled_from(log.parts[0].uses))
    found = understood(log, LogMapping(use, answers=ANSWERS), None, Given(lines=("E1", "G1")))
    found.preview(Given(), "log.csv")
    answers = dict(ANSWERS)
    for question in found.open:
        assert question.choices, question
        answers[question.id] = data.draw(st.sampled_from([choice.value for choice in question.choices]))
    settled = understood(log, LogMapping(use, answers=answers), None, Given(lines=("E1", "G1")))
    assert settled.open == ()
    result = settled.mapped(Given(), "log.csv")
    if use == "readings":
        _can_be_read([row for _, held in result.entries for row in held])


def _can_be_read(held: list[dict[str, str]]) -> None:
    """Every cell that was not put into the remark is one that a job folder takes."""
    remarks = Remarks()
    for row in held:
        cells: dict[str, Any] = {name: cell for name, cell in row.items() if cell}
        table = Table("readings.csv", tuple(cells), (2,), tuple((cell,) for cell in cells.values()))
        read_columns(table, [c for c in READINGS if c.name != "reading"], remarks)
    assert [f for f in remarks.all() if f.severity == "error"] == []


@given(
    st.binary(max_size=400),
    st.sampled_from([b"", b"PK\x03\x04xl/workbook.xml", b"\xff\xd8\xff", b"<gpx ", b"$GPGGA,"]),
)
def test_any_bytes_are_a_log_or_refused(data: bytes, start: bytes) -> None:
    try:
        log = read_log("log", start + data)
    except LogError:
        return
    assert log.parts
    for part in log.parts:
        assert all(len(row) == len(part.columns) for row in part.rows)
