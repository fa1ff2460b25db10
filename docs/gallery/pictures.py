"""Pictures of the gallery; drawn by `make_gallery.py`, whose curves and values they show."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib
import numpy as np

from plumbmark.physics.skin import skin_depth
from plumbmark.physics.sonde import shown_in_line_mode, shown_in_sonde_mode

matplotlib.use("svg")
matplotlib.rcParams.update(
    {
        "svg.hashsalt": "plumbmark", "svg.fonttype": "none", "font.size": 9, "axes.spines.top": False,
        "axes.spines.right": False, "figure.figsize": (5.2, 3.0), "lines.color": "black",
        "axes.prop_cycle": matplotlib.cycler(color=["black", "0.45", "0.7"]),
    }
)  # fmt: skip
from matplotlib import pyplot as plt  # noqa: E402

BLACK, GREY = "black", "0.45"


def save(name: str, x: str, y: str, legend: bool = True) -> None:
    """Writes the picture that has been drawn."""
    plt.xlabel(x)
    plt.ylabel(y)
    if legend:
        plt.legend(frameon=False)
    plt.tight_layout()
    meta = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    plt.savefig(Path(__file__).parent / f"{name}.svg", metadata=meta)
    plt.close()


def lines(ours: Any) -> None:
    """Lines in air."""
    x = np.linspace(-3.0, 3.0, 301)
    across, total = ours.profile(x)
    for curve, column, name, colour in ((across, 1, "across", BLACK), (total, 2, "in all", GREY)):
        plt.plot(x, curve, color=colour, label=name)
        plt.plot([r[0] for r in ours.LINE.PROFILE], [r[column] for r in ours.LINE.PROFILE], "o", color=colour)
    save("profile", "aside, in depths", "relative to straight above")

    d = np.linspace(0.3, 3.2, 60)
    for spacing, style in ((0.4, "-"), (0.5, "--")):
        curve = [ours.coil_error(float(v), spacing) for v in d]
        plt.plot(d, curve, style, color=BLACK, label=f"coils {spacing:g} m apart")
    plt.plot([r[0] for r in ours.LINE.TWO_COILS], [r[3] for r in ours.LINE.TWO_COILS], "o", color=BLACK)
    save("coils", "depth, m", "% of depth for 1 % of the ratio")

    length = np.geomspace(0.5, 30.0, 100)
    plt.semilogx(length, [ours.finite(float(n)) for n in length], label="ours")
    plt.semilogx(*zip(*ours.LINE.LENGTHS, strict=True), "o", color=BLACK, label="closed form")
    save("finite", "length / depth", "relative to an endless line")

    ratio = np.linspace(-0.55, 0.55, 111)
    at = np.array([ours.beside(float(i), 1.0, 1.0) for i in ratio])
    told = [row for row in ours.TWO.TWO_LINES if row[1:3] == (1.0, 1.0) or row[0] == 0.0]
    for column, (name, colour) in enumerate((("peak", BLACK), ("null", GREY))):
        plt.plot(ratio, at[:, column], color=colour, label=name)
        plt.plot([r[0] for r in told], [r[3 + column] for r in told], "o", color=colour)
    save("two", "current of a line 1 m aside, relative to the line's", "from the line, m")

    x = np.linspace(0.0, 20.0, 401)
    plt.semilogy(x, ours.hvdc(x), label="ours")
    plt.semilogy(ours.LINE.HVDC_X, ours.LINE.HVDC_CABLE, "o", color=BLACK, label="printed")
    save("hvdc", "from the middle, m", "flux density, uT")

    for (name, (spacing, depth, printed)), colour in zip(
        ours.LINE.THREE_PHASE.items(), (BLACK, GREY), strict=True
    ):
        plt.semilogy(x, ours.three_phase(x, spacing, depth), color=colour, label=name)
        plt.semilogy(ours.LINE.HVDC_X, np.array(printed) / printed[0], "o", color=colour)
    save("three_phase", "from the middle, m", "relative to the middle")


def ground(ours: Any) -> None:
    """Lines in conducting ground, and the limits of a walk across."""
    k = np.geomspace(1e-3, 1.0, 60)
    peaks = np.array([ours.peak_over_ground(float(v)) for v in k])
    plt.semilogx(k, np.abs(peaks), label="amplitude relative to air")
    plt.semilogx(ours.GROUND.DEPTHS, ours.GROUND.RATIO, "o", color=BLACK)
    plt.semilogx(k, -np.angle(peaks), "--", label="lag, radians")
    plt.semilogx(ours.GROUND.DEPTHS, -np.radians(ours.GROUND.PHASE), "o", color=GREY)
    save("ground", "depth / skin depth", "over the line")

    skins = np.geomspace(4.0, 600.0, 50)
    curves = np.array([ours.shape_depths(float(s)) for s in skins])
    for column, (name, colour) in enumerate((("half-width", BLACK), ("45-degree point", GREY))):
        plt.semilogx(skins, curves[:, column], color=colour, label=name)
        points = [(float(skin_depth(r[1], r[0])), r[4 + column]) for r in ours.GROUND.SHAPES]
        plt.semilogx(*zip(*points, strict=True), "o", color=colour)
    save("shapes", "skin depth, m", "depth shown for 1 m")

    f = np.geomspace(50.0, 2e5, 50)
    for (rho, row), colour in zip(ours.GROUND.SKIN.items(), ("0.0", "0.3", "0.55", "0.75"), strict=True):
        plt.loglog(f, skin_depth(f, float(rho)), color=colour, label=f"{rho} ohm m")
        plt.loglog(ours.GROUND.SKIN_FREQUENCIES, row, "o", color=colour)
    save("skin", "frequency, Hz", "skin depth, m")

    d = np.linspace(0.4, 2.2, 40)
    for number, style, told in ((1, "-", 1), (2, "--", 2)):
        limit = np.array([ours.GROUND.cramer_rao(float(v), number) for v in d])
        for column, (name, colour) in enumerate((("place", BLACK), ("depth", GREY))):
            coils = "across alone" if number == 1 else "both coils"
            plt.plot(d, limit[:, column], style, color=colour, label=f"{name}, {coils}")
            printed = [(row[0], row[told][column]) for row in ours.GROUND.LIMITS]
            plt.plot(*zip(*printed, strict=True), "o", color=colour)
    save("limits", "depth, m", "one standard deviation, m")

    k = np.geomspace(5e-4, 0.9, 60)
    for depth, style in ((1.0, "-"), (0.1, "--")):
        error = [ours.image_error(float(v), depth) for v in k]
        plt.loglog(k, error, style, color=BLACK, label=f"a line {depth:g} m deep")
    save("images", "depth / skin depth", "largest error")


def sondes(ours: Any) -> None:
    """Sondes, and modes mixed up."""
    s = np.linspace(-3.0, 3.0, 401)
    plt.axhline(0.0, color="0.8", linewidth=0.8)
    plt.plot(s, ours.sonde_along(s), label="along the duct")
    plt.plot([-(0.5**0.5), 0.5**0.5], [0.0, 0.0], "o", color=BLACK, label="closed form: nulls")
    save("sonde", "ahead of the sonde, in depths", "relative to straight above")

    d = np.linspace(0.3, 3.0, 100)
    plt.plot(d, shown_in_sonde_mode(d, spacing=0.4, lower_height=0.05), label="a line in sonde mode")
    plt.plot(d, shown_in_line_mode(d, spacing=0.4, lower_height=0.05), "--", label="a sonde in line mode")
    plt.plot(d, d, ":", color="0.6", label="the truth")
    save("modes", "true depth, m", "depth shown, m")


def draw(ours: Any) -> None:
    """Writes all pictures; `ours` is the module `make_gallery`."""
    lines(ours)
    ground(ours)
    sondes(ours)
