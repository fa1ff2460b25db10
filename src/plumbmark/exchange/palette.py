"""Colours of files that other programs draw: the uniform colour code of utilities, and ink for all else."""

from __future__ import annotations

from typing import Final

#: Name in the colour code to red, green and blue, as the picture page draws it on white.
RGB: Final[dict[str, tuple[int, int, int]]] = {
    "red": (210, 20, 30),
    "yellow": (255, 212, 0),
    "orange": (245, 124, 0),
    "blue": (10, 88, 200),
    "purple": (125, 44, 145),
    "green": (10, 138, 60),
    "white": (255, 255, 255),
    "pink": (240, 110, 170),
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
