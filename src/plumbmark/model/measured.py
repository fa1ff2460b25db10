"""A number as somebody wrote it down: with the rounding it carries, or as a range."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Measured:
    """One measured value in the SI unit that the name of its field states.

    Parameters
    ----------
    value : float
        The number; the midpoint where a range was given.
    half_range : float
        Half the width of a range ("somewhere between, nothing more is known"); 0 for a number.
    rounding : float
        The step its column of the file was written in; 0 where not known.

    Examples
    --------
    >>> Measured.between(0.0, 0.1)
    Measured(value=0.05, half_range=0.05, rounding=0.0)
    """

    value: float
    half_range: float = 0.0
    rounding: float = 0.0

    @classmethod
    def between(cls, low: float, high: float) -> Measured:
        """A range: somewhere from `low` to `high`."""
        return cls(0.5 * (low + high), 0.5 * (high - low))

    @property
    def low(self) -> float:
        """Lower end of the range, the value itself for a number."""
        return self.value - self.half_range

    @property
    def high(self) -> float:
        """Upper end of the range, the value itself for a number."""
        return self.value + self.half_range
