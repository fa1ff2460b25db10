"""The one family of errors.

Readers of files do not raise for what stands in a file: they catch these at the cell and turn them into
findings. Whoever calls a function of ours directly can catch `PlumbmarkError` and has them all.
"""

from __future__ import annotations


class PlumbmarkError(Exception):
    """Root of every error that plumbmark raises on purpose."""


class UnitError(PlumbmarkError, ValueError):
    """A text that is not the number, length or range it should be."""


class CoordinateSystemError(PlumbmarkError, ValueError):
    """A coordinate system that does not exist or that a job cannot use."""


class TieError(PlumbmarkError, ValueError):
    """Taped distances that do not make a place."""


class AnswerError(PlumbmarkError, ValueError):
    """An answer that must not be written: a number in it is not finite, or an interval is out of order."""


class QuestionError(PlumbmarkError, ValueError):
    """Answers to a question that contradict each other."""


class GeometryError(PlumbmarkError, ValueError):
    """A place or size at which a formula does not hold: a point on a line, a depth not above 0."""


class RuleError(PlumbmarkError, ValueError):
    """A rule that does not exist or that cannot be: a tolerance zone without a width, for example."""


class FactError(PlumbmarkError, ValueError):
    """A fact, or a value in one, that cannot be written down in its one form."""


class StoreError(PlumbmarkError):
    """A store that cannot be opened, read or written; nothing of what was asked for was done."""


class StoreFullError(StoreError):
    """No room on the disk of a store; nothing of what was asked for was stored."""


class PairingError(StoreError):
    """A pairing code that was never given out, was used, or is too old."""
