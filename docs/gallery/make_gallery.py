"""Redraws published and tabulated values from our own functions: the evidence behind the physics.

    PYTHONPATH=src python docs/gallery/make_gallery.py

writes the pictures and `README.md` beside this file. The published values are taken from the tests that hold
them (tests/reference), so that each stands in one place, with its source.
"""

from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from scipy.optimize import brentq

from plumbmark.physics.display import displayed_depth, half_distances, null_position, peak_position
from plumbmark.physics.halfspace import line_over_ground_field, line_over_ground_field_quadrature
from plumbmark.physics.line import coil_ratio, infinite_line_field, two_coil_depth
from plumbmark.physics.segment import segment_field
from plumbmark.physics.skin import skin_depth
from plumbmark.physics.sonde import shown_in_line_mode, shown_in_sonde_mode, sonde_field

HERE = Path(__file__).parent


def load(path: Path) -> ModuleType:
    """A Python file that is in no package."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _values(name: str) -> ModuleType:
    return load(HERE.parents[1] / "tests" / "reference" / f"{name}.py")


LINE, GROUND, TWO = _values("test_line_published"), _values("test_ground_published"), _values("test_display")


# --- ours ------------------------------------------------------------------------------------------


def profile(offset: Any) -> tuple[Any, Any]:
    """Field across and in all, relative to that straight above; offset in depths."""
    b_e, b_u = infinite_line_field(offset, 1.0, current=5e6)
    return b_e, np.hypot(b_e, b_u)


def coil_error(depth: float, spacing: float) -> float:
    """Per cent of the depth for one per cent of the coils' ratio."""
    ratio, step = float(coil_ratio(depth, spacing=spacing)), 1e-6
    moved = float(two_coil_depth(ratio * (1 + step), spacing=spacing))
    return (depth - moved) / depth / step


def hvdc(x: Any) -> Any:
    """Total field of the published pair of direct-current cores, in uT."""
    total = [
        sum(
            infinite_line_field(x, 1.0, line_easting=e, line_up=-1.0, current=i)[part]
            for e, i in ((-0.25, 2000.0), (0.25, -2000.0))
        )
        for part in (0, 1)
    ]
    return 1e6 * np.hypot(*total)


def three_phase(x: Any, spacing: float, depth: float) -> Any:
    """RMS field of a balanced flat formation, relative to that over its middle."""
    x = np.concatenate([[0.0], np.atleast_1d(x)])
    parts = [
        sum(
            infinite_line_field(
                x, 1.0, line_easting=n * spacing, line_up=-depth, current=np.exp(2j * np.pi * n / 3)
            )[part]
            for n in (-1, 0, 1)
        )
        for part in (0, 1)
    ]
    rms = np.sqrt(np.abs(parts[0]) ** 2 + np.abs(parts[1]) ** 2)
    return rms[1:] / rms[0]


def beside(current: float, x: float, depth: float) -> tuple[float, float, float, float]:
    """Peak, null, depth by half-width and by two coils over 1 A at 0, 1 m deep, another current beside."""
    lines = ([0.0, x], [1.0, depth], [1.0, current])
    peak = peak_position(*lines)
    shown = displayed_depth(*lines, mark=peak, lower_coil_height=0.0, coil_spacing=0.4)
    return peak, null_position(*lines), float(np.mean(half_distances(*lines))), shown


def peak_over_ground(k: float, field: Any = line_over_ground_field_quadrature) -> complex:
    """Field across, straight over a line 1 m down, relative to that in air."""
    return complex(field(0.0, 0.0, depth=1.0, current=1.0, skin_depth=1.0 / k)[0]) / 2e-7


def shape_depths(skin: float) -> tuple[float, float]:
    """Depth of a line 1 m down by half-width and by the 45-degree point."""

    def at(x: float) -> tuple[float, float]:
        b_e, b_u = line_over_ground_field(x, 0.0, depth=1.0, current=1.0, skin_depth=skin)
        return abs(b_e), abs(b_u)

    peak = at(0.0)[0]
    return brentq(lambda x: at(x)[0] - 0.5 * peak, 0.3, 2.0), brentq(lambda x: at(x)[0] - at(x)[1], 0.3, 2.0)


def depth_from_beside(rho: float) -> float:
    """Depth that the field's direction tells from 5.8 m beside a line 1 m down, at 33 kHz."""
    skin = float(skin_depth(33e3, rho))
    b_e, b_u = line_over_ground_field(5.8, 0.05, depth=1.0, current=1.0, skin_depth=skin)
    return float(5.8 * abs(b_e) / abs(b_u) - 0.05)


def finite(length: float) -> float:
    """Field over the middle of a straight piece, relative to a long line; length in depths."""
    end = [0.0, 0.5 * length, 0.0]
    return float(segment_field([0.0, 0.0, 1.0], [-c for c in end], end, current=1.0)[0].real) / 2e-7


def sonde_along(ahead: Any) -> Any:
    """Field along the duct over a sonde, relative to that straight above; places in depths."""
    return sonde_field(ahead, 0.0, 1.0, moment=-1e7)[0]


def image_error(k: float, depth: float = 1.0) -> float:
    """Worst error of the images to 7 m aside and 1.5 m up, relative to the field there."""
    x, a = np.meshgrid(np.linspace(0.0, 7.0, 41), [0.0, 0.05, 0.5, 1.5])
    ours, exact = (
        f(x, a, depth=depth, current=1.0, skin_depth=depth / k)
        for f in (line_over_ground_field, line_over_ground_field_quadrature)
    )
    miss = np.hypot(np.abs(ours[0] - exact[0]), np.abs(ours[1] - exact[1]))
    return float((miss / np.hypot(np.abs(exact[0]), np.abs(exact[1]))).max())


# --- tables ------------------------------------------------------------------------------------------


def _table(head: str, rows: list[list[str]]) -> str:
    lines = [f"| {head} |", "|" + "---|" * (head.count("|") + 1)]
    return "\n".join(lines + ["| " + " | ".join(r) + " |" for r in rows])


def _compared(head: str, rows: list[tuple[list[str], float, float, int]]) -> str:
    """Rows of what, published, ours, and the digits that were published; with the difference."""

    def cells(p: float, v: float, n: int) -> list[str]:
        return [f"{p:.{n}f}", f"{v:.{n}f}", f"{round(v - p, n + 1) + 0.0:+.{n + 1}f}"]

    return _table(f"{head} | published | ours | difference", [[*what, *cells(*r)] for what, *r in rows])


def _of_lines() -> dict[str, str]:
    rows = [
        ([f"{x:g}", name], p, float(v), n)
        for x, across, total in LINE.PROFILE
        for (name, p, n), v in zip((("across", across, 1), ("in all", total, 4)), profile(x), strict=True)
    ]
    coils = [
        row
        for d, s, ratio, per_cent in LINE.TWO_COILS
        for row in (
            ([f"{d:g} m", f"{s:g} m", "ratio of the coils"], ratio, float(coil_ratio(d, spacing=s)), 4),
            ([f"{d:g} m", f"{s:g} m", "error of depth, %"], per_cent, coil_error(d, s), 2),
        )
    ]
    names = ("peak", "null", "half-width", "two coils")
    two = [
        ([f"{i:+g} A, {x:g} m, {d:g} m" if i else "none", name], p, v, 4)
        for i, x, d, *printed, _rule in TWO.TWO_LINES
        for name, p, v in zip(names, printed, beside(i, x, d), strict=True)
    ]
    phases = [
        ([name, f"{x:g} m"], p, float(v) * printed[0], 2)
        for name, (spacing, depth, printed) in LINE.THREE_PHASE.items()
        for x, p, v in zip(LINE.HVDC_X, printed, three_phase(LINE.HVDC_X, spacing, depth), strict=True)
    ]
    pair = [([f"{x:g} m"], p, float(hvdc(x)), 2) for x, p in zip(LINE.HVDC_X, LINE.HVDC_CABLE, strict=True)]
    return {
        "profile": _compared("aside, in depths | field", rows),
        "coils": _compared("depth | spacing | what", coils),
        "pieces": _compared("length / depth", [([f"{n}"], p, finite(n), 5) for n, p in LINE.LENGTHS]),
        "two": _compared("other current, aside, deep | what, m", two),
        "hvdc": _compared("from the middle", pair),
        "phases": _compared("cable | from the middle", phases),
    }


def _of_ground() -> dict[str, str]:
    ratios, phases = [], []
    for k, ratio, phase in zip(GROUND.DEPTHS, GROUND.RATIO, GROUND.PHASE, strict=True):
        exact, image = peak_over_ground(k), peak_over_ground(k, line_over_ground_field)
        ratios.append(([f"{k:g}", "quadrature"], ratio, abs(exact), 6))
        ratios.append(([f"{k:g}", "images"], ratio, abs(image), 6))
        phases.append(([f"{k:g}"], phase, float(np.degrees(np.angle(exact))), 4))
    shapes = [
        ([f"{rho}", f"{f / 1e3:g}", name], p, v, 4)
        for rho, f, _delta, _amplitude, half, diagonal in GROUND.SHAPES
        for (name, p), v in zip(
            (("half-width", half), ("45-degree point", diagonal)),
            shape_depths(float(skin_depth(f, rho))),
            strict=True,
        )
    ]
    skin = []
    for rho, row in GROUND.SKIN.items():
        for f, p in zip(GROUND.SKIN_FREQUENCIES, row, strict=True):
            skin.append(([f"{rho}", f"{f:g}"], p, float(skin_depth(f, rho)), 4 - int(math.log10(p))))
    examples = [
        *(([f"from 5.8 m beside, {rho:g} ohm m"], p, depth_from_beside(rho), 2) for rho, p in GROUND.BESIDE),
        *(
            (
                [f"raised half a metre, short by, {rho:g} ohm m"],
                p,
                GROUND.shown_depth(rho, 0.0) + 0.5 - GROUND.shown_depth(rho, 0.5),
                2,
            )
            for rho, p in GROUND.RAISED
        ),
        *(
            (
                [f"1.2 m deep, fitted as in air, {f / 1e3:g} kHz, {rho} ohm m"],
                p,
                GROUND.depth_by_air(f, rho),
                3,
            )
            for f, rho, p in GROUND.AIR_FITTED
        ),
    ]
    limits = [
        ([f"{d:g} m", coils, name], p, v, n)
        for d, across, both in GROUND.LIMITS
        for coils, number, printed in (("across", 1, across), ("both", 2, both))
        for name, p, v, n in zip(
            ("place, m", "depth, m", "current, %"),
            printed,
            GROUND.cramer_rao(d, number),
            (5, 5, 2),
            strict=True,
        )
    ]
    return {
        "ratios": _compared("depth / skin depth | by", ratios),
        "lags": _compared("depth / skin depth, in degrees", phases),
        "shapes": _compared("ohm m | kHz | depth by", shapes),
        "skin": _compared("ohm m | Hz", skin),
        "examples": _compared("what, m", examples),
        "limits": _compared("depth | coils | of", limits),
    }


def _of_sondes() -> dict[str, str]:
    null = brentq(sonde_along, 0.3, 1.0)
    s = np.linspace(0.0, 4.0, 40001)
    second = float(s[np.argmin(sonde_along(s))])
    rule = [
        (["depth over the distance between the two nulls"], 0.707, 1.0 / (2.0 * null), 3),
        (["nulls ahead and behind, in depths"], math.sqrt(0.5), null, 4),
        (["second peak, in depths"], math.sqrt(1.5), second, 4),
    ]
    modes = _table(
        "true depth | a line read in sonde mode | a sonde read in line mode",
        [
            [
                f"{d:g} m",
                f"{shown_in_sonde_mode(d, spacing=0.4, lower_height=0.05):.2f} m",
                f"{shown_in_line_mode(d, spacing=0.4, lower_height=0.05):.2f} m",
            ]
            for d in (0.5, 1.0, 2.0, 3.0)
        ],
    )
    return {"rule": _compared("what", rule), "modes": modes}


def page() -> str:
    """The markdown page with every published value and ours beside it."""
    errors = _table(
        "depth / skin depth | a line 1 m deep | 0.1 m deep",
        [
            [f"{k:g}", *(f"{image_error(k, d):.0e}" for d in (1.0, 0.1))]
            for k in (1e-3, 1e-2, 0.05, 0.1, 0.2, 0.5)
        ],
    )
    text = (HERE / "page.txt").read_text(encoding="utf-8")
    return text.format(**_of_lines(), **_of_ground(), **_of_sondes(), errors=errors)


if __name__ == "__main__":
    load(HERE / "pictures.py").draw(sys.modules[__name__])
    (HERE / "README.md").write_text(page(), encoding="utf-8")
