"""A job folder with every kind of file in it, and ways to spoil it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from plumbmark.exchange.jobfolder import read_job
from plumbmark.model.finding import Severity
from plumbmark.model.job import Job

JOB = """\
[job]
id = "alder-17"
title = "Alder Street 17"
crs = "EPSG:32631"
display_units = "ft-in"
[soil]
resistivity_ohm_m = 60
resistivity_sigma_factor = 2
[[receivers]]
id = "R1"
lower_coil_height_m = 0.05
coil_spacing_m = 0.40
null_kind = "unknown"
[[lines]]
id = "E1"
utility = "electric"
outside_diameter_m = 0.03
material = "copper"
state = "live"
owner = "the village"
private = false
signal = "line"
hookup = "direct"
frequency_hz = 33000
receiver = "R1"
identity = ["connected"]
[[lines]]
id = "C1"
utility = "communications"
hookup = "clamp"
frequency_hz = 10000.0
receiver = "R1"
[[setups]]
id = "S2"
line = "E1"
hookup = "induction"
frequency_hz = 10000
receiver = "R1"
transmitter_easting_m = 573364.0
transmitter_northing_m = 6355861.0
[[trenches]]
id = "J1"
lines = ["E1", "C1"]
width_m = 0.5
[[baselines]]
id = "B1"
start_easting_m = 573360.0
start_northing_m = 6355860.0
end_easting_m = 573390.0
end_northing_m = 6355860.0
[[corners]]
id = "house-NE"
easting_m = 573370.0
northing_m = 6355860.0
[[corners]]
id = "house-NW"
easting_m = 573360.0
northing_m = 6355860.0
[[corners]]
id = "pole"
easting_m = 573365.0
northing_m = 6355880.0
"""

READINGS = """\
reading,line,setup,taken_at,by,easting_m,northing_m,mark_by,bearing_deg,null_offset_m,half_left_m,half_right_m,depth_m,depth_method,depth_refused,current_ma,current_sign,raised_by_m,raised_depth_m
r1,E1,,2024-05-06T08:01:00-05:00,crew-2,573360.00,6355870.00,peak,90,0.02,1.01,0.98,1.00,two-coil,,8.0,+,0.30,1.31
r2,E1,,2024-05-06T08:03:00-05:00,crew-2,573364.00,6355870.02,,91,-0.03,,,1.02,,,7.9,,,
r3,E1,S2,2024-05-06T08:05:00Z,crew-2,573368.00,6355870.01,null,89,0.00..0.10,,,1.03,,,7.8,-,,
r4,C1,,,,573368.00,6355871.01,unknown,,,,,,,yes,,,,
"""

PROFILES = """\
profile,line,setup,easting_m,northing_m,bearing_deg,offset_m,height_m,horizontal,vertical,scale
r2,E1,,573364.00,6355870.02,91,-1.0,0.05,5.1,4.9,linear
r2,,,,,,0.0,0.05,10.2,0.1,
r2,E1,,573364.0,6355870.02,91,1.0,0.05,5.0,5.0,linear
x9,C1,,573372.00,6355871.00,90,-1.0,0.05,-12.5,,db
x9,C1,,573372.00,6355871.00,90,1.0,0.05,-12.0,,db
"""

SIDE = """\
side_reading,line,setup,easting_m,northing_m,toward_deg,distance_m,depth_m
s1,E1,,573366.0,6355873.0,180,3.0,1.1
"""

HOLES = """\
test_hole,line,easting_m,northing_m,found,depth_to_top_m,outside_diameter_m,dug_to_m,proved
h1,E1,573362.0,6355870.0,yes,0.95,0.03,,a copper cable
h2,C1,573362.0,6355871.0,no,,,1.2,
"""

TIES = """\
place,corner,distance_m
P1,house-NE,10.00
P1,house-NW,14.14
P1,pole,11.18
"""

RECORDS = """\
{"type": "FeatureCollection",
 "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32631"}},
 "features": [
  {"type": "Feature",
   "properties": {"id": "rec-1", "line": "E1", "utility": "electric", "depth_m": 0.9,
                  "outside_diameter_m": 0.03, "source": "as-built", "date": "1998", "position_sigma_m": 1.0},
   "geometry": {"type": "LineString", "coordinates": [[573360, 6355870], [573390, 6355870]]}}]}
"""

DIG = """\
{"type": "FeatureCollection",
 "crs": {"type": "name", "properties": {"name": "EPSG:32631"}},
 "features": [
  {"type": "Feature", "properties": {"id": "dig-1", "kind": "excavation", "depth_m": 1.2},
   "geometry": {"type": "Polygon", "coordinates":
    [[[573360, 6355860], [573370, 6355860], [573370, 6355865], [573360, 6355860]]]}},
  {"type": "Feature",
   "properties": {"id": "bore-1", "kind": "bore", "depths_m": [1.0, 1.4], "diameter_m": 0.1},
   "geometry": {"type": "LineString", "coordinates": [[573360, 6355860], [573370, 6355860]]}}]}
"""

FILES = {
    "job.toml": JOB,
    "readings.csv": READINGS,
    "profiles.csv": PROFILES,
    "side_readings.csv": SIDE,
    "test_holes.csv": HOLES,
    "ties.csv": TIES,
    "records.geojson": RECORDS,
    "dig.geojson": DIG,
}

MINIMAL = {
    "job.toml": '[job]\nid = "m"\n[[lines]]\nid = "E1"\n',
    "readings.csv": "reading,line,easting_m,northing_m\nr1,E1,1.0,2.0\nr2,E1,3.0,2.0\n",
}

Edit = tuple[str, str, str]
Content = str | bytes | None


class Folder:
    """One job folder on disk."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def write(self, files: dict[str, Content]) -> Folder:
        for name, content in files.items():
            if content is None:
                (self.path / name).unlink(missing_ok=True)
            else:
                data = content if isinstance(content, bytes) else content.encode()
                (self.path / name).write_bytes(data)
        return self

    def edit(self, *edits: Edit) -> Folder:
        """Replace texts that stand in a file exactly once."""
        for name, old, new in edits:
            text = (self.path / name).read_bytes().decode()
            assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {name}"
            (self.path / name).write_bytes(text.replace(old, new).encode())
        return self

    def read(self) -> tuple[Job | None, list[str], list[str]]:
        """The job, its errors and its warnings, as lines of text."""
        job, findings = read_job(self.path)
        errors = [str(f) for f in findings if f.severity is Severity.ERROR]
        warnings = [str(f) for f in findings if f.severity is Severity.WARNING]
        assert (job is None) == bool(errors)
        assert all("\n" not in line for line in errors + warnings)
        return job, errors, warnings

    def accepted(self) -> tuple[Job, list[str]]:
        """The job and its warnings, of a folder that is no good only to a reader that is no good."""
        job, errors, warnings = self.read()
        assert errors == []
        assert job is not None
        return job, warnings


@pytest.fixture
def empty(tmp_path: Path) -> Folder:
    path = tmp_path / "job"
    path.mkdir()
    return Folder(path)


@pytest.fixture
def full(empty: Folder) -> Folder:
    """Every kind of file, nothing to remark."""
    return empty.write(dict(FILES))


@pytest.fixture
def minimal(empty: Folder) -> Folder:
    """The least that is a job."""
    return empty.write(dict(MINIMAL))


@pytest.fixture
def refused(full: Folder) -> Callable[[tuple[Edit, ...], str, tuple[str, ...]], None]:
    """Check that the full job, spoiled, is refused with one line that says where and what."""

    def check(edits: tuple[Edit, ...], where: str, parts: tuple[str, ...]) -> None:
        _, errors, _ = full.edit(*edits).read()
        told = [line for line in errors if line.startswith(f"{where}: ")]
        assert told, f"nothing about {where} in {errors}"
        assert any(all(part in line for part in parts) for line in told), told
        assert len(errors) == len(set(errors))

    return check
