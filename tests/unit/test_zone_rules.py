"""Rules of tolerance zones: what comes with the program, and what is refused of a file."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from plumbmark.base.datafile import read_data
from plumbmark.base.errors import RuleError
from plumbmark.clearance.rules import diameter_of, dig_tolerance, largest_diameter, rule_names, zone_rule
from plumbmark.model.job import Line, Utility
from plumbmark.model.record import DigKind

INCH = 0.0254


@pytest.mark.parametrize(
    ("name", "inches"),
    [  # as told by the one-call pages of the states, and CGA 5.19
        ("us-18", 18),
        ("us-ms", 18),
        ("us-co", 18),
        ("us-ma", 18),
        ("us-ri", 18),
        ("us-pa", 18),
        ("us-ny", 24),
        ("us-fl", 24),
        ("us-ca", 24),
        ("us-nv", 30),
        ("us-hi", 30),
    ],
)
def test_zones_of_the_states(name: str, inches: float) -> None:
    assert zone_rule(name).distance_m == pytest.approx(inches * INCH)


def test_half_a_foot_of_pipe_and_eighteen_inches_make_two_feet() -> None:
    # CGA 5.19 with a 12 in pipe: half-width 24 in
    assert 0.5 * 12 * INCH + zone_rule("us-18").distance_m == pytest.approx(0.6096)


@pytest.mark.parametrize("name", rule_names())
def test_every_rule_says_where_it_comes_from(name: str) -> None:
    rule = zone_rule(name)
    assert 0.3 <= rule.distance_m <= 2.0
    assert rule.source
    assert rule.clearance_source
    assert math.isfinite(rule.clearance_m)


def test_what_was_not_read_says_from_memory() -> None:
    for name in ("us-nv", "us-hi", "uk", "ca"):
        assert "from memory" in zone_rule(name).source


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("[rules.mine]\ndistance_in = 24\n", "has no source"),
        ("[rules.mine]\nsource = 'x'\n", "has no distance_m or distance_in"),
        ("[rules.mine]\nsource = 'x'\ndistance_m = -0.5\n", "distance_m: -0.5 is not above 0"),
        ("[rules.mine]\nsource = 'x'\ndistance_m = 0\n", "distance_m: 0 is not above 0"),
        ("[rules.mine]\nsource = 'x'\ndistance_m = 99\n", "at most 10 m"),
        ("[rules.mine]\nsource = 'x'\ndistance_m = nan\n", "is not a number"),
        ("[rules.mine]\nsource = 'x'\ndistance_m = '24'\n", "'24' is not a number"),
        (
            "[rules.mine]\nsource = 'x'\ndistance_m = 0.5\ndistance_in = 20\n",
            "both distance_m and distance_in",
        ),
        ("[rules.mine]\nsource = 'x'\ndistance_m = 0.5\nwidth = 3\n", "key 'width' that is not known"),
        ("[rules.mine]\nsource = 'x'\ndistance_m = 0.5\nclearance_m = -1\n", "clearance_m: -1"),
        ("[zones]\n", "no table [rules.NAME]"),
        ("[rules]\n", "has 0 rules"),
        ("rules = 3\n", "no table [rules.NAME]"),
        ("[rules]\nmine = 3\n", "is not a table"),
        ("[rules.mine\n", "is not TOML"),
    ],
)
def test_impossible_rules_are_refused(tmp_path: Path, text: str, part: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(text)
    with pytest.raises(RuleError) as said:
        zone_rule(str(path))
    assert part in str(said.value)


def test_a_rule_of_ones_own_needs_no_code(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("[rules.county]\ndistance_in = 36\nclearance_in = 6\nsource = 'contract'\n")
    rule = zone_rule(str(path))
    assert (rule.name, rule.distance_m, rule.clearance_m) == ("county", 36 * INCH, 6 * INCH)


def test_unknown_rules_are_named_with_those_there_are(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match=r"no rule 'mars' \(default, us-18"):
        zone_rule("mars")
    with pytest.raises(RuleError, match="cannot be read"):
        zone_rule(str(tmp_path / "none.toml"))


def test_every_utility_has_a_largest_diameter_and_says_so() -> None:
    for utility in Utility:
        size, said = largest_diameter(utility)
        assert 0.0 < size <= 2.0
        assert said.startswith("not known")
    assert set(read_data("colours")["colour"]) == {u.value for u in Utility}
    assert diameter_of(Line("E1", outside_diameter_m=0.03)) == (0.03, "as given")


def test_every_kind_of_dig_has_its_tolerance() -> None:
    for kind in DigKind:
        assert all(0.0 < sigma < 0.5 for sigma in dig_tolerance(kind))
