"""Buried line over conducting ground against empymod (Apache-2.0): layered-earth electromagnetics.

empymod knows no endless line: a grounded wire of 2 km stands in for it, in pieces of 0.25 m, for the spacing
must be far below the depth (1.2 m). What the finite wire and the ends' ground currents leave is below 1e-4
near the line; empymod's digital filter, `key_401_2009`, gives 3e-4 at 4 m. The air is 1e20 ohm m and both
permittivities are 0: no displacement current, as in our integral. Its z points down. Its first call
compiles for some 20 s.
"""

from __future__ import annotations

import empymod
import numpy as np
import pytest

from plumbmark.base.constants import MU_0
from plumbmark.physics.halfspace import line_over_ground_field, line_over_ground_field_quadrature
from plumbmark.physics.skin import skin_depth

OFFSETS = np.array([0.0, 0.5, 1.0, 2.0, 4.0])
HEIGHT, DEPTH, HALF_LENGTH, SPACING = 0.05, 1.2, 1000.0, 0.25


def their_field(frequency_hz: float, rho: float, azimuth: float, dip: float) -> np.ndarray:
    h = empymod.bipole(
        src=[-HALF_LENGTH, HALF_LENGTH, 0.0, 0.0, DEPTH, DEPTH],
        rec=[np.zeros(OFFSETS.size), OFFSETS, np.full(OFFSETS.size, -HEIGHT), azimuth, dip],
        depth=[0.0],
        res=[1e20, rho],
        freqtime=frequency_hz,
        mrec=True,
        srcpts=int(2 * HALF_LENGTH / SPACING) + 1,
        strength=1.0,
        epermH=[0.0, 0.0],
        epermV=[0.0, 0.0],
        htarg={"dlf": "key_401_2009"},
        xdirect=False,
        verb=0,
    )
    return MU_0 * np.asarray(h)


@pytest.mark.slow
def test_line_over_conducting_ground() -> None:
    frequency_hz, rho = 33e3, 10.0
    across, down = their_field(frequency_hz, rho, 90.0, 0.0), their_field(frequency_hz, rho, 0.0, 90.0)
    skin = float(skin_depth(frequency_hz, rho))
    for field in (line_over_ground_field_quadrature, line_over_ground_field):
        b_e, b_u = field(OFFSETS, HEIGHT, depth=DEPTH, current=1.0, skin_depth=skin)
        total = np.sqrt(np.abs(b_e) ** 2 + np.abs(b_u) ** 2)
        error = np.hypot(np.abs(across - b_e), np.abs(down + b_u)) / total
        assert np.all(error[:4] < 1.2e-4)
        assert error[4] < 4e-4
    # and the ground matters here: amplitude and phase are far from those of air
    air, _ = line_over_ground_field(OFFSETS, HEIGHT, depth=DEPTH, current=1.0, skin_depth=np.inf)
    assert np.abs(across - air).min() / np.abs(air).max() > 0.02
