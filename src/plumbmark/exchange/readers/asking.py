"""What a log does not say and somebody has to, before anything of it is written down."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final

from plumbmark.base.errors import UnitError
from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.columns import ID, ID_RULE
from plumbmark.exchange.readers import fields as f
from plumbmark.exchange.readers import moments
from plumbmark.exchange.readers.log import Part
from plumbmark.exchange.readers.places import Given, grid_offered, sigma_of
from plumbmark.model.log import LogQuestion
from plumbmark.model.sweep import SearchMethod
from plumbmark.model.wire import QuestionChoice
from plumbmark.survey.crs import grid_system

_COMMA: Final = re.compile(r"[0-9],[0-9]")
_THOUSANDS: Final = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_ZERO: Final = re.compile(r"[+-]?0*(?:[.,]0*)?")
_UNIT_WORDS: Final = {
    "m": "metres",
    "ft": "feet",
    "in": "inches",
    "cm": "centimetres",
    "mm": "millimetres",
    "ma": "milliamperes",
    "a": "amperes",
    "ua": "microamperes",
    "hz": "Hz",
    "khz": "kHz",
    "mhz": "MHz",
    f.CELLS: "each cell says its own",
}
#: What a display cannot mean when it shows 0, so that it may stand for "not taken".
_NEVER_ZERO: Final = (
    "depth",
    "current",
    "raised_depth",
    "raised_by",
    "depth_to_top",
    "half_left",
    "half_right",
)
_MANY: Final = 12

Choices = tuple[QuestionChoice, ...]


@dataclass(frozen=True, slots=True)
class Meant:
    """The columns of a part that hold something: field, unit, and place among its columns."""

    field: f.Field
    unit: str
    at: int


def questions(
    part: Part, use: str, columns: Sequence[Meant], answers: Mapping[str, str], given: Given
) -> list[LogQuestion]:
    """All questions about a part in the order they are asked, with the answers they have.

    Parameters
    ----------
    part : Part
    use : str
    columns : sequence of Meant
    answers : mapping of str to str
        By question; the log's own are added to them.
    given : Given
        What is known of the job.

    Returns
    -------
    list of LogQuestion
        Where a log answers one beyond doubt it has that answer, which can be changed.
    """
    said = {**part.answers, **{k: v for k, v in answers.items() if v}}
    found = [
        *_units(part, columns),
        *_numbers(part, columns),
        *_times(part, use, columns),
        *_places(part, use, columns, said, given),
        *_rest(use, columns, given),
    ]
    return [_answered(question, said.get(question.id, question.answer)) for question in found]


def _answered(question: LogQuestion, answer: str) -> LogQuestion:
    """The question with an answer, if that can be one; else with the reason why it cannot."""
    if not answer or answer in (choice.value for choice in question.choices):
        return replace(question, answer=answer)
    wrong = f"{shown(answer)} is none of the answers"
    if question.example:
        try:
            _check_typed(question.id, answer)
            return replace(question, answer=answer)
        except ValueError as error:
            wrong = str(error)
    return replace(question, words=f"{question.words} ({wrong})", answer="")


def _check_typed(ident: str, answer: str) -> None:
    """Raise a ValueError for an answer that cannot be."""
    if ident == "zone":
        moments.zone_of(answer)
    elif ident == "day":
        if not 1900 <= date.fromisoformat(answer).year <= 2200:
            raise UnitError(f"{shown(answer)} is no day of ours")
    elif ident == "sigma":
        sigma_of(answer)
    elif ident in ("crs", "grid"):
        grid_system(answer)
    elif ID.fullmatch(answer) is None:
        raise UnitError(f"{shown(answer)} is not an id ({ID_RULE})")


def _units(part: Part, columns: Sequence[Meant]) -> Iterator[LogQuestion]:
    for meant in columns:
        if len(meant.field.units) > 1 and not meant.unit:
            name = part.columns[meant.at]
            some = ", ".join(dict.fromkeys(row[meant.at] for row in part.rows[:50] if row[meant.at]))[:60]
            choices = tuple(QuestionChoice(unit, _UNIT_WORDS[unit]) for unit in meant.field.units)
            yield LogQuestion(f"unit:{name}", f"What is '{name}' in? Its cells: {some or 'none'}", choices)


def _numbers(part: Part, columns: Sequence[Meant]) -> Iterator[LogQuestion]:
    numeric = [m for m in columns if m.field.holds in (f.Holds.LENGTH, f.Holds.SCALED, f.Holds.ANGLE)]
    commas = list(dict.fromkeys(row[m.at] for m in numeric for row in part.rows if _COMMA.search(row[m.at])))
    if commas:
        sure = next((cell for cell in commas if not _THOUSANDS.fullmatch(cell)), None)
        answer = "" if sure is None else ("." if "." in sure and sure.rindex(".") > sure.rindex(",") else ",")
        choices: Choices = (QuestionChoice(",", "decimals"), QuestionChoice(".", "thousands"))
        yield LogQuestion("decimal", f"What does the comma in {commas[0]!r} stand before?", choices, answer)
    zeros = [m for m in numeric if m.field.name in _NEVER_ZERO]
    counts = {part.columns[m.at]: sum(_is_zero(row[m.at]) for row in part.rows) for m in zeros}
    counts = {name: count for name, count in counts.items() if count}
    if counts:
        where = ", ".join(f"{count} in '{name}'" for name, count in counts.items())
        choices = (
            QuestionChoice("blank", "nothing was taken there"),
            QuestionChoice("zero", "0 was read"),
        )
        yield LogQuestion("zero", f"What does 0 stand for? Cells with 0: {where}", choices)


def _is_zero(cell: str) -> bool:
    return bool(cell) and any(c == "0" for c in cell) and _ZERO.fullmatch(cell) is not None


def _times(part: Part, use: str, columns: Sequence[Meant]) -> Iterator[LogQuestion]:
    at = {m.field.name: m.at for m in columns if m.field.holds is f.Holds.MOMENT}
    if not at:
        return
    dates = [row[at[name]] for name in (f.TIME, f.DAY) if name in at for row in part.rows if row[at[name]]]
    order = moments.dates_order(dates)
    if order is not None:
        choices: Choices = (
            QuestionChoice("dmy", "day, then month"),
            QuestionChoice("mdy", "month, then day"),
        )
        yield LogQuestion("dates", f"How is {dates[0]!r} to be read?", choices, order)
    clocks = [row[at[name]] for name in (f.TIME, f.CLOCK) if name in at for row in part.rows if row[at[name]]]
    if any(map(moments.needs_zone, clocks)):
        here = datetime.now().astimezone().strftime("%z")
        here = f"{here[:3]}:{here[3:]}"
        choices = (QuestionChoice("+00:00", "universal time (UTC)"),)
        if here != "+00:00":
            choices = (QuestionChoice(here, f"{here}, as this server now"), *choices)
        yield LogQuestion("zone", "By whose clock are the times?", choices, example="+01:00")
    if clocks and f.DAY not in at and any(not moments.split_moment(cell)[0] for cell in clocks):
        yield LogQuestion(
            "day", "On which day was it? The log has times of day alone", (), example="2026-11-25"
        )


def _places(
    part: Part, use: str, columns: Sequence[Meant], said: Mapping[str, str], given: Given
) -> Iterator[LogQuestion]:
    names = {m.field.name: m for m in columns}
    in_grid = {"easting", "northing"} <= set(names)
    in_degrees = {"longitude_deg", "latitude_deg"} <= set(names)
    if not (in_grid or in_degrees):
        return
    if in_grid and not in_degrees:
        grid = "its own metres" if given.crs == "local" else given.crs
        choices: Choices = (QuestionChoice("job", f"the job's own ({grid})"),)
        words = "In which coordinate system are easting and northing?"
        yield LogQuestion("crs", words, choices, example="EPSG:32631")
    offered = grid_offered(part.rows, names, said, given)
    if offered:
        choices = (
            QuestionChoice(offered, f"count in {offered}"),
            QuestionChoice("no", "leave the places out"),
        )
        words = (
            "This job counts metres from a point of its own, and these places are in a system. "
            f"It has no places yet: shall it count in {offered} from now on?"
        )
        yield LogQuestion("grid", words, choices, example="EPSG:32631")
    sigma = names.get("position_sigma")
    lacking = len(part.rows) if sigma is None else sum(1 for row in part.rows if not row[sigma.at])
    if use != "photos" and lacking:
        fix = part.columns.index("fix") if "fix" in part.columns else None
        kinds = sorted({row[fix] for row in part.rows if row[fix]}) if fix is not None else []
        beside = f" It calls them: {', '.join(kinds)}." if kinds else ""
        choices = (
            QuestionChoice("0.02", "surveyed, or a fixed solution: 2 cm"),
            QuestionChoice("0.5", "corrected, or a float solution: 0.5 m"),
            QuestionChoice("3", "a hand-held receiver or a phone: 3 m"),
        )
        words = f"How good are the places, one sigma? The log does not say it of {lacking:,}.{beside}"
        yield LogQuestion("sigma", words, choices, example="0.8")


def _rest(use: str, columns: Sequence[Meant], given: Given) -> Iterator[LogQuestion]:
    fields = {m.field.name for m in columns}
    if use in ("readings", "test_holes") and "line" not in fields and len(given.lines) > 1:
        choices = tuple(QuestionChoice(line, line) for line in given.lines[:_MANY])
        yield LogQuestion("line", "Which line are they of?", choices, example=given.lines[0])
    if use in ("readings", "test_holes", "things") and "station" in fields and "baseline" not in fields:
        choices = tuple(QuestionChoice(name, name) for name in given.baselines[:_MANY])
        yield LogQuestion("baseline", "Along which baseline?", choices, example="B1")
    if use == "passes" and "method" not in fields:
        choices = tuple(QuestionChoice(str(m), m.words) for m in SearchMethod)
        yield LogQuestion("method", "What was listened for on this pass?", choices)
