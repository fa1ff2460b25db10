"""Which facts show: those that nobody took back or corrected, the later of two where devices disagree."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from plumbmark.model.fact import Fact, FactKind


@dataclass(frozen=True, slots=True)
class Shown:
    """One thing that was said, as it shows now.

    `root` is the fact that said it first, `fact` what shows in its place, `others` what other devices want in
    its place, the last word of each. `denied_by` took it back while another device changed it.
    """

    root: Fact
    fact: Fact
    others: tuple[Fact, ...] = ()
    denied_by: Fact | None = None


@dataclass(frozen=True, slots=True)
class Taken:
    """Facts that count, in the order they count in, and those that wait for the frozen job to be reopened."""

    facts: tuple[Fact, ...]
    late: tuple[Fact, ...]
    frozen: Fact | None


def taken_in(facts: Sequence[Fact]) -> Taken:
    """Tell facts that count from those that came while the job was frozen.

    Parameters
    ----------
    facts : sequence of Fact
        In the order they came in.

    Returns
    -------
    Taken
        What was late counts from the `reopen` on. Who was told of a frozen job counts at once: it changes
        nothing in it.
    """
    counted: list[Fact] = []
    late: list[Fact] = []
    frozen: Fact | None = None
    for fact in facts:
        if fact.kind is FactKind.REOPEN:
            counted += [*late, fact]
            late, frozen = [], None
        elif frozen is not None and fact.kind is not FactKind.TOLD:
            late.append(fact)
        else:
            counted.append(fact)
            frozen = fact if fact.kind is FactKind.FREEZE else frozen
    return Taken(tuple(counted), tuple(late), frozen)


def shown(facts: Sequence[Fact]) -> list[Shown]:
    """What shows of facts.

    Parameters
    ----------
    facts : sequence of Fact
        In the order they came in.

    Returns
    -------
    list of Shown
        In the order of the facts that said each thing first.

    Notes
    -----
    - A correction shows in the place of what it supersedes.
    - `remove` takes back what it supersedes, as if it had not been said: what a correction had replaced shows
      again, and so does what a removed `remove` had taken back. What somebody made of it meanwhile stays.
    - `supersedes` that names a fact not there before, or of another kind, says nothing: the fact stands
      beside. So an entry never takes a whole file away.
    """
    place = {fact.id: i for i, fact in enumerate(facts)}
    parent = [_superseded(fact, i, facts, place) for i, fact in enumerate(facts)]
    corrections: defaultdict[int, list[int]] = defaultdict(list)
    removes: defaultdict[int, list[int]] = defaultdict(list)
    for i, at in enumerate(parent):
        if at is not None:
            (removes if facts[i].kind is FactKind.REMOVE else corrections)[at].append(i)
    denied = [False] * len(facts)
    leaves: list[list[int]] = [[] for _ in facts]
    for i in reversed(range(len(facts))):  # what supersedes a fact comes after it
        denied[i] = any(not denied[r] for r in removes[i])
        if facts[i].kind is not FactKind.REMOVE:
            leaves[i] = [leaf for c in corrections[i] for leaf in leaves[c]]
            if not leaves[i] and not denied[i]:
                leaves[i] = [i]
    found: list[Shown] = []
    for i, fact in enumerate(facts):
        if parent[i] is None and leaves[i]:
            latest = {facts[k].device: k for k in sorted(leaves[i])}  # of one device its last word counts
            *others, last = sorted(latest.values())
            denials = [facts[r] for r in removes[i] if not denied[r] and {facts[r].device} != {*latest}]
            found.append(
                Shown(fact, facts[last], tuple(facts[k] for k in others), denials[-1] if denials else None)
            )
    return found


def _superseded(fact: Fact, i: int, facts: Sequence[Fact], place: dict[str, int]) -> int | None:
    """Number of the fact whose place this one takes."""
    at = None if fact.supersedes is None else place.get(fact.supersedes)
    if at is None or at >= i:
        return None
    if fact.kind is FactKind.REMOVE or fact.kind is facts[at].kind:
        return at
    return None
