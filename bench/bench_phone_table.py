"""The table for the phone against the full answer, on places drawn from the prior.

PYTHONPATH=src nice -n 5 python bench/bench_phone_table.py --places 60
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

from plumbmark.inference.phone_table import PhoneReading, SoilClass, lookup

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "inference"))

SETS = {
    "depth, gap": (True, False, False),
    "depth, gap, raise": (True, True, False),
    "depth, gap, half points": (True, False, True),
    "all": (True, True, True),
}


def main() -> None:
    """Draw places, ask both, print how far apart they are."""
    from test_phone_table import full_answer

    from bench_place import displays, taken

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--places", type=int, default=60)
    args = parser.parse_args()
    rng = np.random.default_rng(12)
    truth = displays(args.places, rng)
    crews = taken(truth, rng)
    print("difference of table and full answer, median and 9th of 10: ln of the middle depth, middle place")
    print("over depth, chance, ln of the width of the depth's band; truth held by table and full answer, %")
    for name, (gap, raised, halves) in SETS.items():
        rows, empty = [], 0
        for i in range(args.places):
            got = {k: float(v[i]) for k, v in crews.items()}
            # what is on the side of the null counts as right
            side = 1.0 if got["gap"] >= 0.0 else -1.0
            left, right = (got["left"], got["right"])[:: int(side)]
            place = (
                got["depth"], abs(got["gap"]) if gap else None, got["raised"] if raised else None,
                left if halves else None, right if halves else None,
            )  # fmt: skip
            told = lookup(PhoneReading(*place))
            if told is None:
                empty += 1
                continue
            across, deep, within = full_answer(place, SoilClass.UNKNOWN)
            true = np.log(truth["true"][i])
            ends = np.log([told.depth_low_m, told.depth_high_m])
            rows.append(
                (
                    abs(np.log(told.depth_m) - deep[1]), abs(told.shift_m - across[1]) / got["depth"],
                    abs(told.within_10_probability - within),
                    abs(np.log((ends[1] - ends[0]) / (deep[2] - deep[0]))),
                    ends[0] < true < ends[1], deep[0] < true < deep[2],
                )
            )  # fmt: skip
        r = np.array(rows, dtype=float)
        m, far = np.median(r, axis=0), np.quantile(r, 0.9, axis=0)
        parts = "   ".join(f"{a:.3f} {b:.3f}" for a, b in zip(m[:4], far[:4], strict=True))
        held = 100 * r[:, 4:].mean(axis=0)
        print(f"{name:<24} {parts}   held {held[0]:.0f} {held[1]:.0f}   no answer {empty} of {args.places}")


if __name__ == "__main__":
    main()
