"""Solve a folder of readings and write it as a file that other programs open."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from plumbmark.app.clearance import rule_named
from plumbmark.app.handed import hand_over
from plumbmark.app.outfile import problem_with, write_whole
from plumbmark.app.solve import Outcome
from plumbmark.base.errors import PlumbmarkError
from plumbmark.model.clearance import ZoneRule
from plumbmark.model.estimate import Solution
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Job
from plumbmark.model.layer import LayerSet

#: Kinds of file by ending.
ENDINGS: Final = {
    ".gpkg": "GeoPackage",
    ".geojson": "GeoJSON",
    ".dxf": "DXF",
    ".kml": "KML",
    ".csv": "CSV, one layer",
    ".xlsx": "workbook",
    ".parquet": "GeoParquet",
}
#: Kinds that are in longitude and latitude whatever the job counts in.
_DEGREES: Final = {".geojson", ".kml"}
#: What is written as CSV where nobody names a layer.
_FIRST: Final = "solved_places"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be written: the file, the layers (all where none is named) and the coordinate system.

    `rules`: tolerance zone of the clearance check.
    """

    path: Path
    layers: tuple[str, ...] = ()
    crs: str | None = None
    rules: str = "default"

    @property
    def ending(self) -> str:
        """The ending by which the kind of file is chosen."""
        return self.path.suffix.lower()


def export_folder(folder: Path, wanted: Wanted) -> Outcome:
    """Read a job, solve it and write it in the kind of file that the ending says.

    Parameters
    ----------
    folder : Path
        A job in the plain-file form.
    wanted : Wanted

    Returns
    -------
    Outcome
        What is wrong with the input or the command is returned, all of it, and nothing is written then.
    """
    from plumbmark.exchange.jobfolder import read_job

    job, findings = read_job(folder)
    problems = [f for f in findings if f.severity is Severity.ERROR]
    problems += _wrong_with(folder, wanted, job)
    rule = rule_named(wanted.rules, problems)
    if job is None or rule is None or problems:
        return Outcome(None, tuple(map(str, problems)))

    from plumbmark.exchange.jobfolder.digest import job_digest
    from plumbmark.handover.answer import all_warnings

    try:
        layers, solution = layers_for(job, rule, job_digest(folder))
    except PlumbmarkError as error:
        return Outcome(None, (f"dig.geojson: {error}",))
    try:
        data, warnings = exported(layers, wanted)
    except PlumbmarkError as error:
        return Outcome(None, (f"'{wanted.path}': {error}",))
    warnings = [*map(str, all_warnings(job, solution)), *(f"{wanted.path.name}: {w}" for w in warnings)]
    try:
        write_whole(wanted.path, data)
    except OSError as error:
        return Outcome(None, (f"'{wanted.path}': cannot be written: {error.strerror or error}",))
    return Outcome(_told(layers, wanted), (), tuple(warnings), (wanted.path,))


def layers_for(job: Job, rule: ZoneRule, digest: str) -> tuple[LayerSet, Solution]:
    """Solve a job and lay all that is known of it in layers.

    Parameters
    ----------
    job : Job
    rule : ZoneRule
        Tolerance zone for its digs.
    digest : str
        Of the files that the job was read from.

    Returns
    -------
    LayerSet, Solution

    Raises
    ------
    PlumbmarkError
        If a dig cannot be.
    """
    from plumbmark.handover.layers import layers_of
    from plumbmark.handover.on_plan import left_off, on_plan

    handed = hand_over(job, rule)
    shown, answer = on_plan(job, handed.solution)
    layers = layers_of(shown, answer, digest=digest, marks=handed.marks, clearance=handed.clearance)
    if left := left_off(job):
        layers = replace(layers, notes=(*layers.notes, left))
    return layers, handed.solution


def exported(layers: LayerSet, wanted: Wanted) -> tuple[bytes, list[str]]:
    """The file and what is to be warned of.

    Raises
    ------
    PlumbmarkError
        Where the layers cannot be brought into the file's system, or a library is missing.
    """
    from plumbmark.exchange.reproject import reprojected

    names = chosen(wanted)
    if names:
        layers = replace(layers, layers=tuple(x for x in layers.layers if x.name in names))
    target = wanted.crs
    if wanted.ending in _DEGREES and layers.crs != "local":
        target = "EPSG:4326"
    warnings = []
    if target is not None:
        layers, way = reprojected(layers, target)
        warnings += list(way.warnings()) if way else []
    if wanted.ending == ".geojson" and layers.crs == "local":
        warnings.append(
            "positions are metres of the job's own grid, not longitude and latitude: other programs will put "
            "them in a wrong place of the world"
        )
    return _writer(wanted.ending)(layers, wanted), warnings


def chosen(wanted: Wanted) -> Sequence[str]:
    """Names of the layers that are written; none for all."""
    return wanted.layers or ((_FIRST,) if wanted.ending == ".csv" else ())


def _writer(ending: str) -> Callable[[LayerSet, Wanted], bytes]:
    """The function that writes files with an ending; each brings its own libraries, so only one is loaded."""
    if ending == ".gpkg":
        from plumbmark.exchange.geopackage import geopackage_bytes

        return lambda layers, _: geopackage_bytes(layers)
    if ending == ".geojson":
        from plumbmark.exchange.geojson import geojson_bytes

        return lambda layers, _: geojson_bytes(layers)
    if ending == ".dxf":
        from plumbmark.exchange.dxf import dxf_bytes

        return lambda layers, _: dxf_bytes(layers)
    if ending == ".kml":
        from plumbmark.exchange.kml import kml_bytes

        return lambda layers, _: kml_bytes(layers)
    if ending == ".csv":
        from plumbmark.exchange.table import csv_bytes

        return lambda layers, wanted: csv_bytes(layers, chosen(wanted)[0])
    if ending == ".xlsx":
        from plumbmark.exchange.table import xlsx_bytes

        return lambda layers, _: xlsx_bytes(layers)
    from plumbmark.exchange.geoparquet import geoparquet_bytes

    return lambda layers, _: geoparquet_bytes(layers)


def _wrong_with(folder: Path, wanted: Wanted, job: Job | None) -> list[Finding]:
    """Everything about the command that keeps the file from being written."""
    said: list[tuple[str, str]] = []
    path = f"'{wanted.path}'"
    if wanted.ending not in ENDINGS:
        known = ", ".join(f"{ending} ({kind})" for ending, kind in ENDINGS.items())
        said.append((path, f"the ending '{wanted.path.suffix}' names no kind of file; known are {known}"))
    why = problem_with(wanted.path, inputs=folder)
    if why:
        said.append((path, why))
    known_layers = layer_names()
    said += [
        (f"--layer '{name}'", f"is no layer; there are {', '.join(known_layers)}")
        for name in wanted.layers
        if name not in known_layers
    ]
    if wanted.ending == ".csv" and len(wanted.layers) > 1:
        said.append((path, "a CSV file holds one layer; name one, or choose .xlsx"))
    said += [("--crs", what) for what in system_problems(wanted)]
    if job is not None:
        said += [(path, what) for what in kind_problems(wanted.ending, job)]
    return [Finding(Severity.ERROR, where, what) for where, what in said]


def kind_problems(ending: str, job: Job) -> list[str]:
    """Why a job cannot be written as files with an ending."""
    if ending != ".kml" or job.crs != "local":
        return []
    return [
        "KML holds longitude and latitude only, and the job counts in a grid of its own (crs is 'local'); "
        "choose .gpkg, .dxf, .csv or .xlsx, or give the job a system of the EPSG register"
    ]


def system_problems(wanted: Wanted) -> list[str]:
    """Why a file cannot be in the coordinate system that is wanted."""
    if wanted.crs is None:
        return []
    from plumbmark.base.errors import CoordinateSystemError
    from plumbmark.survey.transform import system_words

    if wanted.ending in _DEGREES:
        return [f"{ENDINGS[wanted.ending]} is in longitude and latitude (WGS 84) always; leave it out"]
    try:
        system = system_words(wanted.crs)
    except CoordinateSystemError as error:
        return [str(error)]
    if wanted.ending == ".dxf" and system.metres_per_unit is None:
        return [f"a drawing needs lengths, and {system.code} ({system.name}) counts degrees"]
    return []


def layer_names() -> tuple[str, ...]:
    """Names of all layers that can be written."""
    from plumbmark.handover.layers import layers_of

    return tuple(x.name for x in layers_of(Job(""), Solution("", (), None), digest="").layers)


def _told(layers: LayerSet, wanted: Wanted) -> str:
    """What is in the file, for the terminal."""
    names = chosen(wanted)
    rows = [x for x in layers.layers if (not names or x.name in names) and (x.features or names)]
    lines = [f"{x.name}: {len(x.features):,}" for x in rows]
    if wanted.ending == ".csv" and not wanted.layers:
        lines.append("A CSV file holds one layer; --layer names another.")
    return "\n".join(lines) + "\n"
