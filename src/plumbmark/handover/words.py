"""Numbers as people say them: feet and inches, metres, milliamperes, chances.

A number is never told finer than its band deserves; the ends of a band are rounded outward, so that
the band people read is never narrower than the band that was computed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from plumbmark.model.estimate import Interval

_INCH_M = 0.0254
# A band wider than this is told by the half foot (0.1 m), wider than twice this by the foot (0.5 m).
_WIDE_FT_IN = 24.0
_WIDE_M = 0.60
# Rounding outward must not jump a whole step for the last bit of a float.
_SLACK = 1e-9


def step_m(width_m: float, units: str) -> float:
    """Smallest step that a band of this width deserves.

    Parameters
    ----------
    width_m : float, [m]
        High end minus low end of the band.
    units : str
        ``"ft-in"`` or ``"m"``.

    Returns
    -------
    float, [m]
        1 in, 6 in or 1 ft; or 0.01, 0.1 or 0.5 m.

    Examples
    --------
    >>> step_m(0.38, "m"), step_m(0.8, "m"), step_m(3.0, "m")
    (0.01, 0.1, 0.5)
    """
    if units == "ft-in":
        inches = width_m / _INCH_M
        return _INCH_M * (1 if inches <= _WIDE_FT_IN else 6 if inches <= 2 * _WIDE_FT_IN else 12)
    return 0.01 if width_m <= _WIDE_M else 0.1 if width_m <= 2 * _WIDE_M else 0.5


def _steps(value_m: float, step: float, how: str = "near") -> int:
    """Whole steps in a value: nearest, downward or upward."""
    count = value_m / step
    if how == "down":
        return math.floor(count + _SLACK)
    if how == "up":
        return math.ceil(count - _SLACK)
    return math.floor(abs(count) + 0.5) * (1 if count >= 0 else -1)


def _say(steps: int, step: float, units: str, *, unit: bool = True) -> str:
    """A count of steps as a length, without its sign."""
    if steps == 0 and not unit:
        return "0"
    if units == "ft-in":
        feet, inches = divmod(abs(steps) * round(step / _INCH_M), 12)
        if feet == 0:
            return f"{inches} in"
        return f"{feet} ft {inches} in" if inches else f"{feet} ft"
    return f"{abs(steps) * step:.{2 if step < 0.05 else 1}f}" + (" m" if unit else "")


def length(value_m: float, units: str, width_m: float = 0.0) -> str:
    """A length without its sign, told no finer than a band of `width_m` deserves.

    Parameters
    ----------
    value_m : float, [m]
    units : str
        ``"ft-in"`` or ``"m"``.
    width_m : float, [m]
        Width of the band the number stands in; 0 where it was measured and has none.

    Returns
    -------
    str

    Examples
    --------
    >>> length(0.89, "ft-in"), length(0.89, "m"), length(0.89, "ft-in", 0.9)
    ('2 ft 11 in', '0.89 m', 'about 3 ft')
    """
    step = step_m(width_m, units)
    steps = _steps(value_m, step)
    if step == step_m(0.0, units):
        return _say(steps, step, units)
    return ("about " if steps else "under ") + _say(steps or 1, step, units)


def band(interval: Interval, units: str) -> str:
    """The ends of a band, rounded outward.

    Examples
    --------
    >>> band(Interval(0.89, 0.75, 1.10), "ft-in"), band(Interval(0.89, 0.75, 1.10), "m")
    ('2 ft 5 in to 3 ft 8 in', '0.75 to 1.10 m')
    """
    step = step_m(interval.high - interval.low, units)
    low, high = _steps(interval.low, step, "down"), _steps(interval.high, step, "up")
    return f"{_say(max(low, 0), step, units, unit=False)} to {_say(high, step, units)}"


def ends(interval: Interval, units: str) -> tuple[str, str]:
    """Each end of a band by itself, with its unit, rounded outward.

    Examples
    --------
    >>> ends(Interval(0.89, 0.75, 1.10), "m")
    ('0.75 m', '1.10 m')
    """
    step = step_m(interval.high - interval.low, units)
    low, high = _steps(interval.low, step, "down"), _steps(interval.high, step, "up")
    return _say(max(low, 0), step, units), _say(high, step, units)


def depth(interval: Interval, units: str) -> str:
    """A depth and its band.

    Examples
    --------
    >>> depth(Interval(0.89, 0.75, 1.10), "ft-in")
    '2 ft 11 in (2 ft 5 in to 3 ft 8 in)'
    """
    return f"{length(interval.value, units, interval.high - interval.low)} ({band(interval, units)})"


def _side(steps: int, step: float, units: str, middle: str) -> str:
    if steps == 0:
        return middle
    return f"{_say(steps, step, units)} {'right' if steps > 0 else 'left'}"


def paint(shift: Interval, units: str) -> str:
    """Where to paint, seen from the field mark; right is positive.

    Examples
    --------
    >>> paint(Interval(-0.10, -0.18, 0.02), "ft-in"), paint(Interval(0.01, -0.05, 0.05), "ft-in")
    ('4 in left', 'at the mark')
    """
    step = step_m(shift.high - shift.low, units)
    steps = _steps(shift.value, step)
    about = "about " if steps and step > step_m(0.0, units) else ""
    return about + _side(steps, step, units, "at the mark")


def sideways(shift: Interval, units: str, middle: str = "at the mark") -> str:
    """The ends of a band that counts to the left and right of something.

    Examples
    --------
    >>> sideways(Interval(-0.10, -0.18, 0.02), "ft-in"), sideways(Interval(0.1, 0.05, 0.15), "m")
    ('8 in left to 1 in right', '0.05 to 0.15 m right')
    """
    step = step_m(shift.high - shift.low, units)
    low, high = _steps(shift.low, step, "down"), _steps(shift.high, step, "up")
    if low > 0 or high < 0:
        near, far = sorted((abs(low), abs(high)))
        return f"{_say(near, step, units, unit=False)} to {_side(far if low > 0 else -far, step, units, '')}"
    if low == 0 or high == 0:
        return f"up to {_side(low or high, step, units, '')}" if low or high else middle
    return f"{_side(low, step, units, middle)} to {_side(high, step, units, middle)}"


def along(chainage_m: float, units: str) -> str:
    """Where along the line: to the foot, or to the decimetre.

    Examples
    --------
    >>> along(18.04, "ft-in"), along(18.04, "m")
    ('59 ft', '18.0 m')
    """
    if units == "ft-in":
        return f"{_steps(chainage_m, 12 * _INCH_M)} ft"
    return f"{_steps(chainage_m, 0.1) * 0.1:.1f} m"


def _figure(value: float, decimals: int) -> str:
    return f"{value:,.{max(decimals, 0)}f}"


def current(interval_a: Interval) -> tuple[str, str]:
    """A current and its band, in milliamperes without the unit.

    Returns
    -------
    value, band : str
        As fine as a fifth to a fiftieth of the band's width.

    Examples
    --------
    >>> current(Interval(0.0080, 0.0071, 0.0092))
    ('8.0', '7.1 to 9.2')
    """
    value, low, high = (1e3 * x for x in (interval_a.value, interval_a.low, interval_a.high))
    # Five steps at least to the band; a microampere is finer than any display.
    decimals = min(3, -math.floor(math.log10(max(high - low, 1e-3) / 5)))
    step = 10.0**-decimals
    ends = (_steps(low, step, "down") * step, _steps(high, step, "up") * step)
    middle = _steps(value, step) * step
    return _figure(middle, decimals), f"{_figure(ends[0], decimals)} to {_figure(ends[1], decimals)}"


def chance(probability: float) -> str:
    """A probability as people count chances.

    Examples
    --------
    >>> chance(0.999), chance(0.96), chance(0.72), chance(0.02)
    ('more than 99 in 100', 'about 19 in 20', 'about 7 in 10', 'less than 1 in 20')
    """
    if probability > 0.99:
        return "more than 99 in 100"
    if probability >= 0.97:  # from here numbers hold
        return "about 49 in 50"
    if probability >= 0.925:
        return "about 19 in 20"
    if probability < 0.01:
        return "less than 1 in 100"
    if probability < 0.05:
        return "less than 1 in 20"
    return f"about {min(9, max(1, math.floor(10 * probability + 0.5)))} in 10"


def likelihood(probability: float) -> str:
    """One word for a probability, to be followed by the chance itself."""
    if probability >= 0.95:
        return "very likely"
    if probability >= 0.6:
        return "likely"
    return "possible"


def sentence(text: str) -> str:
    """A remark as a sentence: first letter large, a full stop at the end.

    Examples
    --------
    >>> sentence("the signal was connected to it")
    'The signal was connected to it.'
    """
    text = text.strip()
    if not text:
        return ""
    # An id at the start ("r07 ...") keeps its case.
    head = text.split(maxsplit=1)[0]
    if head.isalpha():
        text = text[0].upper() + text[1:]
    return text if text[-1] in ".?!" else text + "."


def listing(ids: Sequence[str], order: Sequence[str], most: int = 12) -> str:
    """Ids in order, three or more in a row as a range; after `most` of them only how many more.

    Examples
    --------
    >>> listing(["a", "b", "c", "e"], ["a", "b", "c", "d", "e"])
    'a to c, e'
    >>> listing(["a", "c", "e"], ["a", "b", "c", "d", "e"], most=1)
    'a and 2 more'
    """
    rank = {name: i for i, name in enumerate(order)}
    runs: list[list[str]] = []
    for name in sorted(ids, key=rank.__getitem__):
        if runs and rank[name] == rank[runs[-1][-1]] + 1:
            runs[-1].append(name)
        else:
            runs.append([name])
    said: list[str] = []
    told = 0
    for run in runs:
        if len(said) >= most:
            break
        said += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else run
        told += len(run)
    more = f" and {len(ids) - told:,} more" if told < len(ids) else ""
    return ", ".join(said) + more


def some(names: Sequence[str], most: int = 8) -> str:
    """Names as a list; after `most` of them only how many more.

    Examples
    --------
    >>> some(["E1"]), some(["E1", "W1", "G1"]), some(["E1", "W1", "G1", "C1"], 2)
    ('E1', 'E1, W1 and G1', 'E1, W1 and 2 more')
    """
    said = list(names[:most])
    rest = f"{len(names) - most:,} more" if len(names) > most else said.pop()
    return f"{', '.join(said)} and {rest}" if said else rest


def count(number: int, singular: str, plural: str | None = None) -> str:
    """A number of things.

    Examples
    --------
    >>> count(1, "reading"), count(1200, "reading")
    ('1 reading', '1,200 readings')
    """
    many = plural if plural is not None else singular + "s"
    return f"{_figure(number, 0)} {singular if number == 1 else many}"
