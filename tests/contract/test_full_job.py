"""A job with every kind of file, read as it was meant."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from plumbmark.model.job import Hookup, IdentityEvidence, LineState, NullKind, Utility
from plumbmark.model.reading import DepthMethod, MarkBy, Scale
from plumbmark.model.record import DigKind


def test_nothing_to_remark(full: Any) -> None:
    job, warnings = full.accepted()
    assert warnings == []
    assert job.findings == ()


def test_job_table(full: Any) -> None:
    job, _ = full.accepted()
    assert (job.id, job.title, job.crs, job.display_units) == (
        "alder-17",
        "Alder Street 17",
        "EPSG:32631",
        "ft-in",
    )
    assert (job.soil.resistivity_ohm_m, job.soil.resistivity_sigma_factor) == (60.0, 2.0)
    (receiver,) = job.receivers
    assert (receiver.lower_coil_height_m, receiver.coil_spacing_m) == (0.05, 0.40)
    assert receiver.null_kind is NullKind.UNKNOWN
    assert job.trenches[0].lines == ("E1", "C1")
    assert job.baselines[0].end_easting_m == 573390.0
    assert [c.id for c in job.corners] == ["house-NE", "house-NW", "pole"]


def test_lines_and_setups(full: Any) -> None:
    job, _ = full.accepted()
    power, comms = job.lines
    assert (power.utility, power.state, power.private) == (Utility.ELECTRIC, LineState.LIVE, False)
    assert power.identity == (IdentityEvidence.CONNECTED,)
    # Rows without a setup are of the line's own keys, beside the one that is listed.
    assert [(s.id, s.hookup, s.frequency_hz) for s in power.setups] == [
        ("", Hookup.DIRECT, 33000.0),
        ("S2", Hookup.INDUCTION, 10000.0),
    ]
    assert [(s.id, s.hookup, s.receiver) for s in comms.setups] == [("", Hookup.CLAMP, "R1")]


def test_readings(full: Any) -> None:
    job, _ = full.accepted()
    first, second, third, fourth = job.readings
    assert [r.row for r in job.readings] == [2, 3, 4, 5]
    assert (first.place.easting_m, first.place.northing_m, first.place.sigma_m) == (573360.0, 6355870.0, None)
    assert first.taken_at is not None
    assert first.taken_at.astimezone(UTC) == datetime(2024, 5, 6, 13, 1, tzinfo=UTC)
    assert first.taken_at.utcoffset() == timedelta(hours=-5)
    assert (first.by, first.mark_by, first.bearing_deg, first.current_sign) == (
        "crew-2",
        MarkBy.PEAK,
        90.0,
        1,
    )
    assert first.current_a is not None
    assert math.isclose(first.current_a.value, 8e-3)
    assert (second.mark_by, second.depth_method, second.half_left_m) == (
        MarkBy.PEAK,
        DepthMethod.TWO_COIL,
        None,
    )
    assert second.null_offset_m is not None
    assert second.null_offset_m.value == -0.03
    assert (third.setup, third.mark_by, third.current_sign) == ("S2", MarkBy.NULL, -1)
    assert third.null_offset_m is not None
    assert (third.null_offset_m.low, third.null_offset_m.high) == (0.0, 0.1)
    assert (fourth.depth_refused, fourth.depth_m, fourth.bearing_deg, fourth.taken_at) == (
        True,
        None,
        None,
        None,
    )


def test_profiles(full: Any) -> None:
    job, _ = full.accepted()
    one, other = job.profiles
    assert (one.id, one.line, one.row, one.scale, one.bearing_deg) == ("r2", "E1", 2, Scale.LINEAR, 91.0)
    assert [p.offset_m.value for p in one.points] == [-1.0, 0.0, 1.0]
    assert [p.row for p in one.points] == [2, 3, 4]
    assert (other.scale, len(other.points)) == (Scale.DB, 2)
    assert other.points[0].horizontal is not None
    assert other.points[0].horizontal.value == -12.5
    assert other.points[0].vertical is None


def test_side_readings_and_test_holes(full: Any) -> None:
    job, _ = full.accepted()
    (side,) = job.side_readings
    assert (side.toward_deg, side.distance_m.value, side.depth_m.value) == (180.0, 3.0, 1.1)
    found, not_there = job.test_holes
    assert (found.found, found.depth_to_top_m.value, found.proved) == (True, 0.95, "a copper cable")
    assert (not_there.found, not_there.dug_to_m.value) == (False, 1.2)


def test_drawings(full: Any) -> None:
    job, _ = full.accepted()
    (record,) = job.records
    assert (record.id, record.line, record.utility, record.depth_m) == ("rec-1", "E1", "electric", 0.9)
    assert record.path == ((573360.0, 6355870.0), (573390.0, 6355870.0))
    dig, bore = job.digs
    assert (dig.kind, dig.depth_m, len(dig.rings), len(dig.rings[0])) == (DigKind.EXCAVATION, 1.2, 1, 4)
    assert (bore.kind, bore.depths_m, bore.diameter_m) == (DigKind.BORE, (1.0, 1.4), 0.1)


def test_defaults(minimal: Any) -> None:
    job, warnings = minimal.accepted()
    assert warnings == []
    assert (job.crs, job.display_units, job.title, job.receivers) == ("local", "m", "", ())
    assert (job.soil.resistivity_ohm_m, job.soil.resistivity_sigma_factor) == (None, 2.0)
    (line,) = job.lines
    assert (line.utility, line.state, line.owner, line.private) == (
        Utility.UNKNOWN,
        LineState.UNKNOWN,
        None,
        None,
    )
    (setup,) = line.setups
    assert (setup.id, setup.line, setup.hookup, setup.frequency_hz) == ("", "E1", None, None)
    assert job.readings[0].depth_m is None


@pytest.mark.parametrize("name", ["profiles.csv", "side_readings.csv", "test_holes.csv"])
def test_one_table_of_any_kind_is_enough(full: Any, name: str) -> None:
    others = {"readings.csv", "profiles.csv", "side_readings.csv", "test_holes.csv"} - {name}
    job, _ = full.write(dict.fromkeys(others)).accepted()
    assert len(job.profiles) + len(job.side_readings) + len(job.test_holes) > 0
