"""Small pieces the pictures are made of: escaped text, paths, round steps, labels that do not collide."""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from plumbmark.base.units import FOOT_M
from plumbmark.handover.colours import paint_colour
from plumbmark.model.job import Utility

Point = tuple[float, float]

LABEL_PX = 14.0
# Labels up to this rank may stand off their place, at the end of a leader.
_LED = 7
# Room is looked for on behalf of so many labels; the others wait for the enlarged picture.
_SEARCHED, _LED_MOST = 400, 40


def colour_name(utility: str | None) -> str | None:
    """Colour of a line by what it carries, None where nobody knows: a drawing leaves it in ink."""
    try:
        known = Utility(utility or "unknown")
    except ValueError:
        return None
    return None if known is Utility.UNKNOWN else paint_colour(known)


def colour_class(utility: str | None) -> str:
    """Class of a line by what it carries; "u-none" where nobody knows."""
    return f"u-{colour_name(utility) or 'none'}"


def escaped(text: str) -> str:
    """Text that cannot leave the place it is put in, in HTML, SVG and attributes."""
    return html.escape("".join(c if c.isprintable() else " " for c in text), quote=True)


def num(value: float) -> str:
    """A coordinate of a drawing, to the hundredth."""
    return f"{value:.2f}".rstrip("0").rstrip(".") if abs(value) > 0.004 else "0"


def path(points: Iterable[Point], *, closed: bool = False) -> str:
    """The `d` of a path through points."""
    said = "L".join(f"{num(x)} {num(y)}" for x, y in points)
    return f"M{said}{'Z' if closed else ''}"


def round_step(span: float, at_most: int) -> float:
    """The smallest of 1, 2, 5, 10... that divides a span into `at_most` parts or fewer."""
    if not span > 0:
        return 1.0
    base = 10.0 ** math.floor(math.log10(span / at_most))
    return next(base * m for m in (1, 2, 5, 10, 20) if span / (base * m) <= at_most)


def axis_unit(display_units: str) -> tuple[float, str]:
    """Metres in the unit that axes and scale bars count in, and its name.

    Examples
    --------
    >>> axis_unit("ft-in")
    (0.3048, 'ft')
    """
    return (FOOT_M, "ft") if display_units == "ft-in" else (1.0, "m")


def multiples(low: float, high: float, step: float) -> list[float]:
    """Multiples of a step between two ends."""
    first = math.ceil(low / step - 1e-9)
    return [i * step for i in range(first, math.floor(high / step + 1e-9) + 1)]


def thinned(count: int, at_most: int, keep: Sequence[int] = ()) -> list[int]:
    """Indices for a drawing: all, or evenly spaced ones with both ends and those to keep."""
    if count <= at_most:
        return list(range(count))
    even = {round(i * (count - 1) / (at_most - 1)) for i in range(at_most)}
    return sorted(even | set(keep))


def buckets(count: int, at_most: int) -> list[range]:
    """Neighbouring indices in at most so many groups."""
    groups = min(count, at_most)
    edges = [round(i * count / groups) for i in range(groups + 1)] if groups else [0]
    return [range(a, b) for a, b in pairwise(edges)]


@dataclass(frozen=True)
class Wish:
    """A label to be placed: low ranks first, at the first of its anchors with room."""

    rank: int
    anchors: Sequence[Point]
    text: str
    kind: str = ""
    must: bool = False


@dataclass
class Labels:
    """Labels that give way to lines and to those put before them.

    Each stands at its anchor in two nested groups that the page scales: `o` keeps its distance and `t`
    its size when the picture is enlarged. One that finds no room is kept for the enlarged picture.
    """

    width: float
    height: float
    taken: list[tuple[float, float, float, float]] = field(default_factory=list)
    written: list[tuple[float, float, float, float]] = field(default_factory=list)
    wishes: list[Wish] = field(default_factory=list)

    def block(self, points: Sequence[Point], half: float = 4.0) -> None:
        """Keep a path free of labels."""
        for a, b in pairwise([*points, points[-1]]):
            parts = min(400, max(1, math.ceil(math.hypot(b[0] - a[0], b[1] - a[1]) / 8.0)))
            for i in range(parts):
                x, y = a[0] + (b[0] - a[0]) * i / parts, a[1] + (b[1] - a[1]) * i / parts
                if -10 < x < self.width + 10 and -10 < y < self.height + 10:
                    self.taken.append((x - half, y - half, x + half, y + half))

    def wish(
        self, rank: int, anchors: Sequence[Point], text: str, kind: str = "", must: bool = False
    ) -> None:
        """Ask for a label; `must` has it written even where there is no room."""
        if anchors:
            self.wishes.append(Wish(rank, anchors, text, kind, must))

    def placed(self) -> str:
        """All labels, the more wanted ones first, as SVG."""
        wishes = sorted(self.wishes, key=lambda w: w.rank)
        return "".join(self._put(w, i < _SEARCHED, i < _LED_MOST) for i, w in enumerate(wishes))

    def _put(self, wish: Wish, searched: bool, may_lead: bool) -> str:
        wide = 0.56 * LABEL_PX * len(wish.text)
        far = -8.0 - wide
        spots = [(8.0, -6.0), (8.0, 17.0), (far, -6.0), (far, 17.0), (-wide / 2, -11.0), (-wide / 2, 22.0)]
        spots += [(11.0, 5.0), (far - 3.0, 5.0), (-wide / 2, -16.0), (-wide / 2, 27.0)]
        for at in wish.anchors if searched else ():
            for spot in spots:
                if self._room(at, spot, wide):
                    return _label(at, spot, wish.text, wish.kind)
        spread = wish.anchors[:: -(-len(wish.anchors) // 8)]
        for at in spread if may_lead and wish.rank <= _LED else ():
            for reach in range(24, 130, 15):
                for dx in (-wide / 2, -10.0, 10.0 - wide):
                    for dy in (-float(reach), reach + LABEL_PX - 4.0):
                        if self._room(at, (dx, dy), wide, led=True):
                            return _label(at, (dx, dy), wish.text, wish.kind, led=True)
        at = wish.anchors[0]
        if not wish.must:
            return _label(at, spots[0], wish.text, f"{wish.kind} near")
        dx = min(max(8.0, 3.0 - at[0]), self.width - at[0] - wide - 3.0)
        return _label(at, (dx, -6.0 if at[1] > 24 else 17.0), wish.text, wish.kind)

    def _room(self, at: Point, spot: Point, wide: float, *, led: bool = False) -> bool:
        """Take the room for a label, and its leader, if there is any."""
        x, y = at[0] + spot[0], at[1] + spot[1]
        box = (x, y - LABEL_PX + 2, x + wide, y + 3.0)
        inside = x > 2 and box[2] < self.width - 2 and box[1] > 2 and box[3] < self.height - 2
        if not inside or any(_overlap(box, other) for other in self.taken):
            return False
        if led:
            near, far = sorted((at[1], at[1] + _edge(spot)))
            leader = (at[0] - 2, near, at[0] + 2, far)
            if any(_overlap(leader, other) for other in self.written):
                return False
            self.taken.append(leader)
        self.taken.append(box)
        self.written.append(box)
        return True


def _edge(shift: Point) -> float:
    """Where a leader meets its label: the edge toward the anchor."""
    return shift[1] + 4.0 if shift[1] < 0 else shift[1] - LABEL_PX + 2.0


def _label(at: Point, shift: Point, text: str, kind: str, *, led: bool = False) -> str:
    wide = 0.56 * LABEL_PX * len(text)
    # A label keeps to its side of the anchor however wide the page's letters are.
    if shift[0] > -0.25 * wide:
        x, anchor = shift[0], "start"
    elif shift[0] < -0.75 * wide:
        x, anchor = shift[0] + wide, "end"
    else:
        x, anchor = shift[0] + wide / 2, "middle"
    leader = f'<path class="leader" d="M0 0V{num(_edge(shift))}"/>' if led else ""
    return (
        f'<g transform="translate({num(at[0])} {num(at[1])})"><g class="o {kind}">{leader}'
        f'<g transform="translate({num(x)} {num(shift[1])})"><text class="t" text-anchor="{anchor}">'
        f"{escaped(text)}</text></g></g></g>"
    )


def _overlap(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
