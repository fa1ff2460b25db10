"""A hook-up from three answers: tried on sites drawn from all that the person does not know."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from plumbmark.model.job import Hookup
from plumbmark.model.network import Network
from plumbmark.model.plan import Trial
from plumbmark.model.questions import Advice, Bonded, MadeOf, Option, Reached
from plumbmark.planning.hookup import highest_frequency, try_connections
from plumbmark.planning.questions_prior import draw_site

#: Sites tried: the share of a line that holds is then known to about a tenth.
SITES: Final = 40
SEED: Final = 7


def advise(
    made_of: MadeOf, reached: Sequence[Reached], bonded: Sequence[Bonded], *, sites: int = SITES
) -> Advice:
    """Try every way to connect that the answers allow on sites that fit them.

    Parameters
    ----------
    made_of : MadeOf
    reached : sequence of Reached
    bonded : sequence of Bonded
        What is said twice counts once.
    sites : int

    Returns
    -------
    Advice
        The same for the same answers.
    """
    rng = np.random.default_rng(SEED)
    answers = (made_of, tuple(dict.fromkeys(reached)), tuple(dict.fromkeys(bonded)))
    drawn = [draw_site(rng, *answers) for _ in range(sites)]
    metal = [site for site in drawn if site is not None]
    trials: dict[tuple[str, float], list[Trial]] = {}
    length: dict[int, float] = {}
    for site in metal:
        for trial in try_connections(_within_band(site)):
            trials.setdefault((trial.connection.id, trial.frequency_hz), []).append(trial)
            length[id(trial)] = site.conductor("line").length_m
    options = [
        _option(name, frequency, found, [length[id(t)] for t in found], len(metal))
        for (name, frequency), found in trials.items()
    ]
    # of options that do as well, to a twentieth, the lower frequency; induction only where nothing else works
    options.sort(
        key=lambda o: (o.connection != "induction" or o.works == 0, round(20 * o.merit), -o.frequency_hz),
        reverse=True,
    )
    tied = [o for o in options if o.connection != "induction"]
    coil = [o for o in options if o.connection == "induction"]
    first, second = (tied, coil) if tied and tied[0].works >= 0.25 else (coil, tied)
    return Advice(*answers, tuple(first + second), len(metal) / sites, sites)


def _within_band(site: Network) -> Network:
    top = highest_frequency(site)
    return replace(site, frequencies_hz=tuple(f for f in site.frequencies_hz if f <= top) or (500.0,))


def _option(name: str, frequency: float, trials: list[Trial], lengths: list[float], sites: int) -> Option:
    """Means over all sites; where the model does not hold at a frequency, it counts as nothing traced."""
    traced = [_share(t.traceable_m, length) for t, length in zip(trials, lengths, strict=True)]
    holds = [_share(t.holds_m, length) for t, length in zip(trials, lengths, strict=True)]
    given = [t.given_a for t in trials if t.given_a is not None]
    induced = trials[0].connection.kind is Hookup.INDUCTION
    return Option(
        connection=name,
        frequency_hz=frequency,
        traced=sum(traced) / sites,
        holds=sum(holds) / sites,
        works=sum(share >= 0.5 for share in traced) / sites,
        on_others=float(np.median([t.share_on_others for t in trials])),
        given_a=None if induced or not given else float(np.median(given)),
    )


def _share(stretch: tuple[float, float] | None, length: float) -> float:
    return 0.0 if stretch is None else min(1.0, (stretch[1] - stretch[0]) / length)
