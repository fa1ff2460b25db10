"""All that is known of a job at a moment: its facts folded, its files read."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from plumbmark.model.fact import FactKind
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.folded import Folded, SetAside
from plumbmark.model.job import Job

if TYPE_CHECKING:
    from plumbmark.store import Store, StoredFact


@dataclass(frozen=True, slots=True)
class Known:
    """A job as its facts make it.

    Attributes
    ----------
    id : str
    order : int
        Of its newest fact.
    folded : Folded
        Files and all else that its facts say.
    job : Job or None
        Of the files without the rows that cannot be read; None where `findings` has an error.
    findings : tuple of Finding
    set_aside : tuple of SetAside
        Rows that were left out of `job`.
    files_digest, digest : str
        Of its files, and of all that an answer is made from: what the crew cannot do counts too.
    newest : (str, str) or None
        Line and id of the reading that was written down last, where there is one.
    """

    id: str
    order: int
    folded: Folded
    job: Job | None
    findings: tuple[Finding, ...]
    set_aside: tuple[SetAside, ...]
    files_digest: str
    digest: str
    newest: tuple[str, str] | None

    @property
    def solvable(self) -> bool:
        """Whether there is anything to solve."""
        return self.job is not None and bool(self.job.readings or self.job.profiles or self.job.side_readings)

    @property
    def cannot(self) -> frozenset[str]:
        """What the crew said it cannot do there."""
        return frozenset(self.folded.cannot)

    def photographs(self, store: Store) -> dict[str, bytes]:
        """Photographs of the job that have come in, by name."""
        names = {n: h for n, h in self.folded.attached.items() if n.startswith("photos/")}
        return {name: store.blob(sha256) for name, sha256 in names.items() if store.has_blob(sha256)}

    @property
    def errors(self) -> tuple[Finding, ...]:
        """What keeps the job from being read."""
        return tuple(f for f in self.findings if f.severity is Severity.ERROR)


def know(store: Store, job: str, before: Known | None = None) -> Known | None:
    """What is known of a job now; None where no fact names it.

    Parameters
    ----------
    store : Store
    job : str
    before : Known, optional
        What was known of it earlier: given back where no fact came since and no file was missing.

    Returns
    -------
    Known or None
    """
    from plumbmark.exchange.jobfolder.digest import files_digest
    from plumbmark.exchange.journal import folded, solvable

    if before is not None and not before.folded.missing and not store.facts(job, before.order):
        return before
    facts = store.facts(job)
    if not facts:
        return None
    fold = folded([stored.fact for stored in facts], store.blob)
    read, findings, set_aside = solvable(fold)
    files = files_digest(fold.files)
    digest = hashlib.sha256("\n".join([files, *sorted(fold.cannot)]).encode()).hexdigest()
    newest = None if read is None else _newest(facts, read)
    aside = tuple(set_aside)
    return Known(job, facts[-1].order, fold, read, tuple(findings), aside, files, digest, newest)


def _newest(facts: list[StoredFact], job: Job) -> tuple[str, str] | None:
    """Line and id of what was read over a line last, of that which the job holds."""
    lines = {reading.id: reading.line for reading in job.readings}
    lines |= {walk.id: walk.line for walk in job.profiles if walk.id not in lines}
    for stored in reversed(facts):
        payload = stored.fact.payload
        if stored.fact.kind is FactKind.ENTRY and payload.get("table") in ("readings", "profiles"):
            key = payload.get("key")
            return (lines[key], key) if key in lines else None
    return None
