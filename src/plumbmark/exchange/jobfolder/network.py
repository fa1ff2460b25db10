"""`network.toml`: what lies buried, how it hangs together, and where the signal can be put on."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.files import JOB, NETWORK, decode, read_bytes, survey_folder
from plumbmark.exchange.jobfolder.jobtoml import JobFile, listed, read_job_file
from plumbmark.exchange.jobfolder.keys import Holds, Key, coordinate, take, words
from plumbmark.exchange.jobfolder.networkcheck import check_network
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.model.conductors import conductor_kinds
from plumbmark.model.finding import Finding
from plumbmark.model.job import Hookup, Utility
from plumbmark.model.network import (
    Bond,
    Conductor,
    ConductorKind,
    Connection,
    End,
    EndKind,
    Ground,
    Network,
    NetworkReceiver,
    Stake,
    Transmitter,
)

MAX_ENTRIES: Final = 2_000
MAX_VERTICES: Final = 10_000
MAX_FREQUENCIES: Final = 50

_HOOKUPS: Final = {hookup.value: hookup for hookup in Hookup if hookup is not Hookup.PASSIVE}
_ID: Final = Key("id", Holds.ID, required=True)


def _ohms(name: str) -> Key:
    return Key(name, Holds.NUMBER, low=0.0, high=1e9)


def _at(name: str, required: bool = True) -> Key:
    return Key(name, Holds.NUMBER, low=0.0, high=1e6, required=required)


NETWORK_KEYS: Final = (Key("target", Holds.ID, required=True),)
SOIL_KEYS: Final = (Key("resistivity_ohm_m", Holds.NUMBER, low=0.1, high=1e6),)
TRANSMITTER_KEYS: Final = (
    Key("voltage_v", Holds.NUMBER, low=0.0, high=1000.0, above=True),
    Key("power_w", Holds.NUMBER, low=0.0, high=1000.0, above=True),
    Key("current_ma", Holds.NUMBER, low=0.0, high=1e5, above=True),
    Key("clamp_turns", Holds.NUMBER, low=1.0, high=1e4),
    Key("moment_a_m2", Holds.NUMBER, low=0.0, high=1e4, above=True),
    Key("frequencies_hz", Holds.NUMBERS, low=1.0, high=1e6),
)
RECEIVER_KEYS: Final = (
    Key("lower_coil_height_m", Holds.NUMBER, low=0.0, high=10.0),
    Key("coil_spacing_m", Holds.NUMBER, low=0.0, high=10.0, above=True),
    Key("least_current_ma", Holds.NUMBER, low=0.0, high=1e3, above=True),
)
#: Tables that come more than once, and their keys.
NETWORK_ENTRIES: Final[dict[str, tuple[Key, ...]]] = {
    "kinds": (
        _ID,
        Key("like", Holds.ID),
        Key("words", Holds.TEXT),
        Key("outside_diameter_m", Holds.NUMBER, low=0.0, high=10.0, above=True),
        Key("wall_m", Holds.NUMBER, low=0.0, high=1.0, above=True),
        Key("resistivity_ohm_m", Holds.NUMBER, low=1e-9, high=1.0),
        Key("relative_permeability", Holds.NUMBER, low=1.0, high=1e5),
        Key("coating_m", Holds.NUMBER, low=1e-6, high=1.0),
        Key("relative_permittivity", Holds.NUMBER, low=1.0, high=100.0),
        Key("coating_ohm_m2", Holds.NUMBER, low=1e-3, high=1e12),
    ),
    "conductors": (
        _ID,
        Key("kind", Holds.ID, required=True),
        Key("line", Holds.ID),
        Key("utility", Holds.CHOICE, choices=words(Utility)),
        Key("eastings_m", Holds.NUMBERS, low=-1e8, high=1e8, required=True),
        Key("northings_m", Holds.NUMBERS, low=-1e8, high=1e8, required=True),
        Key("depth_m", Holds.NUMBER, low=0.0, high=100.0, above=True),
        Key("depths_m", Holds.NUMBERS, low=0.0, high=100.0, above=True),
        Key("start", Holds.CHOICE, choices=words(EndKind)),
        Key("start_on", Holds.ID),
        _ohms("start_resistance_ohm"),
        Key("end", Holds.CHOICE, choices=words(EndKind)),
        Key("end_on", Holds.ID),
        _ohms("end_resistance_ohm"),
    ),
    "bonds": (
        _ID,
        Key("conductor", Holds.ID, required=True),
        _at("at_m"),
        Key("other", Holds.ID, required=True),
        _at("other_at_m"),
        _ohms("resistance_ohm"),
    ),
    "grounds": (
        _ID,
        Key("conductor", Holds.ID, required=True),
        _at("at_m"),
        _ohms("resistance_ohm"),
    ),
    "stakes": (
        _ID,
        coordinate("easting_m"),
        coordinate("northing_m"),
        Key("length_m", Holds.NUMBER, low=0.05, high=10.0),
        Key("diameter_m", Holds.NUMBER, low=1e-3, high=0.2),
    ),
    "connections": (
        _ID,
        Key("hookup", Holds.CHOICE, choices=_HOOKUPS, required=True),
        Key("conductor", Holds.ID),
        _at("at_m", required=False),
        Key("stake", Holds.ID),
        coordinate("easting_m", required=False),
        coordinate("northing_m", required=False),
        Key("height_m", Holds.NUMBER, low=0.0, high=10.0),
        Key("bearing_deg", Holds.NUMBER, low=-360.0, high=360.0),
    ),
}


def read_network(folder: Path) -> tuple[Network | None, list[Finding]]:
    """Read and check `network.toml` of a job folder, and what `job.toml` says of soil and units.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    network : Network or None
        None if and only if one of the findings is an error.
    findings : list of Finding
        All there is to say, errors first. Nothing that stands in a file raises.
    """
    remarks = Remarks()
    present = survey_folder(folder, remarks)
    if NETWORK not in present and not remarks.failed:
        remarks.error(NETWORK, "is missing (a hook-up plan is worked out from it)")
    found = {name: read_bytes(folder, name, remarks) for name in (JOB, NETWORK) if name in present}
    return _network({name: data for name, data in found.items() if data is not None}, remarks)


def read_network_files(files: Mapping[str, bytes]) -> tuple[Network | None, list[Finding]]:
    """Read and check `network.toml` among the files of a job folder that are in memory; as `read_network`.

    Parameters
    ----------
    files : mapping of str to bytes
        By name.

    Returns
    -------
    network : Network or None
    findings : list of Finding
    """
    remarks = Remarks()
    if NETWORK not in files:
        remarks.error(NETWORK, "is missing (a hook-up plan is worked out from it)")
    return _network({name: files[name] for name in (JOB, NETWORK) if name in files}, remarks)


def _network(files: Mapping[str, bytes], remarks: Remarks) -> tuple[Network | None, list[Finding]]:
    texts = {name: decode(data, name, remarks) for name, data in files.items()}
    heard = Remarks()  # what is odd in job.toml is told by `solve`; here only what stops it
    job = read_job_file(texts.get(JOB) or "", heard) if JOB in files else JobFile()
    if heard.failed:
        for finding in heard.all():
            if finding.severity.value == "error":
                remarks.error(finding.where, finding.what)
    text = texts.get(NETWORK)
    network = None if text is None else _parse(text, job, remarks)
    return (None if remarks.failed else network), remarks.all()


def _parse(text: str, job: JobFile, remarks: Remarks) -> Network | None:
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        remarks.error(NETWORK, f"is not TOML: {str(error)[:1].lower()}{str(error)[1:]}")
        return None
    known = {"network", "soil", "transmitter", "receiver", *NETWORK_ENTRIES}
    for name in document:
        if name not in known:
            said = name if name.isprintable() else shown(name)
            remarks.warn(f"{NETWORK} {said}", "is not a table of a network file, so it was not read")
    head = _table(document, "network", NETWORK_KEYS, remarks, required=True)
    soil = _table(document, "soil", SOIL_KEYS, remarks)
    sent = _table(document, "transmitter", TRANSMITTER_KEYS, remarks)
    heard = _table(document, "receiver", RECEIVER_KEYS, remarks)
    kinds = dict(conductor_kinds())
    for path, taken in _entries(document, "kinds", remarks):
        _read_kind(taken, kinds, path, remarks)
    conductors: dict[str, Conductor] = {}
    for path, taken in _entries(document, "conductors", remarks):
        _read_conductor(taken, kinds, conductors, path, remarks)
    network = Network(
        id=job.id,
        target=head.get("target", ""),
        conductors=tuple(conductors.values()),
        bonds=tuple(Bond(**t) for _, t in _entries(document, "bonds", remarks)),
        grounds=tuple(Ground(**t) for _, t in _entries(document, "grounds", remarks)),
        stakes=tuple(_stake(t) for _, t in _entries(document, "stakes", remarks)),
        connections=tuple(_connection(t) for _, t in _entries(document, "connections", remarks)),
        transmitter=_transmitter(sent),
        receiver=_receiver(heard, job),
        display_units=job.display_units,
    )
    known_soil = soil.get("resistivity_ohm_m", job.soil.resistivity_ohm_m)
    if known_soil is None:
        what = f"is not given; {network.resistivity_ohm_m:g} ohm m is taken, it may be a third or three times"
        remarks.warn(f"{NETWORK} [soil] resistivity_ohm_m", what)
    else:
        network = replace(network, resistivity_ohm_m=known_soil, resistivity_known=True)
    frequencies = sent.get("frequencies_hz")
    if frequencies is not None:
        if not 0 < len(frequencies) <= MAX_FREQUENCIES:
            what = f"has {len(frequencies)} frequencies, and 1 to {MAX_FREQUENCIES} are worked out"
            remarks.error(f"{NETWORK} [transmitter] frequencies_hz", what)
        else:
            network = replace(network, frequencies_hz=tuple(sorted(set(frequencies))))
    if not remarks.failed:
        check_network(network, dict.fromkeys(job.lines), remarks)
    return network


def _table(
    document: Mapping[str, Any], name: str, keys: Sequence[Key], remarks: Remarks, *, required: bool = False
) -> dict[str, Any]:
    table = document.get(name)
    if isinstance(table, dict):
        return take(table, keys, f"{NETWORK} [{name}]", remarks)
    if table is not None or required:
        remarks.error(f"{NETWORK} [{name}]", "is missing" if table is None else "is not a table")
    return {}


def _entries(
    document: Mapping[str, Any], name: str, remarks: Remarks
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Path and keys of each entry of a repeated table that has all it needs; an id stands once."""
    entries = document.get(name, [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        remarks.error(f"{NETWORK} {name}", f"is not a list of tables (write [[{name}]] above each)")
        return
    if len(entries) > MAX_ENTRIES:
        many = f"is there {len(entries):,} times, and at most {MAX_ENTRIES:,} are read"
        remarks.error(f"{NETWORK} [[{name}]]", many)
        return
    keys = NETWORK_ENTRIES[name]
    found: set[str] = set()
    for number, entry in enumerate(entries, start=1):
        path = f"{NETWORK} [[{name}]] {number}"
        taken = take(entry, keys, path, remarks)
        if not all(key.name in taken for key in keys if key.required):
            continue
        if taken["id"] in found:
            remarks.error(f"{path} id", f"{shown(taken['id'])} is the id of another one above")
            continue
        found.add(taken["id"])
        yield path, taken


def _read_kind(taken: dict[str, Any], kinds: dict[str, ConductorKind], path: str, remarks: Remarks) -> None:
    """A kind of the file's own: like one that there is, with what differs."""
    ident, like = taken["id"], taken.get("like")
    if ident in kinds:
        remarks.error(f"{path} id", f"{shown(ident)} is a kind of the library; choose another id")
        return
    if like is None or like not in kinds:
        what = "is missing" if like is None else f"{shown(like)} is no kind of conductor"
        remarks.error(f"{path} like", f"{what}{listed(kinds)}")
        return
    kind = replace(kinds[like], id=ident, words=taken.get("words", ident), source="network.toml")
    if "outside_diameter_m" in taken:
        kind = replace(kind, radius_m=0.5 * taken["outside_diameter_m"])
    named = ("wall_m", "resistivity_ohm_m", "relative_permeability", "coating_m", "relative_permittivity")
    for name in (*named, "coating_ohm_m2"):
        if name in taken:
            kind = replace(kind, **{name: taken[name]})
    if kind.wall_m is not None and kind.wall_m > kind.radius_m:
        what = f"{kind.wall_m:g} m is more than half the outside diameter of {2 * kind.radius_m:g} m"
        remarks.error(f"{path} wall_m", what)
        return
    if kind.coating_m is not None and kind.coating_ohm_m2 <= 0.0:
        remarks.error(f"{path} coating_ohm_m2", f"is missing, and {shown(like)} is bare: a coating needs one")
        return
    kinds[ident] = kind


def _read_conductor(
    taken: dict[str, Any],
    kinds: dict[str, ConductorKind],
    conductors: dict[str, Conductor],
    path: str,
    remarks: Remarks,
) -> None:
    kind = kinds.get(taken["kind"])
    if kind is None:
        remarks.error(f"{path} kind", f"{shown(taken['kind'])} is no kind of conductor{listed(kinds)}")
        return
    east, north = taken["eastings_m"], taken["northings_m"]
    if len(east) != len(north) or not 2 <= len(east) <= MAX_VERTICES:
        what = f"has {len(north)} numbers and eastings_m {len(east)}: as many each, and two or more"
        remarks.error(f"{path} northings_m", what)
        return
    depths = taken.get("depths_m")
    if (depths is None) == (taken.get("depth_m") is None):
        remarks.error(f"{path} depth_m", "or depths_m is needed, and one of them only")
        return
    depths = depths if depths is not None else (taken["depth_m"],) * len(east)
    if len(depths) != len(east):
        what = f"has {len(depths)} numbers and eastings_m {len(east)}: as many each"
        remarks.error(f"{path} depths_m", what)
        return
    vertices = tuple(zip(east, north, depths, strict=True))
    for k, (a, b) in enumerate(pairwise(vertices), start=1):
        if math.dist(a[:2], b[:2]) < 0.01:
            what = f"vertices {k} and {k + 1} lie in one place: a leg of zero length"
            remarks.error(f"{path} eastings_m", what)
            return
    if min(d for _, _, d in vertices) <= kind.outer_radius_m:
        what = (
            f"{min(depths):g} m to the centre: the conductor, of radius {kind.outer_radius_m:g} m, looks out"
        )
        remarks.error(f"{path} depth_m", what)
        return
    ends = [_end(taken, name, path, remarks) for name in ("start", "end")]
    conductors[taken["id"]] = Conductor(
        id=taken["id"],
        kind=kind,
        vertices_m=vertices,
        start=ends[0],
        end=ends[1],
        line=taken.get("line"),
        utility=str(taken.get("utility", Utility.UNKNOWN)),
    )


def _end(taken: dict[str, Any], name: str, path: str, remarks: Remarks) -> End:
    on, ohms = taken.get(f"{name}_on"), taken.get(f"{name}_resistance_ohm")
    kind = taken.get(name, EndKind.OPEN if on is None else EndKind.TEE)
    if kind is EndKind.TEE and on is None:
        remarks.error(f"{path} {name}_on", "is missing: a tee needs the conductor it is on")
    if kind is not EndKind.TEE and on is not None:
        remarks.error(f"{path} {name}_on", f"is given, and {name} is {kind.value}, not tee")
    if kind is not EndKind.GROUNDED and ohms is not None:
        remarks.error(f"{path} {name}_resistance_ohm", f"is given, and {name} is {kind.value}, not grounded")
    return End(kind, ohms, on)


def _stake(taken: dict[str, Any]) -> Stake:
    diameter = taken.pop("diameter_m", None)
    return Stake(**taken) if diameter is None else Stake(**taken, radius_m=0.5 * diameter)


def _connection(taken: dict[str, Any]) -> Connection:
    return Connection(kind=taken.pop("hookup"), **taken)


def _transmitter(taken: dict[str, Any]) -> Transmitter:
    values = {k: v for k, v in taken.items() if k not in ("frequencies_hz", "current_ma")}
    if "current_ma" in taken:
        values["current_a"] = 1e-3 * taken["current_ma"]
    return Transmitter(**values)


def _receiver(taken: dict[str, Any], job: JobFile) -> NetworkReceiver:
    """What the network file says, else the job's first receiver, else the usual."""
    first = next(iter(job.receivers.values()), None)
    values: dict[str, float] = {}
    if first is not None and first.lower_coil_height_m is not None:
        values["lower_coil_height_m"] = first.lower_coil_height_m
    if first is not None and first.coil_spacing_m is not None:
        values["coil_spacing_m"] = first.coil_spacing_m
    values |= {k: v for k, v in taken.items() if k != "least_current_ma"}
    if "least_current_ma" in taken:
        values["least_current_a"] = 1e-3 * taken["least_current_ma"]
    return NetworkReceiver(**values)
