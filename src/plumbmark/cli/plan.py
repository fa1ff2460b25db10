"""`plumbmark plan`: where to connect, where to drive the stake, which frequency."""

from __future__ import annotations

from pathlib import Path

import click

from plumbmark.cli.telling import tell
from plumbmark.model.questions import Bonded, MadeOf, Reached


@click.command()
@click.argument("job", type=click.Path(path_type=Path), required=False)
@click.option(
    "--made-of",
    type=click.Choice([word.value for word in MadeOf]),
    help="Without a JOB: what the line is made of.",
)
@click.option(
    "--reached",
    multiple=True,
    type=click.Choice([word.value for word in Reached]),
    help="Without a JOB: where a lead or a clamp gets at it; may be given again.",
)
@click.option(
    "--bonded",
    multiple=True,
    type=click.Choice([word.value for word in Bonded]),
    help="Without a JOB: what else is joined to it; may be given again.",
)
@click.option(
    "--units", type=click.Choice(["ft-in", "m"]), default="ft-in", help="Without a JOB: of what is said."
)
@click.option(
    "--json", "json_path", type=click.Path(path_type=Path), metavar="FILE", help="Write the numbers there."
)
@click.option(
    "--out", "out_folder", type=click.Path(path_type=Path), metavar="FOLDER", help="Write the picture page."
)
def plan(
    job: Path | None,
    made_of: str | None,
    reached: tuple[str, ...],
    bonded: tuple[str, ...],
    units: str,
    json_path: Path | None,
    out_folder: Path | None,
) -> None:
    """Say where to connect, where to drive the stake and which frequency to start at.

    With a folder JOB that has network.toml: compares the connections listed there by the current along
    every conductor and what a receiver would show over the target, and says what would be better.

    Without one, from three answers: what the line is made of, where it can be reached, what else is
    bonded to it. What is not answered counts as not known. Exit codes as for solve.
    """
    if job is None:
        if made_of is None and not reached and not bonded:
            raise click.UsageError(
                "name a folder JOB with network.toml, or answer --made-of, --reached and --bonded"
            )
        if json_path is not None or out_folder is not None:
            raise click.UsageError("--json and --out need a folder JOB")
        if Reached.NOWHERE in reached and len(reached) > 1:
            raise click.UsageError("--reached nowhere goes with no other answer")
        if Bonded.NOTHING in bonded and len(bonded) > 1:
            raise click.UsageError("--bonded nothing goes with no other answer")
        from plumbmark.app.plan import answer_questions

        said = answer_questions(
            MadeOf(made_of or MadeOf.UNKNOWN),
            [Reached(word) for word in reached or (Reached.END,)],
            [Bonded(word) for word in bonded or (Bonded.UNKNOWN,)],
            units,
        )
        tell(said)
        return
    if made_of is not None or reached or bonded:
        raise click.UsageError("--made-of, --reached and --bonded are for a site without a folder JOB")
    from plumbmark.app.plan import plan_folder

    outcome = plan_folder(job, json_path, out_folder)
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
