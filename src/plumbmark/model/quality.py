"""What a stretch of a line may claim under published quality schemes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a claim rests on at one place.

    Attributes
    ----------
    horizontal_m, vertical_m : float or None, [m]
        Half the band that holds the truth 19 times in 20, of the place in plan and of the depth; None
        where nothing is known.
    depth_m : float or None, [m]
    methods : frozenset of str
        "electromagnetic", "ground-radar", "exposure", "record".
    tied : bool
        Places are tied to a survey datum.
    judged : bool
        A qualified person has judged the whole and signed.
    flexible, connection : bool
        A flexible line, or a connection to a house (the French classes ask).
    """

    horizontal_m: float | None
    vertical_m: float | None
    depth_m: float | None = None
    methods: frozenset[str] = frozenset({"electromagnetic"})
    tied: bool = False
    judged: bool = False
    flexible: bool = True
    connection: bool = False


@dataclass(frozen=True, slots=True)
class QualityClass:
    """A class that is supportable under one scheme, and why no better one is.

    `level` is None where the scheme has no class for it. `from_memory`: a limit it rests on was never
    checked against the published text.
    """

    scheme: str
    level: str | None
    why_not_more: tuple[str, ...]
    from_memory: bool


@dataclass(frozen=True, slots=True)
class QualityClaim:
    """A stretch of a line with one class under one scheme; supportable, for a qualified person to sign."""

    line: str
    from_chainage_m: float
    to_chainage_m: float
    stations: tuple[str, ...]
    supportable: QualityClass
