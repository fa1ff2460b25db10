"""Collecting what a reader has to say: everything, each thing once, in the order it was met."""

from __future__ import annotations

from plumbmark.model.finding import Finding, Severity


class Remarks:
    """Findings so far."""

    def __init__(self) -> None:
        self._found: dict[Finding, None] = {}
        self.failed = False

    def error(self, where: str, what: str) -> None:
        """Something that stops the job."""
        self.failed = True
        self._found[Finding(Severity.ERROR, where, what)] = None

    def warn(self, where: str, what: str) -> None:
        """Something that travels with the answer."""
        self._found[Finding(Severity.WARNING, where, what)] = None

    def all(self) -> list[Finding]:
        """All findings, errors first, each once."""
        return sorted(self._found, key=lambda finding: finding.severity is not Severity.ERROR)
