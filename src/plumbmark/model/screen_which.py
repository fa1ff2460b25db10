"""What the screen "Which line?" shows: is it the line it is said to be, or the one beside it?"""

from __future__ import annotations

from dataclasses import dataclass

from plumbmark.model.estimate import Identity
from plumbmark.model.job import IdentityEvidence
from plumbmark.model.screen_parts import Go


@dataclass(frozen=True, slots=True)
class IdentityCheck:
    """A check that is left.

    Attributes
    ----------
    id : str
        As in a tick, ``which:E1:sign``.
    words, proves, not_proves : str
        What to do, what it would prove, and what it would not.
    seconds : int
        About how long it takes; common practice, no source.
    evidence : IdentityEvidence or None
        What may be written down for the line once it was done and agreed; None where it is ticked only.
    go : Go or None
        The sheet that it is written down on.
    """

    id: str
    words: str
    proves: str
    not_proves: str
    seconds: int
    evidence: IdentityEvidence | None
    go: Go | None


@dataclass(frozen=True, slots=True)
class WhichLine:
    """One line: the answer first, then what it rests on, then what is left to do.

    `checks` are the three cheapest left, each under a minute; `longer` what takes longer and says more.
    """

    line: str
    name: str
    identity: Identity
    headline: str
    evidence: tuple[str, ...]
    against: tuple[str, ...]
    checks: tuple[IdentityCheck, ...]
    longer: tuple[IdentityCheck, ...]


@dataclass(frozen=True, slots=True)
class WhichScreen:
    """Every line of a job; those least known first."""

    job: str
    title: str
    lines: tuple[WhichLine, ...]
    note: str
