"""Take records out of another program's file into a job."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from plumbmark.app.outfile import write_whole
from plumbmark.app.solve import Outcome
from plumbmark.base.errors import PlumbmarkError

if TYPE_CHECKING:
    from plumbmark.exchange.jobfolder.jobtoml import JobFile
    from plumbmark.exchange.lines_in import LinesIn
    from plumbmark.exchange.records_in import Made

ENDINGS: Final = (".gpkg", ".geojson", ".json", ".dxf", ".kml", ".csv", ".xlsx", ".parquet")
_RECORDS: Final = "records.geojson"
#: The layer that is taken where a file has it and nobody names another: our own name for records.
_OWN: Final = "records"


@dataclass(frozen=True, slots=True)
class Source:
    """Where records come from, and what the person says of them."""

    path: Path
    layers: tuple[str, ...] = ()
    crs: str | None = None
    utility: str | None = None
    source: str | None = None
    replace: bool = False


def take_records(folder: Path, source: Source) -> Outcome:
    """Read lines from a file and write them into the job's `records.geojson`, after those that are there.

    Parameters
    ----------
    folder : Path
        A job; only its `job.toml` has to be there.
    source : Source

    Returns
    -------
    Outcome
        What is wrong is returned, all of it, and nothing is written then.
    """
    job, existing, problems = _job(folder)
    problems += _wrong_with(source)
    if problems or job is None:
        return Outcome(None, tuple(problems))

    from plumbmark.exchange.records_in import Asked, merged, records_made

    name = source.path.name
    asked = Asked(source.crs, source.utility, source.source or name, frozenset(job.lines))
    try:
        lines, told = _read(source)
        made = records_made(lines, job.crs, source.path.stem, asked)
        if not made.features:
            return Outcome(None, (f"'{source.path}': {_nothing(lines, source)}",))
        text, doubled = merged(existing, made, job.crs, replace=source.replace)
    except PlumbmarkError as error:
        return Outcome(None, (f"'{source.path}': {error}",))
    except OSError as error:
        return Outcome(None, (f"'{source.path}': cannot be read: {error.strerror or error}",))
    if doubled and not source.replace:
        some = ", ".join(doubled[:8]) + (" and others" if len(doubled) > 8 else "")
        what = f"there are records of that id already ({some}); --replace has the new ones in their place"
        return Outcome(None, (f"'{source.path}': {what}",))
    wrong = _refused(text, job)
    if wrong:
        return Outcome(None, wrong)
    target = folder / _RECORDS
    try:
        write_whole(target, text.encode())
    except OSError as error:
        return Outcome(None, (f"'{target}': cannot be written: {error.strerror or error}",))
    warnings = tuple(f"{name}: {w}" for w in (*told, *made.warnings))
    return Outcome(_told(made, len(doubled)), (), warnings, (target,))


def _job(folder: Path) -> tuple[JobFile | None, str | None, list[str]]:
    """The job's own file, the text of its records, and what is wrong with either."""
    from plumbmark.exchange.jobfolder.drawings import read_records
    from plumbmark.exchange.jobfolder.files import JOB, decode, read_bytes, survey_folder
    from plumbmark.exchange.jobfolder.jobtoml import read_job_file
    from plumbmark.exchange.jobfolder.remarks import Remarks

    remarks = Remarks()
    present = survey_folder(folder, remarks)
    texts = {}
    for name in (JOB, _RECORDS):
        data = read_bytes(folder, name, remarks) if name in present else None
        texts[name] = None if data is None else decode(data, name, remarks)
    text = texts[JOB]
    job = None if text is None else read_job_file(text, remarks, to_solve=False)
    existing = texts[_RECORDS]
    if job is not None and existing is not None:
        read_records(existing, job, remarks)
    problems = [str(f) for f in remarks.all() if f.severity == "error"]
    return job, existing, problems


def _refused(text: str, job: JobFile) -> tuple[str, ...]:
    """Why the job would not read the records back; empty where it does."""
    from plumbmark.exchange.jobfolder.drawings import read_records
    from plumbmark.exchange.jobfolder.remarks import Remarks

    remarks = Remarks()
    read_records(text, job, remarks)
    return tuple(str(f) for f in remarks.all() if f.severity == "error")


def _wrong_with(source: Source) -> list[str]:
    from plumbmark.base.errors import CoordinateSystemError
    from plumbmark.model.job import Utility
    from plumbmark.survey.transform import system_words

    said = []
    if source.path.suffix.lower() not in ENDINGS:
        known = ", ".join(ENDINGS)
        said.append(f"'{source.path}': the ending '{source.path.suffix}' is none that is read: {known}")
    elif not source.path.is_file():
        said.append(f"'{source.path}': there is no such file")
    if source.crs is not None:
        try:
            system_words(source.crs)
        except CoordinateSystemError as error:
            said.append(f"--crs: {error}")
    known_words = [str(u) for u in Utility]
    if source.utility is not None and source.utility not in known_words:
        said.append(f"--utility '{source.utility}': is none of {', '.join(known_words)}")
    return said


def _read(source: Source) -> tuple[LinesIn, list[str]]:
    """The lines that are wanted, and what is to be told of those that are not."""
    read = _reader(source.path.suffix.lower())
    lines = read(source.path, source.layers)
    if not source.layers and _OWN in lines.layers and len(lines.layers) > 1:
        others = ", ".join(x or "(no name)" for x in lines.layers if x != _OWN)
        lines = read(source.path, (_OWN,))
        return lines, [f"the layer records was taken; --layer takes others: {others}"]
    return lines, []


def _nothing(lines: LinesIn, source: Source) -> str:
    """Why there is nothing to take."""
    if source.layers and lines.layers:
        return (
            f"has no layer {', '.join(source.layers)} with lines in it; there are {', '.join(lines.layers)}"
        )
    return "has no lines in it"


def _reader(ending: str) -> Callable[[Path, tuple[str, ...]], LinesIn]:
    """The function that reads files with an ending; each brings its own libraries, so only one is loaded."""
    from plumbmark.exchange.lines_in import MAX_BYTES, UnreadableFileError

    if ending == ".gpkg":
        from plumbmark.exchange.geopackage import geopackage_lines

        return geopackage_lines

    def small(path: Path) -> bytes:
        if path.stat().st_size > MAX_BYTES:
            raise UnreadableFileError(f"is {path.stat().st_size:,} bytes, and at most {MAX_BYTES:,} are read")
        return path.read_bytes()

    if ending in (".geojson", ".json"):
        from plumbmark.exchange.geojson import geojson_lines as lines_of
    elif ending == ".dxf":
        from plumbmark.exchange.dxf import dxf_lines as lines_of
    elif ending == ".kml":
        from plumbmark.exchange.kml import kml_lines as lines_of
    elif ending == ".csv":
        from plumbmark.exchange.table import csv_lines as lines_of
    elif ending == ".xlsx":
        from plumbmark.exchange.table import xlsx_lines as lines_of
    else:
        from plumbmark.exchange.geoparquet import geoparquet_lines as lines_of
    return lambda path, layers: lines_of(small(path), layers)


def _told(made: Made, replaced: int) -> str:
    """What was done, for the terminal."""
    count = len(made.features)
    said = [f"{count:,} {'record' if count == 1 else 'records'} taken."]
    if replaced:
        said.append(f"{replaced:,} of them stand in the place of records of the same id.")
    return "\n".join([*said, *made.notes]) + "\n"
