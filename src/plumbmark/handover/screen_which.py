"""The screen "Which line?": what ties a signal to its line, and the cheapest checks that are left.

Chances are not given: whether a signal is on the line it is said to be cannot be counted from how well its
numbers fit. How long checks take, and what they are worth, is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from plumbmark.handover import words
from plumbmark.handover.answer import line_name
from plumbmark.inference.identity import EVIDENCE_WORDS, identity_of
from plumbmark.model.estimate import Identity, LineEstimate, Solution
from plumbmark.model.job import Hookup, IdentityEvidence, Job, Line, Signal
from plumbmark.model.screen_parts import Go, JobState
from plumbmark.model.screen_which import IdentityCheck, WhichLine, WhichScreen
from plumbmark.model.ticket import Thing, ThingKind

CHEAP: Final = 3
SHORT_S: Final = 60
NOTE: Final = (
    "A signal followed for its whole length on the wrong line fits perfectly, so no fit proves which line it "
    "is. Checks do, each a little; only a line that was exposed and seen is proven by one alone."
)
_HEADLINE: Final = {
    Identity.PROVEN: "{}: proven. It is the line it is said to be.",
    Identity.LIKELY: "{}: likely the line it is said to be, not proven.",
    Identity.NOT_KNOWN: "{}: not known whether it is the line it is said to be.",
}
#: What a signal can be followed to, by what the line carries; paint and patches are no fittings.
NO_FITTING: Final = (ThingKind.PAINT, ThingKind.PATCH, ThingKind.OTHER)
_RANK: Final = {Identity.NOT_KNOWN: 0, Identity.LIKELY: 1, Identity.PROVEN: 2}


@dataclass(frozen=True, slots=True)
class _Known:
    """What decides which checks are left for one line."""

    job: Job
    line: Line
    estimate: LineEstimate | None
    ticks: frozenset[str]

    @property
    def hookups(self) -> set[Hookup | None]:
        return {s.hookup for s in self.line.setups}

    @property
    def connected(self) -> bool:
        """Whether a lead or a clamp is said to be on the line itself."""
        return bool(self.hookups & {Hookup.DIRECT, Hookup.CLAMP})

    @property
    def transmits(self) -> bool:
        """Whether a transmitter makes the signal, as far as is known."""
        return self.hookups != {Hookup.PASSIVE}

    def has(self, evidence: IdentityEvidence) -> bool:
        return evidence in self.line.identity


def which_screen(job: Job, solution: Solution | None, state: JobState) -> WhichScreen:
    """Evidence and cheapest checks left, line by line.

    Parameters
    ----------
    job : Job
    solution : Solution or None
        Without one nothing but the evidence written down is known.
    state : JobState
        A check that is ticked is not asked for again.

    Returns
    -------
    WhichScreen
    """
    estimates = {e.line: e for e in solution.lines} if solution is not None else {}
    ticks = frozenset(name for name, done in state.ticks.items() if done)
    lines = [_line(_Known(job, line, estimates.get(line.id), ticks), state.cannot) for line in job.lines]
    return WhichScreen(job.id, job.title, tuple(sorted(lines, key=lambda x: _RANK[x.identity])), NOTE)


def _line(known: _Known, cannot: frozenset[str]) -> WhichLine:
    estimate, name = known.estimate, line_name(known.job, known.line.id)
    identity, said = identity_of(known.line)
    if estimate is not None:
        identity, said = estimate.identity, estimate.identity_because
    evidence = _evidence(known.line)
    against = tuple(words.sentence(text) for text in said if words.sentence(text) not in evidence)
    left = [] if identity is Identity.PROVEN else [c for c in _checks(known) if c.id not in known.ticks]
    left = [c for c in left if c.evidence is not IdentityEvidence.EXPOSED or "test hole" not in cannot]
    left.sort(key=lambda c: c.seconds)
    cheap = [c for c in left if c.seconds < SHORT_S][:CHEAP]
    longer = [c for c in left if c.seconds >= SHORT_S]
    headline = _HEADLINE[identity].format(name)
    return WhichLine(known.line.id, name, identity, headline, evidence, against, tuple(cheap), tuple(longer))


def _evidence(line: Line) -> tuple[str, ...]:
    """What was written down for a line, as sentences."""
    return tuple(words.sentence(EVIDENCE_WORDS[e]) for e in line.identity)


def _checks(known: _Known) -> Iterator[IdentityCheck]:
    """Every check that was not done, as far as is known."""
    if known.line.signal is Signal.SONDE:
        yield _see_sonde(known)
    else:
        yield from _by_signal(known)
        yield from _by_hookup(known)
    if not known.has(IdentityEvidence.EXPOSED):
        yield IdentityCheck(
            _id(known, "exposed"),
            "Have it exposed by hand or vacuum at one place, and look at what it is.",
            "Proves by itself which line it is, at that place.",
            "Says nothing of whether the signal stays on it farther on.",
            3600,
            IdentityEvidence.EXPOSED,
            Go("Write down a test hole", "hole"),
        )


def _by_signal(known: _Known) -> Iterator[IdentityCheck]:
    """Checks that need nothing but the receiver and a look around."""
    if known.transmits:
        yield IdentityCheck(
            _id(known, "off"),
            "Have the transmitter turned off for a moment and listen again at one mark.",
            "A signal that goes away is the transmitter's; one that stays is not yours.",
            "A line beside it may carry the transmitter's signal too.",
            20,
            None,
            None,
        )
    across = _across(known)
    if across is not None:
        yield across
    if known.transmits and not _signs(known):
        yield IdentityCheck(
            _id(known, "sign"),
            "Read the direction of the current at the mark and at the next strong peak beside it, if the "
            "receiver shows it.",
            "On the line that was hooked up it runs away from the transmitter; a line that only carries it "
            "back shows the other way.",
            "Two lines that carry it the same way look alike.",
            40,
            None,
            Go("Write it down at a reading", _any_reading(known)),
        )
    if known.connected:
        yield IdentityCheck(
            _id(known, "current"),
            "Read the current here and over each other peak nearby.",
            "The line that the transmitter is on carries the most close to it.",
            "Farther off, past a bond or a tee, it need not.",
            45,
            None,
            Go("Write it down at a reading", _any_reading(known)),
        )
    fittings = [t for t in known.job.things if t.kind is not None and t.kind not in NO_FITTING]
    if fittings:
        yield IdentityCheck(
            _id(known, "count"),
            f"Count marks against fittings: {words.count(len(fittings), 'was', 'were')} seen "
            f"({_named(fittings)}). Does each have a line of its own to it?",
            "A fitting without a mark, or a mark without a fitting, says that a line is missing or is not "
            "the one it is said to be.",
            "Fittings out of sight are not counted.",
            50,
            None,
            Go("See what was seen where", "site"),
        )


def _by_hookup(known: _Known) -> Iterator[IdentityCheck]:
    """Checks that become evidence of the line."""
    line = known.line
    if not known.has(IdentityEvidence.CONNECTED):
        near = known.connected
        yield IdentityCheck(
            _id(known, "connected"),
            "Go back to the clip or clamp and follow the metal by eye into the ground."
            if near
            else "Connect to the line itself at a fitting that is its own, and read again. Only qualified "
            "people connect to an energised line.",
            "The signal goes on to this line and no other at that point.",
            "It may leave it at the next bond.",
            30 if near else 300,
            IdentityEvidence.CONNECTED,
            None if near else Go("Plan the hook-up", "plan"),
        )
    if not known.has(IdentityEvidence.FOLLOWED_TO_FITTING):
        yield IdentityCheck(
            _id(known, "followed"),
            "Follow the signal to the nearest fitting of this line and see it end or rise there.",
            "The line under the marks is the one of that fitting.",
            "Counts only where nothing else goes to the same place.",
            55,
            IdentityEvidence.FOLLOWED_TO_FITTING,
            None,
        )
    if not known.has(IdentityEvidence.SECOND_SETUP_AGREES):
        often = len({s.frequency_hz for s in line.setups}) > 1 or len(line.setups) > 1
        yield IdentityCheck(
            _id(known, "second"),
            "Compare the marks of the two hook-ups written down: are they the same line all along?"
            if often
            else "Hook up a second way, from the other end or at another frequency, and mark again.",
            "Marks that stay where they were speak for one line; a mark that moves had another in it.",
            "A second frequency at the same clip is weaker than a second place: a bonded line follows both.",
            50 if often else 240,
            IdentityEvidence.SECOND_SETUP_AGREES,
            None if often else Go("Plan the hook-up", "plan"),
        )


def _across(known: _Known) -> IdentityCheck | None:
    """A sweep across for a second peak: where lines may be swapped, or wherever it was not walked."""
    unsettled = known.estimate.unsettled if known.estimate is not None else ()
    if unsettled:
        before, after = unsettled[0]
        where = f"Stand between readings {before} and {after} and sweep across for a second peak."
    elif not any(p.line == known.line.id for p in known.job.profiles):
        where = "Sweep across the marks, a stride beyond each side, for a second peak."
    else:
        return None
    return IdentityCheck(
        _id(known, "across"),
        where,
        "Two peaks are two lines: which of them goes on is then to be settled.",
        "One peak may be the wrong line alone.",
        30,
        None,
        Go("Write down a walk across", "walk"),
    )


def _see_sonde(known: _Known) -> IdentityCheck:
    return IdentityCheck(
        _id(known, "seen"),
        "See which duct the sonde went into, and read the first place within sight of the opening.",
        "The signal comes from inside this duct.",
        "Where ducts branch it may be in another one farther on.",
        40,
        IdentityEvidence.CONNECTED,
        None,
    )


def _id(known: _Known, check: str) -> str:
    return f"which:{known.line.id}:{check}"


def _signs(known: _Known) -> bool:
    return any(r.current_sign is not None for r in known.job.readings if r.line == known.line.id)


def _any_reading(known: _Known) -> str:
    """The reading of the line that was taken last in the file, as a route; a new one where there is none."""
    mine = [r.id for r in known.job.readings if r.line == known.line.id]
    return f"read/{mine[-1]}/current" if mine else "read"


def _named(things: list[Thing]) -> str:
    kinds = [t.kind.value for t in things if t.kind is not None]
    return ", ".join(words.count(kinds.count(kind), kind) for kind in dict.fromkeys(kinds))
