"""`job.toml`: receivers, lines, setups, trenches, baselines, corners, ticket."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar

from plumbmark.base.errors import CoordinateSystemError
from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.keys import Holds, Key, coordinate, take, words
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.ticketfile import read_ticket
from plumbmark.model.job import (
    Baseline,
    Corner,
    Hookup,
    IdentityEvidence,
    Line,
    LineState,
    NullKind,
    Receiver,
    Setup,
    Signal,
    Soil,
    Trench,
    Utility,
)
from plumbmark.model.sweep import Antenna, Search, SearchMethod, SweepPlan
from plumbmark.model.ticket import Ticket
from plumbmark.survey.crs import GridSystem, grid_system, outside_area

FILE: Final = "job.toml"
LOCAL: Final = "local"
MAX_ENTRIES: Final = 10_000

_ID: Final = Key("id", Holds.ID, required=True)
_HOOKUP: Final = (
    Key("hookup", Holds.CHOICE, choices=words(Hookup)),
    Key("frequency_hz", Holds.NUMBER, low=0.0, high=1e9, above=True),
    Key("receiver", Holds.ID),
)
JOB_KEYS: Final = (
    _ID,
    Key("title", Holds.TEXT),
    Key("crs", Holds.TEXT),
    Key("display_units", Holds.CHOICE, choices={"ft-in": "ft-in", "m": "m"}),
)
SOIL_KEYS: Final = (
    Key("resistivity_ohm_m", Holds.NUMBER, low=0.0, high=1e9, above=True),
    Key("resistivity_sigma_factor", Holds.NUMBER, low=1.0, high=1e6),
)
SWEEP_KEYS: Final = (
    Key("margin_m", Holds.NUMBER, low=0.0, high=100.0),
    Key("spacing_m", Holds.NUMBER, low=0.1, high=100.0),
    Key("bearing_deg", Holds.NUMBER, low=-360.0, high=360.0),
    Key("reach_m", Holds.NUMBER, low=0.5, high=100.0),
    Key("line_bearing_deg", Holds.NUMBER, low=-360.0, high=360.0),
    Key("line_bearing_sigma_deg", Holds.NUMBER, low=1.0, high=90.0),
    Key("depth_m", Holds.NUMBER, low=0.05, high=50.0),
    Key("depth_sigma_factor", Holds.NUMBER, low=1.0, high=10.0),
)
#: Tables that come more than once, and their keys. A new key is one line here and a field of the model.
ENTRY_KEYS: Final[dict[str, tuple[Key, ...]]] = {
    "receivers": (
        _ID,
        Key("lower_coil_height_m", Holds.NUMBER, low=0.0, high=10.0),
        Key("coil_spacing_m", Holds.NUMBER, low=0.0, high=10.0, above=True),
        Key("null_kind", Holds.CHOICE, choices=words(NullKind)),
    ),
    "lines": (
        _ID,
        Key("utility", Holds.CHOICE, choices=words(Utility)),
        Key("outside_diameter_m", Holds.NUMBER, low=0.0, high=100.0, above=True),
        Key("material", Holds.TEXT),
        Key("state", Holds.CHOICE, choices=words(LineState)),
        Key("owner", Holds.TEXT),
        Key("private", Holds.FLAG),
        Key("signal", Holds.CHOICE, choices=words(Signal)),
        *_HOOKUP,
        Key("identity", Holds.CHOICES, choices=words(IdentityEvidence)),
    ),
    "setups": (
        _ID,
        Key("line", Holds.ID, required=True),
        *_HOOKUP,
        coordinate("transmitter_easting_m", required=False),
        coordinate("transmitter_northing_m", required=False),
    ),
    "trenches": (
        _ID,
        Key("lines", Holds.IDS, required=True),
        Key("width_m", Holds.NUMBER, low=0.0, high=1000.0),
    ),
    "baselines": (
        _ID,
        *(coordinate(f"{end}_{axis}_m") for end in ("start", "end") for axis in ("easting", "northing")),
        Key("placed", Holds.FLAG),
    ),
    "corners": (_ID, coordinate("easting_m"), coordinate("northing_m")),
    "searches": (
        Key("method", Holds.CHOICE, choices=words(SearchMethod), required=True),
        Key("frequency_hz", Holds.NUMBER, low=0.0, high=1e9, above=True),
        Key("antenna", Holds.CHOICE, choices=words(Antenna)),
        Key("threshold_ma", Holds.NUMBER, low=0.0, high=1e6, above=True),
        Key("current_ma", Holds.NUMBER, low=0.0, high=1e6, above=True),
        Key("current_sigma_factor", Holds.NUMBER, low=1.0, high=100.0),
    ),
}
_HOOKUP_NAMES: Final = tuple(key.name for key in _HOOKUP)

T = TypeVar("T")


@dataclass(slots=True)
class JobFile:
    """What `job.toml` says; what is wrong in it is left out and was told.

    `readable` is False where there was nothing to read, so that nothing can be checked against it; `system`
    is None for local coordinates and where the system is no good.
    """

    readable: bool = False
    id: str = ""
    title: str = ""
    crs: str = LOCAL
    system: GridSystem | None = None
    display_units: str = "m"
    soil: Soil = field(default_factory=Soil)
    receivers: dict[str, Receiver] = field(default_factory=dict)
    lines: dict[str, Line] = field(default_factory=dict)
    own_setups: dict[str, Setup] = field(default_factory=dict)
    setups: dict[str, list[Setup]] = field(default_factory=dict)
    trenches: dict[str, Trench] = field(default_factory=dict)
    baselines: dict[str, Baseline] = field(default_factory=dict)
    corners: dict[str, Corner] = field(default_factory=dict)
    sweep: SweepPlan = field(default_factory=SweepPlan)
    searches: dict[SearchMethod, Search] = field(default_factory=dict)
    ticket: Ticket | None = None
    broken: set[str] = field(default_factory=set)  # ids of entries that were left out and told of


def read_job_file(text: str, remarks: Remarks, *, to_solve: bool = True) -> JobFile:
    """Read and check the text of `job.toml`.

    Parameters
    ----------
    text : str
    remarks : Remarks
    to_solve : bool
        Whether the job needs a line.

    Returns
    -------
    JobFile
    """
    job = JobFile()
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError) as error:
        remarks.error(FILE, f"is not TOML: {str(error)[:1].lower()}{str(error)[1:]}")
        return job
    except RecursionError:
        remarks.error(FILE, "is not TOML that anyone wrote: its lists are too deep")
        return job
    job.readable = True
    _refuse_odd_numbers(text, remarks)
    for name in document:
        if name not in {"job", "soil", "sweep", "ticket", *ENTRY_KEYS}:
            head = name if name.isprintable() else shown(name)
            remarks.warn(f"{FILE} {head}", "is not a table of a job file, so it was not read")
    _read_head(document, job, remarks)
    for row, taken in _entries(document, "receivers", job, remarks):
        _add(job.receivers, Receiver(**taken), row, remarks)
    for row, taken in _entries(document, "lines", job, remarks):
        _read_line(taken, job, row, remarks)
    for row, taken in _entries(document, "setups", job, remarks):
        _read_setup(taken, job, row, remarks)
    for row, taken in _entries(document, "trenches", job, remarks):
        _read_trench(taken, job, row, remarks)
    for row, taken in _entries(document, "baselines", job, remarks):
        _read_baseline(taken, job, row, remarks)
    for row, taken in _entries(document, "corners", job, remarks):
        _check_area(job, row, "", taken, remarks)
        _add(job.corners, Corner(**taken), row, remarks)
    for row, taken in _entries(document, "searches", job, remarks):
        _read_search(taken, job, row, remarks)
    if to_solve and not document.get("lines"):
        remarks.error(f"{FILE} [[lines]]", "is missing (a job needs a line at least)")
    _note_unnamed_receivers(job, remarks)
    return job


def _read_head(document: Mapping[str, Any], job: JobFile, remarks: Remarks) -> None:
    head = document.get("job")
    if not isinstance(head, dict):
        remarks.error(f"{FILE} [job]", "is missing (a job needs an id)" if head is None else "is not a table")
    else:
        taken = take(head, JOB_KEYS, f"{FILE} [job]", remarks)
        job.id, job.title = taken.get("id", ""), taken.get("title", "")
        job.display_units = taken.get("display_units", "m")
        _read_system(taken.get("crs", LOCAL), job, remarks)
    soil = document.get("soil")
    if isinstance(soil, dict):
        job.soil = Soil(**take(soil, SOIL_KEYS, f"{FILE} [soil]", remarks))
    elif soil is not None:
        remarks.error(f"{FILE} [soil]", "is not a table")
    sweep = document.get("sweep")
    if isinstance(sweep, dict):
        job.sweep = SweepPlan(**take(sweep, SWEEP_KEYS, f"{FILE} [sweep]", remarks))
    elif sweep is not None:
        remarks.error(f"{FILE} [sweep]", "is not a table")
    job.ticket = read_ticket(document, FILE, remarks)


def _read_system(crs: str, job: JobFile, remarks: Remarks) -> None:
    if crs == LOCAL:
        return
    job.crs = crs.upper()
    try:
        job.system = grid_system(crs)
        job.crs = job.system.code
    except CoordinateSystemError as error:
        remarks.error(f"{FILE} [job] crs", str(error))


def _entries(
    document: Mapping[str, Any], name: str, job: JobFile, remarks: Remarks
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Path and keys of each entry of a repeated table that has all it needs."""
    entries = document.get(name, [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        remarks.error(f"{FILE} {name}", f"is not a list of tables (write [[{name}]] above each)")
        return
    if len(entries) > MAX_ENTRIES:
        many = f"is there {len(entries):,} times, and at most {MAX_ENTRIES:,} are read"
        remarks.error(f"{FILE} [[{name}]]", many)
        return
    keys = ENTRY_KEYS[name]
    for number, entry in enumerate(entries, start=1):
        path = f"{FILE} [[{name}]] {number}"
        taken = take(entry, keys, path, remarks)
        if all(key.name in taken for key in keys if key.required):
            yield path, taken
        else:
            job.broken.add(taken.get("id", ""))


def _add(found: dict[str, T], entry: T, path: str, remarks: Remarks) -> bool:
    ident = str(getattr(entry, "id"))  # noqa: B009
    if ident in found:
        remarks.error(f"{path} id", f"{shown(ident)} is the id of another one above")
        return False
    found[ident] = entry
    return True


def _read_line(taken: dict[str, Any], job: JobFile, path: str, remarks: Remarks) -> None:
    _check_receiver(taken, job, path, remarks)
    own = {name: taken.pop(name) for name in _HOOKUP_NAMES if name in taken}
    line = Line(**taken)
    if _add(job.lines, line, path, remarks) and own:
        job.own_setups[line.id] = Setup("", line.id, **own)


def _read_setup(taken: dict[str, Any], job: JobFile, path: str, remarks: Remarks) -> None:
    _check_receiver(taken, job, path, remarks)
    _check_area(job, path, "transmitter_", taken, remarks)
    setup = Setup(**taken)
    if (setup.transmitter_easting_m is None) != (setup.transmitter_northing_m is None):
        blank = "easting" if setup.transmitter_easting_m is None else "northing"
        remarks.error(f"{path} transmitter_{blank}_m", "is missing, and the other coordinate is given")
    if setup.line not in job.lines:
        job.broken.add(setup.id)
        remarks.error(f"{path} line", f"{shown(setup.line)} is no line of this job{listed(job.lines)}")
        return
    others = job.setups.setdefault(setup.line, [])
    if any(setup.id == other.id for setups in job.setups.values() for other in setups):
        remarks.error(f"{path} id", f"{shown(setup.id)} is the id of another one above")
        return
    others.append(setup)


def _read_trench(taken: dict[str, Any], job: JobFile, path: str, remarks: Remarks) -> None:
    lines = taken["lines"]
    for line in lines:
        if line not in job.lines and line not in job.broken:
            remarks.error(f"{path} lines", f"{shown(line)} is no line of this job{listed(job.lines)}")
    if len(set(lines)) < len(lines):
        remarks.error(f"{path} lines", "names a line twice")
    if len(set(lines)) < 2:
        remarks.warn(f"{path} lines", "names fewer than two lines, so it says nothing")
    _add(job.trenches, Trench(**taken), path, remarks)


def _read_search(taken: dict[str, Any], job: JobFile, path: str, remarks: Remarks) -> None:
    method = taken["method"]
    if method in job.searches:
        remarks.error(f"{path} method", f"{method} is searched for by another one above")
        return
    for name in ("threshold", "current"):
        if f"{name}_ma" in taken:
            taken[f"{name}_a"] = 1e-3 * taken.pop(f"{name}_ma")
    job.searches[method] = Search(**taken)


def _read_baseline(taken: dict[str, Any], job: JobFile, path: str, remarks: Remarks) -> None:
    line = Baseline(**taken)
    if (line.start_easting_m, line.start_northing_m) == (line.end_easting_m, line.end_northing_m):
        remarks.error(path, f"starts and ends at one point, easting {line.start_easting_m:g}")
        job.broken.add(line.id)
        return
    for end in ("start_", "end_"):
        _check_area(job, path, end, taken, remarks)
    _add(job.baselines, line, path, remarks)


def _check_receiver(taken: dict[str, Any], job: JobFile, path: str, remarks: Remarks) -> None:
    receiver = taken.get("receiver")
    if receiver is not None and receiver not in job.receivers and receiver not in job.broken:
        remarks.error(
            f"{path} receiver", f"{shown(receiver)} is no receiver of this job{listed(job.receivers)}"
        )


def _check_area(job: JobFile, path: str, prefix: str, taken: dict[str, Any], remarks: Remarks) -> None:
    easting, northing = taken.get(f"{prefix}easting_m"), taken.get(f"{prefix}northing_m")
    if job.system is None or easting is None or northing is None:
        return
    if outside_area(job.system, [easting], [northing])[0]:
        remarks.error(f"{path} {prefix}easting_m", outside_words(job.system, easting, northing))


def outside_words(system: GridSystem, easting_m: float, northing_m: float) -> str:
    """Say that a place lies outside, and whether its coordinates are swapped."""
    swapped = not outside_area(system, [northing_m], [easting_m])[0]
    hint = " (easting and northing are swapped)" if swapped else ""
    return (
        f"easting {easting_m:g}, northing {northing_m:.10g} lies outside the area of use of {system.code}, "
        f"{system.name}{hint}"
    )


def listed(known: Mapping[str, Any]) -> str:
    """What there is to choose from, in brackets."""
    if not known:
        return " (it has none)"
    names = list(known)
    more = f" and {len(names) - 8} more" if len(names) > 8 else ""
    return f" ({', '.join(names[:8])}{more})"


def _note_unnamed_receivers(job: JobFile, remarks: Remarks) -> None:
    if not job.receivers:
        return
    for line in job.lines.values():
        used = job.setups.get(line.id) or [job.own_setups.get(line.id, Setup("", line.id))]
        if any(setup.receiver is None for setup in used):
            what = "names no receiver, so what is known of the job's receivers is not used for it"
            remarks.warn(f"{FILE} line {line.id}", what)


_ODD_NUMBER: Final = re.compile(
    r"^[ \t]*([A-Za-z0-9_-]{1,64})[ \t]*=[ \t]*"
    r"([+-]?(?:0[xob][0-9A-Fa-f_]{1,40}|[0-9][0-9.eE+-]{0,40}_[0-9_.eE+-]{0,40}))[ \t\r]*(?:#.*)?$",
    re.MULTILINE,
)


def _refuse_odd_numbers(text: str, remarks: Remarks) -> None:
    """Hexadecimal and underscores are TOML, but not how a quantity is written here."""
    if '"""' in text or "'''" in text:  # a text of many lines may hold anything
        return
    for match in _ODD_NUMBER.finditer(text):
        line = text.count("\n", 0, match.start()) + 1
        what = f"{shown(match[2])} is not a plain decimal number (no hexadecimal, octal, underscores)"
        remarks.error(f"{FILE} line {line} {match[1]}", what)
