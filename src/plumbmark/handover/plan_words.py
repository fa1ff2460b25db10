"""A hook-up plan in sentences: where to connect, which frequency, what to expect and to change."""

from __future__ import annotations

import math
from typing import Final

from plumbmark.base.spoken import spoken_length
from plumbmark.base.units import FOOT_M
from plumbmark.handover.words import along, sentence
from plumbmark.model.job import Hookup, Utility
from plumbmark.model.network import Connection, Network
from plumbmark.model.plan import HookupPlan, Limit, PlanStation, Trial

_LIMITS: Final = {
    Limit.VOLTAGE: "its voltage allows no more",
    Limit.CURRENT: "its current allows no more",
    Limit.POWER: "its power allows no more",
    Limit.MOMENT: "what its coil gives",
}
HOLDS_MEANING: Final = (
    "Holds: the peak is within 4 in (10 cm) of the line and the depth shown within a tenth, the receiver "
    "and the "
    "walking being perfect. Everything here is worked out from what is thought to lie there, and is as "
    "good as that."
)
CAUTION_ALWAYS: Final = (
    "The output of a transmitter can give a shock: switch it off before a lead, a clamp or the stake is "
    "touched, and "
    "keep people away from stake and leads while it is on.",
    "A stake is driven: keep off every line, known or only thought to be there.",
    "Mind the traffic: leads and stake lie where nobody trips or drives over them.",
)
CAUTION_ELECTRIC: Final = (
    "Electric lines: only the owner's people, or those qualified by the owner, open a cabinet or a meter "
    "or connect a "
    "lead to anything that may be energised. A clamp goes round the outside of an insulated cable that is "
    "seen to "
    "be sound, and nowhere else."
)
CAUTION_GAS: Final = (
    "Gas: if you smell it, connect nothing and switch nothing; get away, keep others away, call the "
    "emergency number "
    "and the owner. Only the owner's people touch bonds, insulating joints and protection boxes."
)


def hertz(frequency_hz: float) -> str:
    """A frequency as people say it.

    Examples
    --------
    >>> hertz(500.0), hertz(33e3)
    ('500 Hz', '33 kHz')
    """
    return f"{frequency_hz / 1e3:g} kHz" if frequency_hz >= 1e3 else f"{frequency_hz:g} Hz"


def milliamperes(current_a: float) -> str:
    """A current to two digits.

    Examples
    --------
    >>> milliamperes(0.19348), milliamperes(0.000062), milliamperes(0.0)
    ('190 mA', '0.062 mA', '0 mA')
    """
    ma = 1e3 * abs(current_a)
    if ma < 1e-4:
        return "0 mA"
    digits = max(0, 1 - math.floor(math.log10(ma)))
    return f"{float(f'{ma:.1e}'):.{digits}f} mA"


def how_to_connect(connection: Connection, network: Network) -> str:
    """What to do, as an order.

    Examples
    --------
    >>> from plumbmark.model.network import Network
    >>> how_to_connect(Connection("A", Hookup.CLAMP, "E1", 25.0), Network("j", "E1", ()))
    'put the clamp round E1, 25.0 m along it'
    """
    units = network.display_units
    if connection.kind is Hookup.INDUCTION:
        return (
            f"set the transmitter down at easting {connection.easting_m:.1f}, northing "
            f"{connection.northing_m:.1f}, in line with bearing {connection.bearing_deg or 0.0:.0f} "
            f"degrees, its coil "
            f"{spoken_length(connection.height_m, units)} up"
        )
    where = f"{connection.conductor}, {along(connection.at_m or 0.0, units)} along it"
    if connection.kind is Hookup.CLAMP:
        return f"put the clamp round {where}"
    stake = next((s for s in network.stakes if s.id == connection.stake), None)
    if stake is None:
        return f"connect to {where}"
    return (
        f"connect to {where}, the stake at {stake.id} (easting {stake.easting_m:.1f}, northing "
        f"{stake.northing_m:.1f})"
    )


def first_sentence(plan: HookupPlan) -> str:
    """Where to connect and at which frequency: the answer."""
    best = plan.ranked[0]
    if best.traceable_m is None:
        count = len(plan.ranked)
        return f"None of the {count} connections puts a signal on {plan.network.target} that can be traced."
    order = how_to_connect(best.connection, plan.network)
    return sentence(f"{order}, and start at {hertz(best.frequency_hz)} ({best.connection.id})")


def what_to_expect(trial: Trial, network: Network) -> str:
    """Current, reach and how far mark and depth would be off."""
    said = []
    if trial.given_a is not None:
        said.append(f"About {milliamperes(trial.given_a)} go in: {_LIMITS[trial.limit]}.")
    said.append(_reach(trial, network))
    if trial.traceable_m is not None:
        said.append(_off(trial, network))
    others = [(name, a) for name, a in trial.other_currents_a if a > 0.02 * _strongest(trial)]
    if others:
        told = ", ".join(f"{milliamperes(a)} on {name}" for name, a in others[:3])
        said.append(f"Of the signal, up to {told}.")
    return " ".join(said)


def stretch(ends: tuple[float, float] | None, network: Network) -> str:
    """A stretch of the target: all, from and to, or nowhere."""
    if ends is None:
        return "nowhere"
    length = network.conductor(network.target).length_m
    margin = 0.07 * length + 2.0
    if ends[0] <= margin and ends[1] >= length - margin:
        return "all of it"
    if network.display_units == "m":
        return f"{ends[0]:.0f} to {ends[1]:.0f} m"
    return f"{ends[0] / FOOT_M:.0f} to {ends[1] / FOOT_M:.0f} ft"


def off_words(trial: Trial) -> str:
    """How far mark and depth are off, in a few words for a table."""
    station = _typical(trial)
    if station is None:
        return "-"
    ratio = station.shown_depth_m / station.depth_m - 1.0
    if abs(ratio) < 0.015:
        return "right"
    return f"{abs(ratio) * 100:.0f} % {'shallow' if ratio < 0 else 'deep'}"


def hookup_row(trial: Trial, network: Network) -> tuple[str, ...]:
    """One way to connect in a few words: connection, start at, goes in, traced, holds, depth, on others."""
    return (
        trial.connection.id,
        hertz(trial.frequency_hz),
        "-" if trial.given_a is None else milliamperes(trial.given_a),
        stretch(trial.traceable_m, network),
        stretch(trial.holds_m, network),
        off_words(trial),
        f"{100 * trial.share_on_others:.0f} %",
    )


def cautions(network: Network) -> tuple[str, ...]:
    """Who may connect to what, shock, gas, traffic: each once, where it matters."""
    about = {c.utility for c in network.conductors}
    found = []
    if about & {Utility.ELECTRIC, Utility.LIGHTING, Utility.UNKNOWN}:
        found.append(CAUTION_ELECTRIC)
    if about & {Utility.GAS, Utility.PETROLEUM, Utility.UNKNOWN}:
        found.append(CAUTION_GAS)
    return (*found, *CAUTION_ALWAYS)


def change_words(plan: HookupPlan, number: int) -> str:
    """A change and what it would do."""
    change = plan.changes[number]
    before, after = plan.ranked[0], change.trial
    holds = stretch(after.holds_m, plan.network)
    effect = f"then mark and depth hold {'nowhere' if holds == 'nowhere' else f'over {holds}'}"
    if before.holds_m is not None and after.holds_m == before.holds_m:
        effect = "nothing else changes much"
    shares = _percent(before.share_on_others), _percent(after.share_on_others)
    share = f"{shares[0]} of the signal is on other lines now, {shares[1]} then"
    return sentence(f"{change.words}: {effect}; {share}")


def _percent(share: float) -> str:
    return "less than 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def _strongest(trial: Trial) -> float:
    return max((s.current_a for s in trial.stations), default=0.0)


def _reach(trial: Trial, network: Network) -> str:
    traced, holds = stretch(trial.traceable_m, network), stretch(trial.holds_m, network)
    target = network.target
    if trial.traceable_m is None:
        return f"The signal cannot be traced on {target}."
    first = f"It can be traced over {traced if traced != 'all of it' else f'all of {target}'}"
    if trial.holds_m is None:
        good, all_of_them = sum(s.holds for s in trial.stations), len(trial.stations)
        where = "nowhere" if not good else f"only away from there, at {good} of {all_of_them} places"
        return f"{first}, but mark and depth hold {where}."
    if holds == traced:
        return f"{first}, and mark and depth hold there."
    return f"{first}, and mark and depth hold over {holds}."


def _typical(trial: Trial) -> PlanStation | None:
    """The station in the middle of all that can be traced, by how far its depth is off."""
    followed = sorted((s for s in trial.stations if s.followed), key=lambda s: s.shown_depth_m / s.depth_m)
    return followed[len(followed) // 2] if followed else None


def _off(trial: Trial, network: Network) -> str:
    followed = [s for s in trial.stations if s.followed]
    if not followed:
        return ""
    units = network.display_units
    worst = max(followed, key=lambda s: abs(s.shown_depth_m / s.depth_m - 1.0))
    ratio = worst.shown_depth_m / worst.depth_m - 1.0
    side = max(followed, key=lambda s: abs(s.shift_m))
    said = []
    if abs(ratio) >= 0.03:
        way = "shallow" if ratio < 0 else "deep"
        said.append(
            f"The depth shows up to {100 * abs(ratio):.0f} % {way} "
            f"({spoken_length(worst.shown_depth_m, units)} for "
            f"{spoken_length(worst.depth_m, units)}, {along(worst.chainage_m, units)} along)"
        )
    if abs(side.shift_m) >= 0.02:
        way = "right" if side.shift_m > 0 else "left"
        start = "the peak stands" if said else "The peak stands"
        said.append(
            f"{start} up to {spoken_length(abs(side.shift_m), units)} {way} of the line, "
            f"{along(side.chainage_m, units)} along"
        )
    if not said:
        return "Depth and peak are right, as far as other lines go."
    return "; ".join(said) + "."
