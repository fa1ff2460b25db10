"""`plumbmark serve`: the field app on this machine."""

from __future__ import annotations

from pathlib import Path

import click

from plumbmark.base.errors import PlumbmarkError


class _CannotServe(click.ClickException):
    """The server cannot be started, and why."""

    exit_code = 2

    def format_message(self) -> str:
        return " ".join(self.message.split())


@click.command()
@click.option("--port", default=8000, type=click.IntRange(0, 65535), help="Where to listen; 8000.")
@click.option("--host", default="127.0.0.1", metavar="NAME", help="This machine's own address; no other.")
@click.option(
    "--store", metavar="URL", help="The journal: sqlite:///FILE or postgresql://USER@HOST/DATABASE."
)
@click.option(
    "--open",
    "folders",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="JOB",
    help="Bring in the folder JOB first, unless it is there already; may be given again.",
)
@click.option("--by", default="", metavar="NAME", help="Who brings the folders in.")
def serve(port: int, host: str, store: str | None, folders: tuple[Path, ...], by: str) -> None:
    """Serve the field app to a browser on this machine, until Ctrl+C.

    What is written down goes into a journal, in a file of yours unless --store names another. Exit code 2:
    it cannot be started, and why.
    """
    try:
        _serve(port, host, store, folders, by)
    except PlumbmarkError as error:
        raise _CannotServe(str(error)) from error


def _serve(port: int, host: str, url: str | None, folders: tuple[Path, ...], by: str) -> None:
    # Loaded here, so that other commands do not wait for a server.
    from plumbmark.app.answering import Answering
    from plumbmark.app.opening import open_folder, open_journal
    from plumbmark.web.run import listening, run
    from plumbmark.web.settings import Settings, default_store, loopback_only

    loopback_only(host)
    with listening(Settings(host, port)) as listener, open_journal(url or default_store()) as store:
        settings = Settings(host, listener.getsockname()[1])
        click.echo(f"The journal is {store.database.name}")
        address = settings.address
        for folder in folders:
            opened = open_folder(store, folder, by)
            click.echo(opened.words)
            address = f"{settings.address}#/job/{opened.job}"
        click.echo(f"Open {address} in a browser on this machine. Ctrl+C ends the server.")
        run(Answering(store), settings, listener)
