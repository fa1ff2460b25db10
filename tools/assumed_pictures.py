"""Draw the pictures of docs/what-is-assumed.md.

PYTHONPATH=src python tools/assumed_pictures.py
"""

from __future__ import annotations

import csv
import sys
from dataclasses import replace
from pathlib import Path

import matplotlib
import numpy as np

from plumbmark.exchange.jobfolder import read_job
from plumbmark.inference.solve import solve_job
from plumbmark.model.estimate import LineEstimate
from plumbmark.physics.display import displayed_depth, null_position, peak_position

ROOT = Path(__file__).resolve().parents[1]
OUT = ROOT / "docs" / "assumed"
SITE = ROOT / "examples" / "cedar-street"
LOWER_M, SPACING_M = 0.05, 0.40

matplotlib.use("svg")
matplotlib.rcParams.update(
    {
        "svg.hashsalt": "plumbmark", "svg.fonttype": "none", "font.size": 9, "axes.spines.top": False,
        "axes.spines.right": False, "axes.prop_cycle": matplotlib.cycler(color=["black", "0.45", "0.7"]),
    }
)  # fmt: skip
from matplotlib import pyplot as plt  # noqa: E402
from matplotlib.patches import Circle  # noqa: E402


def save(name: str) -> None:
    """Write the picture that has been drawn, the same bytes each time."""
    plt.tight_layout()
    plt.savefig(OUT / f"{name}.svg", metadata=dict.fromkeys(("Date", "Creator", "Format", "Type")))
    plt.close()


def signal(x: np.ndarray, lines: tuple[tuple[float, float, float], ...]) -> np.ndarray:
    """Amplitude across the line over long lines (place, depth, current) in air, the largest 1."""
    total = sum(i * (d + LOWER_M) / ((x - at) ** 2 + (d + LOWER_M) ** 2) for at, d, i in lines)
    return np.asarray(np.abs(total) / np.abs(total).max())


def what_it_shows(lines: tuple[tuple[float, float, float], ...]) -> tuple[float, float, float]:
    """Peak, null and displayed depth [m]."""
    columns = tuple(list(c) for c in zip(*lines, strict=True))
    peak = peak_position(*columns, coil_height=LOWER_M)
    null = null_position(*columns, coil_height=LOWER_M)
    shown = displayed_depth(*columns, mark=peak, lower_coil_height=LOWER_M, coil_spacing=SPACING_M)
    return float(peak), float(null), float(shown)


def cross_sections() -> None:
    """The same kind of peak over three grounds, and what is shown there."""
    x = np.linspace(-1.6, 1.6, 321)
    grounds = (
        ("one line", ((0.0, 1.0, 1.0),), ("the line",)),
        ("a second line beside it", ((0.0, 1.0, 1.0), (0.9, 0.8, -0.35)), ("the line", "a third,\nback")),
        ("a second line right under it", ((0.0, 1.0, 1.0), (0.0, 1.6, 1.0)), ("the line", "as much")),
    )
    figure, axes = plt.subplots(2, 3, figsize=(8.6, 4.2), sharex=True, height_ratios=(1, 1.1))
    for k, (title, lines, names) in enumerate(grounds):
        peak, null, shown = what_it_shows(lines)
        top, ground = axes[0, k], axes[1, k]
        top.plot(x, signal(x, lines), label="signal across")
        top.axvline(peak, linewidth=0.8)
        top.axvline(null, linewidth=0.8, linestyle="--")
        top.set_title(title, fontsize=9)
        top.set_ylim(0.0, 1.1)
        top.set_yticks([])
        ground.axhline(0.0, linewidth=1.2)
        for (at, depth, _current), name in zip(lines, names, strict=True):
            ground.add_patch(Circle((at, depth), 0.06, facecolor="black" if name == "the line" else "0.6"))
            ground.annotate(name, (at, depth), (9, 0), textcoords="offset points", va="center", fontsize=8)
        ground.plot([peak], [shown], "x", markersize=8)
        ground.annotate(
            f"shown {shown:.2f} m",
            (peak, shown),
            (-8, 0),
            textcoords="offset points",
            ha="right",
            va="center",
            fontsize=8,
        )
        ground.set_ylim(2.2, -0.15)
        ground.set_xlabel("aside, m")
    axes[1, 0].set_ylabel("depth, m")
    axes[0, 0].set_ylabel("signal")
    figure.align_ylabels()
    save("sections")


def where_not() -> None:
    """Three depths about a bend, a tee, an end and a riser, in plan."""
    figure, axes = plt.subplots(1, 3, figsize=(8.6, 2.6))
    del figure
    shapes = (
        ("a bend", [[(-6, 0), (0, 0), (4, 4)]]),
        ("a tee", [[(-6, 0), (6, 0)], [(0, 0), (0, 5)]]),
        ("an end or a riser", [[(-6, 0), (0, 0)]]),
    )
    for axis, (title, paths) in zip(axes, shapes, strict=True):
        axis.add_patch(Circle((0, 0), 3.0, facecolor="0.88", edgecolor="0.6", linestyle="--"))
        for path in paths:
            axis.plot(*zip(*path, strict=True), color="black", linewidth=2)
        axis.plot([0, 0], [0, -3], color="0.4", linewidth=0.8)
        axis.annotate("3 depths", (0, -1.5), (4, 0), textcoords="offset points", fontsize=8, va="center")
        axis.set_title(title, fontsize=9)
        axis.set_aspect("equal")
        axis.set_xlim(-6, 6)
        axis.set_ylim(-3.6, 5)
        axis.set_axis_off()
    save("three-depths")


def swapped() -> None:
    """Marks of the water main of Cedar street, and where it really is."""
    job, _ = read_job(SITE)
    assert job is not None
    plt.figure(figsize=(8.6, 2.5))
    with (SITE / "truth.csv").open(encoding="utf-8") as file:
        truth = [
            row for row in csv.DictReader(file) if row["line"] in ("W1", "E1") and row["station"].isdigit()
        ]
    for line, style in (("W1", "-"), ("E1", "--")):
        east, north = zip(
            *((float(r["easting_m"]), float(r["northing_m"])) for r in truth if r["line"] == line),
            strict=True,
        )
        plt.plot(east, north, style, color="0.55", label=f"{line}, where it is")
    marks = [r for r in job.readings if r.line == "W1"]
    plt.plot(
        [r.place.easting_m for r in marks],
        [r.place.northing_m for r in marks],
        "kx",
        label="marks written down as W1",
    )
    for r in marks:
        plt.annotate(
            r.id,
            (r.place.easting_m, r.place.northing_m),
            (0, 6),
            textcoords="offset points",
            ha="center",
            fontsize=8,
        )
    plt.ylim(3.4, 6.3)
    plt.xlabel("along the kerb, m")
    plt.ylabel("from the kerb, m")
    plt.legend(frameon=False, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    save("swap")


def hole() -> None:
    """The band of depth along the electric line of Cedar street, without the test hole and with it."""
    job, _ = read_job(SITE)
    assert job is not None
    with (SITE / "truth.csv").open(encoding="utf-8") as file:
        truth = {row["station"]: float(row["depth_m"]) for row in csv.DictReader(file)}

    def electric(holes: bool) -> LineEstimate:
        answer = solve_job(job if holes else replace(job, test_holes=()))
        return next(line for line in answer.lines if line.line == "E1")

    plt.figure(figsize=(8.6, 2.8))
    for holes, shade, name in ((False, "0.85", "band without the hole"), (True, "0.6", "band with it")):
        rows = electric(holes).stations
        at = [s.chainage_m for s in rows]
        plt.fill_between(
            at, [s.depth_m.low for s in rows], [s.depth_m.high for s in rows], color=shade, label=name
        )
    shown = {r.id: r.depth_m.value for r in job.readings if r.line == "E1" and r.depth_m}
    plt.plot(at, [truth[s.id] for s in rows], "k-", label="the truth")
    plt.plot(at, [shown[s.id] for s in rows], "kx", label="as displayed")
    start = job.readings[0].place.easting_m
    plt.axvline(job.test_holes[0].place.easting_m - start, color="black", linewidth=0.8, linestyle=":")
    plt.gca().invert_yaxis()
    plt.xlabel("along the line, m (the hole is dotted)")
    plt.ylabel("depth to the middle, m")
    plt.legend(frameon=False, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    save("hole")


def main() -> int:
    """Draw all of them."""
    OUT.mkdir(parents=True, exist_ok=True)
    cross_sections()
    where_not()
    swapped()
    hole()
    return 0


if __name__ == "__main__":
    sys.exit(main())
