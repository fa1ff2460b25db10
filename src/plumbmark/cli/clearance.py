"""`plumbmark clearance`: where no machine may go."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from plumbmark.cli.telling import tell


@click.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option(
    "--rules",
    default="default",
    metavar="NAME",
    help="Tolerance zone: a name, or a TOML file of your own. A wrong name lists those there are.",
)
@click.option("--asked", metavar="LENGTH", help="Separation asked for, with its unit: '12 in', '0.3 m'.")
@click.option(
    "--json", "json_path", type=click.Path(path_type=Path), metavar="FILE", help="Write the numbers there."
)
def clearance(job: Path, rules: str, asked: str | None, json_path: Path | None) -> None:
    """Check the digs of the folder JOB against every solved line and record.

    Needs dig.geojson. Says for each stretch what it demands, what is still unanswered, and which test
    holes settle most. Nothing it says permits a machine inside a tolerance zone. Exit codes as for solve.
    """
    from plumbmark.app.clearance import clearance_folder

    outcome = clearance_folder(job, rules, asked, json_path, now=datetime.now(UTC))
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
