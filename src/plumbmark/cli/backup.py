"""`plumbmark backup` and `plumbmark restore`: a store into a file and back."""

from __future__ import annotations

from pathlib import Path

import click

from plumbmark.cli.telling import tell


@click.command()
@click.argument("store", metavar="STORE")
@click.argument("file", type=click.Path(path_type=Path))
def backup(store: str, file: Path) -> None:
    """Copy STORE into FILE; the server may go on working.

    STORE is sqlite:///FILE or postgresql://USER@HOST/DATABASE. FILE ends in .zip, which a store of
    either kind takes in again (plumbmark restore), or in .sqlite: the copy that SQLite makes of itself.
    The file holds everything, names and places too: keep it as you keep the store.
    """
    from plumbmark.app.backup import backup_store

    outcome = backup_store(store, file)
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("store", metavar="STORE")
def restore(file: Path, store: str) -> None:
    """Take FILE, a zip that `plumbmark backup` wrote, into the empty store STORE.

    All of it or nothing; every hash and every chain is checked. Paired phones stay paired.
    """
    from plumbmark.app.backup import restore_backup

    outcome = restore_backup(file, store)
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
