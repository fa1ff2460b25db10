"""The answer to the three questions of a hook-up in words: connect here, stake there, start so."""

from __future__ import annotations

from typing import Final

from plumbmark.handover.answer_text import table, wrapped
from plumbmark.handover.plan_words import (
    CAUTION_ALWAYS,
    CAUTION_ELECTRIC,
    CAUTION_GAS,
    hertz,
    milliamperes,
)
from plumbmark.model.questions import Advice, Bonded, MadeOf, Option, Reached

_PLASTIC: Final = (
    "No signal follows plastic without a wire: push a sonde through it if it can be opened, go by records "
    "and a test "
    "hole, or answer *could not locate*."
)
#: How far off the stakes are that were tried, in words.
_STAKES: Final = {"ft-in": ("30 ft", "6 ft"), "m": ("9 m", "2 m")}
#: Two options that do as well to this share are told as one choice.
_ALIKE: Final = 0.05
_HEAD: Final = ("connection, stake", "start at", "goes in", "traced", "holds", "on others")


def advice_text(advice: Advice, units: str) -> str:
    """The whole answer.

    Parameters
    ----------
    advice : Advice
    units : str
        ``"ft-in"`` or ``"m"``.

    Returns
    -------
    str
        Lines of 79 columns, ending in a line feed.
    """
    blocks = [[wrapped(sentence) for sentence in advice_sentences(advice, units)]]
    if advice.options:
        rows = compared(advice, units)
        widest = max(len(row[0]) for row in rows)
        blocks.append(table((_HEAD[0].ljust(widest), *_HEAD[1:]), rows))
        own = "With a sketch of what lies there, plumbmark plan JOB works out your own site."
        blocks.append([wrapped(f"{tried(advice)} {own}")])
        cautions = [wrapped(c, "    ", "  - ") for c in advice_cautions(advice)]
        blocks.append(["Before anything is connected", *cautions])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def advice_sentences(advice: Advice, units: str) -> list[str]:
    """The answer first, then what to expect, then what fails if not, then plastic.

    Parameters
    ----------
    advice : Advice
    units : str

    Returns
    -------
    list of str
    """
    if not advice.options:
        return [_PLASTIC]
    best = advice.options[0]
    said = [f"{_order(best, advice, units)}, and start at {hertz(best.frequency_hz)}."]
    if best.works < 0.5:
        said = [f"Nothing here is likely to work. The best there is: {said[0][0].lower()}{said[0][1:]}"]
    current = "" if best.given_a is None else f" Expect about {milliamperes(best.given_a)} to go in."
    said.append(
        f"In {_in_ten(best.works)} such cases the signal can be traced over half of the line or more, and "
        f"mark and "
        f"depth hold over {_tenths(best.holds)} of it on average.{current}"
    )
    said += _what_fails(advice, best, units)
    if advice.metal < 1.0:
        said.append(
            f"It may be plastic without a wire ({_in_ten(1.0 - advice.metal)} such cases). {_PLASTIC}"
        )
    return said


def advice_cautions(advice: Advice) -> tuple[str, ...]:
    """Each caution once, where it matters."""
    electric = advice.made_of in (MadeOf.ELECTRIC_CABLE, MadeOf.UNKNOWN)
    electric |= Bonded.ELECTRIC in advice.bonded or Bonded.UNKNOWN in advice.bonded
    gas = advice.made_of in (MadeOf.STEEL, MadeOf.PLASTIC_WITH_WIRE, MadeOf.UNKNOWN)
    gas |= Bonded.GAS in advice.bonded or Bonded.UNKNOWN in advice.bonded
    first = (CAUTION_ELECTRIC,) if electric else ()
    return (*first, *((CAUTION_GAS,) if gas else ()), *CAUTION_ALWAYS)


def _order(option: Option, advice: Advice, units: str) -> str:
    """How to connect, as an order."""
    name = option.connection
    if name == "induction":
        return "Set the transmitter down over the line near one end of it, its coil set along the line"
    if name == "clamp":
        where = "near its end" if Reached.MIDDLE not in advice.reached else "where it is reached"
        return f"Put the clamp round the line {where}, where it is seen and sound"
    _, place, *stake = name.split("-")
    at = "at its end" if place == "end" else "at the fitting part way"
    return f"Connect to the metal {at}; drive the stake {_stake('-'.join(stake), units)}"


def _stake(name: str, units: str) -> str:
    far, near = _STAKES[units]
    return {
        "square-away": f"{far} off, square to the line, on the side where nothing else is thought to lie",
        "square-toward": f"{far} off, square to the line, toward the other lines",
        "in-line": f"{far} off, in the line's own direction",
        "square-near": f"{near} off, square to the line",
    }[name]


def _what_fails(advice: Advice, best: Option, units: str) -> list[str]:
    """The losses the other choices would bring, the worst of each sort, where they matter."""
    said = []
    same = [o for o in advice.options if o.connection == best.connection]
    higher = [o for o in same if o.frequency_hz > best.frequency_hz and o.merit < best.merit - _ALIKE]
    lower = [o for o in same if o.frequency_hz < best.frequency_hz and o.merit < best.merit - _ALIKE]
    for found, word in ((higher, "Higher"), (lower, "Lower")):
        if found:
            worst = min(found, key=lambda o: o.merit)
            said.append(f"{word} is worse: at {hertz(worst.frequency_hz)} {_outcome(worst)}.")
    stakes = [
        o
        for o in advice.options
        if o.frequency_hz == best.frequency_hz and o is not best
        if o.connection.startswith("direct") and _sort(o) == _sort(best)
    ]
    poor = [o for o in stakes if o.merit < best.merit - _ALIKE]
    if poor:
        worst = min(poor, key=lambda o: o.merit)
        where = _stake(worst.connection.split("-", 2)[2], units)
        said.append(f"With the stake {where}, {_outcome(worst)}.")
    elif stakes:
        said.append(
            "The side the stake is on makes little difference on such sites; keep it off other lines."
        )
    if best.on_others >= 0.1:
        said.append(
            f"About {_tenths(best.on_others)} of the signal goes onto other lines: check peak against "
            f"null, and the "
            "depth with the receiver raised. Only the owner's qualified people disconnect a bond: ask them."
        )
    other = next((o for o in advice.options if _sort(o) != _sort(best)), None)
    if other is not None:
        how = _order(other, advice, units)
        order = f"{how[0].lower()}{how[1:]}, at {hertz(other.frequency_hz)}"
        said.append(f"If that cannot be done: {order}; {_outcome(other)}.")
    return said


def _sort(option: Option) -> str:
    return "-".join(option.connection.split("-")[:2])


def _outcome(option: Option) -> str:
    return (
        f"the signal can be traced over {_tenths(option.traced)} of the line on average, and mark and "
        f"depth hold over "
        f"{_tenths(option.holds)}"
    )


def _in_ten(share: float) -> str:
    if share > 0.97:
        return "nearly all"
    if share < 0.03:
        return "hardly any"
    return f"about {max(1, min(9, round(10 * share)))} in 10"


def _tenths(share: float) -> str:
    if share > 0.97:
        return "all"
    count = round(10 * share)
    return {0: "hardly any", 5: "half"}.get(count, f"{count} tenth{'s' if count != 1 else ''}")


def compared(advice: Advice, units: str) -> list[tuple[str, ...]]:
    """The best frequency of each connection: how, frequency, goes in, traced, holds, on other lines."""
    rows: list[tuple[str, ...]] = []
    seen = set()
    for option in advice.options:
        if option.connection in seen:
            continue
        seen.add(option.connection)
        rows.append(
            (
                _short(option.connection, units),
                hertz(option.frequency_hz),
                "-" if option.given_a is None else milliamperes(option.given_a),
                f"{round(10 * option.traced)}/10",
                f"{round(10 * option.holds)}/10",
                f"{100 * option.on_others:.0f} %",
            )
        )
    return rows


def tried(advice: Advice) -> str:
    """What the answer was worked out on, and how its numbers are to be read."""
    return (
        f"Tried on {advice.sites} sites drawn from all you did not say: soil, length, depth, coating, far "
        "end, other lines. Traced and holds are mean parts of the line; holds: the peak within 4 in (10 cm), "
        "the depth shown within a tenth, the receiver being perfect."
    )


def _short(name: str, units: str) -> str:
    if not name.startswith("direct"):
        return name
    _, place, *stake = name.split("-")
    far, near = _STAKES[units]
    word = {
        "square-away": f"{far} square",
        "square-toward": f"{far} to others",
        "in-line": f"{far} in line",
        "square-near": f"{near} square",
    }["-".join(stake)]
    return f"{place}, {word}"
