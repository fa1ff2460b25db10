"""What each stretch may claim under published quality schemes, and why not more.

A claim is supportable, for a qualified person to sign; none is made by this program. The classes and where
their limits come from stand in ``data/quality.toml``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

from plumbmark.base.datafile import read_data
from plumbmark.base.spoken import spoken_length
from plumbmark.inference.priors import FIX_SIGMA_M
from plumbmark.model.estimate import LineEstimate, Solution, StationEstimate
from plumbmark.model.job import Job, Line, Utility
from plumbmark.model.quality import Evidence, QualityClaim, QualityClass

_Z_95: Final = 1.96
SEEN_M: Final = 0.5  # a test hole vouches for a station this near
_FLEXIBLE: Final = {Utility.ELECTRIC, Utility.LIGHTING, Utility.COMMUNICATIONS}
_SOFT: Final = ("pe", "hdpe", "mdpe", "polyethylene", "plastic", "pvc")

_LACKING: Final = {
    "exposed": "the line was not seen by eye there",
    "tied": "places are not tied to a survey datum",
    "judged": "no qualified person has judged it and signed",
    "geophysical": "no geophysical method was used",
    "two methods": "electromagnetic locating alone is one method; ground radar or another has to agree",
    "record": "it does not come from records",
}


def scheme_ids() -> tuple[str, ...]:
    """Names of the schemes, in the order of the table."""
    return tuple(row["id"] for row in read_data("quality")["schemes"])


def class_under(scheme: str, evidence: Evidence, units: str = "m") -> QualityClass:
    """The best class that evidence supports under one scheme.

    Parameters
    ----------
    scheme : str
        One of `scheme_ids`.
    evidence : Evidence
    units : str
        For the lengths in the reasons, ``"ft-in"`` or ``"m"``.

    Returns
    -------
    QualityClass
        `level` None where even the least class asks for more than there is.

    Raises
    ------
    KeyError
        For a scheme that is not in the table.

    Examples
    --------
    >>> class_under("AS 5488.1", Evidence(0.12, 0.14, 1.0)).level
    'B'
    """
    rows = {row["id"]: row["classes"] for row in read_data("quality")["schemes"]}[scheme]
    reasons: list[str] = []
    for row in rows:
        lacks = _lacks(row, evidence, units)
        if not lacks:
            return QualityClass(scheme, row["level"], tuple(reasons), bool(row.get("from_memory", False)))
        memory = " (this class's limits are from memory)" if row.get("from_memory") else ""
        reasons.append(f"not {row['level']}: {'; '.join(lacks)}{memory}")
    return QualityClass(scheme, None, tuple(reasons), False)


def _lacks(row: Mapping[str, Any], evidence: Evidence, units: str) -> list[str]:
    have = {
        "exposed": "exposure" in evidence.methods,
        "tied": evidence.tied,
        "judged": evidence.judged,
        "geophysical": bool(evidence.methods & {"electromagnetic", "ground-radar"}),
        "two methods": {"electromagnetic", "ground-radar"} <= evidence.methods,
        "record": "record" in evidence.methods,
    }
    lacks = [_LACKING[need] for need in row.get("needs", ()) if not have[need]]
    plan, depth = _limit(row, "horizontal", evidence), _limit(row, "vertical", evidence)
    if row.get("known"):  # the class has no limit, and both have to be known all the same
        plan, depth = math.inf, math.inf
    for what, limit, half in (
        ("place in plan", plan, evidence.horizontal_m),
        ("depth", depth, evidence.vertical_m),
    ):
        if limit is None:
            continue
        if half is None:
            lacks.append(f"the {what} is not known")
        elif half > limit * (1.0 + 1e-9):
            lacks.append(
                f"the {what} is known to {spoken_length(half, units)} either way, and "
                f"{spoken_length(limit, units)} is asked for"
            )
    return lacks


def _limit(row: Mapping[str, Any], axis: str, evidence: Evidence) -> float | None:
    """Half band that a class asks for, the greater of its length and its share of the depth; None if none."""
    asked = row.get(f"{axis}_m")
    share = row.get(f"{axis}_share")
    if asked is None and share is None:
        return None
    if evidence.flexible and "flexible_m" in row:
        asked = row["flexible_m"]
    if evidence.connection and "connection_m" in row:
        asked = row["connection_m"]
    by_depth = 0.0 if share is None or evidence.depth_m is None else float(share) * evidence.depth_m
    return max(float(asked or 0.0), by_depth)


def quality_claims(job: Job, solution: Solution) -> tuple[QualityClaim, ...]:
    """What each stretch of each solved line may claim under every scheme.

    Parameters
    ----------
    job, solution : Job, Solution

    Returns
    -------
    tuple of QualityClaim
        By line, then scheme, then chainage; stations in a row with the same class are one stretch.
    """
    lines = {line.id: line for line in job.lines}
    fixes = {r.id: r.place.sigma_m for r in job.profiles} | {r.id: r.place.sigma_m for r in job.readings}
    claims: list[QualityClaim] = []
    for estimate in solution.lines:
        evidence = [evidence_at(job, lines[estimate.line], s, fixes.get(s.id)) for s in estimate.stations]
        for scheme in scheme_ids():
            classes = [class_under(scheme, e, job.display_units) for e in evidence]
            claims += _stretches(estimate, classes)
    return tuple(claims)


def evidence_at(job: Job, line: Line, station: StationEstimate, fix_sigma_m: float | None) -> Evidence:
    """What a claim at one station rests on; nothing is taken to be better than it was written down.

    Parameters
    ----------
    job : Job
    line : Line
    station : StationEstimate
    fix_sigma_m : float or None, [m]
        Of the position fix, beside which the band stands.

    Returns
    -------
    Evidence
    """
    shift, depth = station.lateral_shift_m, station.depth_m
    band = max(shift.high - shift.value, shift.value - shift.low)
    fix = _Z_95 * (FIX_SIGMA_M if fix_sigma_m is None else fix_sigma_m)
    here = (station.easting_m, station.northing_m)
    seen = any(
        h.found and h.line == line.id and math.dist(here, (h.place.easting_m, h.place.northing_m)) <= SEEN_M
        for h in job.test_holes
    )
    soft = any(word in (line.material or "").lower().split() for word in _SOFT)
    return Evidence(
        math.hypot(band, fix),
        max(depth.high - depth.value, depth.value - depth.low),
        depth.value,
        frozenset({"electromagnetic", "exposure"} if seen else {"electromagnetic"}),
        tied=job.crs != "local",
        judged=False,
        flexible=line.utility in _FLEXIBLE or soft,
        connection=bool(line.private),
    )


def _stretches(estimate: LineEstimate, classes: list[QualityClass]) -> list[QualityClaim]:
    claims: list[QualityClaim] = []
    first = 0
    for i, (station, mine) in enumerate(zip(estimate.stations, classes, strict=True)):
        last = i + 1 == len(classes)
        if last or classes[i + 1].level != mine.level:
            stations = estimate.stations[first : i + 1]
            # The reasons of the place that falls short by most stand for the stretch.
            worst = max(classes[first : i + 1], key=lambda c: len("".join(c.why_not_more)))
            claims.append(
                QualityClaim(
                    estimate.line,
                    stations[0].chainage_m,
                    station.chainage_m,
                    tuple(s.id for s in stations),
                    worst,
                )
            )
            first = i + 1
    return claims
