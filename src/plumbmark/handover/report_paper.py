"""Drawings for paper: the page's own drawings in one stylesheet that needs no browser, at a true size."""

from __future__ import annotations

import re
from typing import Final

from plumbmark.handover.page_svg import num
from plumbmark.handover.report_blocks import Drawing

#: A unit of a drawing on paper; a label of 14 units is then 2.8 mm or 8 points.
UNIT_MM: Final = 0.2
#: Width of a drawing that fills the text of an A4 or a letter page.
WIDTH: Final = 880.0
FONT: Final = "Liberation Sans"

_COLOURS: Final = {
    "red": "#d2141e",
    "yellow": "#ffd400",
    "orange": "#f57c00",
    "blue": "#0a58c8",
    "purple": "#7d2c91",
    "green": "#0a8a3c",
}

#: Told apart without colour too: a line's core lies in a black rim, bands are grey, and what is only
#: recorded, likely or planned is broken in a way of its own. Later rules win over earlier ones.
STYLE: Final = (
    f"text{{font-family:'{FONT}',sans-serif;font-size:14px;fill:#111;stroke:#fff;stroke-width:3.5px;"
    "stroke-linejoin:round;paint-order:stroke}"
    ".strong text,text.big{font-weight:700}text.plain{stroke:none}"
    "text.grid{font-size:11px;fill:#555}"
    "path,rect,circle,ellipse{fill:none;stroke:#111;stroke-width:1.2}"
    ".near{display:none}"
    "path.grid{stroke:#999;stroke-width:.7}"
    ".band{fill:#ddd;stroke:#111;stroke-width:.9}"
    ".rim{stroke-width:5.5;stroke-linejoin:round}"
    ".core{stroke:#fff;stroke-width:3;stroke-linejoin:round}"
    ".second .band{fill:#eee;stroke-dasharray:1 3}"
    ".second .rim{stroke-width:4.5;stroke-dasharray:1 7;stroke-linecap:round}"
    ".second .core{stroke:none;stroke-width:2.4;stroke-dasharray:1 7;stroke-linecap:round}"
    ".record .rim{stroke-width:3.4;stroke-dasharray:14 5}"
    ".record .core{stroke-width:1.6;stroke-dasharray:14 5}"
    ".base{stroke-width:.9;stroke-dasharray:12 3 2 3}"
    ".dig{stroke-width:1.6}.digwide{stroke:#ddd}"
    ".zone{stroke-width:1.3;stroke-dasharray:9 3}.honest{stroke-width:1;stroke-dasharray:2 3}"
    ".hatch{stroke-width:.8}.hand{stroke:#555}.hole{stroke:#111}.unknown{stroke:#999;stroke-dasharray:3 3}"
    ".leader{stroke-width:.8}.mark{stroke-width:1.5}.ink{stroke-width:1.6}"
    ".paper{fill:#fff;stroke-width:1.4}.ground{stroke-width:2.4}.seen{stroke-width:1.5}"
    ".event{stroke-width:1.4;stroke-dasharray:5 3}.fill{fill:#111}"
    ".pipe{fill:#fff;stroke-width:1.5}.dotted{stroke-dasharray:1.5 3.5;stroke-linecap:round;stroke-width:2}"
    + "".join(
        f".u-{name} .core{{stroke:{colour}}}.u-{name} .pipe{{fill:{colour}}}"
        for name, colour in _COLOURS.items()
    )
)


def on_paper(svg: str, width: float, height: float, says: str, caption: str = "") -> Drawing:
    """A drawing of the page as it stands on paper.

    Parameters
    ----------
    svg : str
        One `svg` element, `width` by `height` units large.
    width, height : float
    says : str
        What it shows, for who cannot see it.
    caption : str

    Returns
    -------
    Drawing
        Its own names are taken away, so that many can stand in one page.
    """
    body = svg[svg.index(">") + 1 :]
    for name in (' id="north"', ' id="bar"', '<g id="ring"></g>', '<path class="here" d=""/>'):
        body = body.replace(name, "")
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawn" width="{num(width * UNIT_MM)}mm" '
        f'height="{num(height * UNIT_MM)}mm" viewBox="0 0 {num(width)} {num(height)}">'
    )
    return Drawing(f"{head}{_untitled(body)}", says, width * UNIT_MM, height * UNIT_MM, caption)


def _untitled(body: str) -> str:
    """Without `title` and `desc`: what a drawing shows is told beside it, once."""
    for tag in ("title", "desc"):
        start, end = body.find(f"<{tag}"), body.find(f"</{tag}>")
        if 0 <= start < end:
            body = body[:start] + body[end + len(tag) + 3 :]
    return body


_SIZE: Final = re.compile(r'width="([\d.]+)mm" height="([\d.]+)mm"')
#: What a letter page holds upward under a heading and over a caption.
_TALLEST_MM: Final = 212.0


def stands_alone(svg: str, says: str, caption: str) -> Drawing:
    """A drawing with a stylesheet of its own, whose `svg` element states its size on paper in millimetres.

    One that is taller than a page is drawn smaller, and its caption says that its scale is not kept.
    """
    found = _SIZE.search(svg)
    if found is None:
        raise ValueError("a drawing that stands alone states its size in millimetres")
    width, height = float(found[1]), float(found[2])
    fits = min(1.0, _TALLEST_MM / height)
    if fits < 1.0:
        caption = f"{caption}; drawn smaller than the scale it states"
    lettered = svg.replace("sans-serif", f"'{FONT}',sans-serif")
    return Drawing(lettered, says, width * fits, height * fits, f"{caption}.", alone=True)


def styled(drawing: Drawing) -> str:
    """A drawing with its stylesheet in it."""
    if drawing.alone:
        return drawing.svg
    svg = drawing.svg
    at = svg.index(">") + 1
    return f"{svg[:at]}<style>{STYLE}</style>{svg[at:]}"
