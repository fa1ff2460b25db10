"""What can still be asked for at one place read from above, in the order in which it is asked."""

from __future__ import annotations

from typing import Final

from plumbmark.model.reading import Reading

#: Each action at a place in words; those a crew cannot do are left out.
WORDS: Final = {
    "null": "Find the null and measure from the mark to it.",
    "raise": "Set the receiver on a 12 in (0.30 m) block and read the depth again.",
    "half points": "Find where the signal falls to half, left and right of the mark.",
    "walk across": "Walk square across here and write the signal down point by point.",
    "test hole": "Only a test hole says more here.",
}
NOTHING_LEFT: Final = "Nothing that can be done narrows this much. Its band stands; go on."


def ask_next(reading: Reading | None, walked: bool, cannot: frozenset[str] = frozenset()) -> tuple[str, str]:
    """What to ask for next at a place whose numbers do not hold.

    Parameters
    ----------
    reading : Reading or None
        What was written down there; None for a walk across alone.
    walked : bool
        Whether a walk across was written down there.
    cannot : frozenset of str
        Actions that the crew cannot do.

    Returns
    -------
    action, words : str
        A key of `WORDS` and what it says; the action is empty where nothing is left.

    Examples
    --------
    >>> ask_next(None, True)
    ('test hole', 'Only a test hole says more here.')
    >>> ask_next(None, True, frozenset({"test hole"}))[0]
    ''
    """
    left = []
    if reading is not None and not walked:
        taken = {
            "null": reading.null_offset_m is not None,
            "raise": reading.raised_depth_m is not None,
            "half points": reading.half_left_m is not None or reading.half_right_m is not None,
            "walk across": False,
        }
        left = [action for action, done in taken.items() if not done]
    for action in (*left, "test hole"):
        if action not in cannot:
            return action, WORDS[action]
    return "", NOTHING_LEFT
