"""Quality classes: worked look-ups from the published numbers, and what electromagnetic work must not claim.

Sources: ASCE 38-22, PAS 128:2022, AS 5488.1:2022 with Main Roads WA 67-08-121, the French decree of 15
February 2012, as quoted by secondary pages; the look-ups were worked out by hand from those numbers.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from plumbmark.base.datafile import read_data
from plumbmark.handover.quality import class_under, evidence_at, quality_claims, scheme_ids
from plumbmark.handover.quality_text import quality_text
from plumbmark.model.estimate import (
    Identity,
    Interval,
    LineEstimate,
    Solution,
    StationEstimate,
    Trust,
)
from plumbmark.model.job import Job, Line, Utility
from plumbmark.model.quality import Evidence
from plumbmark.model.reading import Place, TestHole

BOTH = frozenset({"electromagnetic", "ground-radar"})
ROWS = [
    # half band in plan, in depth, depth; PAS 128 with two methods; AS 5488.1; French class, flexible
    (0.12, 0.14, 1.0, "B1", "B", "A"),
    (0.20, 0.35, 1.0, "B2", "B", "A"),
    (0.30, 0.45, 1.0, "B3", "B", "A"),  # 40 % of the depth is 0.40: the depth falls short of B2
    (0.45, None, None, "B3", "C", None),  # the French class holds for the depth too
    (0.60, 0.60, 1.0, None, None, "B"),  # outside B3, and B4 means not detected; below C
]


@pytest.mark.parametrize(("plan", "deep", "depth", "pas", "australia", "france"), ROWS)
def test_worked_rows(
    plan: float,
    deep: float | None,
    depth: float | None,
    pas: str | None,
    australia: str | None,
    france: str | None,
) -> None:
    evidence = Evidence(plan, deep, depth, BOTH)
    assert class_under("PAS 128", evidence).level == pas
    assert class_under("AS 5488.1", evidence).level == australia
    assert class_under("French classes", evidence).level == france


@pytest.mark.parametrize("plan", [0.01, 0.10, 0.15])
def test_one_method_must_not_claim_b1(plan: float) -> None:
    found = class_under("PAS 128", Evidence(plan, 0.01, 1.0))
    assert found.level == "B2"
    assert any(text.startswith("not B1: electromagnetic locating alone") for text in found.why_not_more)


@pytest.mark.parametrize(("tied", "judged"), [(False, False), (True, False), (False, True)])
def test_a_mark_without_tie_and_judgement_must_not_claim_ql_b(tied: bool, judged: bool) -> None:
    found = class_under("ASCE 38-22", Evidence(0.01, 0.01, 1.0, tied=tied, judged=judged))
    assert found.level == "QL-D"
    said = " ".join(found.why_not_more)
    assert ("not tied to a survey datum" in said) is not tied
    assert ("no qualified person" in said) is not judged


def test_ql_b_has_no_limit_of_its_own_and_ql_a_has() -> None:
    whole = Evidence(0.5, None, 1.0, tied=True, judged=True)
    assert class_under("ASCE 38-22", whole).level == "QL-B"
    eye = frozenset({"electromagnetic", "exposure"})
    seen = replace(whole, methods=eye, horizontal_m=0.05, vertical_m=0.02)
    assert class_under("ASCE 38-22", seen).level == "QL-A"
    assert class_under("ASCE 38-22", replace(seen, vertical_m=0.05)).level == "QL-B"


def test_seen_by_eye() -> None:
    seen = Evidence(0.04, 0.02, 1.0, frozenset({"electromagnetic", "exposure"}), tied=True)
    assert class_under("PAS 128", seen).level == "A"
    assert class_under("AS 5488.1", seen).level == "A"
    assert class_under("AS 5488.1", replace(seen, tied=False)).level == "B"


@pytest.mark.parametrize(
    ("half", "flexible", "connection", "level"),
    [
        (0.40, False, False, "A"),
        (0.41, False, False, "B"),
        (0.50, True, False, "A"),
        (0.51, True, False, "B"),
        (1.5, True, False, "B"),
        (1.6, True, False, "C"),
        (1.0, True, True, "B"),
        (1.1, True, True, "C"),
    ],
)
def test_french_classes(half: float, flexible: bool, connection: bool, level: str) -> None:
    evidence = Evidence(half, half, 1.0, flexible=flexible, connection=connection)
    assert class_under("French classes", evidence).level == level


@pytest.mark.parametrize(("half", "level"), [(0.02, "1"), (0.09, "2"), (0.29, "3"), (0.9, "4"), (1.1, "5")])
def test_levels_from_memory_say_so(half: float, level: str) -> None:
    found = class_under("CSA S250", Evidence(half, half, 1.0))
    assert (found.level, found.from_memory) == (level, True)


def test_every_class_has_its_source_and_memory_is_marked() -> None:
    for scheme in read_data("quality")["schemes"]:
        for row in scheme["classes"]:
            assert row["source"], (scheme["id"], row["level"])
            if row["source"].startswith("from memory"):
                assert row["from_memory"]


def station(k: int, half: float) -> StationEstimate:
    return StationEstimate(
        "reading", f"r{k}", 2.0 * k, 2.0 * k, 0.0, 2.0 * k, 0.0, 180.0,
        Interval(0.0, -half, 0.5 * half), Interval(1.0, 0.9, 1.1), Interval(0.01, 0.009, 0.011),
        0.9, 0.98, Trust.HOLDS, (), "",
    )  # fmt: skip


LINE = Line("W1", Utility.WATER, material="PE pipe")
SOLVED = LineEstimate("W1", Identity.LIKELY, (), tuple(station(k, 0.1 if k < 5 else 0.4) for k in range(10)))


def test_a_lopsided_band_counts_with_its_longer_side_and_the_fix() -> None:
    evidence = evidence_at(Job("j", lines=(LINE,)), LINE, station(0, 0.3), 0.2)
    assert evidence.horizontal_m == pytest.approx((0.3**2 + (1.96 * 0.2) ** 2) ** 0.5)
    assert (evidence.flexible, evidence.tied, evidence.judged) == (True, False, False)
    assert evidence_at(Job("j", crs="EPSG:32631"), LINE, station(0, 0.3), None).tied


def test_claims_go_stretch_by_stretch() -> None:
    job = Job("j", lines=(LINE,))
    claims = quality_claims(job, Solution("j", (SOLVED,), None))
    mine = [c for c in claims if c.supportable.scheme == "PAS 128"]
    found = [(c.from_chainage_m, c.to_chainage_m, c.supportable.level) for c in mine]
    assert found == [(0.0, 8.0, "B2"), (10.0, 18.0, "B3")]
    assert {c.supportable.scheme for c in claims} == set(scheme_ids())
    assert all(c.supportable.level != "QL-B" for c in claims)
    for scheme in scheme_ids():
        mine = [c for c in claims if c.supportable.scheme == scheme]
        assert [s for c in mine for s in c.stations] == [s.id for s in SOLVED.stations]


def test_a_test_hole_vouches_for_its_own_place_alone() -> None:
    hole = TestHole("h", "W1", Place(4.1, 0.0), 2)
    job = Job("j", crs="EPSG:32631", lines=(LINE,), test_holes=(hole,))
    near = evidence_at(job, LINE, station(2, 0.03), 0.01)
    far = evidence_at(job, LINE, station(4, 0.03), 0.01)
    assert "exposure" in near.methods
    assert "exposure" not in far.methods


def test_words() -> None:
    said = quality_text(Job("j", lines=(LINE,)), Solution("j", (SOLVED,), None))
    assert all(len(row) < 80 for row in said.splitlines())
    flat = " ".join(said.split())
    assert "PAS 128: B2, from 0.0 m to 8.0 m along." in flat
    assert "ASCE 38-22: QL-D" in flat
    lacks = "places are not tied to a survey datum; no qualified person has judged it and signed"
    assert f"Not QL-B: {lacks}." in flat
    assert "CSA S250: 3 (limits from memory)" in flat
    assert "A qualified person judges and signs" in flat
