"""A line seen from the side by several shots: its posterior.

The line is a smooth course and a smooth depth over one stretch; the shots share the ground, the receiver's
coils, their error, and part of the position fix. All of it is written in standard normal unknowns
(`tempered`), the lean of each shot integrated out (`side_shot`), once without and once with a second line;
evidence weighs the two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from plumbmark.inference import priors as p
from plumbmark.inference.second import Known
from plumbmark.inference.side_shot import TILT_SIGMA, shots_log_likelihood, shown_many
from plumbmark.inference.smooth import course_basis, depth_basis
from plumbmark.inference.tempered import Tempered, temper
from plumbmark.physics.skin import skin_depth

FLOATS = NDArray[np.float64]

PLACE_SIGMA_M = 5.0  # where a line is before its first shot, about the places it was seen from
SLOPE_SIGMA = 0.5  # and its slope against the direction that the shots agree on best
TOWARD_SIGMA = math.radians(4.0)  # the file contract: bearings
PARTICLES = 500
MOVES = (10, 16)  # of the particles without and with a second line, see `tempered.temper`
SECOND_UNKNOWNS = 4
FIRST_OF_LINE = 6  # unknowns before: scatter, coil error, soil, lower coil, spacing, common part of the fix


@dataclass(frozen=True, slots=True)
class SideData:
    """Shots of one stretch, shape (m,) each, in a frame along and right of the line's rough direction.

    `toward` is the direction in which the receiver faced, from the frame's right, clockwise [rad], NaN where
    not written. `shots` has shape (m, 4), see `side_shot.cells_of`. A test hole that found the line is a row
    without a shot: `seen` has shape (m, 5), place across and its sigma [m], ln depth and its sigma, NaN else;
    of one that found nothing the last is the ln of how deep the line is not.
    """

    along: FLOATS
    right: FLOATS
    toward: FLOATS
    fix_sigma: FLOATS
    shots: FLOATS
    seen: FLOATS
    known: Known
    frequency_hz: float


@dataclass(frozen=True, slots=True)
class SideState:
    """Physical values of n sets of unknowns: shape (n,), and at the m shots shape (n, m)."""

    scatter: FLOATS
    coil_error: FLOATS
    skin: FLOATS
    lower: FLOATS
    spacing: FLOATS
    across: FLOATS  # of the line, right of the frame's axis [m]
    slope: FLOATS
    ln_depth: FLOATS
    stand: FLOATS  # of the receivers, right of the line [m]
    second: FLOATS  # shape (n, 4) or (0, 4)


@dataclass(frozen=True, slots=True)
class SideModel:
    """The data and how unknowns turn into the line."""

    data: SideData
    place: FLOATS
    slope: FLOATS
    depth: FLOATS

    @classmethod
    def of(cls, data: SideData) -> SideModel:
        """Bases for these shots."""
        order = np.argsort(data.along, kind="stable")
        back = np.argsort(order, kind="stable")
        place, slope = course_basis(data.along[order], PLACE_SIGMA_M, SLOPE_SIGMA)
        depth = depth_basis(data.along[order])
        return cls(data, place[back], slope[back], depth[back])

    def unknowns(self, second: bool) -> int:
        """How many."""
        line = int(self.place.shape[1] + self.depth.shape[1]) + len(self.data.along)
        return FIRST_OF_LINE + line + (SECOND_UNKNOWNS if second else 0)

    def states(self, u: FLOATS, second: bool) -> SideState:
        """What unknowns of shape (n, unknowns) stand for."""
        d, k = self.data, self.data.known
        a = FIRST_OF_LINE
        b = a + self.place.shape[1]
        c = b + self.depth.shape[1]
        e = c + len(d.along)
        across, slope = u[:, a:b] @ self.place.T, u[:, a:b] @ self.slope.T
        # half of a fix's variance is its own, half common to all (a quarter of an hour's)
        right = d.right + math.sqrt(0.5) * d.fix_sigma * (u[:, c:e] + u[:, 5:6])
        soil = np.exp(np.clip(k.soil_ln + k.soil_sigma * u[:, 2], -1.0, 11.0))
        return SideState(
            np.exp(p.SCATTER_LOG_SIGMA * u[:, 0]),
            p.COIL_ERROR_SIGMA * u[:, 1],
            np.asarray(skin_depth(d.frequency_hz, soil)),
            k.lower_low + (k.lower_high - k.lower_low) * ndtr(u[:, 3]),
            k.spacing_low + (k.spacing_high - k.spacing_low) * ndtr(u[:, 4]),
            across,
            slope,
            np.clip(math.log(p.DEPTH_MEDIAN_M) + u[:, b:c] @ self.depth.T, -2.5, 2.5),
            (right - across) / np.hypot(1.0, slope),
            second_lines(u[:, e:]) if second else np.empty((0, 4)),
        )

    def log_likelihood(self, u: FLOATS, second: bool) -> FLOATS:
        """Of all that was written down, shape (n,)."""
        d, s = self.data, self.states(u, second)
        out = np.zeros(len(u))
        shots_log_likelihood(
            s.stand, s.ln_depth, s.skin, s.lower, s.spacing, s.coil_error, s.scatter, s.second, d.shots, out
        )
        told = ~np.isnan(d.toward)
        if told.any():
            faces = np.where(s.stand[:, told] > 0.0, math.pi, 0.0) + np.arctan(s.slope[:, told])
            off = (d.toward[told] - faces + math.pi) % (2.0 * math.pi) - math.pi
            sigma = TOWARD_SIGMA * s.scatter[:, None]
            good = np.exp(-0.5 * (off / sigma) ** 2) / (math.sqrt(2.0 * math.pi) * sigma)
            mixed = (1.0 - p.SLIP_ODDS) * good + p.SLIP_ODDS / (2.0 * math.pi)
            out += np.log(mixed).sum(axis=1)
        for value, sigma_of, where in ((s.across, 1, 0), (s.ln_depth, 3, 2)):
            for k in np.flatnonzero(~np.isnan(d.seen[:, where])):
                out -= 0.5 * ((value[:, k] - d.seen[k, where]) / d.seen[k, sigma_of]) ** 2
        for k in np.flatnonzero(~np.isnan(d.seen[:, 4])):
            over = np.exp(-0.5 * ((s.across[:, k] - d.right[k]) / p.HOLE_REACH_M) ** 2)
            beside = 1.0 - (1.0 - p.HOLE_BESIDE_ODDS) * over
            out += np.where(s.ln_depth[:, k] < d.seen[k, 4], np.log(beside), 0.0)
        return out


def _ratio_sizes() -> tuple[FLOATS, FLOATS]:
    """Size of the ratio of currents against its cumulative chance (the prior of `second`)."""
    x = np.linspace(0.03, 6.0, 4000)
    usual = (ndtr((x - p.RATIO_MEAN) / p.RATIO_SIGMA) - ndtr((0.03 - p.RATIO_MEAN) / p.RATIO_SIGMA)) / ndtr(
        (p.RATIO_MEAN - 0.03) / p.RATIO_SIGMA
    )
    large = ndtr(np.log(x / p.RATIO_LARGE_MEDIAN) / p.RATIO_LARGE_LOG_SIGMA)
    chance = (1.0 - p.RATIO_LARGE_ODDS) * usual + p.RATIO_LARGE_ODDS * large
    return x, np.asarray(chance)


_SIZES, _CHANCES = _ratio_sizes()


def second_lines(u: FLOATS) -> FLOATS:
    """Parallel second lines from unknowns of shape (n, 4): offset, depth, ratio real and imaginary."""

    def signed(v: FLOATS) -> tuple[FLOATS, FLOATS]:
        chance = ndtr(v)
        return np.where(chance < 0.5, -1.0, 1.0), np.clip(2.0 * chance % 1.0, 1e-9, 1.0 - 1e-9)

    side, far = signed(u[:, 0])
    sign, turned = signed(u[:, 3])
    size = np.interp(ndtr(u[:, 2]), _CHANCES, _SIZES)
    phase = p.RATIO_PHASE_SIGMA * ndtri(turned)
    offset = side * (p.SECOND_NEAR_M + (p.SECOND_FAR_M - p.SECOND_NEAR_M) * far)
    depth = p.DEPTH_MEDIAN_M * np.exp(p.SECOND_DEPTH_LOG_SIGMA * u[:, 1])
    return np.column_stack([offset, depth, sign * size * np.cos(phase), size * np.sin(phase)])


@dataclass(frozen=True, slots=True)
class SidePosterior:
    """Particles without and with a second line, the chance of each, and with the odds of bands."""

    model: SideModel
    alone: Tempered
    second: Tempered
    chances: FLOATS
    band_chances: FLOATS

    @property
    def effective(self) -> float:
        """How many independent draws the joined particles are worth, an estimate."""
        sizes = np.array([self.alone.effective, self.second.effective])
        return float(1.0 / (self.chances**2 / sizes).sum())

    def weights(self, bands: bool) -> FLOATS:
        """One of each particle, those without a second line first, sum 1."""
        chances = self.band_chances if bands else self.chances
        counts = len(self.alone.particles), len(self.second.particles)
        return np.repeat(chances / np.array(counts), counts)

    def states(self) -> tuple[SideState, SideState]:
        """Physical values without and with a second line."""
        model = self.model
        return model.states(self.alone.particles, False), model.states(self.second.particles, True)


def solve_side(data: SideData, rng: np.random.Generator, particles: int = PARTICLES) -> SidePosterior:
    """Posterior of a line from its shots.

    Parameters
    ----------
    data : SideData
        One shot at least.
    rng : numpy Generator
    particles : int
        With and without a second line, each.
    """
    model = SideModel.of(data)
    found = []
    for with_second, moves in zip((False, True), MOVES, strict=True):
        likelihood = partial(model.log_likelihood, second=with_second)
        found.append(temper(likelihood, model.unknowns(with_second), particles, rng, moves=moves))
    chances = []
    for odds in (p.LINES_ODDS, p.BAND_ODDS):
        score = np.log([odds[0], 1.0 - odds[0]]) + np.array([q.log_evidence for q in found])
        w = np.exp(score - score.max())
        chances.append(w / w.sum())
    return SidePosterior(model, found[0], found[1], chances[0], chances[1])


def chance_alone(posterior: SidePosterior, small_m: float, small: float) -> FLOATS:
    """Chance that no second line moves what a shot shows: distance by `small_m`, depth by a share `small`."""
    _without, s = posterior.states()
    tilt = np.zeros_like(s.stand)
    shown = [np.empty((*s.stand.shape, 2)) for _ in range(2)]
    for second, out in ((s.second, shown[0]), (np.empty((0, 4)), shown[1])):
        shown_many(s.stand, s.ln_depth, s.skin, s.lower, s.spacing, s.coil_error, tilt, second, out)
    moved = np.abs(shown[0] - shown[1])
    still = (moved[:, :, 0] < small_m) & (moved[:, :, 1] < small * shown[1][:, :, 1])
    return np.asarray(posterior.chances[0] + posterior.chances[1] * still.mean(axis=0))


def foretold(posterior: SidePosterior, rng: np.random.Generator) -> FLOATS:
    """Distances and depths that the particles would show again, leaning anew, shape (n, m, 2) [m]."""
    parts = []
    for s in posterior.states():
        out = np.empty((*s.stand.shape, 2))
        tilt = TILT_SIGMA * rng.normal(size=s.stand.shape)
        shown_many(s.stand, s.ln_depth, s.skin, s.lower, s.spacing, s.coil_error, tilt, s.second, out)
        parts.append(out)
    return np.concatenate(parts)
