"""Places told by words become places along baselines, and none of them pretends to be on the map."""

from __future__ import annotations

import math
from typing import Any

import pytest

from plumbmark.exchange.journal import solvable
from plumbmark.model.job import Job

CRS = {"keys": {"crs": "EPSG:32631"}}


def read(journal: Any) -> Job:
    job, _, aside = solvable(journal.fold())
    assert job is not None
    assert not aside
    return job


def places(journal: Any) -> list[tuple[float, float]]:
    return [(r.place.easting_m, r.place.northing_m) for r in read(journal).readings]


def things(journal: Any, **at: tuple[float, float]) -> None:
    for name, (east, north) in at.items():
        journal.entry("things", name, {"kind": "meter", "easting_m": str(east), "northing_m": str(north)})


def test_along_from_one_thing_towards_another(journal: Any) -> None:
    """3 m of the way from (10, 20) to (13, 24), which is 5 m long: 3 and 4 fifths of it."""
    things(journal, meter=(10, 20), pole=(13, 24))
    row = {"from_thing": "meter", "toward_thing": "pole", "along": "3.0 m", "note": "wet"}
    journal.entry("readings", "1", row)
    assert places(journal) == [pytest.approx((11.8, 22.4), abs=1e-6)]
    assert read(journal).readings[0].note == "wet; 3.0 m from meter toward pole"
    assert not journal.fold().unplaced


def test_things_of_an_imported_file_count_and_so_do_their_units(journal: Any) -> None:
    csv = b"thing,kind,easting_ft,northing_ft\nmeter,meter,0,0\npole,pole,100,0\n"
    journal.bring({"job.toml": b'[job]\nid = "alder-17"\n', "things.csv": csv})
    journal.entry("readings", "1", {"from_thing": "meter", "toward_thing": "pole", "along": "10 ft"})
    assert places(journal) == [pytest.approx((3.048, 0.0), abs=1e-9)]


def test_things_in_one_place_give_no_direction(journal: Any) -> None:
    things(journal, meter=(10, 20), pole=(10, 20))
    journal.entry("readings", "1", {"from_thing": "meter", "toward_thing": "pole", "along": "3.0 m"})
    assert len(places(journal)) == 1
    assert journal.fold().unplaced == {("readings", "1")}


def test_each_row_of_a_pass_has_a_place_of_its_own(journal: Any) -> None:
    things(journal, meter=(0, 0), pole=(30, 0))
    toward = {"from_thing": "meter", "toward_thing": "pole"}
    journal.entry(
        "passes", "P", {"method": "passive-power", **toward, "along": "1 m"}, {**toward, "along": "9 m"}
    )
    points = read(journal).passes[0].points
    assert [p.place.easting_m for p in points] == pytest.approx([1.0, 9.0])


def test_paces_are_three_quarters_of_a_metre_and_doubtful(journal: Any) -> None:
    """16 paces are 12 m; 5 % of that is 0.6 m, and half a pace either way adds 0.75 m / sqrt 12."""
    things(journal, meter=(0, 0), pole=(30, 0))
    journal.entry("readings", "1", {"from_thing": "meter", "toward_thing": "pole", "along": "16 paces"})
    (reading,) = read(journal).readings
    assert reading.place.easting_m == pytest.approx(12.0)
    assert reading.place.sigma_m == pytest.approx(math.hypot(0.6, 0.75 / math.sqrt(12)), abs=0.006)


def test_things_without_coordinates_share_a_baseline_that_no_map_shows(journal: Any) -> None:
    journal.entry("things", "meter", {"kind": "meter"})
    for key, along in (("1", "4 m"), ("2", "10 m")):
        journal.entry("readings", key, {"from_thing": "meter", "toward_thing": "pole", "along": along})
    journal.entry("readings", "3", {"from_thing": "pole", "toward_thing": "meter", "along": "4 m"})
    (one, two, other) = places(journal)
    assert (two[0] - one[0], two[1] - one[1]) == pytest.approx((6.0, 0.0))
    assert other[1] - one[1] == pytest.approx(1000.0)
    assert journal.fold().unplaced == {("readings", key) for key in "123"}


def test_words_alone_and_nothing_at_all_have_spots_of_their_own(journal: Any) -> None:
    journal.entry("readings", "1", {"place_words": "by the gate"})
    journal.entry("readings", "2", {"depth": "3 ft"})
    journal.entry("readings", "3", {"from_thing": "meter", "along": "about ten"})
    journal.entry("readings", "4", {"easting_m": "5", "northing_m": "6"})
    found = places(journal)
    assert [found[1][0] - found[0][0], found[2][0] - found[1][0]] == [600.0, 600.0]
    assert found[3] == (5.0, 6.0)
    assert [r.note for r in read(journal).readings] == ["by the gate", "", "about ten from meter", ""]
    assert journal.fold().unplaced == {("readings", key) for key in "123"}
    assert all(r.place.sigma_m is None for r in read(journal).readings[:3])


def test_spots_go_on_beyond_the_longest_station(journal: Any) -> None:
    for number in range(120):
        journal.entry("readings", str(number), {"depth": "3 ft"})
    found = places(journal)
    assert min(math.dist(a, b) for i, a in enumerate(found) for b in found[:i]) >= 200.0


def test_a_walk_stands_where_its_reading_stands(journal: Any) -> None:
    journal.entry("profiles", "1", *({"offset_m": o, "horizontal": "5"} for o in ("-1", "0", "1")))
    journal.entry("readings", "1", {"place_words": "by the gate", "line": "E1"})
    journal.entry("readings", "2", {"easting_m": "5", "northing_m": "6", "line": "E1"})
    journal.entry("profiles", "2", *({"offset_m": o, "horizontal": "5"} for o in ("-1", "0", "1")))
    job = read(journal)
    assert [p.place for p in job.profiles] == [r.place for r in job.readings]
    assert {p.line for p in job.profiles} == {"E1"}
    assert [len(p.points) for p in job.profiles] == [3, 3]
    assert journal.fold().unplaced == {("readings", "1"), ("profiles", "1")}


def test_a_walk_stands_where_the_reading_of_a_file_stands(journal: Any) -> None:
    toml = b'[job]\nid = "alder-17"\n[[lines]]\nid = "E1"\n[[lines]]\nid = "G1"\n'
    rows = b"reading,line,easting_m,northing_m\n1,G1,5,6\n"
    journal.bring({"job.toml": toml, "readings.csv": rows})
    journal.entry("profiles", "1", {"offset_m": "0", "horizontal": "5"})
    (walk,) = read(journal).profiles
    assert (walk.line, walk.place.easting_m) == ("G1", 5.0)


def test_in_a_grid_of_the_register_spots_lie_inside_its_area(journal: Any) -> None:
    journal.say("job", CRS)
    journal.entry("readings", "1", {"depth": "3 ft"})
    journal.entry("readings", "2", {"from_thing": "meter", "along": "3 m"})
    (one, two) = places(journal)
    assert abs(one[0] - 500_000) < 1e4
    assert two[1] - one[1] == pytest.approx(1000.0)


def test_things_by_longitude_and_latitude_lie_on_the_grid(journal: Any) -> None:
    """On the middle of a zone: 500,000 m east, by definition."""
    journal.say("job", CRS)
    for name, latitude in (("meter", "48.0"), ("pole", "48.1")):
        journal.entry("things", name, {"kind": "meter", "longitude_deg": "3.0", "latitude_deg": latitude})
    journal.entry("readings", "1", {"from_thing": "meter", "toward_thing": "pole", "along": "100 m"})
    journal.entry("readings", "2", {"easting_m": "500000", "northing_m": "5316000"})
    (one, _) = places(journal)
    assert one[0] == pytest.approx(500_000.0, abs=0.01)
    assert not journal.fold().unplaced


def test_a_baseline_of_the_job_keeps_its_name(journal: Any) -> None:
    keys = {
        f"{end}_{axis}_m": v for end, v in (("start", "0"), ("end", "9")) for axis in ("easting", "northing")
    }
    journal.say("item", {"table": "baselines", "key": "words-spots-1", "keys": keys})
    journal.entry("readings", "1", {"depth": "3 ft"})
    journal.entry("readings", "2", {"baseline": "words-spots-1", "station": "1 m", "offset": "0 m"})
    assert len(read(journal).baselines) == 2
    assert journal.fold().unplaced == {("readings", "1")}


def test_a_thing_and_a_photograph_need_no_place(journal: Any) -> None:
    journal.entry("things", "meter", {"kind": "meter"})
    journal.entry("photos", "1.jpg", {"thing": "meter"})
    journal.entry("owners", "water works", {"answer": "marked"})
    job = read(journal)
    assert job.things[0].place is None
    assert not journal.fold().unplaced
    assert not job.baselines
