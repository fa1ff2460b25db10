"""Simulation-based calibration: does a posterior hold on draws from its own prior?

    PYTHONPATH=src python bench/calibration.py --kind place --draws 2000 --workers 2
    PYTHONPATH=src python bench/calibration.py --kind place --draws 200 --out /tmp/look

A kind is a module `calibration_<kind>.py` beside this one that holds `KIND`, a `Kind`. For each draw the
truth is taken from the prior, readings are made from it, and the posterior's own draws are counted below the
truth; where the computation is right these ranks are uniform. It tests the computation alone, not the model.

The ranks go to `docs/calibration/` as a picture and as JSON, from which the table of docs/calibration.md is
written anew (`--page` does only that). A run that was stopped goes on where it was. Source: Talts and others
2018, arXiv 1804.06788 (from memory).
"""

from __future__ import annotations

import argparse
import importlib
import json
import math
import os
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

DRAWS_KEPT = 199  # of each posterior: ranks run from 0 to this, 200 values
BINS = 20
SEED = 20251
FOLDER = Path(__file__).parents[1] / "docs" / "calibration"
PAGE = Path(__file__).parents[1] / "docs" / "calibration.md"
BEGIN, END = "<!-- table: bench/calibration.py --page -->", "<!-- end of table -->"


@dataclass(frozen=True)
class Kind:
    """What is to be calibrated.

    `simulate(rng)` gives the data of one draw and the truth of each quantity, shape (quantities,);
    `posterior(data, rng)` gives equally weighted draws of each, shape (quantities, n), n at least
    `DRAWS_KEPT` (weighted ones go through `resampled`). `about` is one sentence for the page: what is drawn.
    """

    quantities: tuple[str, ...]
    simulate: Callable[[np.random.Generator], tuple[Any, FLOATS]]
    posterior: Callable[[Any, np.random.Generator], FLOATS]
    about: str = ""


def resampled(values: FLOATS, weights: FLOATS, count: int, rng: np.random.Generator) -> FLOATS:
    """`count` independent draws along the last axis of `values`, in proportion to `weights`."""
    edges = np.cumsum(weights)
    pick = np.searchsorted(edges, rng.random(count) * edges[-1], side="right").clip(0, len(edges) - 1)
    return np.asarray(values[..., pick])


def ranks(draws: FLOATS, truth: FLOATS, rng: np.random.Generator) -> INTS:
    """How many of `DRAWS_KEPT` draws lie below the truth, ties broken at random.

    Parameters
    ----------
    draws : shape (quantities, n), n >= DRAWS_KEPT
        Thinned evenly to `DRAWS_KEPT`.
    truth : shape (quantities,)

    Returns
    -------
    shape (quantities,), from 0 to `DRAWS_KEPT`
    """
    if draws.shape[-1] < DRAWS_KEPT or not np.all(np.isfinite(draws)):
        raise ValueError(f"draws of shape {draws.shape}: at least {DRAWS_KEPT} finite ones of each")
    kept = draws[:, np.linspace(0, draws.shape[1] - 1, DRAWS_KEPT).astype(int)]
    below = (kept < truth[:, None]).sum(axis=1)
    same = (kept == truth[:, None]).sum(axis=1)
    return np.asarray(below + rng.integers(0, same + 1))


def uniform_p_value(counted: INTS, bins: int = BINS) -> float:
    """Chance of ranks at least this uneven if they are uniform: chi-square over `bins` equal bins."""
    histogram = rank_histogram(counted, bins)
    return float(stats.chisquare(histogram).pvalue)


def rank_histogram(counted: INTS, bins: int = BINS) -> INTS:
    """Ranks 0 to `DRAWS_KEPT` counted in `bins` equal bins."""
    if (DRAWS_KEPT + 1) % bins:
        raise ValueError(f"{bins} bins do not divide {DRAWS_KEPT + 1} ranks evenly")
    return np.bincount(counted * bins // (DRAWS_KEPT + 1), minlength=bins)


def held(counted: INTS) -> float:
    """Share of truths inside the central interval that should hold 19 in 20."""
    place = (counted + 0.5) / (DRAWS_KEPT + 1)
    return float(np.mean((place > 0.025) & (place < 0.975)))


def picture(rows: dict[str, INTS], path: Path, title: str) -> None:
    """Histograms of ranks side by side, with the band in which 99 of 100 bins of uniform ranks lie."""
    os.environ.setdefault("MPLBACKEND", "Agg")
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(1, len(rows), figsize=(3.2 * len(rows), 2.6), sharey=True, squeeze=False)
    for axis, (name, histogram) in zip(axes[0], rows.items(), strict=True):
        n, bins = int(histogram.sum()), len(histogram)
        low, high = stats.binom.ppf([0.005, 0.995], n, 1.0 / bins)
        axis.axhspan(low, high, color="0.85", lw=0)
        axis.axhline(n / bins, color="0.5", lw=0.8)
        axis.bar(np.arange(bins) + 0.5, histogram, width=0.9, color="0.25")
        axis.set(title=name, xlabel="rank of the truth among draws", xticks=[0, bins], ylim=(0, None))
        axis.set_xticklabels(["lowest", "highest"])
    axes[0][0].set_ylabel(f"truths of {n}")
    figure.suptitle(title, fontsize=10)
    figure.tight_layout()
    figure.savefig(path, dpi=80)
    plt.close(figure)


def _one(task: tuple[str, int, int]) -> list[int]:
    """Ranks of draw `index`, the same whatever the number of workers."""
    name, seed, index = task
    kind = kind_of(name)
    rng = np.random.default_rng([seed, index])
    data, truth = kind.simulate(rng)
    return [int(r) for r in ranks(kind.posterior(data, rng), np.asarray(truth, dtype=float), rng)]


def kind_of(name: str) -> Kind:
    """The kind that `calibration_<name>.py` holds."""
    found = importlib.import_module(f"calibration_{name}").KIND
    assert isinstance(found, Kind) or type(found).__name__ == "Kind"
    return found  # type: ignore[no-any-return]


def run(name: str, draws: int, workers: int, seed: int, kept: Path) -> dict[str, INTS]:
    """Ranks of each quantity over `draws` draws, shape (draws,).

    Ranks are written to `kept` as they come, and what stands there already is not drawn again.
    """
    rows = json.loads(kept.read_text()) if kept.exists() else []
    tasks = [(name, seed, index) for index in range(len(rows), draws)]
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        for done, row in enumerate(pool.map(_one, tasks, chunksize=5)):
            rows.append(row)
            if done % 50 == 49:
                kept.write_text(json.dumps(rows))
    kept.write_text(json.dumps(rows))
    return dict(zip(kind_of(name).quantities, np.array(rows[:draws]).T, strict=True))


def write(name: str, found: dict[str, INTS], folder: Path, seed: int) -> None:
    """Picture and JSON of one kind."""
    folder.mkdir(parents=True, exist_ok=True)
    histograms = {quantity: rank_histogram(counted) for quantity, counted in found.items()}
    draws = len(next(iter(found.values())))
    picture(histograms, folder / f"{name}.png", f"{name}: {draws} draws from its own prior")
    rows = [
        {
            "quantity": quantity,
            "p": round(uniform_p_value(counted), 4),
            "held": round(held(counted), 4),
            "histogram": histograms[quantity].tolist(),
        }
        for quantity, counted in found.items()
    ]
    told = {"kind": name, "about": kind_of(name).about, "draws": draws, "seed": seed, "quantities": rows}
    (folder / f"{name}.json").write_text(json.dumps(told, indent=1) + "\n")


def write_page(folder: Path = FOLDER, page: Path = PAGE) -> None:
    """The table and the pictures of docs/calibration.md, from the stored ranks."""
    out = []
    for path in sorted(folder.glob("*.json")):
        told = json.loads(path.read_text())
        out += [f"### {told['kind']}", "", told["about"], "", f"![Ranks](calibration/{told['kind']}.png)", ""]
        out += ["| quantity | draws | uniform? p | truth inside the band, % |", "|---|---|---|---|"]
        for q in told["quantities"]:
            said = "" if q["p"] >= 0.01 else ": **not uniform**"
            out.append(f"| {q['quantity']} | {told['draws']} | {q['p']:.3f}{said} | {100 * q['held']:.1f} |")
        out.append("")
    text = page.read_text()
    before, rest = text.split(BEGIN)
    page.write_text(before + BEGIN + "\n\n" + "\n".join(out) + END + rest.split(END)[1])


def main() -> None:
    """Run one kind, or write the page."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--kind", help="the last part of a module's name, calibration_<kind>.py")
    parser.add_argument("--draws", type=int, default=2000)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--out", type=Path, default=FOLDER, help="folder of the picture and the JSON")
    parser.add_argument("--page", action="store_true", help="write the table of docs/calibration.md anew")
    args = parser.parse_args()
    if args.kind:
        started = time.perf_counter()
        args.out.mkdir(parents=True, exist_ok=True)
        kept = args.out / f"{args.kind}.{args.seed}.ranks"
        found = run(args.kind, args.draws, args.workers, args.seed, kept)
        kept.unlink()
        took = time.perf_counter() - started
        error = 100 * math.sqrt(0.95 * 0.05 / args.draws)
        print(f"{args.kind}: {args.draws} draws in {took:.0f} s, {1e3 * took / args.draws:.0f} ms each")
        for quantity, counted in found.items():
            share = f"held {100 * held(counted):.1f} % (95 ± {error:.1f})"
            print(f"  {quantity:<24} p {uniform_p_value(counted):.4f}   {share}")
            print(f"    {rank_histogram(counted)}")
        write(args.kind, found, args.out, args.seed)
    if args.page:
        write_page()


if __name__ == "__main__":
    main()
