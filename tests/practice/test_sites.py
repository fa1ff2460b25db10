"""Invented sites as a whole: same by seed, plain files that parse, and a truth that fits what was written."""

from __future__ import annotations

import csv
import itertools
import math
import tomllib
from pathlib import Path

import pytest

from plumbmark.practice import FAMILIES, Site, make_site, write_site
from plumbmark.practice.slips import KINDS
from plumbmark.practice.world import foot_on

SEEDS = (3, 4)
PLACES = (
    {"easting_m", "northing_m"},
    {"longitude_deg", "latitude_deg"},
    {"baseline", "station_m", "offset_m"},
    {"place"},
)


@pytest.fixture(scope="module")
def sites() -> dict[tuple[str, int], Site]:
    return {(family, seed): make_site(family, seed) for family in FAMILIES for seed in SEEDS}


@pytest.fixture(scope="module")
def folders(
    sites: dict[tuple[str, int], Site], tmp_path_factory: pytest.TempPathFactory
) -> dict[tuple[str, int], Path]:
    root = tmp_path_factory.mktemp("sites")
    for (family, seed), site in sites.items():
        write_site(site, root / f"{family}-{seed}")
    return {key: root / f"{key[0]}-{key[1]}" for key in sites}


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


CASES = [(family, seed) for family in FAMILIES for seed in SEEDS]


@pytest.mark.parametrize("family", FAMILIES)
def test_same_seed_same_bytes(family: str, folders: dict[tuple[str, int], Path], tmp_path: Path) -> None:
    write_site(make_site(family, SEEDS[0]), tmp_path)
    again = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    first = {p.name: p.read_bytes() for p in folders[family, SEEDS[0]].iterdir()}
    second = {p.name: p.read_bytes() for p in folders[family, SEEDS[1]].iterdir()}
    assert again == first
    assert again != second


@pytest.mark.parametrize("case", CASES)
def test_folder_parses_and_hangs_together(
    case: tuple[str, int], folders: dict[tuple[str, int], Path]
) -> None:
    folder = folders[case]
    job = tomllib.loads((folder / "job.toml").read_text(encoding="utf-8"))
    lines = {line["id"] for line in job["lines"]}
    readings = _rows(folder / "readings.csv")
    ids = [row["reading"] for row in readings]
    assert len(set(ids)) == len(ids) > 0
    columns = set(readings[0])
    assert any(wanted <= columns for wanted in PLACES)
    if "place" in columns:
        ties = _rows(folder / "ties.csv")
        assert {t["corner"] for t in ties} <= {c["id"] for c in job["corners"]}
        for row in readings:
            assert sum(t["place"] == row["place"] for t in ties) >= 3
    if "baseline" in columns:
        assert {row["baseline"] for row in readings} <= {b["id"] for b in job["baselines"]}
    assert {row["line"] for row in readings} <= lines
    profiles = _rows(folder / "profiles.csv") if (folder / "profiles.csv").exists() else []
    stations = [t["station"] for t in _rows(folder / "truth.csv")]
    lonely = {p["profile"] for p in profiles} - set(ids)
    assert set(ids) <= set(stations) <= set(ids) | lonely
    for row in readings:
        for column, cell in row.items():
            if column.endswith(("_m", "_cm", "_in", "_ft", "_ma", "_deg")) and cell and ".." not in cell:
                assert math.isfinite(float(cell))


@pytest.mark.parametrize("case", CASES)
def test_truth_is_the_foot_of_the_mark_on_the_line(
    case: tuple[str, int], sites: dict[tuple[str, int], Site]
) -> None:
    site = sites[case]
    east, north = (float(v) for v in site.style["origin"].split())
    rows = {row.id: row for row in site.rows}
    by_name = {line.id: k for k, line in enumerate(site.lines)}
    for truth in site.truth:
        chain = site.world.chains[by_name[truth.line]]
        foot = foot_on(chain, truth.easting_m - east, truth.northing_m - north)
        assert (
            math.hypot(foot.easting_m + east - truth.easting_m, foot.northing_m + north - truth.northing_m)
            < 1e-6
        )
        assert foot.depth_m == pytest.approx(truth.depth_m, abs=1e-6)
        assert 0.2 <= truth.depth_m < 3.0
        assert 0.0 < truth.current_a < 2.0
        assert truth.slip in ("", *KINDS)
        row = rows.get(truth.station)
        if row is not None:
            gap = (row.easting_m - truth.easting_m, row.northing_m - truth.northing_m)
            along = gap[0] * math.sin(foot.bearing) + gap[1] * math.cos(foot.bearing)
            square = site.family == "bend" or abs(along) < 0.02
            assert square, f"{truth.station}: {along}"


@pytest.mark.parametrize("case", CASES)
def test_alone_where_nothing_else_flows(case: tuple[str, int], sites: dict[tuple[str, int], Site]) -> None:
    site = sites[case]
    assert bool(site.others) == (len(site.world.chains) > 1)
    for truth in site.truth:
        assert truth.alone == (abs(truth.shift_m) < 0.05 and abs(truth.depth_change) < 0.05)
        if len(site.world.chains) == 1:
            assert truth.alone
            assert truth.shift_m == truth.depth_change == 0.0


def test_slips_are_put_in_and_told(sites: dict[tuple[str, int], Site]) -> None:
    told = {t.slip for seed in range(12) for t in make_site("slips", seed).truth}
    assert told == {"", *KINDS}
    for (family, _), site in sites.items():
        if family != "slips":
            assert {t.slip for t in site.truth} == {""}


def test_repeat_carries_the_values_of_the_row_before() -> None:
    found = 0
    for seed in range(20):
        site = make_site("slips", seed)
        rows = sorted(site.rows, key=lambda r: r.id)
        for before, row in itertools.pairwise(rows):
            if row.slip == "repeat" and row.current_a is not None and before.current_a is not None:
                found += 1
                assert row.current_a == before.current_a
    assert found >= 5


def test_an_unknown_family_is_refused() -> None:
    with pytest.raises(KeyError):
        make_site("nothing of the kind", 1)
