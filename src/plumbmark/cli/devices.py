"""`plumbmark devices`: phones that may ask the server."""

from __future__ import annotations

import click

from plumbmark.app.solve import Outcome
from plumbmark.cli.telling import tell


@click.group(invoke_without_command=True)
@click.option("--store", metavar="URL", help="The journal; without it the one that `plumbmark serve` takes.")
@click.pass_context
def devices(context: click.Context, store: str | None) -> None:
    """List the phones that were paired with the server; pair one, end one.

    The server may be running meanwhile, and follows at once.
    """
    from plumbmark.app.devices import tell_devices

    context.obj = store
    if context.invoked_subcommand is None:
        _tell(tell_devices(_url(store)))


@devices.command()
@click.argument("device", metavar="ID")
@click.pass_obj
def revoke(store: str | None, device: str) -> None:
    """Refuse a phone from now on, named by its id or its name. What it had sent stays."""
    from plumbmark.app.devices import revoke_device

    _tell(revoke_device(_url(store), device))


@devices.command()
@click.pass_obj
def code(store: str | None) -> None:
    """Make a code that pairs one phone within ten minutes."""
    from plumbmark.app.devices import tell_code

    _tell(tell_code(_url(store)))


@devices.command()
@click.argument("name")
@click.pass_obj
def token(store: str | None, name: str) -> None:
    """Pair a program under NAME, and tell the token it has to send. It is told once."""
    from plumbmark.app.devices import token_for_script

    _tell(token_for_script(_url(store), name))


def _url(store: str | None) -> str:
    from plumbmark.app.opening import default_store

    return store or default_store()


def _tell(outcome: Outcome) -> None:
    tell(outcome.text, outcome.problems, outcome.warnings, outcome.written)
