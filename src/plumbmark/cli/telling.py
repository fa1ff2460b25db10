"""What a command says on the terminal, and the exit code it leaves with."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import click


def printable(text: str) -> str:
    """What stood in a file, without anything that steers a terminal."""
    return "".join(c if c.isprintable() else "?" for c in text)


def one_line(text: str) -> str:
    """The same on one line."""
    return printable(" ".join(text.split()))


def tell(
    text: str | None,
    problems: Iterable[str] = (),
    warnings: Iterable[str] = (),
    written: Iterable[Path] = (),
) -> None:
    """Say what came of a command: warnings and problems on standard error, the answer on standard output.

    Parameters
    ----------
    text : str or None
        The answer, with its line feeds; None where there is none.
    problems, warnings : iterable of str
        One line each.
    written : iterable of Path
        Files that were written.

    Raises
    ------
    click.exceptions.Exit
        With code 2 where there is no answer.
    """
    for warning in warnings:
        click.echo(f"warning: {one_line(warning)}", err=True)
    for problem in problems:
        click.echo(one_line(problem), err=True)
    if text is None:
        raise click.exceptions.Exit(2)
    click.echo(text, nl=False)
    for path in written:
        click.echo(f"Written: {printable(str(path))}")
