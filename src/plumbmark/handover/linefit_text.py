"""What the currents along a line say of it, in words, with the answer to file where it is broken."""

from __future__ import annotations

import math
from typing import Any

from plumbmark.handover.answer_text import wrapped
from plumbmark.handover.plan_words import hertz
from plumbmark.handover.words import along, chance
from plumbmark.model.estimate import Interval
from plumbmark.model.linefit import Lack, LineFit
from plumbmark.model.network import Network

#: Another conductor that passes this near to a place may be bonded there [m].
_BOND_M = 1.5


def linefit_text(fit: LineFit, network: Network) -> str:
    """The fit as paragraphs of 79 columns, ending in a line feed.

    Parameters
    ----------
    fit : LineFit
    network : Network
        That its conductor is of.

    Returns
    -------
    str
    """
    return "\n".join(wrapped(said) for said in linefit_sentences(fit, network)) + "\n"


def linefit_sentences(fit: LineFit, network: Network) -> list[str]:
    """What is lacking first, then what to file or do, then soil, coating and ends."""
    units = network.display_units
    read = sum(run.chainage_m.size for run in fit.runs)
    runs = " and ".join(f"{along(run.connected_at_m, units)} ({hertz(run.frequency_hz)})" for run in fit.runs)
    said = [f"After the readings: {read} currents along {fit.conductor}, put on at {runs}."]
    broken, branch = fit.chances[Lack.BROKEN], fit.chances[Lack.BRANCH]
    if broken + branch < 0.5:
        said.append(
            f"Nothing is lacking in the sketch as far as these currents tell "
            f"({chance(1.0 - broken - branch)}); "
            f"they fit to {100 * fit.fits_to:.0f} %."
        )
    else:
        said += _lacking(fit, network)
    said.append(_ground(fit))
    return said


def linefit_data(fit: LineFit, network: Network) -> dict[str, Any]:
    """The same for a program."""
    place = {}
    for lack in (Lack.BRANCH, Lack.BROKEN):
        at = fit.position_m[lack]
        place[lack.value] = {
            "chance": round(fit.chances[lack], 4),
            "at_m": round(at.value, 2),
            "at_low_m": round(at.low, 2),
            "at_high_m": round(at.high, 2),
        }
    return {
        "conductor": fit.conductor,
        "words": linefit_sentences(fit, network),
        "nothing_chance": round(fit.chances[Lack.NOTHING], 4),
        **place,
        "resistivity_ohm_m": _told(fit.resistivity_ohm_m),
        "coating_factor": _told(fit.coating_factor),
        "start_ohm": _told(fit.start_ohm),
        "end_ohm": _told(fit.end_ohm),
    }


def _told(interval: Interval) -> list[float]:
    return [float(f"{value:.4g}") for value in (interval.low, interval.value, interval.high)]


def _lacking(fit: LineFit, network: Network) -> list[str]:
    units = network.display_units
    likely = Lack.BROKEN if fit.chances[Lack.BROKEN] >= fit.chances[Lack.BRANCH] else Lack.BRANCH
    at = fit.position_m[likely]
    where = network.conductor(fit.conductor).point_at(at.value)
    place = (
        f"about {along(at.value, units)} along {fit.conductor} (between {along(max(at.low, 0.0), units)} "
        f"and "
        f"{along(at.high, units)} 19 times in 20; near easting {where[0]:.1f}, northing {where[1]:.1f})"
    )
    odds = chance(fit.chances[likely])
    if likely is Lack.BRANCH:
        said = [f"Something takes part of the signal {place}: {odds}. A tee or a bond that the sketch lacks."]
        beside = _beside(fit, network, where)
        if beside:
            said.append(f"{' and '.join(beside)} passes there: look for a bond to it first.")
        if fit.chances[Lack.BROKEN] >= 0.05:
            said.append(f"Or {fit.conductor} is broken there: {chance(fit.chances[Lack.BROKEN])}.")
        return said
    said = [f"{fit.conductor} looks broken {place}: {odds}."]
    if fit.chances[Lack.BRANCH] >= 0.05:
        said.append(
            f"Or a tee or a bond there takes the signal: {chance(fit.chances[Lack.BRANCH])}. "
            "Grounding the far end tells them apart: a broken line does not answer to it."
        )
    if len({run.connected_at_m for run in fit.runs}) < 2:
        said.append(
            "Connect at the other end and read from there too: from both ends the place is much surer."
        )
    said.append(
        f"To file, if it is so: traced from {_ends(fit, units)} to the break; {fit.conductor} broken at "
        f"{along(at.low, units)} to {along(at.high, units)}; not located within that stretch. The owner "
        f"is told, "
        "and a test hole there shows it."
    )
    return said


def _ends(fit: LineFit, units: str) -> str:
    return " and from ".join(sorted({along(run.connected_at_m, units) for run in fit.runs}))


def _beside(fit: LineFit, network: Network, where: tuple[float, float, float]) -> list[str]:
    """Other conductors that pass near a place."""
    found = []
    for c in network.conductors:
        if c.id == fit.conductor:
            continue
        steps = max(2, math.ceil(c.length_m / 0.5))
        points = [c.point_at(c.length_m * k / steps) for k in range(steps + 1)]
        if min(math.dist(p[:2], where[:2]) for p in points) < _BOND_M:
            found.append(c.id)
    return found


def _ground(fit: LineFit) -> str:
    soil, coating = fit.resistivity_ohm_m, fit.coating_factor
    parts = [f"soil {soil.value:.0f} ohm m ({soil.low:.0f} to {soil.high:.0f})"]
    if coating.high / max(coating.low, 1e-9) < 50.0:
        parts.append(
            f"coating {coating.value:.1f} times the library's ({coating.low:.1f} to {coating.high:.1f})"
        )
    for name, end in (("start", fit.start_ohm), ("end", fit.end_ohm)):
        if end.high < 300.0:
            parts.append(f"its {name} grounded through about {end.value:.0f} ohm")
        elif end.low > 1000.0:
            parts.append(f"its {name} open")
        else:
            parts.append(f"its {name} not known from these currents")
    return f"What fits: {'; '.join(parts)}."
