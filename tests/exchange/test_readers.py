"""Logs of every kind, read as tables of text: what is in them, what is told of them, what is refused."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime
from fractions import Fraction

import openpyxl
import pytest
from PIL import Image

from plumbmark.exchange.readers import LogError, read_log
from plumbmark.exchange.readers.delimited import header_row

# The sentence that books on NMEA 0183 print (from memory): 48 deg 07.038' north, 11 deg 31.000' east.
GGA = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"


def sentence(body: str) -> str:
    """A sentence with its checksum: the exclusive or of all between $ and * (NMEA 0183)."""
    checksum = 0
    for byte in body.encode():
        checksum ^= byte
    return f"${body}*{checksum:02X}"


# -- tables


def test_a_table_keeps_every_cell_as_text() -> None:
    log = read_log("log.csv", b"No,Depth\n1,3.10\n2, 0.920 \n")
    (part,) = log.parts
    assert part.columns == ("No", "Depth")
    assert part.rows == (("1", "3.10"), ("2", "0.920"))
    assert part.numbers == (2, 3)


@pytest.mark.parametrize(
    ("data", "rows"),
    [
        (b"sep=;\nNo;Depth\n1;3,1\n", [("1", "3,1")]),
        (b"No;Depth\n1;3,1\n2;3,2\n", [("1", "3,1"), ("2", "3,2")]),
        (b"No\tDepth\n1\t3.1\n", [("1", "3.1")]),
        (b"No|Depth\r\n1|3.1\r\n", [("1", "3.1")]),
        (b"\xef\xbb\xbfNo,Depth\n1,3.1\n", [("1", "3.1")]),
        ("No,Depth\n1,3.1\n".encode("utf-16"), [("1", "3.1")]),
        (b'No,Note\n1,"two, three"\n', [("1", "two, three")]),
        (b"No,Depth\n1,'=1+1\n", [("1", "=1+1")]),
        (b"No,Depth\n1\n", [("1", "")]),
    ],
)
def test_separators_and_encodings(data: bytes, rows: list[tuple[str, ...]]) -> None:
    assert list(read_log("log.csv", data).parts[0].rows) == rows


def test_what_stands_above_the_table_is_told() -> None:
    log = read_log("log.csv", b"Elm Road,,\n\nNo,Depth,Note\n1,3.1,\n")
    assert log.parts[0].numbers == (4,)
    assert "Elm Road" in log.findings[0].what


def test_names_of_columns_are_told_apart() -> None:
    assert read_log("log.csv", b"Depth,Depth,\n1,2,3\n").parts[0].columns == (
        "Depth",
        "Depth (2)",
        "column 3",
    )


def test_letters_that_are_not_utf8_are_told() -> None:
    log = read_log("log.csv", "No,Note\n1,Größe\n".encode("cp1252"))
    assert log.parts[0].rows == (("1", "Größe"),)
    assert "Windows-1252" in log.findings[0].what


def test_a_row_of_numbers_is_no_header() -> None:
    assert header_row([["1", "2"], ["3", "4"]]) is None


@pytest.mark.parametrize("data", [b"", b"\0\1\2", b"1,2\n3,4\n", b"No,Depth\n"])
def test_what_is_no_log_is_refused(data: bytes) -> None:
    with pytest.raises(LogError):
        read_log("log.bin", data)


def test_too_many_rows_are_refused_with_the_count() -> None:
    with pytest.raises(LogError, match="100,001 rows"):
        read_log("log.csv", b"No,Depth\n" + b"1,2\n" * 100_001)


# -- workbooks


def workbook(*rows: list[object], shown_as: str = "General") -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    for row in book.active.iter_rows():
        for cell in row:
            if isinstance(cell.value, float):
                cell.number_format = shown_as
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_workbook_gives_numbers_as_its_sheet_shows_them() -> None:
    when = datetime(2026, 11, 25, 14, 3, 22)
    data = workbook(["No", "Depth", "When"], [1, 3.5, when], [2, 3.123, when], shown_as="0.00")
    (part,) = read_log("log.xlsx", data).parts
    assert part.rows == (("1", "3.50", "2026-11-25 14:03:22"), ("2", "3.123", "2026-11-25 14:03:22"))


def test_sheets_without_a_table_are_passed_over() -> None:
    book = openpyxl.Workbook()
    book.active.title = "Cover"
    book.active["A1"] = 7
    sheet = book.create_sheet("Readings")
    sheet.append(["No", "Depth (ft)"])
    sheet.append([1, 3.1])
    out = io.BytesIO()
    book.save(out)
    assert [part.name for part in read_log("log.xlsx", out.getvalue()).parts] == ["Readings"]


def test_a_workbook_that_unpacks_to_too_much_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", "<workbook/>")
        with packed.open("xl/worksheets/sheet1.xml", "w") as sheet:
            for _ in range(257):
                sheet.write(bytes(2**20))
    with pytest.raises(LogError, match="unpacks to"):
        read_log("log.xlsx", out.getvalue())


@pytest.mark.parametrize("spoilt", ["xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/styles.xml"])
def test_entities_in_a_workbook_are_refused(spoilt: str) -> None:
    bomb = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]>'
    old, out = io.BytesIO(workbook(["No", "Depth"], [1, "x"])), io.BytesIO()
    with zipfile.ZipFile(old) as before, zipfile.ZipFile(out, "w") as after:
        for name in before.namelist():
            text = before.read(name).decode()
            if name == spoilt:
                text = bomb + text.removeprefix("<?xml version='1.0' encoding='UTF-8' standalone='yes'?>")
            after.writestr(name, text)
    with pytest.raises(LogError) as found:
        read_log("log.xlsx", out.getvalue())
    causes: list[BaseException | None] = [found.value]
    while causes[-1] is not None:
        causes.append(causes[-1].__cause__ or causes[-1].__context__)
    assert "EntitiesForbidden" in [type(cause).__name__ for cause in causes]


# -- NMEA 0183


def test_a_sentence_gives_the_place_it_prints() -> None:
    rmc = sentence("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230326,003.1,W")
    (part,) = read_log("walk.nmea", f"{GGA}\r\n{rmc}\r\n".encode()).parts
    longitude, latitude = float(11 + Fraction(31, 60)), float(48 + Fraction(7038, 60000))
    assert float(part.rows[0][1]) == pytest.approx(longitude, abs=1e-9)
    assert float(part.rows[0][2]) == pytest.approx(latitude, abs=1e-9)
    assert part.rows[0][0] == "2026-03-23 12:35:19+00:00"
    assert part.rows[0][3:5] == ("", "single")


def test_sigma_is_that_of_the_same_moment() -> None:
    gst = [sentence(f"GPGST,12351{k},0.1,,,,0.0{k}0,0.0{k}0,0.1") for k in (8, 9)]
    gga = [sentence(f"GPGGA,12351{k},4807.038,N,01131.000,E,4,08,0.9,545.4,M,46.9,M,,") for k in (8, 9)]
    (part,) = read_log("walk.nmea", "\n".join([gst[0], gga[0], gga[1], gst[1]]).encode()).parts
    assert [row[3] for row in part.rows] == ["0.080", "0.090"]  # rms of two equal ones is that one


def test_days_go_on_over_midnight() -> None:
    lines = [
        sentence("GPRMC,235958,A,4807.038,N,01131.000,E,0,0,311226,,"),
        sentence("GPGGA,235959,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"),
        sentence("GPGGA,000001,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"),
    ]
    (part,) = read_log("walk.nmea", "\n".join(lines).encode()).parts
    assert [row[0][:10] for row in part.rows] == ["2026-12-31", "2027-01-01"]


def test_broken_sentences_are_counted_and_the_rest_is_read() -> None:
    wrong = GGA.replace("4807", "4808")  # the checksum is that of another place
    log = read_log("walk.nmea", f"{GGA}\n{wrong}\n$GPGGA,1235\nnoise \xff\n{GGA}\n".encode("latin-1"))
    assert len(log.parts[0].rows) == 2
    assert (log.findings[0].where, log.findings[0].what[:24]) == (
        "walk.nmea line 2",
        "2 sentences were not rea",
    )
    assert "1 checksum wrong" in log.findings[0].what


def test_a_broken_sentence_that_tells_no_new_day_is_counted_too() -> None:
    rmc = sentence("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230326,003.1,W")
    log = read_log("walk.nmea", "\n".join([rmc, GGA, rmc, rmc.replace("4807", "4808"), GGA]).encode())
    assert [(f.where, "1 checksum wrong" in f.what) for f in log.findings] == [("walk.nmea line 4", True)]


def test_places_that_nobody_measured_are_left_out() -> None:
    bodies = [GGA[1:-3].replace(",E,1,", f",E,{quality},") for quality in (1, 0, 6, 8)]
    log = read_log("walk.nmea", "\n".join(map(sentence, bodies)).encode())
    assert len(log.parts[0].rows) == 1
    assert sum("not measured" in f.what for f in log.findings) == 2


# -- GPX

GPX = """<?xml version="1.0"?>{head}
<gpx version="1.1" creator="x">
<wpt lat="50.5" lon="4.25"><name>Valve 3</name><type>valve</type><cmt>at the kerb</cmt></wpt>
<trk><trkseg>
<trkpt lat="50.5" lon="4.25"><ele>12.5</ele><time>2026-11-25T13:03:00Z</time></trkpt>
</trkseg></trk>
</gpx>"""


def test_tracks_and_waypoints() -> None:
    tracks, waypoints = read_log("walk.gpx", GPX.format(head="").encode()).parts
    assert tracks.rows == (("2026-11-25T13:03:00+00:00", "4.25", "50.5", "12.5", "", "1"),)
    assert waypoints.rows == (("Valve 3", "4.25", "50.5", "", "valve", "at the kerb"),)


def test_gpx_with_entities_is_refused_before_it_is_looked_at() -> None:
    bomb = '<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    with pytest.raises(LogError, match="entities"):
        read_log("walk.gpx", GPX.format(head=bomb).encode())


@pytest.mark.parametrize(
    "data", [b"<gpx ", b"<gpx ></gpx>", b"<gpx version='1.1'><wpt lat='a' lon='b'/></gpx>"]
)
def test_gpx_that_is_none_is_refused(data: bytes) -> None:
    with pytest.raises(LogError):
        read_log("walk.gpx", data)


# -- photographs

Tags = dict[int, object]


def photograph(gps: Tags, shot: Tags, size: tuple[int, int] = (2400, 1800)) -> bytes:
    picture = Image.new("RGB", size, "white")
    picture.paste("black", (0, 0, size[0] // 2, size[1] // 2))
    exif = picture.getexif()
    exif[0x0112] = 6  # turned a quarter: the camera was held upright
    exif.get_ifd(0x8825).update(gps)
    exif.get_ifd(0x8769).update(shot)
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif)
    return out.getvalue()


def test_a_photograph_says_where_when_and_which_way_and_its_picture_does_not() -> None:
    gps: Tags = {1: "S", 2: (33.0, 30.0, 36.0), 3: "W", 4: (70.0, 15.0, 0.0)}
    gps |= {16: "M", 17: 271.4}
    data = photograph(gps, {0x9003: "2026:11:25 14:03:22", 0x9011: "+01:00"})
    log = read_log("DCIM/front of house.jpg", data)
    cells = dict(zip(log.parts[0].columns, log.parts[0].rows[0], strict=True))
    assert (cells["latitude"], cells["longitude"]) == ("-33.51000000", "-70.25000000")
    assert (cells["time"], cells["direction"]) == ("2026-11-25 14:03:22+01:00", "271")
    assert "magnetic" in cells["remark"]
    ((name, kept),) = log.pictures.items()
    assert name == f"photos/{cells['photo']}"
    with Image.open(io.BytesIO(kept)) as picture:
        assert picture.size == (1200, 1600)  # upright
        assert dict(picture.getexif()) == {}
        corner = picture.getpixel((1190, 10))
        assert isinstance(corner, tuple)
        assert max(corner) < 40  # the dark quarter, which was top left before the turn


def test_a_photograph_that_says_nothing_is_one_still() -> None:
    out = io.BytesIO()
    Image.new("RGB", (10, 10)).save(out, "PNG")
    (part,) = read_log("a.png", out.getvalue()).parts
    assert part.rows[0][1:5] == ("", "", "", "")


def test_time_by_satellite_where_the_camera_says_no_offset() -> None:
    gps: Tags = {29: "2026:11:25", 7: (13.0, 3.0, 22.0)}
    (part,) = read_log("a.jpg", photograph(gps, {0x9003: "2026:11:25 14:03:22"}, (40, 30))).parts
    assert part.rows[0][1] == "2026-11-25 13:03:22+00:00"


def test_a_picture_that_is_cut_off_is_refused() -> None:
    with pytest.raises(LogError):
        read_log("a.jpg", photograph({}, {}, (400, 300))[:500])
