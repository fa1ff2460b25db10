"""The command `plumbmark`."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

import click

from plumbmark import __version__
from plumbmark.cli.backup import backup, restore
from plumbmark.cli.clearance import clearance
from plumbmark.cli.devices import devices
from plumbmark.cli.export import export
from plumbmark.cli.import_ import import_
from plumbmark.cli.marks import marks
from plumbmark.cli.plan import plan
from plumbmark.cli.quality import quality
from plumbmark.cli.report import report
from plumbmark.cli.sweep import sweep
from plumbmark.cli.telling import printable, tell
from plumbmark.model.estimate import ACTIONS

_FAULT = """\
plumbmark: this is our own fault, not yours: {kind}: {what}
Nothing is known of this job now; a file that was asked for may be missing.
Please report it to the people who keep this program, with this message, the version
({version}) and the job's folder if you may share it. PLUMBMARK_DEBUG=1 shows where it happened.
"""


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.version_option(__version__, prog_name="plumbmark", message="%(prog)s %(version)s")
def cli() -> None:
    """Where a buried line really is, in what band, and why."""


@cli.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option(
    "--json", "json_path", type=click.Path(path_type=Path), metavar="FILE", help="Write the numbers there."
)
@click.option(
    "--out", "out_folder", type=click.Path(path_type=Path), metavar="FOLDER", help="Write the picture page."
)
@click.option(
    "--cannot",
    type=click.Choice(ACTIONS),
    multiple=True,
    help="An action you cannot do there; may be given more than once.",
)
def solve(job: Path, json_path: Path | None, out_folder: Path | None, cannot: tuple[str, ...]) -> None:
    """Solve the readings in the folder JOB and say where each line is.

    Exit code 0: answered. 2: something in the folder or the command is wrong, all of it is listed and
    nothing was written. 1: a fault of this program.
    """
    from plumbmark.app.solve import solve_folder

    outcome = solve_folder(job, json_path, out_folder, frozenset(cannot))
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)


cli.add_command(backup)
cli.add_command(clearance)
cli.add_command(devices)
cli.add_command(export)
cli.add_command(import_)
cli.add_command(marks)
cli.add_command(quality)
cli.add_command(report)
cli.add_command(restore)
cli.add_command(plan)
cli.add_command(sweep)


def _never_choke(stream: TextIO) -> None:
    """A terminal that lacks a letter gets a question mark in its place."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command and leave with its exit code.

    Raises
    ------
    SystemExit
        Always: 0, 2 for bad input, 1 for a fault of ours, 130 where the person broke it off.
    """
    _never_choke(sys.stdout)
    _never_choke(sys.stderr)
    try:
        code = cli.main(args=arguments, prog_name="plumbmark", standalone_mode=False)
        sys.stdout.flush()
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        sys.exit(130)
    except BrokenPipeError:
        # The reader of our output went away (`| head`): not a fault. Keep the last flush quiet too.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except Exception as error:
        if os.environ.get("PLUMBMARK_DEBUG") == "1":
            raise
        kind, what = type(error).__name__, printable(" ".join(str(error).split()))[:300]
        click.echo(_FAULT.format(kind=kind, what=what, version=__version__), err=True, nl=False)
        sys.exit(1)
    sys.exit(code if isinstance(code, int) else 0)


if __name__ == "__main__":
    main()
