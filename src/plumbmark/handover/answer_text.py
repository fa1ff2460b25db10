"""The answer as plain text, 79 columns wide: what the terminal shows."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from plumbmark.handover import answer, words
from plumbmark.model.estimate import LineEstimate, Solution, StationEstimate
from plumbmark.model.job import Job

WIDTH = 79
_LISTED = 1000


def printable(text: str) -> str:
    """Text without control characters, so that a title cannot steer a terminal."""
    return "".join(c if c.isprintable() else " " for c in text)


def wrapped(text: str, indent: str = "", first: str | None = None) -> str:
    """A paragraph of 79 columns; `first` is the indent of its first line where that differs."""
    return textwrap.fill(
        printable(text),
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Columns under their heads; an id too long for its column gets a row to itself."""
    body = [[printable(cell) for cell in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(head, *body, strict=True)]
    widths[0] = min(widths[0], max(len(head[0]), 12))
    lines = []
    for row in (list(head), *body):
        if len(row[0]) > widths[0]:
            lines.append(row[0])
            row = ["", *row[1:]]
        lines.append("  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip())
    return lines


def _places(stations: Sequence[StationEstimate], units: str) -> list[str]:
    rows = [
        (
            s.id,
            words.along(s.chainage_m, units),
            words.paint(s.lateral_shift_m, units),
            words.depth(s.depth_m, units),
            s.trust.value,
        )
        for s in stations
    ]
    return table(("reading", "along", "paint", "depth to the middle (band)", "trust"), rows)


def _behind(stations: Sequence[StationEstimate], units: str) -> list[str]:
    rows = []
    for s in stations:
        value, ends = words.current(s.current_a)
        rows.append(
            (
                s.id,
                words.sideways(s.lateral_shift_m, units),
                f"{value} ({ends})",
                words.chance(s.within_10_probability),
            )
        )
    return table(("reading", "the line is (band)", "current, mA (band)", "numbers hold"), rows)


def _reasons(line: LineEstimate, stations: Sequence[StationEstimate]) -> list[str]:
    asked = (
        ("Because", answer.grouped(line, lambda s: s.because, stations)),
        ("What would help", answer.grouped(line, lambda s: (s.next_step,), stations)),
    )
    lines = []
    for title, found in asked:
        if found:
            lines += ["", title]
            lines += [wrapped(f"{who}: {' '.join(said)}", "    ", "  ") for who, said in found]
    return lines


def _line(job: Job, line: LineEstimate, keep: Sequence[int], units: str) -> list[str]:
    lines = [wrapped(answer.headline(job, line))]
    if line.stations:
        lines += [wrapped(answer.what_to_paint(line, units)), wrapped(answer.how_deep(line, units))]
    lines.append(wrapped(answer.which_line(line)))
    if not line.stations:
        return lines
    stations = [line.stations[i] for i in keep]
    if len(keep) < len(line.stations):
        lines += ["", wrapped(answer.left_out(len(keep), len(line.stations)))]
    lines += ["", *_places(stations, units), "", *_behind(stations, units), ""]
    lines.append(wrapped(answer.left_and_right(line)))
    if line.neighbours or line.current_events:
        toward = answer.towards(line)
        said = [answer.second_line(n, units, toward) for n in line.neighbours]
        said += [answer.current_event(e, line, units) for e in line.current_events]
        lines += ["", *map(wrapped, said)]
    return lines + _reasons(line, stations)


def answer_text(job: Job, solution: Solution) -> str:
    """The whole answer: each line, the next step, the caution.

    Parameters
    ----------
    job : Job
    solution : Solution
        Of this job.

    Returns
    -------
    str
        Lines of 79 columns at most (a longer id stands on a line of its own), ending in a line feed.
    """
    units = job.display_units
    title = f"{job.id}: {job.title}" if job.title else job.id
    blocks = [[wrapped(title)]]
    if answer.taken_on(job):
        blocks[0].append(answer.taken_on(job))
    if answer.is_invented(job):
        blocks[0].append("Invented data: no such place.")
    listed = answer.listed_stations(solution, _LISTED)
    blocks += [_line(job, line, keep, units) for line, keep in zip(solution.lines, listed, strict=True)]
    if solution.next_step is not None:
        blocks.append([wrapped(f"Next step: {words.sentence(solution.next_step.words)}")])
    if any(line.stations for line in solution.lines):
        blocks.append([wrapped(answer.TRUST_MEANING)])
    blocks.append([wrapped(answer.CAUTION)])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"
