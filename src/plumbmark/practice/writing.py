"""An invented site as a job folder in plain files, rounded as its crew rounds, with `truth.csv`."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Sequence
from pathlib import Path

import pyproj

from plumbmark.practice.site import Row, Site

FOOT_M = 0.3048
INCH_M = 0.0254
UNIT_M = {"m": 1.0, "cm": 0.01, "in": INCH_M, "ft": FOOT_M}


def _number(value_m: float, unit: str) -> str:
    if unit == "m":
        return f"{value_m:.2f}"
    if unit == "ft":  # to the inch, as decimal feet
        return f"{round(value_m / INCH_M) / 12:.2f}"
    return f"{round(value_m / UNIT_M[unit]):d}"


def length_cell(value_m: float | tuple[float, float] | None, unit: str, text: str = "") -> str:
    """A length in a column of one unit; or, with `text`, a cell that states its own."""
    if value_m is None:
        return ""
    if isinstance(value_m, tuple):
        low, high = (_number(v, unit) for v in value_m)
        return f"{low}..{high}"
    if not text:
        cell = _number(value_m, unit)
        return cell[1:] if cell.startswith("-") and float(cell) == 0 else cell
    inches = round(value_m / INCH_M)
    return {
        "words": f"{inches // 12} ft {inches % 12} in",
        "quotes": f"{inches // 12}'{inches % 12}\"",
        "inches": f"{inches} in",
        "metres": f"{value_m:.2f} m",
    }[text]


def depth_cell(row: Row, unit: str, text: str) -> str:
    """The depth cell, with the slip of its box if it has one."""
    if row.depth_m is None or isinstance(row.depth_m, tuple) or not row.depth_as:
        return length_cell(row.depth_m, unit, text)
    inches = round(row.depth_m / INCH_M)
    if text:  # the box states its unit, and states the wrong one
        return f"{inches} ft" if row.depth_as == "inches" else f"{row.depth_m / FOOT_M:.2f} m"
    return {
        "ft_in": f"{inches // 12}.{inches % 12:02d}" if inches % 12 > 9 else f"{inches // 12}.{inches % 12}",
        "inches": f"{inches}",
        "feet": f"{row.depth_m / FOOT_M:.2f}",
    }[row.depth_as]


def significant(value: float, digits: int) -> str:
    """A plain decimal with so many significant digits."""
    if value == 0:
        return "0"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, places):.{max(places, 0)}f}"


def _toml_value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace('"', '\\"') + '"'
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_toml_value(v) for v in value) + "]"
    if isinstance(value, float):
        return f"{value:.12g}" if value != int(value) else f"{value:.1f}"
    return str(value)


def _table(head: str, pairs: Iterable[tuple[str, object]]) -> list[str]:
    return [head, *(f"{k} = {_toml_value(v)}" for k, v in pairs if v is not None and v != ())]


def job_toml(site: Site) -> str:
    """The text of `job.toml`."""
    lines = _table(
        "[job]",
        [("id", site.id), ("title", site.title), ("crs", site.crs), ("display_units", site.display_units)],
    )
    if site.soil:
        lines += _table(
            "[soil]", [("resistivity_ohm_m", site.soil[0]), ("resistivity_sigma_factor", site.soil[1])]
        )
    if site.receiver_listed:
        tool = site.instrument
        lines += _table(
            "[[receivers]]",
            [
                ("id", "R1"),
                ("lower_coil_height_m", tool.lower_m),
                ("coil_spacing_m", tool.spacing_m),
                ("null_kind", site.null_kind),
            ],
        )
    for line in site.lines:
        lines += _table(
            "[[lines]]",
            [
                ("id", line.id),
                ("utility", line.utility),
                ("outside_diameter_m", line.outside_diameter_m),
                ("hookup", line.hookup),
                ("frequency_hz", int(line.frequency_hz)),
                ("receiver", "R1" if site.receiver_listed else None),
                ("identity", line.identity),
            ],
        )
    if site.baseline:
        e1, n1, e2, n2 = site.baseline
        lines += _table(
            "[[baselines]]",
            [
                ("id", "B1"),
                ("start_easting_m", e1),
                ("start_northing_m", n1),
                ("end_easting_m", e2),
                ("end_northing_m", n2),
            ],
        )
    for name, e, n in site.corners:
        lines += _table("[[corners]]", [("id", name), ("easting_m", e), ("northing_m", n)])
    return "\n".join(lines) + "\n"


def _tape_unit(site: Site) -> str:
    return site.style.get("tape", "m")


def _place_columns(site: Site) -> list[str]:
    return {
        "baseline": ["baseline", f"station_{_tape_unit(site)}", f"offset_{_tape_unit(site)}"],
        "lonlat": ["longitude_deg", "latitude_deg"],
        "ties": ["place"],
    }.get(site.style["place"], ["easting_m", "northing_m"])


def on_baseline(
    baseline: tuple[float, float, float, float], easting_m: float, northing_m: float
) -> tuple[float, float]:
    """Chainage along a baseline and offset to its right [m]."""
    e1, n1, e2, n2 = baseline
    length = math.hypot(e2 - e1, n2 - n1)
    ue, un = (e2 - e1) / length, (n2 - n1) / length
    de, dn = easting_m - e1, northing_m - n1
    return de * ue + dn * un, de * un - dn * ue


def _place_cells(site: Site, row: Row, lonlat: pyproj.Transformer | None) -> list[str]:
    style = site.style["place"]
    if style == "baseline" and site.baseline is not None:
        tape = UNIT_M[_tape_unit(site)]
        return ["B1", *(f"{v / tape:.2f}" for v in on_baseline(site.baseline, row.easting_m, row.northing_m))]
    if style == "ties":
        return [row.place_id]
    if lonlat is not None:
        return [f"{v:.8f}" for v in lonlat.transform(row.easting_m, row.northing_m)]
    digits = 2 if style == "en2" else 3
    return [f"{row.easting_m:.{digits}f}", f"{row.northing_m:.{digits}f}"]


def _clock(minute: int) -> str:
    return f"2024-05-06T{8 + minute // 60:02d}:{minute % 60:02d}:00-05:00"


def readings_table(site: Site) -> tuple[list[str], list[list[str]]]:
    """Header and rows of `readings.csv`; columns nobody filled are left out."""
    unit, text = site.style["length"], site.style["depth_text"]
    lonlat = None
    if site.style["place"] == "lonlat":
        lonlat = pyproj.Transformer.from_crs(site.crs, "EPSG:4326", always_xy=True)
    tail = "" if text else f"_{unit}"
    header = ["reading", "line", "setup", *_place_columns(site), "position_sigma_m", "bearing_deg"]
    header += [f"null_offset_{unit}", f"half_left_{unit}", f"half_right_{unit}", f"depth{tail}"]
    header += ["depth_refused", "current_ma", f"raised_by_{unit}", f"raised_depth{tail}", "taken_at", "by"]
    rows, digits = [], int(site.style["digits"])
    forms = ("words", "quotes", "inches", "metres")
    for count, row in enumerate(site.rows):
        form = forms[(site.seed + 3 * count) % 4] if text == "mixed" else text
        cells = [row.id, row.line, row.setup, *_place_cells(site, row, lonlat)]
        cells.append("" if site.position_sigma_m is None else f"{site.position_sigma_m:g}")
        cells.append("" if row.bearing_deg is None else f"{round(row.bearing_deg) % 360:d}")
        cells += [length_cell(v, unit) for v in (row.null_m, row.half_left_m, row.half_right_m)]
        cells.append(depth_cell(row, unit, form))
        cells.append("yes" if row.refused else "")
        cells.append("" if row.current_a is None else significant(row.current_a * 1e3, digits))
        cells.append(length_cell(row.raised_by_m, unit))
        cells.append(length_cell(row.raised_depth_m, unit, form))
        cells += [_clock(row.minute), "crew-2"] if site.style["times"] == "yes" else ["", ""]
        rows.append(cells)
    keep = [k for k in range(len(header)) if any(r[k] for r in rows)]
    return [header[k] for k in keep], [[r[k] for k in keep] for r in rows]


def _amplitude(value: float | None, scale: str) -> str:
    if value is None:
        return ""
    return f"{value:.1f}" if scale == "db" else significant(value, 4)


def profiles_table(site: Site) -> tuple[list[str], list[list[str]]]:
    """Header and rows of `profiles.csv`."""
    header = ["profile", "line", "easting_m", "northing_m", "bearing_deg", "offset_m", "height_m"]
    header += ["horizontal", "vertical", "scale"]
    rows = []
    for one in site.walked:
        for p in one.points:
            cells = [one.id, one.line, f"{one.easting_m:.3f}", f"{one.northing_m:.3f}"]
            cells += [f"{round(one.bearing_deg) % 360:d}", f"{p.offset_m:.2f}", f"{p.height_m:.3g}"]
            cells += [_amplitude(p.horizontal, one.scale), _amplitude(p.vertical, one.scale)]
            rows.append([*cells, "" if one.scale == "linear" else one.scale])
    return header, rows


def _write(path: Path, header: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def _others(site: Site, folder: Path) -> None:
    unit = site.style["length"]
    if site.walked:
        _write(folder / "profiles.csv", *profiles_table(site))
    if site.beside:
        header = ["side_reading", "line", "easting_m", "northing_m", "toward_deg"]
        _write(
            folder / "side_readings.csv",
            [*header, f"distance_{unit}", f"depth_{unit}"],
            (
                (
                    *(b.id, b.line, f"{b.easting_m:.3f}", f"{b.northing_m:.3f}"),
                    f"{round(b.toward_deg) % 360:d}",
                    *(length_cell(b.distance_m, unit), length_cell(b.depth_m, unit)),
                )
                for b in site.beside
            ),
        )
    if site.holes:
        header = ["test_hole", "line", "easting_m", "northing_m", "found", "depth_to_top_m"]
        _write(
            folder / "test_holes.csv",
            [*header, "outside_diameter_m"],
            (
                (
                    *(h.id, h.line, f"{h.easting_m:.3f}", f"{h.northing_m:.3f}", "yes"),
                    *(f"{h.depth_to_top_m:.2f}", f"{h.outside_diameter_m:g}"),
                )
                for h in site.holes
            ),
        )
    if site.ties:
        _write(
            folder / "ties.csv",
            ["place", "corner", "distance_m"],
            ([t.place, t.corner, f"{t.distance_m:.2f}"] for t in site.ties),
        )


def write_site(site: Site, folder: Path, *, more: bool = True) -> None:
    """Write a site as a job folder: the crew's files and `truth.csv`; with `more`, two files beside it.

    `truth_more.csv` says of each station whether no other current matters there (`alone`), and by how much
    others move the peak and the depth shown; `truth_others.csv` lists those others.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.toml").write_text(job_toml(site), encoding="utf-8")
    if site.rows:
        _write(folder / "readings.csv", *readings_table(site))
    _others(site, folder)
    _write(
        folder / "truth.csv",
        ["station", "line", "easting_m", "northing_m", "bearing_deg", "depth_m", "current_ma", "slip"],
        (
            (
                *(t.station, t.line, f"{t.easting_m:.3f}", f"{t.northing_m:.3f}", f"{t.bearing_deg:.2f}"),
                *(f"{t.depth_m:.4f}", significant(t.current_a * 1e3, 5), t.slip),
            )
            for t in site.truth
        ),
    )
    if more:
        _write_more(site, folder)


def _write_more(site: Site, folder: Path) -> None:
    _write(
        folder / "truth_more.csv",
        ["station", "line", "alone", "shift_m", "depth_change"],
        (
            [t.station, t.line, "yes" if t.alone else "no", f"{t.shift_m:.4f}", f"{t.depth_change:.4f}"]
            for t in site.truth
        ),
    )
    _write(
        folder / "truth_others.csv",
        ["line", "other", "offset_m", "depth_m", "ratio_real", "ratio_imaginary"],
        (
            [o.line, o.other, *(f"{v:.4f}" for v in (o.offset_m, o.depth_m, o.ratio_real, o.ratio_imaginary))]
            for o in site.others
        ),
    )
