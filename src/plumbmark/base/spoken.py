"""A length as it is said on site: feet and inches to the inch, metres to the centimetre."""

from __future__ import annotations

from plumbmark.base.units import INCH_M


def spoken_length(value_m: float, units: str) -> str:
    """`value_m` in words for ``"ft-in"`` or ``"m"``.

    Examples
    --------
    >>> spoken_length(0.889, "ft-in")
    '2 ft 11 in'
    >>> spoken_length(0.889, "m")
    '0.89 m'
    """
    if units != "ft-in":
        return f"{value_m:.2f} m"
    inches = round(value_m / INCH_M)
    if abs(inches) < 12:
        return f"{inches} in"
    feet, rest = divmod(abs(inches), 12)
    sign = "-" if inches < 0 else ""
    return f"{sign}{feet} ft {rest} in" if rest else f"{sign}{feet} ft"
