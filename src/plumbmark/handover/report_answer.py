"""The sections of a report that tell what was found: the answer, along each line, numbers, reasons."""

from __future__ import annotations

from collections.abc import Iterator

from plumbmark.handover import answer, words
from plumbmark.handover.page_along import HEIGHT, along_picture
from plumbmark.handover.report_blocks import Audience, Block, Drawing, Section, Table, Tone, Words
from plumbmark.handover.report_depth import Reader, may_have_band, may_have_top, shallow_top, withheld
from plumbmark.handover.report_paper import WIDTH, on_paper
from plumbmark.handover.report_section import sections_of
from plumbmark.model.clearance import ClearanceAnswer
from plumbmark.model.estimate import LineEstimate, Solution, StationEstimate
from plumbmark.model.job import Job

#: Lines whose course is drawn, sections of each line and of all, places listed one by one.
_DRAWN, _SECTIONS_EACH, _SECTIONS, _LISTED = 24, 4, 12, 3000
CAUTION_EXCAVATOR = (
    "Hand dig or vacuum inside the tolerance zone until the line is seen. No depth, mark or drawing here "
    "permits a machine inside it. What is not marked may still be there."
)
CAUTION_ENERGISED = (
    "Energised lines and equipment are for qualified people of their owner. Smell of gas, a struck line or "
    "an exposed conductor: get everyone away, then call the owner and the emergency services."
)


def answer_section(
    job: Job, solution: Solution, reader: Reader, clearance: ClearanceAnswer | None
) -> Section:
    """What each dig demands, each line in a few sentences, and the cautions that come first."""
    units = job.display_units
    blocks: list[Block] = []
    if answer.is_invented(job):
        blocks.append(Words("Invented data: no such place.", Tone.STRONG))
    for text in clearance.unanswered[: clearance.about_ticket] if clearance else ():
        blocks.append(Words(words.sentence(text), Tone.STRONG))
    for dig in clearance.digs if clearance else ():
        blocks.append(Words(f"Dig {dig.dig}: {dig.demand.value}.", Tone.LEAD))
    if clearance and clearance.unanswered:
        blocks.append(Words("What is still unanswered stands under Clearance check."))
    for line in solution.lines:
        blocks.append(Words(answer.headline(job, line), Tone.LEAD))
        said = []
        if line.stations and reader.audience is not Audience.EXCAVATOR:
            said.append(answer.what_to_paint(line, units))
        if line.stations and may_have_band(reader, job, line.line):
            said.append(answer.how_deep(line, units))
        said.append(answer.which_line(line))
        blocks.append(Words(" ".join(said)))
        if line.stations:
            toward = answer.towards(line)
            blocks += [
                Words(_without_depth(answer.second_line(n, units, toward), reader, job, line.line))
                for n in line.neighbours
            ]
    if solution.next_step is not None and reader.audience is Audience.CREW:
        blocks.append(Words(f"Next step. {words.sentence(solution.next_step.words)}", Tone.STRONG))
    missing = withheld(reader, job, solution.lines)
    if missing:
        blocks.append(Words(missing, Tone.NOTE))
    blocks.append(Words(answer.CAUTION, Tone.CAUTION))
    blocks.append(Words(CAUTION_EXCAVATOR, Tone.CAUTION))
    blocks.append(Words(CAUTION_ENERGISED, Tone.CAUTION))
    return Section("What was found", tuple(blocks))


def _without_depth(sentence: str, reader: Reader, job: Job, line: str) -> str:
    """A second line's sentence, without how deep it is where that may not be told."""
    if may_have_band(reader, job, line):
        return sentence
    start, end = sentence.find(", about "), sentence.find(" deep,")
    return sentence[:start] + sentence[end + len(" deep") :] if 0 <= start < end else sentence


def along_section(job: Job, solution: Solution, reader: Reader) -> Section | None:
    """Depth and current along each line, and sections across it where they are needed."""
    if reader.audience is Audience.EXCAVATOR:
        return None
    blocks: list[Block] = []
    left = _SECTIONS
    for number, line in enumerate(solution.lines[:_DRAWN]):
        if not line.stations or not may_have_band(reader, job, line.line):
            continue
        blocks.append(_along(job, line, number))
        sections = sections_of(job, line, min(left, _SECTIONS_EACH))
        left -= len(sections)
        blocks += sections
        blocks += [Words(answer.current_event(e, line, job.display_units)) for e in line.current_events]
    if not blocks:
        return None
    if left <= 0:
        blocks.append(Words("Sections are drawn where the numbers can be leaned on least.", Tone.NOTE))
    return Section("Along each line", tuple(blocks), new_page=True)


def _along(job: Job, line: LineEstimate, number: int) -> Drawing:
    name = answer.line_name(job, line.line)
    said = (
        f"Depth to the middle of {name} and the current along it, each inside its band, which holds "
        "the truth 19 times in 20. Crosses are what was displayed."
    )
    return on_paper(along_picture(job, line, number, WIDTH, "wide"), WIDTH, HEIGHT, said, f"{name}. {said}")


def numbers_section(job: Job, solution: Solution, reader: Reader) -> Section | None:
    """The places that were solved, one to a row."""
    listed = answer.listed_stations(solution, _LISTED)
    blocks: list[Block] = []
    total = sum(len(line.stations) for line in solution.lines)
    if total == 0:
        return None
    if sum(map(len, listed)) < total:
        blocks.append(Words(answer.left_out(sum(map(len, listed)), total), Tone.NOTE))
    for line, keep in zip(solution.lines, listed, strict=True):
        if not line.stations:
            continue
        stations = [line.stations[i] for i in keep]
        blocks.append(Words(answer.line_name(job, line.line), Tone.STRONG))
        blocks.append(_numbers(job, line, stations, reader))
        blocks.append(Words(answer.left_and_right(line), Tone.NOTE))
    blocks.append(Words(answer.TRUST_MEANING, Tone.NOTE))
    blocks.append(Words("Places are metres in the job's own system; their depths are estimates.", Tone.NOTE))
    return Section("The places", tuple(blocks), new_page=reader.audience is Audience.CREW)


def _numbers(job: Job, line: LineEstimate, stations: list[StationEstimate], reader: Reader) -> Table:
    units = job.display_units
    diameter = next((x.outside_diameter_m for x in job.lines if x.id == line.line), None)
    head = ["reading", "along", "easting, m", "northing, m", "paint"]
    widths = [1.1, 0.8, 1.3, 1.4, 1.5]
    if may_have_band(reader, job, line.line):
        head += ["depth to the middle", "current, mA"]
        widths += [3.2, 1.7]
    elif may_have_top(reader, line.line):
        head.append("top may be as shallow as")
        widths.append(2.2)
    head += ["numbers hold", "trust"]
    widths += [1.5, 1.1]

    def row(s: StationEstimate) -> Iterator[str]:
        yield s.id
        yield words.along(s.chainage_m, units)
        yield f"{s.easting_m:.2f}"
        yield f"{s.northing_m:.2f}"
        yield words.paint(s.lateral_shift_m, units)
        if may_have_band(reader, job, line.line):
            yield words.depth(s.depth_m, units)
            yield "{} ({})".format(*words.current(s.current_a))
        elif may_have_top(reader, line.line):
            yield shallow_top(s, diameter, units)
        yield words.chance(s.within_10_probability)
        yield s.trust.value

    return Table(tuple(head), tuple(tuple(row(s)) for s in stations), tuple(widths))


def reasons_section(job: Job, solution: Solution, reader: Reader) -> Section | None:
    """Why the answer is what it is, and what would help."""
    if reader.audience is Audience.EXCAVATOR:
        return None
    blocks: list[Block] = []
    listed = answer.listed_stations(solution, _LISTED)
    for line, keep in zip(solution.lines, listed, strict=True):
        if not line.stations or not may_have_band(reader, job, line.line):
            continue
        stations = [line.stations[i] for i in keep]
        asked = [("", answer.grouped(line, lambda s: s.because, stations))]
        if reader.audience is Audience.CREW:
            asked.append(("What would help: ", answer.grouped(line, lambda s: (s.next_step,), stations)))
        rows = tuple((f"{what}{who}", " ".join(said)) for what, groups in asked for who, said in groups)
        if rows:
            blocks.append(Words(answer.line_name(job, line.line), Tone.STRONG))
            blocks.append(Table(("where", "because"), rows, (1.0, 3.0)))
    return Section("Reasons", tuple(blocks)) if blocks else None
