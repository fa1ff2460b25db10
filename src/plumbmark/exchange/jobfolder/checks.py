"""What can only be seen with all files of a job on the table."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from typing import Final

import numpy as np

from plumbmark.exchange.jobfolder.jobtoml import JobFile
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.model.job import Signal
from plumbmark.model.reading import Profile, Reading, SideReading, TestHole
from plumbmark.survey.crs import scale_factor
from plumbmark.survey.polyline import shared_places

OWN_ZERO_M: Final = 1.0
SCALE_OFF: Final = 0.01


def check_job(
    job: JobFile,
    readings: Sequence[Reading],
    profiles: Sequence[Profile],
    side_readings: Sequence[SideReading],
    test_holes: Sequence[TestHole],
    remarks: Remarks,
    *,
    to_solve: bool = True,
) -> None:
    """Warn of what is odd between rows and files; refuse a job that is to be solved and has no place."""
    if to_solve and not remarks.failed and not (readings or profiles or side_readings or test_holes):
        what = "has no row, nor has profiles.csv, side_readings.csv or test_holes.csv: nothing to solve"
        remarks.error("readings.csv", what)
    if remarks.failed:
        return
    solvable = {row.line for rows in (readings, profiles, side_readings) for row in rows}
    for line in job.lines:
        if to_solve and line not in solvable:
            what = "nothing to solve: no reading, profile or reading from the side names it"
            remarks.warn(f"line {line}", what)
    _check_rows(job, readings, remarks)
    _check_lone(readings, profiles, remarks)
    _check_walks(readings, profiles, remarks)
    _check_holes(test_holes, remarks)
    _check_scale(job, [*readings, *profiles, *side_readings, *test_holes], remarks)


def _check_rows(job: JobFile, readings: Sequence[Reading], remarks: Remarks) -> None:
    for reading in readings:
        where = f"readings.csv row {reading.row}"
        if reading.depth_refused and reading.depth_m is not None:
            remarks.warn(f"{where} depth_refused", "is yes, and the row has a depth as well")
        if (reading.raised_by_m is None) != (reading.raised_depth_m is None):
            lack = "raised_by" if reading.raised_by_m is None else "raised_depth"
            remarks.warn(f"{where} {lack}", "is blank, so the raised reading says nothing (it needs both)")
        sonde = job.lines[reading.line].signal is Signal.SONDE
        if not sonde and (reading.null_ahead_m is not None or reading.null_behind_m is not None):
            what = f'is for a sonde, and line {reading.line} has no signal = "sonde"'
            name = "null_ahead_m" if reading.null_ahead_m is not None else "null_behind_m"
            remarks.warn(f"{where} {name}", what)


def _check_lone(readings: Sequence[Reading], profiles: Sequence[Profile], remarks: Remarks) -> None:
    """A line seen at one place alone, with no bearing: there is no right and no left."""
    rows_of_all: list[tuple[str, Reading | Profile]] = [
        *(("readings.csv", reading) for reading in readings),
        *(("profiles.csv", profile) for profile in profiles),
    ]
    directed = {row.line for _, row in rows_of_all if row.bearing_deg is not None}
    by_line: defaultdict[str, list[tuple[str, Reading | Profile]]] = defaultdict(list)
    for file, row in rows_of_all:
        if row.line not in directed:
            by_line[row.line].append((file, row))
    for line, rows in by_line.items():
        points = np.array([(row.place.easting_m, row.place.northing_m) for _, row in rows])
        if len(shared_places(points)[1]) == 1:
            file, row = rows[0]
            what = (
                f"is not given, and the place is the only one of line {line}: bearing 0 is taken, "
                "the gap between peak and null counts without its sign, and the interval is round"
            )
            remarks.warn(f"{file} row {row.row} bearing_deg", what)


def _check_walks(readings: Sequence[Reading], profiles: Sequence[Profile], remarks: Remarks) -> None:
    by_id = {reading.id: reading for reading in readings}
    for profile in profiles:
        where = f"profiles.csv row {profile.row}"
        reading = by_id.get(profile.id)
        if reading is None:
            continue
        if reading.line != profile.line:
            what = f"is the id of a reading of another line, {reading.line}, and does not belong to that"
            remarks.warn(f"{where} profile", what)
            continue
        apart = math.hypot(
            reading.place.easting_m - profile.place.easting_m,
            reading.place.northing_m - profile.place.northing_m,
        )
        if apart > OWN_ZERO_M:
            what = (
                f"{profile.id} stands {apart:.2f} m from the reading of the same id "
                f"(readings.csv row {reading.row}), so it keeps its own zero point"
            )
            remarks.warn(f"{where} profile", what)


def _check_holes(test_holes: Sequence[TestHole], remarks: Remarks) -> None:
    for hole in test_holes:
        where = f"test_holes.csv row {hole.row}"
        if not hole.found and hole.dug_to_m is None:
            remarks.warn(
                f"{where} dug_to_m", "is blank, and the line was not found: how deep was looked is not known"
            )
        if not hole.found and hole.depth_to_top_m is not None:
            remarks.warn(f"{where} depth_to_top_m", "is given, and found is no")


def _check_scale(
    job: JobFile, rows: Sequence[Reading | Profile | SideReading | TestHole], remarks: Remarks
) -> None:
    """Lengths on some grids are far from lengths on the ground."""
    if job.system is None or not rows:
        return
    scale = scale_factor(job.system, rows[0].place.easting_m, rows[0].place.northing_m)
    if abs(scale - 1.0) > SCALE_OFF:
        what = (
            f"{job.crs}, {job.system.name}, makes lengths {scale:.2f} times as long there as on the ground: "
            "take a system made for surveying, such as a UTM zone"
        )
        remarks.warn("job.toml [job] crs", what)
