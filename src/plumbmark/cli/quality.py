"""`plumbmark quality`: what may be claimed under published schemes."""

from __future__ import annotations

from pathlib import Path

import click

from plumbmark.cli.telling import tell


@click.command()
@click.argument("job", type=click.Path(path_type=Path))
def quality(job: Path) -> None:
    """Say what each line of the folder JOB may claim under quality schemes.

    Stretch by stretch, and why not more; supportable, for a qualified person to sign. Exit codes as for
    solve.
    """
    from plumbmark.app.quality import quality_folder

    outcome = quality_folder(job)
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
