"""`plumbmark import`: records out of other programs' files."""

from __future__ import annotations

from pathlib import Path

import click

from plumbmark.cli.telling import tell

_FILE = click.Path(path_type=Path)


@click.command("import")
@click.argument("job", type=_FILE)
@click.argument("file", type=_FILE)
@click.option("--layer", "layers", multiple=True, metavar="NAME", help="Only this layer; may be given often.")
@click.option("--crs", metavar="EPSG:…", help="The coordinate system of FILE, where it does not say so.")
@click.option("--utility", metavar="WORD", help="What the lines carry, where FILE does not say so.")
@click.option("--source", metavar="TEXT", help="Where the records are from; the file's name if not given.")
@click.option("--replace", is_flag=True, help="Put them in the place of records of the same id.")
def import_(
    job: Path,
    file: Path,
    layers: tuple[str, ...],
    crs: str | None,
    utility: str | None,
    source: str | None,
    replace: bool,
) -> None:
    """Take the lines in FILE into the records of the folder JOB.

    The ending says how FILE is read: .gpkg .geojson .dxf .kml .csv .xlsx .parquet. Exit codes as for solve.
    """
    from plumbmark.app.records_in import Source, take_records

    outcome = take_records(job, Source(file, layers, crs, utility, source, replace))
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
