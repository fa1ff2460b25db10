"""A log with a mapping laid over it: which part, which use, what each column holds, what is still open."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from plumbmark.exchange.readers import fields as f
from plumbmark.exchange.readers.asking import Meant, questions
from plumbmark.exchange.readers.guess import Guess, guessed, unit_told
from plumbmark.exchange.readers.log import Log, Part, told
from plumbmark.exchange.readers.mapped import Mapped, mapped_rows
from plumbmark.exchange.readers.places import PLACED, Given
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.log import ColumnMeaning, LogMapping, LogQuestion

#: What only a receiver over a line writes down.
_OF_READINGS = ("depth", "current", "null_offset", "half_left", "half_right", "raised_depth", f.FREQUENCY)
_SHOWN = 3


@dataclass(frozen=True, slots=True)
class Understood:
    """A part of a log as it is taken.

    Attributes
    ----------
    part : Part
    use : str
    guesses : tuple of Guess
        What each column holds, those that a person settled included.
    columns : tuple of Meant
        Those that hold something.
    questions : tuple of LogQuestion
    findings : tuple of Finding
    """

    part: Part
    use: str
    guesses: tuple[Guess, ...]
    columns: tuple[Meant, ...]
    questions: tuple[LogQuestion, ...]
    findings: tuple[Finding, ...]

    @property
    def answers(self) -> dict[str, str]:
        """Answers by question."""
        return {q.id: q.answer for q in self.questions if q.answer}

    @property
    def open(self) -> tuple[LogQuestion, ...]:
        """Questions without an answer."""
        return tuple(q for q in self.questions if not q.answer)

    @property
    def mapping(self) -> LogMapping:
        """What a person would confirm now."""
        meant = zip(self.part.columns, self.guesses, strict=True)
        columns = tuple(ColumnMeaning(name, guess.field, guess.unit) for name, guess in meant)
        return LogMapping(self.use, self.part.name, columns, self.answers)

    def mapped(self, given: Given, file: str) -> Mapped:
        """Its rows as they would be written down; there must be no open question."""
        return mapped_rows(self.part, self.use, self.columns, self.answers, given, file)

    def preview(self, given: Given, file: str) -> tuple[dict[str, str], ...]:
        """The first rows as they would be written down, without columns that a question is open about."""
        few = replace(self.part, rows=self.part.rows[:_SHOWN], numbers=self.part.numbers[:_SHOWN])
        waiting = {q.id for q in self.open}
        known = tuple(m for m in self.columns if not _waits(m, waiting))
        found = mapped_rows(few, self.use, known, self.answers, given, file)
        key = f.key_of(self.use)
        return tuple(
            ({key: k} if k else {}) | row for k, rows in found.entries for row in rows[:_SHOWN] if row
        )[:_SHOWN]


def understood(
    log: Log, mapping: LogMapping | None, remembered: LogMapping | None, given: Given
) -> Understood:
    """Lay a mapping over a log.

    Parameters
    ----------
    log : Log
    mapping : LogMapping or None
        What a person said.
    remembered : LogMapping or None
        What was confirmed for columns like these before; it counts where `mapping` is None.
    given : Given
        What is known of the job.

    Returns
    -------
    Understood
    """
    said = mapping or remembered or LogMapping()
    part = next((each for each in log.parts if each.name == said.part), log.parts[0])
    use = said.use if said.use in part.uses else likely_use(part)
    findings: list[Finding] = []
    guesses = _settled(part, use, said, "as you said" if mapping else "as the last time", findings)
    fields = f.fields_of(use)
    columns = [Meant(fields[guess.field], guess.unit, at) for at, guess in enumerate(guesses) if guess.field]
    asked = questions(part, use, columns, said.answers, given)
    left = [name for name, guess in zip(part.columns, guesses, strict=True) if not guess.field]
    if left and part.rows:
        some = ", ".join(f"'{name}'" for name in left[:20]) + (" and others" if len(left) > 20 else "")
        findings.append(told(part.name or "the log", f"not taken: {some}"))
    return Understood(part, use, tuple(guesses), tuple(columns), tuple(asked), tuple(findings))


def _waits(meant: Meant, waiting: set[str]) -> bool:
    """Whether an open question is about a column."""
    if meant.field.units and not meant.unit:
        return True
    if meant.field.holds is f.Holds.MOMENT:
        return bool(waiting & {"zone", "dates", "day"})
    if meant.field.name in PLACED:
        return bool(waiting & {"grid", "crs", "decimal"})
    return "decimal" in waiting and meant.field.holds in (f.Holds.LENGTH, f.Holds.SCALED, f.Holds.ANGLE)


def likely_use(part: Part) -> str:
    """What the rows of a part most likely become."""
    if "readings" not in part.uses or len(part.uses) == 1 or part.known:
        return part.uses[0]
    held = {use: {guess.field for guess in guessed(part, use)} for use in part.uses}
    if "depth_to_top" in held.get("test_holes", ()):
        return "test_holes"
    if held["readings"] & set(_OF_READINGS):
        return "readings"
    if "kind" in held.get("things", ()):
        return "things"
    placed = held["readings"] & {"longitude_deg", "easting"}
    timed = held["readings"] & {f.TIME, f.CLOCK}
    return f.POSITIONS if placed and timed and f.POSITIONS in part.uses else "readings"


def _settled(part: Part, use: str, said: LogMapping, why: str, findings: list[Finding]) -> list[Guess]:
    """What each column holds: what was said of it, else what is guessed; no field twice."""
    fields = f.fields_of(use)
    guesses = list(guessed(part, use))
    told_of = {each.column: each for each in said.columns}
    own: dict[int, Guess] = {}
    for k, (name, guess) in enumerate(zip(part.columns, guesses, strict=True)):
        each = told_of.get(name)
        if each is None or (each.field and each.field not in fields):
            continue
        unit = each.unit or (guess.unit if guess.field == each.field else _unit_of(part, use, k, each.field))
        same = (each.field, unit) == (guess.field, guess.unit)
        own[k] = Guess(each.field, unit, guess.why if same else why)
    counts = Counter(guess.field for guess in own.values() if guess.field not in ("", f.NOTE))
    for field, count in counts.items():
        if count > 1:
            names = ", ".join(f"'{part.columns[k]}'" for k, guess in own.items() if guess.field == field)
            what = f"{names} are all to hold {fields[field].words}: leave one"
            findings.append(Finding(Severity.ERROR, part.name or "the log", what))
    for k in range(len(guesses)):
        if k in own:
            guesses[k] = own[k]
        elif guesses[k].field in counts:
            guesses[k] = Guess("", "", "another column holds it")
    for k, (name, guess) in enumerate(zip(part.columns, guesses, strict=True)):
        units = fields[guess.field].units if guess.field else ()
        answer = said.answers.get(f"unit:{name}", "")
        if not guess.unit and answer in units:
            guesses[k] = replace(guess, unit=answer)
        elif guess.unit and guess.unit not in units:
            guesses[k] = replace(guess, unit="")
    return guesses


def _unit_of(part: Part, use: str, at: int, field: str) -> str:
    """The unit that name or cells of a column tell for a field it was not guessed to hold."""
    named = f.fields_of(use).get(field)
    return (
        "" if named is None else unit_told(named, part.columns[at], [row[at] for row in part.rows if row[at]])
    )
