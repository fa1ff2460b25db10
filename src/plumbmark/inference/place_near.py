"""A proposal about the draws that carry weight: Gaussians about them, group by group.

Groups are the labels of draws and the sides and signs of their second lines: explanations of different groups
are apart, and a spread taken over all of them together would fit none. Coordinates that readings say little
about (soil, coils, scatter) are drawn on their own, one Gaussian for the group: with a small spread about
each draw in every one of many directions few of the new draws would be of use.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

#: Spreads of a group count as if so many draws of all groups together stood behind them besides its own.
POOLED_DRAWS = 12.0


@dataclass(frozen=True, slots=True)
class Nearby:
    """A mixture of Gaussians over coordinates; every group has one kind of draw."""

    near: INTS  # coordinates that follow single draws
    rest: INTS  # the others
    kind: INTS  # shape (groups,)
    share: FLOATS  # shape (groups,), sum 1
    root: FLOATS  # shape (groups, near, near), lower Cholesky factors
    mean: FLOATS  # shape (groups, rest)
    sigma: FLOATS
    centres: FLOATS  # shape (m, near)
    group: INTS  # shape (m,)

    def draw(self, n: int, rng: np.random.Generator) -> tuple[FLOATS, INTS]:
        """`n` draws: coordinates, shape (n, d), and kinds."""
        pick = rng.integers(0, len(self.centres), n)
        g = self.group[pick]
        u = np.empty((n, len(self.near) + len(self.rest)))
        away = np.einsum("nij,nj->ni", self.root[g], rng.normal(size=(n, len(self.near))))
        u[:, self.near] = self.centres[pick] + away
        u[:, self.rest] = self.mean[g] + self.sigma[g] * rng.normal(size=(n, len(self.rest)))
        return u, self.kind[g]

    def log_density(self, u: FLOATS, kind: INTS) -> FLOATS:
        """Log density at each row of `u` with its kind (a mass)."""
        out = np.empty(len(u))
        solved = np.asarray(np.linalg.inv(self.root), dtype=np.float64)
        scale = np.log(self.share) - np.log(np.bincount(self.group))
        scale -= np.log(np.diagonal(self.root, axis1=1, axis2=2)).sum(axis=1) + np.log(self.sigma).sum(axis=1)
        scale -= 0.5 * u.shape[1] * math.log(2.0 * math.pi)
        standing = np.einsum("nij,nj->ni", solved[self.group], self.centres)
        near, rest = np.ascontiguousarray(u[:, self.near]), np.ascontiguousarray(u[:, self.rest])
        edges = np.searchsorted(self.group, np.arange(len(self.kind) + 1))
        _mixture(near, rest, kind, self.kind, scale, solved, self.mean, self.sigma, standing, edges, out)
        return out


@kernel
def _mixture(
    near: FLOATS,
    rest: FLOATS,
    kind: INTS,
    group_kind: INTS,
    scale: FLOATS,
    solved: FLOATS,
    mean: FLOATS,
    sigma: FLOATS,
    standing: FLOATS,
    edges: INTS,
    out: FLOATS,
) -> None:
    """Log density of the mixture; `standing` are centres in the units of their group, in its order."""
    d = near.shape[1]
    here = np.empty(d)
    for i in range(near.shape[0]):
        total = 0.0
        for g in range(group_kind.shape[0]):
            if group_kind[g] != kind[i]:
                continue
            base = scale[g]
            for j in range(rest.shape[1]):
                e = (rest[i, j] - mean[g, j]) / sigma[g, j]
                base -= 0.5 * e * e
            for j in range(d):
                here[j] = 0.0
                for k in range(j + 1):
                    here[j] += solved[g, j, k] * near[i, k]
            for c in range(edges[g], edges[g + 1]):
                far = 0.0
                for j in range(d):
                    e = here[j] - standing[c, j]
                    far += e * e
                if far < 200.0:
                    total += math.exp(base - 0.5 * far)
        out[i] = math.log(total) if total > 0.0 else -math.inf


def flattened(log_weight: FLOATS, least: float) -> FLOATS:
    """Weights raised to the greatest power up to 1 that leaves an effective number of `least`; sum 1."""
    values = log_weight - log_weight.max()

    def at(power: float) -> FLOATS:
        weights = np.exp(power * values)
        return np.asarray(weights / weights.sum())

    low, high = 0.0, 1.0
    if 1.0 / float((at(1.0) ** 2).sum()) >= least:
        return at(1.0)
    for _ in range(15):
        middle = 0.5 * (low + high)
        if 1.0 / float((at(middle) ** 2).sum()) >= least:
            low = middle
        else:
            high = middle
    return at(low)


def nearby(u: FLOATS, kind: INTS, sides: INTS, near: list[int]) -> Nearby:
    """Gaussians about draws that all count the same.

    Parameters
    ----------
    u : shape (n, d)
        Coordinates.
    kind, sides : shape (n,)
        Draws of one group have both in common.
    near : list of int
        Coordinates that follow single draws.
    """
    rest = np.setdiff1d(np.arange(u.shape[1]), near)
    sort = kind * (sides.max() + 1) + sides
    order = np.argsort(sort, kind="stable")
    u, kind = u[order], kind[order]
    _sorts, first, group, counts = np.unique(
        sort[order], return_index=True, return_inverse=True, return_counts=True
    )
    means, spreads, different = [], [], []
    for g in range(len(counts)):
        own = u[group == g]
        means.append(own.mean(axis=0))
        spreads.append((own - means[-1]).T @ (own - means[-1]) / len(own))
        different.append(len(np.unique(own, axis=0)))
    share = counts / len(u)
    pooled = np.einsum("g,gij->ij", share, np.array(spreads))
    pooled = 0.9 * pooled + np.diag(0.1 * np.diag(pooled) + 1e-3)
    number = np.array(different)[:, None, None]
    blend = (number * np.array(spreads) + POOLED_DRAWS * pooled) / (number + POOLED_DRAWS)
    d = len(near)
    # Silverman's rule for as many centres as there are different ones
    h = (4.0 / ((d + 2.0) * number)) ** (1.0 / (d + 4.0))
    return Nearby(
        near=np.array(near),
        rest=rest,
        kind=kind[first],
        share=share,
        root=np.linalg.cholesky(h**2 * blend[:, near][:, :, near]),
        mean=np.array(means)[:, rest],
        sigma=1.05 * np.sqrt(np.diagonal(blend, axis1=1, axis2=2)[:, rest]),
        centres=u[:, near],
        group=group,
    )
