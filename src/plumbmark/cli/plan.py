"""`plumbmark plan`: where to connect, where to drive the stake, which frequency."""

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
def plan(job: Path, json_path: Path | None, out_folder: Path | None) -> None:
    """Compare the connections that network.toml in the folder JOB lists.

    Works out the current along every conductor, what a receiver would show over the target, and how
    far that can be traced; ranks the connections, and says what would make the best of them better.
    Exit codes as for solve.
    """
    from plumbmark.app.plan import plan_folder

    outcome = plan_folder(job, json_path, out_folder)
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
