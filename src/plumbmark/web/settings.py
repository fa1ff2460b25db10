"""What a server is started with."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Final

from plumbmark.base.errors import PlumbmarkError

#: Names by which this machine calls itself; nothing else is listened on or answered to without --lan.
LOOPBACK: Final = ("127.0.0.1", "localhost", "::1")


class ServeError(PlumbmarkError):
    """A server that cannot be started as asked."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Where a server listens, and which names it answers to.

    `names` are the host names, without port, that requests may carry: a page of somebody else that had its
    name pointed at this machine carries another. `page` is the folder of the built page.
    """

    host: str = "127.0.0.1"
    port: int = 8000
    names: tuple[str, ...] = LOOPBACK
    page: Path = Path(str(files("plumbmark") / "web" / "static"))

    @property
    def address(self) -> str:
        """What to type into a browser."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"http://{host}:{self.port}/"


def loopback_only(host: str) -> None:
    """Refuse every address that is not this machine's own.

    Parameters
    ----------
    host : str

    Raises
    ------
    ServeError

    Examples
    --------
    >>> loopback_only("127.0.0.1")
    """
    if host not in LOOPBACK:
        raise ServeError(
            f"--host '{host}' is not this machine's own address ({', '.join(LOOPBACK)}): what is typed and "
            "answered would cross the network readable and changeable by everybody on it, and no browser "
            "keeps the page for work without signal then. Phones are served with --lan"
        )
