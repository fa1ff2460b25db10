"""The uniform colour code of paint and flags."""

from __future__ import annotations

from plumbmark.base.datafile import read_data
from plumbmark.model.job import Utility


def paint_colour(utility: Utility) -> str:
    """Colour of the paint for what a line carries.

    Examples
    --------
    >>> paint_colour(Utility.GAS), paint_colour(Utility.UNKNOWN)
    ('yellow', 'pink')
    """
    return str(read_data("colours")["colour"][utility.value])
