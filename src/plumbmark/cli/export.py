"""`plumbmark export`: a job as a file that other programs open."""

from __future__ import annotations

from pathlib import Path

import click

from plumbmark.cli.telling import tell


@click.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--layer", "layers", multiple=True, metavar="NAME", help="Only this layer; may be given often.")
@click.option("--crs", metavar="EPSG:…", help="Bring coordinates into this system, and say how good that is.")
@click.option("--rules", default="default", metavar="NAME", help="Tolerance zone, as for clearance.")
def export(job: Path, file: Path, layers: tuple[str, ...], crs: str | None, rules: str) -> None:
    """Solve the folder JOB and write it to FILE for other programs.

    The ending says how: .gpkg .geojson .dxf .kml .csv .xlsx .parquet. Exit codes as for solve.
    """
    from plumbmark.app.export import Wanted, export_folder

    outcome = export_folder(job, Wanted(file, layers, crs, rules))
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
