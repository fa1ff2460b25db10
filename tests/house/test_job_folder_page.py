"""docs/job-folder.md lists the columns that are read, each file's whole and no other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from plumbmark.exchange.jobfolder import schema
from plumbmark.exchange.jobfolder.columns import Column, Kind
from plumbmark.exchange.jobfolder.ticketfile import TICKET_KEYS

PLACE = {
    "easting_m",
    "northing_m",
    "longitude_deg",
    "latitude_deg",
    "baseline",
    "station_m",
    "offset_m",
    "place",
}
PLACE |= {"position_sigma_m", "place_offset_m"}
TABLES = {
    "readings.csv": schema.READINGS,
    "profiles.csv": schema.PROFILES,
    "side_readings.csv": schema.SIDE_READINGS,
    "test_holes.csv": schema.TEST_HOLES,
    "ties.csv": schema.TIES,
    "passes.csv": schema.PASSES,
    "marks.csv": schema.MARKS,
    "owners.csv": schema.OWNERS,
    "things.csv": schema.THINGS,
    "photos.csv": schema.PHOTOS,
}


@pytest.fixture(scope="module")
def page(texts: dict[Path, str]) -> dict[str, str]:
    """Section title -> text."""
    parts = re.split(r"^## (.+)$", texts[Path("docs/job-folder.md")], flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def rows(section: str) -> dict[str, str]:
    """Column -> what the page says of it."""
    return dict(re.findall(r"^\| `(\w+)` \| (.+) \|$", section, re.MULTILINE))


@pytest.mark.parametrize("name", TABLES)
def test_every_column_has_its_row_and_no_other(page: dict[str, str], name: str) -> None:
    told = set(rows(page[name]))
    read = {column.name for column in TABLES[name]}
    own = PLACE - {"offset_m"} if name == "profiles.csv" else PLACE
    assert told == (read - own if name != "ties.csv" else read)  # ties.csv names its places itself


@pytest.mark.parametrize("name", TABLES)
def test_every_choice_is_told(page: dict[str, str], name: str) -> None:
    told = rows(page[name])
    choices: list[Column] = [c for c in TABLES[name] if c.kind is Kind.CHOICE]
    missing = [
        f"{c.name}: {word}"
        for c in choices
        for word in c.choices
        if f"`{word}`" not in told[c.name] and c.name != "depth_refused"  # blank is its other choice
    ]
    assert missing == []


def test_place_columns_are_told(page: dict[str, str]) -> None:
    for column in schema.PLACE:
        assert f"`{column.name}`" in page["Places"], column.name


def test_the_file_of_the_page_is_read_without_a_remark(page: dict[str, str], tmp_path: Path) -> None:
    from plumbmark.exchange.jobfolder import read_job

    (text,) = re.findall(r"^```toml\n(.*?)^```$", page["job.toml"], re.DOTALL | re.MULTILINE)
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    (tmp_path / "readings.csv").write_text(
        "reading,line,setup,easting_m,northing_m,bearing_deg,depth_m\n1,E1,,1.0,2.0,90,0.8\n2,C1,S2,1.0,3.0,90,0.6\n",
        encoding="utf-8",
    )
    job, findings = read_job(tmp_path)
    assert [str(f) for f in findings if "not used" not in f.what] == []
    assert job is not None
    assert [line.id for line in job.lines] == ["E1", "C1"]
    assert job.ticket is not None
    assert None not in (getattr(job.ticket, key.name) for key in TICKET_KEYS)
    assert len(job.receivers) == len(job.trenches) == len(job.baselines) == len(job.corners) == 1
