"""`network.toml`: what is read, what is refused and how that is told."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from plumbmark.exchange.jobfolder.network import NETWORK_ENTRIES, read_network
from plumbmark.model.job import Hookup
from plumbmark.model.network import EndKind

ROOT = Path(__file__).resolve().parents[2]
JOB = """\
[job]
id = "t"
[[lines]]
id = "G1"
utility = "gas"
"""
NETWORK = """\
[network]
target = "T"
[soil]
resistivity_ohm_m = 100
[transmitter]
power_w = 1
current_ma = 250
frequencies_hz = [1000, 500]
[[conductors]]
id = "T"
line = "G1"
kind = "copper-tracer-14"
eastings_m = [0, 50]
northings_m = [0, 0]
depth_m = 0.8
[[conductors]]
id = "W"
kind = "copper-water-service"
eastings_m = [20, 20]
northings_m = [30, 0]
depths_m = [1.0, 0.8]
end_on = "T"
start = "grounded"
start_resistance_ohm = 4
[[bonds]]
id = "b"
conductor = "T"
at_m = 50
other = "W"
other_at_m = 30
[[grounds]]
id = "g"
conductor = "T"
at_m = 10
[[stakes]]
id = "S"
easting_m = -3
northing_m = -9
diameter_m = 0.01
[[connections]]
id = "d"
hookup = "direct"
conductor = "T"
at_m = 0
stake = "S"
[[connections]]
id = "c"
hookup = "clamp"
conductor = "T"
at_m = 12.5
[[connections]]
id = "i"
hookup = "induction"
easting_m = 30
northing_m = 0
bearing_deg = 90
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    (tmp_path / "network.toml").write_text(NETWORK, encoding="utf-8")
    return tmp_path


def told(folder: Path, text: str | None = None, severity: str = "error") -> list[str]:
    if text is not None:
        (folder / "network.toml").write_text(text, encoding="utf-8")
    network, findings = read_network(folder)
    assert (network is None) == any(f.severity.value == "error" for f in findings)
    return [str(f) for f in findings if f.severity.value == severity]


def test_everything_is_read(folder: Path) -> None:
    network, findings = read_network(folder)
    assert findings == []
    assert network is not None
    assert network.frequencies_hz == (500.0, 1000.0)
    assert network.transmitter.current_a == 0.25
    assert network.transmitter.power_w == 1.0
    assert network.resistivity_ohm_m == 100.0
    assert [c.kind for c in network.connections] == [Hookup.DIRECT, Hookup.CLAMP, Hookup.INDUCTION]
    water = network.conductor("W")
    assert (water.end.kind, water.end.on) == (EndKind.TEE, "T")
    assert (water.start.kind, water.start.resistance_ohm) == (EndKind.GROUNDED, 4.0)
    assert water.length_m == 30.0
    assert network.stakes[0].radius_m == 0.005


def test_soil_and_receiver_come_from_the_job_where_the_network_has_none(folder: Path) -> None:
    job = JOB + "[soil]\nresistivity_ohm_m = 35\n[[receivers]]\nid = 'R'\ncoil_spacing_m = 0.5\n"
    (folder / "job.toml").write_text(job, encoding="utf-8")
    (folder / "network.toml").write_text(
        NETWORK.replace("[soil]\nresistivity_ohm_m = 100\n", ""), encoding="utf-8"
    )
    network, _ = read_network(folder)
    assert network is not None
    assert network.resistivity_ohm_m == 35.0
    assert network.receiver.coil_spacing_m == 0.5


def test_unknown_soil_is_said(folder: Path) -> None:
    (found,) = told(folder, NETWORK.replace("[soil]\nresistivity_ohm_m = 100\n", ""), "warning")
    assert found.startswith("network.toml [soil] resistivity_ohm_m: is not given; 60 ohm m is taken")


#: What is changed, by what, and how it is told.
REFUSED = [
    (
        'target = "T"',
        'target = "X"',
        "network.toml [network] target: 'X' is no conductor of this network (T, W)",
    ),
    (
        "eastings_m = [0, 50]",
        "eastings_m = [0, 0]",
        "vertices 1 and 2 lie in one place: a leg of zero length",
    ),
    ("eastings_m = [0, 50]", "eastings_m = [0]", "northings_m: has 2 numbers and eastings_m 1"),
    ("eastings_m = [20, 20]", "eastings_m = [60, 60]", "end_on: is a loose end: the end lies 10.00 m from T"),
    ('end_on = "T"', 'end = "tee"', "end_on: is missing: a tee needs the conductor it is on"),
    ('end_on = "T"', 'end_on = "W"', "end_on: 'W' is no other conductor of this network"),
    ("easting_m = -3\nnorthing_m = -9", "easting_m = 7\nnorthing_m = 0.1", "the stake stands 0.10 m from T"),
    ("at_m = 12.5", "at_m = 51", "at_m: 51 m is past the end of T, 50.00 m long"),
    ("at_m = 50\n", "at_m = 80\n", "[[bonds]] 1 at_m: 80 m is past the end of T"),
    ('other = "W"', 'other = "Q"', "[[bonds]] 1 other: 'Q' is no conductor"),
    ('stake = "S"', 'stake = "Z"', "stake: 'Z' is no stake of this network (S)"),
    ('stake = "S"\n', "", "[[connections]] 1 stake: is missing, and hookup is direct"),
    ('hookup = "clamp"', 'hookup = "passive"', "hookup: 'passive' is not one of direct, clamp, induction"),
    ("at_m = 12.5", "at_m = 0", "the clamp is round the open end of T, where no current can flow"),
    ('kind = "copper-tracer-14"', 'kind = "string"', "kind: 'string' is no kind of conductor"),
    ("depth_m = 0.8", "depth_m = 0.0", "depth_m: 0.0 is not more than 0"),
    ("depth_m = 0.8", "depth_m = 0.001", "depth_m: 0.001 m to the centre: the conductor, of radius"),
    ("depth_m = 0.8", "depths_m = [0.8]", "depths_m: has 1 numbers and eastings_m 2"),
    ("depths_m = [1.0, 0.8]", "", "depth_m: or depths_m is needed, and one of them only"),
    ("power_w = 1", "power_w = -1", "[transmitter] power_w: -1 is not more than 0"),
    ("frequencies_hz = [1000, 500]", "frequencies_hz = []", "frequencies_hz: has 0 frequencies"),
    ("frequencies_hz = [1000, 500]", "frequencies_hz = [nan]", "frequencies_hz: nan is not a finite number"),
    ("resistivity_ohm_m = 100", "resistivity_ohm_m = 0", "resistivity_ohm_m: 0 is not 0.1 or more"),
    ('line = "G1"', 'line = "G9"', "line: 'G9' is no line of this job (G1)"),
    ('id = "c"', 'id = "d"', "id: 'd' is the id of another one above"),
    ("start_resistance_ohm = 4", "end_resistance_ohm = 4", "end_resistance_ohm: is given, and end is tee"),
]


@pytest.mark.parametrize(("old", "new", "said"), REFUSED)
def test_what_cannot_be_is_refused_and_named(folder: Path, old: str, new: str, said: str) -> None:
    assert old in NETWORK
    found = told(folder, NETWORK.replace(old, new, 1))
    assert any(said in line for line in found), found
    assert all(line.startswith("network.toml ") for line in found)


def test_frequencies_all_above_the_band_are_refused(folder: Path) -> None:
    text = NETWORK.replace("resistivity_ohm_m = 100", "resistivity_ohm_m = 1").replace(
        "[1000, 500]", "[1e6, 9e5]"
    )
    (found,) = told(folder, text)
    assert "all lie above" in found
    assert "1 ohm m" in found


def test_all_problems_at_once(folder: Path) -> None:
    text = (
        NETWORK.replace("at_m = 12.5", "at_m = 51")
        .replace('stake = "S"', 'stake = "Z"')
        .replace('target = "T"', 'target = "X"')
    )
    assert len(told(folder, text)) == 3


def test_unknown_keys_and_stakes_close_by_are_warned_of(folder: Path) -> None:
    text = NETWORK.replace("power_w = 1", "power_w = 1\npower = 2").replace(
        "northing_m = -9", "northing_m = -0.5"
    )
    text = text.replace("easting_m = -3", "easting_m = 4")
    found = told(folder, text, "warning")
    assert any("power: is not a key here" in line for line in found)
    assert any("the stake stands 0.50 m from T" in line for line in found)


def test_a_kind_of_ones_own(folder: Path) -> None:
    own = '[[kinds]]\nid = "mine"\nlike = "steel-gas-main"\noutside_diameter_m = 0.2\n'
    own += "wall_m = 0.005\ncoating_ohm_m2 = 50\n"
    (folder / "network.toml").write_text(
        NETWORK.replace('"copper-tracer-14"', '"mine"') + own, encoding="utf-8"
    )
    network, findings = read_network(folder)
    assert findings == []
    assert network is not None
    kind = network.conductor("T").kind
    assert (kind.radius_m, kind.wall_m, kind.coating_ohm_m2) == (0.1, 0.005, 50.0)


@pytest.mark.parametrize("text", ["[network", "\x00", '[network]\ntarget = "T"\n' + "a = " + "[" * 3000])
def test_what_is_no_toml(folder: Path, text: str) -> None:
    assert len(told(folder, text)) == 1


def test_missing_files(tmp_path: Path) -> None:
    assert any("job.toml: is missing" in line for line in told(tmp_path))
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    assert told(tmp_path) == ["network.toml: is missing (a hook-up plan is worked out from it)"]


def test_a_solve_does_not_look_at_it(tmp_path: Path) -> None:
    from plumbmark.exchange.jobfolder import read_job

    job = Path(shutil.copytree(ROOT / "examples" / "alder-lateral", tmp_path / "job"))
    (job / "network.toml").write_text("nonsense [", encoding="utf-8")
    _, findings = read_job(job)
    assert not [f for f in findings if "network" in str(f)]


def test_the_page_tells_every_key() -> None:
    page = (ROOT / "docs" / "job-folder.md").read_text(encoding="utf-8")
    section = re.split(r"^## ", page, flags=re.MULTILINE)
    (text,) = [part for part in section if part.startswith("network.toml")]
    missing = [
        f"{table}: {key.name}"
        for table, keys in NETWORK_ENTRIES.items()
        for key in keys
        if not re.search(rf"\b{key.name}\b", text)
    ]
    assert missing == []


def test_the_file_of_the_page_is_read_without_a_remark(tmp_path: Path) -> None:
    page = (ROOT / "docs" / "job-folder.md").read_text(encoding="utf-8")
    part = page[page.index("## network.toml") :]
    text = part[part.index("```toml\n") + 8 :]
    text = text[: text.index("```")]
    (tmp_path / "job.toml").write_text('[job]\nid = "p"\n[[lines]]\nid = "G1"\n', encoding="utf-8")
    assert told(tmp_path, text) == []
    assert told(tmp_path, severity="warning") == []
