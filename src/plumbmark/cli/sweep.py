"""`plumbmark sweep`: where to walk before the first reading, and what the passes walked are worth."""

from __future__ import annotations

from pathlib import Path

import click

from plumbmark.cli.telling import tell


@click.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option(
    "--json", "json_path", type=click.Path(path_type=Path), metavar="FILE", help="Write the numbers there."
)
@click.option(
    "--out", "out_folder", type=click.Path(path_type=Path), metavar="FOLDER", help="Write the picture page."
)
def sweep(job: Path, json_path: Path | None, out_folder: Path | None) -> None:
    """Plan the sweep of the digs in the folder JOB, and weigh the passes walked.

    Needs dig.geojson. Without passes.csv it says where to walk; with it, what was swept, which gaps are
    left, the fewest further passes, and what "looked, no signal" rules out there. Exit codes as for solve.
    """
    from plumbmark.app.sweep import sweep_folder

    outcome = sweep_folder(job, json_path, out_folder)
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
