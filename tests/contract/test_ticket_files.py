"""The ticket, owners' answers, things seen, photographs: what is read, what is refused with which line."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from plumbmark.model.ticket import OwnerAnswer, OwnerSaid, ThingKind, Ticket

TICKET = """\
[ticket]
number = "A-4711"
place = "Alder Street 17"
work = "drain"
caller = "the office"
white_lined = false
emergency = true
received_at = "2024-05-03T09:10:00-05:00"
may_dig_from = 2024-05-08T07:00:00-05:00
due_at = "2024-05-07T17:00:00-05:00"
expires_at = 2024-05-22T22:00:00Z
longitude_deg = 4.19
latitude_deg = 57
"""
OWNERS = """\
owner,utility,answer,why,answered_at,by,until_at,note
North Power,electric,marked,,2024-05-06T10:00:00-05:00,their crew,2024-05-22T17:00:00-05:00,
North Power,lighting,,,,,2024-05-07T17:00:00-05:00,asked twice
Harbor Gas,gas,could not locate,plastic without a wire,2024-05-06T11:00:00-05:00,by telephone,,
"""
THINGS = """\
thing,kind,baseline,station_m,offset_m,colour,seen_at,by,note
meter-1,meter,B1,4.0,-10.0,,2024-05-06T08:00:00-05:00,crew-2,on the wall
paint-1,paint,,,,yellow,,,across the drive
what,,,,,,,,
"""
PHOTOS = """\
photo,mark,thing,easting_m,northing_m,bearing_deg,taken_at,by,note
photos/IMG 1.jpg,m1,,573360.0,6355869.0,45,2024-05-06T09:20:00-05:00,crew-2,the kerb
2.png,,meter-1,,,,,,
"""
MARKS = "mark,line,easting_m,northing_m\nm1,E1,573360.10,6355870.0\n"
FILES = {"owners.csv": OWNERS, "things.csv": THINGS, "photos.csv": PHOTOS, "marks.csv": MARKS}


@pytest.fixture
def ticketed(full: Any) -> Any:
    """The full job with a ticket and all that goes with it."""
    text = (full.path / "job.toml").read_text()
    return full.write({"job.toml": text.replace("[soil]", f"{TICKET}[soil]"), **FILES})


def test_every_key_of_the_ticket(ticketed: Any) -> None:
    job, warnings = ticketed.accepted()
    assert warnings == []
    assert job.ticket == Ticket(
        "A-4711",
        "Alder Street 17",
        "drain",
        "the office",
        white_lined=False,
        emergency=True,
        received_at=datetime(2024, 5, 3, 14, 10, tzinfo=UTC),
        may_dig_from=datetime(2024, 5, 8, 12, 0, tzinfo=UTC),
        due_at=datetime(2024, 5, 7, 22, 0, tzinfo=UTC),
        expires_at=datetime(2024, 5, 22, 22, 0, tzinfo=UTC),
        longitude_deg=4.19,
        latitude_deg=57.0,
    )


def test_every_column(ticketed: Any) -> None:
    job, _ = ticketed.accepted()
    power, light, gas = job.owners
    assert (power.answer, power.row, power.by) == (OwnerSaid.MARKED, 2, "their crew")
    assert (light.owner, light.utility, light.answer, light.note) == (
        "North Power",
        "lighting",
        None,
        "asked twice",
    )
    assert (gas.answer, gas.why, gas.until_at) == (OwnerSaid.NOT_LOCATED, "plastic without a wire", None)
    meter, paint, what = job.things
    assert (meter.kind, meter.by, meter.note, paint.colour) == (
        ThingKind.METER,
        "crew-2",
        "on the wall",
        "yellow",
    )
    assert (meter.place.easting_m, meter.place.northing_m) == pytest.approx((573364.0, 6355870.0))
    assert (paint.place, what.place, what.kind) == (None, None, None)
    first, second = job.photographs
    assert (first.photo, first.mark, first.bearing_deg, first.note) == ("IMG 1.jpg", "m1", 45.0, "the kerb")
    assert first.place is not None
    assert (second.photo, second.thing, second.place, second.bearing_deg) == ("2.png", "meter-1", None, None)


def test_nothing_written_down_is_nothing_known(full: Any) -> None:
    job, _ = full.accepted()
    assert (job.ticket, job.owners, job.things, job.photographs) == (None, (), (), ())
    text = (full.path / "job.toml").read_text()
    job, _ = full.write({"job.toml": f"{text}[ticket]\n"}).accepted()
    assert job.ticket == Ticket()
    assert job.ticket.white_lined is None


@pytest.mark.parametrize(
    ("file", "old", "new", "where", "part"),
    [
        ("job.toml", "white_lined = false", 'white_lined = "no"', "[ticket] white_lined", "is not true or"),
        ("job.toml", '"2024-05-07T17:00:00-05:00"', '"noon"', "[ticket] due_at", "'noon' is not a time"),
        ("job.toml", "2024-05-22T22:00:00Z", "2024-05-22T22:00:00", "[ticket] expires_at", "has no offset"),
        ("job.toml", "2024-05-22T22:00:00Z", "2024-05-22", "[ticket] expires_at", "is not a time|no offset"),
        ("job.toml", "2024-05-22T22:00:00Z", "22", "[ticket] expires_at", "'22' is not a time"),
        ("job.toml", "latitude_deg = 57\n", "", "[ticket] latitude_deg", "the other coordinate is given"),
        ("job.toml", "latitude_deg = 57\n", "latitude_deg = 97\n", "[ticket] latitude_deg", "at most 90"),
        ("job.toml", 'number = "A-4711"', "number = 4711", "[ticket] number", "is not a text in quotes"),
        ("owners.csv", "Harbor Gas,", ",", "row 4 owner", "is blank, and every row needs one"),
        ("owners.csv", "lighting", "electric", "row 3 owner", "'North Power' is in row 2 already"),
        ("owners.csv", "could not locate", "clear", "row 4 answer", "'clear' is not one of marked, no"),
        ("owners.csv", ",gas,", ",fuel,", "row 4 utility", "'fuel' is not one of electric"),
        ("owners.csv", "2024-05-06T11:00:00-05:00", "11:00", "row 4 answered_at", "ISO 8601"),
        ("things.csv", "paint-1", "meter-1", "row 3 thing", "is the id of row 2 already"),
        ("things.csv", ",meter,", ",gauge,", "row 2 kind", "'gauge' is not one of meter, valve"),
        ("things.csv", "B1,4.0,-10.0", "B1,4.0,", "row 2 offset_m", "is blank"),
        ("things.csv", "yellow", "mauve", "row 3 colour", "'mauve' is not one of blue"),
        ("photos.csv", "2.png", "../2.png", "row 3 photo", "is no file of the folder photos"),
        ("photos.csv", "2.png", "photos/", "row 3 photo", "is no file of the folder photos"),
        ("photos.csv", "2.png", "photos/IMG 1.jpg", "row 3 photo", "is the id of row 2 already"),
        ("photos.csv", ",45,", ",460,", "row 2 bearing_deg", "is not within -360 to 360"),
    ],
)  # fmt: skip
def test_refused(ticketed: Any, file: str, old: str, new: str, where: str, part: str) -> None:
    _, errors, _ = ticketed.edit((file, old, new)).read()
    told = [line for line in errors if line.startswith(f"{file} {where}: ")]
    assert any(p in line for line in told for p in part.split("|")), errors


@pytest.mark.parametrize(
    ("file", "old", "new", "where", "part"),
    [
        ("job.toml", "2024-05-22T22:00", "2024-05-02T22:00", "[ticket] expires_at", "is earlier than"),
        ("job.toml", "emergency =", "emergancy =", "[ticket] emergancy", "is emergency meant?"),
        ("owners.csv", "lighting,,", "lighting,,no room", "row 3 why", "counts as none yet"),
        ("photos.csv", "IMG 1.jpg,m1", "IMG 1.jpg,m7", "row 2 mark", "'m7' is no mark of marks.csv (m1)"),
        ("photos.csv", ",meter-1,", ",meter-9,", "row 3 thing", "'meter-9' is no thing of things.csv"),
    ],
)  # fmt: skip
def test_warned_about_and_kept(ticketed: Any, file: str, old: str, new: str, where: str, part: str) -> None:
    job, warnings = ticketed.edit((file, old, new)).accepted()
    assert any(line.startswith(f"{file} {where}: ") and part in line for line in warnings), warnings
    assert (len(job.owners), len(job.things), len(job.photographs)) == (3, 3, 2)


def test_what_is_open_at_a_time() -> None:
    ends = datetime(2024, 5, 22, 22, 0, tzinfo=UTC)
    before, after = ends.replace(day=21), ends.replace(day=23)
    ticket = Ticket(may_dig_from=ends, expires_at=ends)
    assert (ticket.has_run_out(before), ticket.has_run_out(after), Ticket().has_run_out(after)) == (
        False,
        True,
        False,
    )
    assert (ticket.is_early(before), ticket.is_early(after), Ticket().is_early(before)) == (
        True,
        False,
        False,
    )
    for said in OwnerSaid:
        settled = said in (OwnerSaid.MARKED, OwnerSaid.NO_CONFLICT)
        assert OwnerAnswer("a", 2, answer=said).is_open() is not settled
        assert OwnerAnswer("a", 2, answer=said, until_at=ends).is_open(before) is not settled
        assert OwnerAnswer("a", 2, answer=said, until_at=ends).is_open(after)
