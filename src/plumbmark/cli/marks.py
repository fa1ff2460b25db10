"""`plumbmark marks`: what to paint and where."""

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
    "--svg", "svg_path", type=click.Path(path_type=Path), metavar="FILE", help="Write a sketch to scale."
)
@click.option(
    "--spacing", default="3 m", show_default=True, metavar="LENGTH", help="Marks at most so far apart."
)
@click.option(
    "--offset",
    "offsets",
    nargs=4,
    multiple=True,
    metavar="LINE FROM TO ASIDE",
    help="Where the spot cannot be painted: lengths with their units, to the right, negative to the left.",
)
@click.option("--with-depth", is_flag=True, help="Only where the owner's rule allows a depth beside a mark.")
def marks(
    job: Path,
    json_path: Path | None,
    svg_path: Path | None,
    spacing: str,
    offsets: tuple[tuple[str, str, str, str], ...],
    with_depth: bool,
) -> None:
    """Say what to paint along the lines of the folder JOB, and where.

    In the order walked, each mark found again by tape. Marks that were painted (marks.csv) are facts and
    stay as they are; how they differ from what is computed now is said. Exit codes as for solve.
    """
    from plumbmark.app.marks import MarksWanted, marks_folder

    outcome = marks_folder(job, MarksWanted(json_path, svg_path, spacing, offsets, with_depth))
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
