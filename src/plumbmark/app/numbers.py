"""The numbers of an answer, for programs."""

from __future__ import annotations

from typing import Any

from plumbmark.app.answering import Said
from plumbmark.app.known import Known


def estimates(known: Known, said: Said) -> dict[str, Any]:
    """An answer in the form of `plumbmark solve --json`."""
    from plumbmark.exchange.estimates.writer import estimates_json

    return estimates_json(said.solution, known.job)
