"""The library of conductors: `plumbmark/data/conductors.toml` as values."""

from __future__ import annotations

from functools import cache
from typing import Any

from plumbmark.base.datafile import read_data
from plumbmark.model.network import ConductorKind


@cache
def conductor_kinds() -> dict[str, ConductorKind]:
    """Every kind of conductor in the library, by id.

    Examples
    --------
    >>> conductor_kinds()["copper-tracer-14"].words
    'copper tracer wire, 14 AWG, plastic insulation'
    """
    return {ident: _kind(ident, row) for ident, row in read_data("conductors").items()}


def _kind(ident: str, row: dict[str, Any]) -> ConductorKind:
    return ConductorKind(
        id=ident,
        words=row["words"],
        radius_m=row["radius_m"],
        wall_m=row.get("wall_m"),
        resistivity_ohm_m=row["resistivity_ohm_m"],
        relative_permeability=row.get("relative_permeability", 1.0),
        coating_m=row.get("coating_m"),
        relative_permittivity=row.get("relative_permittivity", 1.0),
        coating_ohm_m2=row.get("coating_ohm_m2", 0.0),
        joint_ohm_per_m=row.get("joint_ohm_per_m", 0.0),
        source=row["source"],
    )
