"""Nothing that stands in a file raises, and a job comes out if and only if nothing is wrong."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from plumbmark.exchange.jobfolder import read_job
from plumbmark.exchange.jobfolder.schema import PROFILES, READINGS, SIDE_READINGS, TEST_HOLES, TIES
from plumbmark.model.finding import Severity
from plumbmark.model.job import Job

JOB = b"""[job]
id = "p"
[[lines]]
id = "E1"
[[lines]]
id = "C1"
[[corners]]
id = "a"
easting_m = 0.0
northing_m = 0.0
[[corners]]
id = "b"
easting_m = 10.0
northing_m = 0.0
[[baselines]]
id = "B1"
start_easting_m = 0.0
start_northing_m = 0.0
end_easting_m = 30.0
end_northing_m = 0.0
"""
GOOD = b"reading,line,easting_m,northing_m\nr1,E1,1,2\nr2,E1,3,2\n"
SCHEMAS = {
    "readings.csv": READINGS,
    "profiles.csv": PROFILES,
    "side_readings.csv": SIDE_READINGS,
    "test_holes.csv": TEST_HOLES,
    "ties.csv": TIES,
}
CELLS = [
    "",
    "1",
    "-1",
    "0..1",
    "2..1",
    "1.5 m",
    "3 ft 6 in",
    "3'6\"",
    "E1",
    "C1",
    "r1",
    "B1",
    "a",
    "b",
    "P1",
    "yes",
    "no",
    "nan",
    "1e308",
    "-1e308",
    "1e-320",
    "db",
    "peak",
    "+",
    "2024-05-06T08:03:00-05:00",
    "\u0661",
    "=1+1",
    "\t",
    "1,5",
    '"',
]


@contextmanager
def folder(files: dict[str, bytes]) -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        for file, data in files.items():
            (Path(name) / file).write_bytes(data)
        yield Path(name)


def read(files: dict[str, bytes]) -> Job | None:
    with folder(files) as path:
        job, findings = read_job(path)
        again = read_job(path)
    assert (job is None) == any(f.severity is Severity.ERROR for f in findings)
    assert len(findings) == len(set(findings))
    assert all(f.where and f.what and "\n" not in str(f) for f in findings)
    assert (job, findings) == again
    return job


@given(st.sampled_from(["job.toml", *SCHEMAS, "records.geojson", "dig.geojson"]), st.binary(max_size=300))
def test_any_bytes(name: str, data: bytes) -> None:
    read({"job.toml": JOB, "readings.csv": GOOD, name: data})


@given(st.sampled_from(["job.toml", *SCHEMAS, "records.geojson", "dig.geojson"]), st.text(max_size=300))
def test_any_text(name: str, text: str) -> None:
    read({"job.toml": JOB, "readings.csv": GOOD, name: text.encode("utf-8", "replace")})


@given(st.data())
def test_any_cells_under_known_columns(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(SCHEMAS)))
    names = sorted({n for column in SCHEMAS[name] for n in column.names()})
    first = SCHEMAS[name][0].name
    header = data.draw(st.lists(st.sampled_from(names), unique=True, max_size=10).map(lambda h: [first, *h]))
    width = st.lists(st.sampled_from(CELLS), min_size=len(header) - 1, max_size=len(header) + 1)
    rows = data.draw(st.lists(width, max_size=6))
    text = "\n".join(
        ",".join(f'"{cell.replace(chr(34), chr(34) * 2)}"' for cell in row) for row in [header, *rows]
    )
    read({"job.toml": JOB, "readings.csv": GOOD, name: text.encode()})


scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**400), 10**400),
    st.floats(),
    st.sampled_from(["E1", "local", "EPSG:32631", ""]),
)
json_values = st.recursive(
    scalars,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(
            st.sampled_from(
                ["type", "features", "geometry", "properties", "coordinates", "crs", "id", "kind", "depths_m"]
            ),
            inner,
            max_size=5,
        ),
    ),
    max_leaves=12,
)


@given(json_values, st.sampled_from(["records.geojson", "dig.geojson"]))
def test_any_drawing(value: object, name: str) -> None:
    import json

    feature = {"type": "Feature", "properties": {"kind": "bore", "depths_m": value}, "geometry": value}
    for root in (value, {"type": "FeatureCollection", "features": [feature, value]}):
        read({"job.toml": JOB, "readings.csv": GOOD, name: json.dumps(root).encode()})


toml_values = st.one_of(
    st.sampled_from(
        [
            "true",
            "1",
            "-1",
            "0",
            "1e400",
            "nan",
            "inf",
            '""',
            '"E1"',
            '"a b"',
            "[]",
            "[1]",
            '["E1"]',
            "{}",
            "{a=1}",
            "2024-01-01",
            "1_0",
            "0x1",
            '"EPSG:32631"',
            '"EPSG:2229"',
            '"unknown"',
            "9" * 400,
        ]
    ),
)


@given(st.data())
def test_any_values_under_known_keys(data: st.DataObject) -> None:
    from plumbmark.exchange.jobfolder.jobtoml import ENTRY_KEYS, JOB_KEYS, SOIL_KEYS

    tables = {
        "[job]": JOB_KEYS,
        "[soil]": SOIL_KEYS,
        **{f"[[{name}]]": keys for name, keys in ENTRY_KEYS.items()},
    }
    lines = []
    for head, keys in tables.items():
        if not data.draw(st.booleans()):
            continue
        lines.append(head)
        for key in keys:
            if data.draw(st.booleans()):
                lines.append(f"{key.name} = {data.draw(toml_values)}")
    read({"job.toml": "\n".join(lines).encode(), "readings.csv": GOOD})


@given(
    st.lists(
        st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.one_of(st.none(), st.floats(0, 99))),
        min_size=1,
        max_size=20,
    )
)
def test_what_is_written_is_read(rows: list[tuple[float, float, float | None]]) -> None:
    text = "reading,line,easting_m,northing_m,depth_m\n" + "".join(
        f"r{i},E1,{e!r},{n!r},{'' if d is None else repr(d)}\n" for i, (e, n, d) in enumerate(rows)
    )
    job = read({"job.toml": JOB, "readings.csv": text.encode()})
    assert job is not None
    got = [
        (r.place.easting_m, r.place.northing_m, None if r.depth_m is None else r.depth_m.value)
        for r in job.readings
    ]
    assert got == rows
