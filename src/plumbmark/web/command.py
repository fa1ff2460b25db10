"""`plumbmark serve`: the field app on this machine."""

from __future__ import annotations

import socket
import sys
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from plumbmark.base.errors import PlumbmarkError

if TYPE_CHECKING:
    from plumbmark.web.lan import Lan


class _CannotServe(click.ClickException):
    """The server cannot be started, and why."""

    exit_code = 2

    def format_message(self) -> str:
        return " ".join(self.message.split())


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the command was given."""

    port: int
    host: str | None
    store: str | None
    folders: tuple[Path, ...]
    by: str
    lan: bool
    lan_port: int
    names: tuple[str, ...]
    gnss: str | None


@click.command()
@click.option("--port", default=8000, type=click.IntRange(0, 65535), help="Where to listen; 8000.")
@click.option(
    "--host",
    metavar="NAME",
    help="This machine's own address, 127.0.0.1; with --lan the one that phones are sent to.",
)
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
@click.option("--lan", is_flag=True, help="Serve paired phones on the same network too, over HTTPS.")
@click.option(
    "--lan-port", default=8443, type=click.IntRange(0, 65535), help="Where phones are listened to; 8443."
)
@click.option(
    "--name",
    "names",
    multiple=True,
    metavar="NAME",
    help="A name by which phones reach this machine, as van.local; may be given again.",
)
@click.option(
    "--gnss",
    metavar="SOURCE",
    help="A receiver's NMEA stream: tcp://HOST:PORT, serial:DEVICE@RATE or file:PATH.",
)
def serve(
    port: int,
    host: str | None,
    store: str | None,
    folders: tuple[Path, ...],
    by: str,
    lan: bool,
    lan_port: int,
    names: tuple[str, ...],
    gnss: str | None,
) -> None:
    """Serve the field app to a browser on this machine, and to phones with --lan, until Ctrl+C.

    What is written down goes into a journal, in a file of yours unless --store names another. Exit code 2:
    it cannot be started, and why.
    """
    try:
        _serve(_Asked(port, host, store, folders, by, lan, lan_port, names, gnss))
    except PlumbmarkError as error:
        raise _CannotServe(str(error)) from error


def _serve(asked: _Asked) -> None:
    # Loaded here, so that other commands do not wait for a server.
    from plumbmark.app.answering import Answering
    from plumbmark.app.opening import default_store, open_folder, open_journal
    from plumbmark.web.gnss import Receiver, source_of
    from plumbmark.web.run import listening, run
    from plumbmark.web.settings import Settings, loopback_only

    own = "127.0.0.1" if asked.lan or asked.host is None else asked.host
    loopback_only(own)
    receiver = None if asked.gnss is None else Receiver(source_of(asked.gnss))
    with ExitStack() as held:
        listener = held.enter_context(listening(Settings(own, asked.port)))
        lan = _lan(asked, held) if asked.lan else None
        store = held.enter_context(open_journal(asked.store or default_store()))
        settings = Settings(own, listener.getsockname()[1])
        click.echo(f"The journal is {store.database.name}")
        address = settings.address
        for folder in asked.folders:
            opened = open_folder(store, folder, asked.by)
            click.echo(opened.words)
            address = f"{settings.address}#/job/{opened.job}"
        if lan is not None:
            from plumbmark.app.devices import new_code

            code = new_code(store)
            _tell_phones(lan[0], settings.address, code.code, code.minutes)
        click.echo(f"Open {address} in a browser on this machine. Ctrl+C ends the server.")
        run(Answering(store), settings, listener, lan, receiver)


def _lan(asked: _Asked, held: ExitStack) -> tuple[Lan, socket.socket]:
    from plumbmark.app.opening import data_folder
    from plumbmark.web.certificates import authority_in
    from plumbmark.web.lan import Lan, lan_host, lan_name
    from plumbmark.web.run import bound

    host = lan_host(asked.host)
    names = tuple(lan_name(name) for name in asked.names)
    authority = authority_in(data_folder() / "lan", (host, *names), datetime.now(UTC))
    listener = held.enter_context(bound(host, asked.lan_port, "--lan-port"))
    return Lan(host, listener.getsockname()[1], names, authority), listener


def _tell_phones(lan: Lan, own: str, code: str, minutes: int) -> None:
    from plumbmark.web.install import qr_terminal

    install = f"{lan.address}install"
    if sys.stdout.isatty():
        click.echo(qr_terminal(install), nl=False)
    if lan.authority.is_new:
        click.echo("A new certificate authority was made; every phone has to take it in once.")
    click.echo(f"On a phone in this network open {install}")
    click.echo(f"The SHA-256 that the phone's settings have to show: {lan.authority.fingerprint}")
    click.echo(f"Pairing code for one phone, for {minutes} minutes: {code} (more: {own}install)")
