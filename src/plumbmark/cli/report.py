"""`plumbmark report`: the record that is handed on."""

from __future__ import annotations

from pathlib import Path

import click

from plumbmark.cli.telling import tell

_FILE = click.Path(path_type=Path)


@click.command()
@click.argument("job", type=_FILE)
@click.option("--pdf", type=_FILE, metavar="FILE", help="Write it as PDF.")
@click.option("--html", type=_FILE, metavar="FILE", help="Write it as one HTML file.")
@click.option("--for", "audience", default="crew", metavar="WHOM", help="crew (default), excavator or owner.")
@click.option("--paper", default="a4", metavar="SIZE", help="a4 (default) or letter.")
@click.option("--owner", metavar="NAME", help="With --for owner: whose lines' depths are told.")
@click.option(
    "--depth-for",
    multiple=True,
    metavar="LINE",
    help="With --for excavator: the owner of LINE allows its depth to be given; may be given often.",
)
@click.option("--rules", default="default", metavar="NAME", help="Tolerance zone, as for clearance.")
def report(
    job: Path,
    pdf: Path | None,
    html: Path | None,
    audience: str,
    paper: str,
    owner: str | None,
    depth_for: tuple[str, ...],
    rules: str,
) -> None:
    """Solve the folder JOB and write the report of it.

    An excavator's copy has no depths but those that are allowed. Exit codes as for solve.
    """
    from plumbmark.app.report import Wanted, report_folder

    wanted = Wanted(pdf, html, audience.lower(), paper.lower(), owner, depth_for, rules)
    outcome = report_folder(job, wanted)
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
