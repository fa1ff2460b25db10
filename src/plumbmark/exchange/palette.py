"""Colours of files that other programs draw: the uniform colour code of utilities, and ink for all else."""

from __future__ import annotations

from typing import Final

from plumbmark.base.datafile import read_data

#: Name in the colour code to red, green and blue, as the picture page draws it on white.
RGB: Final[dict[str, tuple[int, int, int]]] = {
    name: (int(hue[1:3], 16), int(hue[3:5], 16), int(hue[5:7], 16))
    for name, hue in {**read_data("colours")["on_white"], "white": "#ffffff"}.items()
}
INK: Final = (17, 17, 17)


def rgb(name: object) -> tuple[int, int, int]:
    """A colour of the code; ink for any other name and for none."""
    return RGB.get(name, INK) if isinstance(name, str) else INK


def hexed(colour: tuple[int, int, int]) -> str:
    """A colour as ``#rrggbb``.

    Examples
    --------
    >>> hexed((210, 20, 30))
    '#d2141e'
    """
    return "#{:02x}{:02x}{:02x}".format(*colour)
