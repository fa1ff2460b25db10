"""Tolerance zones and what else is taken from a table: one place that reads and checks them."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any, Final

from plumbmark.base.datafile import read_data
from plumbmark.base.errors import RuleError
from plumbmark.base.units import INCH_M
from plumbmark.model.clearance import ZoneRule
from plumbmark.model.job import Line, Utility
from plumbmark.model.record import DigKind

_MOST_M: Final = 10.0
_KEYS: Final = {
    "title",
    "distance_m",
    "distance_in",
    "clearance_m",
    "clearance_in",
    "source",
    "clearance_source",
    "note",
}


def rule_names() -> tuple[str, ...]:
    """Names that `zone_rule` knows, in the order of the table."""
    return tuple(read_data("zones")["rules"])


def zone_rule(name: str) -> ZoneRule:
    """A tolerance zone by name, or from a file of the same form.

    Parameters
    ----------
    name : str
        One of `rule_names`, or the path of a TOML file with one table ``[rules.NAME]``, ending in ``.toml``.

    Returns
    -------
    ZoneRule

    Raises
    ------
    RuleError
        If there is no such rule or file, or if the rule cannot be.

    Examples
    --------
    >>> round(zone_rule("us-18").distance_m, 4)
    0.4572
    """
    if name.endswith(".toml"):
        rules = _from_file(Path(name))
        if len(rules) != 1:
            raise RuleError(f"'{name}' has {len(rules)} rules, and one is needed ([rules.NAME])")
        return _checked(*next(iter(rules.items())), where=f"'{name}' ")
    rules = read_data("zones")["rules"]
    if name not in rules:
        known = ", ".join(rules)
        raise RuleError(f"there is no rule '{name}' ({known}; or a file of your own, ending in .toml)")
    return _checked(name, rules[name])


def _from_file(path: Path) -> dict[str, Any]:
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise RuleError(f"'{path}' cannot be read ({(error.strerror or str(error)).lower()})") from error
    except ValueError as error:
        raise RuleError(f"'{path}' is not TOML: {error}") from error
    rules = found.get("rules")
    if not isinstance(rules, dict):
        raise RuleError(f"'{path}' has no table [rules.NAME]")
    return rules


def _checked(name: str, row: Any, where: str = "") -> ZoneRule:
    said = f"{where}rule '{name}'"
    if not isinstance(row, dict):
        raise RuleError(f"{said} is not a table")
    unknown = sorted(set(row) - _KEYS)
    if unknown:
        raise RuleError(f"{said} has a key '{unknown[0]}' that is not known ({', '.join(sorted(_KEYS))})")
    distance = _length(row, "distance", said)
    if distance is None:
        raise RuleError(f"{said} has no distance_m or distance_in")
    common = read_data("zones")["clearance"]
    clearance = _length(row, "clearance", said)
    source = row.get("source")
    if not isinstance(source, str) or not source.strip():
        raise RuleError(f"{said} has no source (name it, or write 'from memory')")
    asked_source = str(row.get("clearance_source", common["source"] if clearance is None else source))
    if clearance is None:
        clearance = float(common["clearance_in"]) * INCH_M
    return ZoneRule(
        name, str(row.get("title", name)), distance, clearance, source, asked_source, str(row.get("note", ""))
    )


def _length(row: dict[str, Any], key: str, said: str) -> float | None:
    given = [unit for unit in ("m", "in") if f"{key}_{unit}" in row]
    if not given:
        return None
    if len(given) == 2:
        raise RuleError(f"{said} has both {key}_m and {key}_in (keep one)")
    value = row[f"{key}_{given[0]}"]
    what = f"{said} {key}_{given[0]}"
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise RuleError(f"{what}: {value!r} is not a number")
    metres = float(value) * (INCH_M if given[0] == "in" else 1.0)
    if not 0.0 < metres <= _MOST_M:
        raise RuleError(f"{what}: {value!r} is not above 0 and at most {_MOST_M:g} m")
    return metres


def diameter_of(line: Line) -> tuple[float, str]:
    """Outside diameter of a line [m], and where it comes from.

    Examples
    --------
    >>> diameter_of(Line("G1", Utility.GAS))
    (0.32, 'not known: the largest likely for gas is taken')
    """
    if line.outside_diameter_m is not None:
        return line.outside_diameter_m, "as given"
    return largest_diameter(line.utility)


def largest_diameter(utility: Utility) -> tuple[float, str]:
    """The largest outside diameter likely for what a line carries [m], and words that say so."""
    largest = float(read_data("diameters")["largest_m"][utility.value])
    carries = "a line nobody knows more of" if utility is Utility.UNKNOWN else utility.value
    return largest, f"not known: the largest likely for {carries} is taken"


def dig_tolerance(kind: DigKind) -> tuple[float, float]:
    """One standard deviation of the edge, and of the depth, of a dig [m]."""
    row = read_data("dig_tolerances")[kind.value]
    return float(row["edge_sigma_m"]), float(row["depth_sigma_m"])


def width_if_none(kind: DigKind) -> float:
    """Width of a trench, or diameter of a bore, whose drawing gives none [m]."""
    return float(read_data("dig_tolerances")[kind.value]["if_none_m"])
