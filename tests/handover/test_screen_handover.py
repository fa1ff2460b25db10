"""The handover: what stands, what is missing, what stays open."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from pydantic import TypeAdapter

from plumbmark.handover.screen_handover import handover_screen
from plumbmark.model.estimate import Identity, Solution, Trust
from plumbmark.model.job import Hookup, Job, Line, Setup
from plumbmark.model.mark import MarkState, PaintedMark
from plumbmark.model.reading import Place
from plumbmark.model.screen_handover import HandoverScreen
from plumbmark.model.screen_parts import JobState, Told
from plumbmark.model.sweep import Heard, Pass, PassPoint, SearchMethod
from plumbmark.model.ticket import OwnerAnswer, OwnerSaid, PhotoFact, Ticket

NOW = datetime.fromisoformat("2026-11-25T14:03:00+01:00")
STATE = JobState(NOW, answered_at=NOW)
TICKET = Ticket(
    number="7",
    place="Alder Street 17",
    white_lined=True,
    may_dig_from=NOW + timedelta(days=1),
    expires_at=NOW + timedelta(days=9),
)
RING = ((11.0, 0.0), (18.0, 0.0), (18.0, 7.0), (11.0, 7.0), (11.0, 0.0))


def missing(found: HandoverScreen) -> dict[str, str]:
    return {check.id: check.missing for check in found.record if check.missing}


def whole(invented) -> tuple[Job, Solution, JobState]:
    """A job of which nothing is missing and nothing known stays open."""
    job, solution = invented(5)
    line = solution.lines[0]
    stations = tuple(replace(s, trust=Trust.HOLDS) for s in line.stations)
    middle = stations[2]
    later = NOW + timedelta(minutes=9)
    points = tuple(PassPoint(Place(*p), 2, taken_at=later) for p in RING)
    job = replace(
        job,
        ticket=TICKET,
        owners=(OwnerAnswer("North Power", 2, "electric", OwnerSaid.MARKED),),
        lines=(replace(job.lines[0], setups=(Setup("", "E1", Hookup.CLAMP, 10_000.0),)),),
        readings=tuple(replace(r, taken_at=NOW, by="R. Vale") for r in job.readings),
        records=(),
        marks=(
            PaintedMark(
                "M1", Place(middle.easting_m, middle.northing_m), 2, "E1", painted_at=NOW, by="R. Vale"
            ),
        ),
        photographs=(PhotoFact("1.jpg", 2, mark="M1"),),
        passes=(Pass("P1", 2, SearchMethod.ACTIVE, points, signal=Heard.MARKED),),
    )
    state = replace(
        STATE, frozen="handed over", told=(Told("Dig Co", "where the marks are", "in person", NOW),)
    )
    proven = replace(line, stations=stations, identity=Identity.PROVEN)
    return job, replace(solution, lines=(proven,)), state


def test_a_whole_record_can_stand_and_permits_nothing(invented) -> None:
    found = handover_screen(*whole(invented))
    assert missing(found) == {}
    assert found.can_stand
    assert found.headline == "The record can stand, and nothing that is known stays open."
    assert "says nothing of whether anybody may dig" in found.cautions[0]


def test_each_missing_thing_is_named_alone(invented) -> None:
    """One thing taken away from a whole record is the one thing that is missing."""
    job, solution, state = whole(invented)
    (mark,) = job.marks
    cases = {
        "ticket": (replace(job, ticket=replace(TICKET, white_lined=None)), state, "outlined in white"),
        "owners": (replace(job, owners=(OwnerAnswer("North Gas", 2, "gas"),)), state, "Gas (North Gas)"),
        "readings": (
            replace(job, readings=(replace(job.readings[0], by=""), *job.readings[1:])),
            state,
            "r01",
        ),
        "hookups": (replace(job, lines=(replace(job.lines[0], setups=()),)), state, "E1"),
        "photographs": (replace(job, photographs=()), state, "E1"),
        "round": (replace(job, passes=()), state, "No pass was walked"),
        "marks": (replace(job, marks=(replace(mark, by=""),)), state, "M1"),
        "told": (job, replace(state, told=()), "Nobody"),
        "frozen": (job, replace(state, late=2), "2 entries"),
    }
    for name, (changed, how, said) in cases.items():
        found = handover_screen(changed, solution, how)
        assert list(missing(found)) == [name]
        assert said in missing(found)[name]
        assert not found.can_stand
        assert found.record[0].id == name, "what is missing stands first"
        assert found.headline == "The record cannot stand yet: 1 thing is missing."


def test_no_owner_written_down_is_not_no_owner(invented) -> None:
    job, solution, state = whole(invented)
    assert (
        "No owner is written down"
        in missing(handover_screen(replace(job, owners=()), solution, state))["owners"]
    )


def test_what_stays_open_is_said(invented) -> None:
    job, solution, state = whole(invented)
    water = OwnerAnswer("North Water", 3, "water", OwnerSaid.NOT_LOCATED, "plastic, no wire")
    job = replace(
        job,
        owners=(*job.owners, water),
        lines=(*job.lines, Line("W1", private=True)),
        ticket=replace(TICKET, expires_at=NOW),
    )
    line = replace(solution.lines[0], identity=Identity.LIKELY)
    found = handover_screen(job, replace(solution, lines=(line,)), state)
    said = "\n".join(found.open)
    assert "The ticket ran out" in said
    assert "Water (North Water): could not locate: plastic, no wire." in said
    assert "W1, utility unknown: nothing was read of it." in said
    assert "E1, electric: likely the line it is said to be, not proven." in said
    assert said.count("E1, electric") == 1
    assert "Private, covered by no ticket: W1." in said


def test_marks_as_painted_stand_beside_what_is_computed(invented) -> None:
    job, solution, state = whole(invented)
    (mark,) = job.marks
    off = replace(mark, id="M2", place=Place(mark.place.easting_m, mark.place.northing_m + 1.5))
    gone = replace(mark, id="M3", state=MarkState.GONE)
    other = replace(mark, id="M4", line="X9")
    found = handover_screen(replace(job, marks=(mark, gone, other, off)), solution, state)
    assert [(p.mark, p.in_band) for p in found.painted] == [
        ("M2", False),
        ("M1", True),
        ("M3", None),
        ("M4", None),
    ]
    assert "outside the band" in found.painted[0].words
    assert found.painted[1].photographs == ("1.jpg",)
    assert "Painted outside the band of the line: M2." in found.open


def test_what_is_still_to_be_painted_can_be_written_as_it_stands(invented) -> None:
    job, solution, state = whole(invented)
    bare = replace(job, marks=())
    before = handover_screen(bare, solution, state).to_paint
    assert [m.key for m in before] == [f"E1-{k + 1}" for k in range(len(before))]
    cells = before[2].cells
    assert (cells["line"], cells["kind"], cells["colour"]) == ("E1", "centre", "red")
    there = Place(float(cells["easting_m"]), float(cells["northing_m"]))
    painted = PaintedMark("E1-3", there, 2, "E1", painted_at=NOW, by="R. Vale")
    after = handover_screen(replace(bare, marks=(painted,)), solution, state)
    assert [m.key for m in after.to_paint] == [m.key for m in before if m.key != "E1-3"]
    assert after.painted[0].in_band
    gone = replace(painted, state=MarkState.GONE)
    again = handover_screen(replace(bare, marks=(gone,)), solution, state).to_paint
    assert "E1-3-2" in [m.key for m in again], "what washed away is to be painted anew, under another key"


def test_a_place_by_words_has_a_mark_by_words_and_no_distance(invented) -> None:
    """Its reading stands on a baseline made for it: no length measured there means anything."""
    job, solution, state = whole(invented)
    places = {("readings", r.id): f"{k + 1} paces from the gate" for k, r in enumerate(job.readings)}
    state = replace(state, places=places)
    found = handover_screen(replace(job, marks=()), solution, state)
    assert [m.key for m in found.to_paint] == [r.id for r in job.readings]
    first = found.to_paint[0]
    assert first.words.startswith("Reading r01. ")
    assert first.cells == {
        "line": "E1",
        "kind": "centre",
        "colour": "red",
        "place_words": "reading r01, 1 paces from the gate",
    }
    far = PaintedMark("r01", Place(0.0, 100_000.0), 2, "E1", painted_at=NOW, by="R. Vale")
    state = replace(state, places={**places, ("marks", "r01"): first.cells["place_words"]})
    found = handover_screen(replace(job, marks=(far,)), solution, state)
    (row,) = found.painted
    assert row.in_band is None
    assert "by words only" in row.words
    assert [m.key for m in found.to_paint] == [r.id for r in job.readings[1:]]


def test_an_answer_of_lines_that_were_taken_out_since_plans_no_marks(invented) -> None:
    job, solution, state = whole(invented)
    found = handover_screen(replace(job, lines=(), readings=(), marks=()), solution, state)
    assert found.to_paint == ()


def test_ledger_told_and_files(invented) -> None:
    job, solution, state = whole(invented)
    earlier = Told("North Power", "the marks", "by phone", NOW - timedelta(hours=1))
    found = handover_screen(job, solution, replace(state, told=(earlier, *state.told)))
    assert [row.name for row in found.ledger] == ["North Power, electric", "E1, electric"]
    assert [t.who for t in found.told] == ["Dig Co", "North Power"]
    excavator = next(f for f in found.files if f.audience == "excavator")
    assert "No depth" in excavator.says
    assert [form.path for form in excavator.forms] == [
        "report.pdf?audience=excavator",
        "report.html?audience=excavator",
    ]


def test_before_anything_is_read() -> None:
    found = handover_screen(Job("alder-17"), None, JobState(NOW))
    assert not found.can_stand
    assert {"ticket", "owners", "readings", "marks", "told", "frozen"} <= set(missing(found))


def test_json_and_back(invented, three_lines) -> None:
    adapter = TypeAdapter(HandoverScreen)
    for job, solution, state in (whole(invented), (*three_lines, STATE)):
        found = handover_screen(job, solution, state)
        assert adapter.validate_json(adapter.dump_json(found)) == found
