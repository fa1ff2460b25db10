"""The journal of a job: facts to the files of a job folder, and back. docs/journal.md tells the forms."""

from plumbmark.exchange.journal.fold import folded
from plumbmark.exchange.journal.solvable import solvable
from plumbmark.exchange.journal.taking import facts_of_files
from plumbmark.model.folded import Conflict, Entry, Folded, SetAside

__all__ = ["Conflict", "Entry", "Folded", "SetAside", "facts_of_files", "folded", "solvable"]
