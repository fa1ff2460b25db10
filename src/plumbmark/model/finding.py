"""What a reader of files has to say about them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """An error stops the job; a warning travels with the answer."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, slots=True)
class Finding:
    """One remark: where (`readings.csv row 8 depth_m`) and what, in one sentence."""

    severity: Severity
    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}"
