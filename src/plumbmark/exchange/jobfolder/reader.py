"""A job folder to a job and what there is to say about it."""

from __future__ import annotations

import gc
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final

from plumbmark.exchange.jobfolder.checks import check_job
from plumbmark.exchange.jobfolder.columns import Column
from plumbmark.exchange.jobfolder.drawings import read_digs, read_records
from plumbmark.exchange.jobfolder.files import (
    JOB,
    KNOWN,
    NETWORK,
    decode,
    read_bytes,
    survey_files,
    survey_folder,
)
from plumbmark.exchange.jobfolder.jobtoml import JobFile, read_job_file
from plumbmark.exchange.jobfolder.markfile import read_marks
from plumbmark.exchange.jobfolder.ownerfile import read_owners
from plumbmark.exchange.jobfolder.passfile import read_passes
from plumbmark.exchange.jobfolder.photofile import read_photos
from plumbmark.exchange.jobfolder.places import Spot, read_places
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.rows import (
    Sheet,
    open_sheet,
    read_readings,
    read_side_readings,
    read_test_holes,
    with_blank_setups,
)
from plumbmark.exchange.jobfolder.schema import (
    MARKS,
    OWNERS,
    PASSES,
    PHOTOS,
    PROFILES,
    READINGS,
    SIDE_READINGS,
    TEST_HOLES,
    THINGS,
)
from plumbmark.exchange.jobfolder.table import Table, read_table
from plumbmark.exchange.jobfolder.thingfile import read_things
from plumbmark.exchange.jobfolder.tiefile import read_ties, settle_ties
from plumbmark.exchange.jobfolder.walks import read_profiles, with_two_offsets
from plumbmark.model.finding import Finding
from plumbmark.model.job import Job

#: Columns of each table, by file; `ties.csv` is read apart from them.
SCHEMAS: Final[dict[str, Sequence[Column]]] = {
    "readings.csv": READINGS,
    "profiles.csv": PROFILES,
    "side_readings.csv": SIDE_READINGS,
    "test_holes.csv": TEST_HOLES,
    "passes.csv": PASSES,
    "marks.csv": MARKS,
    "owners.csv": OWNERS,
    "things.csv": THINGS,
    "photos.csv": PHOTOS,
}


def read_job(folder: Path, *, to_solve: bool = True) -> tuple[Job | None, list[Finding]]:
    """Read and check a job folder.

    Parameters
    ----------
    folder : Path
    to_solve : bool
        Whether the job needs a line and a place to solve; before the first reading it has neither.

    Returns
    -------
    job : Job or None
        None if and only if one of the findings is an error.
    findings : list of Finding
        All there is to say, errors first. Nothing that stands in a file raises.
    """
    return _quietly(lambda remarks: _of_folder(Path(folder), remarks), to_solve)


def read_job_files(files: Mapping[str, bytes], *, to_solve: bool = True) -> tuple[Job | None, list[Finding]]:
    """Read and check the files of a job folder that are in memory; the rest as `read_job`.

    Parameters
    ----------
    files : mapping of str to bytes
        By name.
    to_solve : bool

    Returns
    -------
    job : Job or None
    findings : list of Finding
    """
    return _quietly(lambda remarks: survey_files(files, remarks), to_solve)


def _quietly(
    collect: Callable[[Remarks], dict[str, bytes]], to_solve: bool
) -> tuple[Job | None, list[Finding]]:
    remarks = Remarks()
    collecting = gc.isenabled()
    gc.disable()  # a million small values that all stay: looking for garbage among them doubles the time
    try:
        return _read(collect(remarks), remarks, to_solve)
    finally:
        if collecting:
            gc.enable()


def _of_folder(folder: Path, remarks: Remarks) -> dict[str, bytes]:
    present = survey_folder(folder, remarks)
    read = {name: read_bytes(folder, name, remarks) for name in KNOWN if name in present and name != NETWORK}
    return {name: data for name, data in read.items() if data is not None}


def _read(files: Mapping[str, bytes], remarks: Remarks, to_solve: bool) -> tuple[Job | None, list[Finding]]:
    text = _text(files, JOB, remarks)
    job = JobFile() if text is None else read_job_file(text, remarks, to_solve=to_solve)
    sheets = {name: sheet for name in SCHEMAS if (sheet := _sheet(files, name, remarks))}
    tied = _ties(files, sheets, job, remarks)
    empty = Sheet(Table("", (), (), ()), {})
    readings = read_readings(sheets.get("readings.csv", empty), job, tied, remarks)
    profiles = read_profiles(sheets.get("profiles.csv", empty), job, tied, remarks)
    side_readings = read_side_readings(sheets.get("side_readings.csv", empty), job, tied, remarks)
    test_holes = read_test_holes(sheets.get("test_holes.csv", empty), job, tied, remarks)
    records_text = _text(files, "records.geojson", remarks)
    records = [] if records_text is None else read_records(records_text, job, remarks)
    digs_text = _text(files, "dig.geojson", remarks)
    digs = [] if digs_text is None else read_digs(digs_text, job, remarks)
    passes = read_passes(sheets.get("passes.csv", empty), job, tied, remarks)
    marks = read_marks(sheets.get("marks.csv", empty), job, tied, remarks)
    owners = read_owners(sheets.get("owners.csv", empty), remarks)
    things = read_things(sheets.get("things.csv", empty), job, tied, remarks)
    photographs = read_photos(sheets.get("photos.csv", empty), job, tied, marks, things, remarks)
    check_job(job, readings, profiles, side_readings, test_holes, remarks, to_solve=to_solve)
    used = {(row.line, row.setup) for rows in (readings, profiles, side_readings) for row in rows}
    with_blank_setups(job, used, remarks)
    findings = remarks.all()
    if remarks.failed:
        return None, findings
    return Job(
        id=job.id,
        title=job.title,
        crs=job.crs,
        display_units=job.display_units,
        soil=job.soil,
        receivers=tuple(job.receivers.values()),
        lines=tuple(job.lines.values()),
        trenches=tuple(job.trenches.values()),
        baselines=tuple(job.baselines.values()),
        corners=tuple(job.corners.values()),
        readings=tuple(readings),
        profiles=tuple(profiles),
        side_readings=tuple(side_readings),
        test_holes=tuple(test_holes),
        records=tuple(records),
        digs=tuple(digs),
        marks=tuple(marks),
        sweep=job.sweep,
        searches=tuple(job.searches.values()),
        passes=tuple(passes),
        ticket=job.ticket,
        owners=tuple(owners),
        things=tuple(things),
        photographs=tuple(photographs),
        findings=tuple(findings),
    ), findings


def _text(files: Mapping[str, bytes], name: str, remarks: Remarks) -> str | None:
    return decode(files[name], name, remarks) if name in files else None


def _table(files: Mapping[str, bytes], name: str, remarks: Remarks) -> Table | None:
    text = _text(files, name, remarks)
    return None if text is None else read_table(text, name, remarks)


def _sheet(files: Mapping[str, bytes], name: str, remarks: Remarks) -> Sheet | None:
    table = _table(files, name, remarks)
    if table is None:
        return None
    if name == "profiles.csv":
        table = with_two_offsets(table)
    return open_sheet(table, SCHEMAS[name], remarks)


def _ties(
    files: Mapping[str, bytes], sheets: dict[str, Sheet], job: JobFile, remarks: Remarks
) -> dict[str, Spot | None] | None:
    """Places of `ties.csv`; where its distances leave two, the one nearer to the job's other places."""
    if "ties.csv" not in files:
        return None
    table = _table(files, "ties.csv", remarks)
    if table is None:
        return None
    tied = read_ties(table, job, remarks)
    known: list[tuple[float, float]] = []
    if any(place is not None and place.other is not None for place in tied.values()):
        unheard, nowhere = Remarks(), dict.fromkeys(tied)
        for name, sheet in sheets.items():
            offset = "place_offset_m" if name == "profiles.csv" else "offset_m"
            places = read_places(sheet.table, sheet.cells, job, nowhere, unheard, offset=offset)
            known += [(p.easting_m, p.northing_m) for p in places if p is not None]
    return settle_ties(table, tied, known, remarks)
