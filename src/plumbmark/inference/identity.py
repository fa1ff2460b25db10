"""Is it the line it is said to be? From what was written down of its hook-ups and checks alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from plumbmark.model.estimate import Identity
from plumbmark.model.job import Hookup, IdentityEvidence, Line, Setup

EVIDENCE_WORDS: Final = {
    IdentityEvidence.CONNECTED: "the transmitter was connected to it",
    IdentityEvidence.FOLLOWED_TO_FITTING: "the signal was followed to a fitting that was seen",
    IdentityEvidence.SECOND_SETUP_AGREES: "a second hook-up gave the same line",
    IdentityEvidence.EXPOSED: "it was exposed and seen",
}


def identity_of(line: Line, setups: Sequence[Setup] = ()) -> tuple[Identity, tuple[str, ...]]:
    """Whether this is the line it is said to be, from the evidence; never from how well numbers fit.

    Parameters
    ----------
    line : Line
    setups : sequence of Setup
        Those it was read by; all of the line where none is given.

    Returns
    -------
    Identity, tuple of str
        And what it rests on.

    Examples
    --------
    >>> identity_of(Line("E1", identity=(IdentityEvidence.EXPOSED,)))
    (<Identity.PROVEN: 'proven'>, ('it was exposed and seen',))
    """
    said = [EVIDENCE_WORDS[e] for e in line.identity]
    if IdentityEvidence.EXPOSED in line.identity:
        return Identity.PROVEN, tuple(said)
    hookups = {s.hookup for s in setups or line.setups}
    if hookups and hookups <= {Hookup.INDUCTION, Hookup.PASSIVE}:
        kind = "passive signal" if hookups == {Hookup.PASSIVE} else "induction"
        return Identity.NOT_KNOWN, (
            f"by {kind} alone any line nearby may carry the signal; connect to it, or expose it",
            *said,
        )
    if not said:
        return Identity.NOT_KNOWN, (
            "nothing written down ties the signal to this line: follow it to a fitting, "
            "or hook up a second way",
        )
    strong = {IdentityEvidence.CONNECTED, IdentityEvidence.FOLLOWED_TO_FITTING}
    if strong <= set(line.identity) and IdentityEvidence.SECOND_SETUP_AGREES in line.identity:
        return Identity.PROVEN, tuple(said)
    return Identity.LIKELY, tuple(said)
