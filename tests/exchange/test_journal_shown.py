"""Which facts show: corrections, taking back, two phones, a frozen job."""

from __future__ import annotations

from typing import Any

from plumbmark.model.fact import Fact

JOB = b"""\
[job]
id = "alder-17"
[[lines]]
id = "E1"
"""
ROWS = (
    b"sep=;\r\nreading;line;easting_m;northing_m;depth_ft\r\n1;E1;0;0;3.1\r\n2;E1;1;0;3.2\r\n3;E1;2;0;3\r\n"
)
PLACE = {"line": "E1", "easting_m": "5", "northing_m": "0"}


def test_corrections_and_taking_back(journal: Any) -> None:
    first = journal.entry("readings", "7", {"depth": "3 ft"})
    journal.entry("readings", "8", {"depth": "3 ft"})
    second = journal.entry("readings", "7", {"depth": "4 ft"}, over=first)
    assert journal.depths() == {"7": "4 ft", "8": "3 ft"}
    undo = journal.say("remove", {}, second)
    assert journal.depths() == {"7": "3 ft", "8": "3 ft"}
    redo = journal.say("remove", {}, undo)
    assert journal.depths() == {"7": "4 ft", "8": "3 ft"}
    journal.say("remove", {}, redo)
    journal.say("remove", {}, first)
    assert journal.depths() == {"8": "3 ft"}
    assert list(journal.depths()) == ["8"]


def test_a_correction_keeps_the_place_of_its_row(journal: Any) -> None:
    first = journal.entry("readings", "7", PLACE)
    journal.entry("readings", "8", PLACE)
    journal.entry("readings", "9", PLACE, over=first)
    rows = journal.fold().files["readings.csv"].decode().splitlines()
    assert [row.split(",")[0] for row in rows] == ["reading", "9", "8"]


def test_a_thousand_corrections_of_one_reading(journal: Any) -> None:
    last: Fact | None = None
    for number in range(1500):
        last = journal.entry("readings", "7", {"depth": f"{number} in"}, over=last)
    assert journal.depths() == {"7": "1499 in"}


def test_two_phones_that_changed_one_reading_are_asked_about(journal: Any) -> None:
    first = journal.entry("readings", "7", {"depth": "3 ft", "note": "n"})
    one = journal.entry("readings", "7", {"depth": "4 ft", "note": "n"}, over=first)
    other = journal.entry("readings", "7", {"depth": "5 ft", "note": "n"}, over=first, phone=2)
    fold = journal.fold()
    assert journal.depths() == {"7": "5 ft"}
    (asked,) = fold.conflicts
    assert asked.words == "Reading 7 was changed on two phones: depth 4 ft or 5 ft?"
    assert (asked.shown, asked.others) == (other, (one,))
    journal.say("remove", {}, other)
    assert journal.depths() == {"7": "4 ft"}
    assert not journal.fold().conflicts


def test_an_answered_question_is_not_asked_again(journal: Any) -> None:
    first = journal.entry("readings", "7", {"depth": "3 ft"})
    journal.say("remove", {}, first)
    journal.entry("readings", "7", {"depth": "5 ft"}, over=first, phone=2)
    (asked,) = journal.fold().conflicts
    assert asked.words == "Reading 7 was taken back on one phone and changed on another: does it stand?"
    assert journal.depths() == {"7": "5 ft"}
    journal.say("settled", {"question": asked.question, "answer": "kept"})
    assert not journal.fold().conflicts


def test_phones_that_agree_and_a_phone_that_changed_its_mind_are_not_asked(journal: Any) -> None:
    first = journal.entry("readings", "7", {"depth": "3 ft"})
    journal.entry("readings", "7", {"depth": "4 ft"}, over=first)
    journal.entry("readings", "7", {"depth": "5 ft"}, over=first)
    journal.entry("readings", "7", {"depth": "5 ft"}, over=first, phone=2)
    assert journal.depths() == {"7": "5 ft"}
    assert not journal.fold().conflicts


def test_readings_that_two_phones_numbered_alike_are_two_readings(journal: Any) -> None:
    for phone in (1, 2):
        journal.entry("things", "meter-1", {"kind": "meter"}, phone=phone)
        journal.entry(
            "readings", "7", {"depth": f"{phone} ft", "from_thing": "meter-1", "along": "12 ft"}, phone=phone
        )
    journal.entry("profiles", "7", {"offset_m": "0", "horizontal": "1"}, phone=2)
    journal.entry("profiles", "8", {"offset_m": "0", "horizontal": "1"}, phone=2)
    fold = journal.fold()
    assert journal.depths() == {"7": "1 ft", "7-2": "2 ft"}
    assert list(fold.rows["profiles"]) == ["7-2", "8"]
    assert fold.rows["readings"]["7-2"].rows[0]["from_thing"] == "meter-1-2"
    assert not fold.conflicts


def test_a_walk_of_one_phone_at_the_reading_of_another_belongs_to_it(journal: Any) -> None:
    journal.entry("readings", "7", {"depth": "1 ft"})
    journal.entry("profiles", "7", {"offset_m": "0", "horizontal": "1"}, phone=2)
    assert list(journal.fold().rows["profiles"]) == ["7"]


def test_an_owner_who_answered_two_people_is_asked_about(journal: Any) -> None:
    for phone, answer in ((1, "marked"), (2, "no conflict")):
        journal.entry("owners", "water", {"answer": answer}, phone=phone)
    fold = journal.fold()
    assert fold.rows["owners"]["water"].rows[0]["answer"] == "no conflict"
    assert [c.words for c in fold.conflicts] == [
        "Owner water was changed on two phones: answer marked or no conflict?"
    ]


def test_an_entry_corrects_a_row_of_a_file_and_never_takes_the_file_away(journal: Any) -> None:
    journal.bring({"job.toml": JOB, "readings.csv": ROWS})
    file = journal.facts[-1]
    journal.entry("readings", "2", {**PLACE, "depth_ft": "9"}, over=file)
    journal.entry("readings", "3")
    fold = journal.fold()
    assert [(k, e.rows[0]["depth_ft"], e.fact == file.id) for k, e in fold.rows["readings"].items()] == [
        ("1", "3.1", True),
        ("2", "9", False),
    ]
    assert [line.split(";")[0] for line in fold.files["readings.csv"].decode().splitlines()[2:]] == ["1", "2"]


def test_two_phones_that_correct_one_row_of_a_file_correct_one_reading(journal: Any) -> None:
    journal.bring({"job.toml": JOB, "readings.csv": ROWS})
    for phone in (1, 2):
        journal.entry("readings", "2", {**PLACE, "depth_ft": str(phone)}, phone=phone)
    fold = journal.fold()
    assert list(fold.rows["readings"]) == ["1", "2", "3"]
    assert fold.rows["readings"]["2"].rows[0]["depth_ft"] == "2"
    assert [c.words for c in fold.conflicts] == ["Reading 2 was changed on two phones: depth 1 or 2?"]


def test_a_frozen_job_takes_nothing_in_until_it_is_reopened(journal: Any) -> None:
    journal.entry("readings", "7", {"depth": "3 ft"})
    freeze = journal.say("freeze", {"why": "handed over"})
    before = journal.fold()
    late = journal.entry("readings", "8", {"depth": "3 ft"}, phone=2)
    told = journal.say("told", {"who": "the foreman", "how": "spoken", "what": "the marks"})
    fold = journal.fold()
    assert fold.files == before.files
    assert (fold.frozen, fold.late, fold.told) == (freeze, (late,), (told,))
    journal.say("reopen", {"why": "one more"})
    assert journal.depths() == {"7": "3 ft", "8": "3 ft"}
    assert (journal.fold().frozen, journal.fold().late) == (None, ())


def test_the_rest_of_what_is_said(journal: Any) -> None:
    journal.say("cannot", {"actions": ["raise", "bearing"]})
    undone = journal.say("cannot", {"actions": ["null"]})
    journal.say("remove", {}, undone)
    journal.say("settled", {"question": "slip:7:current_ma", "answer": "kept"})
    for done in (True, False):
        journal.say("tick", {"step": "gear", "done": done})
    fold = journal.fold()
    assert fold.cannot == {"raise", "bearing"}
    assert fold.settled == {"slip:7:current_ma": "kept"}
    assert fold.ticks == {"gear": False}
