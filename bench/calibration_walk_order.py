"""Walks across of which only the order of the amplitudes is trusted, for the frame of calibration."""

from __future__ import annotations

from calibration import Kind
from calibration_walk import QUANTITIES, draw, posterior

KIND = Kind(
    QUANTITIES,
    lambda rng: draw(rng, True),
    posterior,
    "One walk across of which only the order of the amplitudes is trusted; else as `walk`.",
)
