"""What every request passes through: whom it is meant for, where it comes from, how large it is.

Written as plain ASGI, so that streamed answers are not held up.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

READS: Final = ("GET", "HEAD", "OPTIONS")
MIB: Final = 2**20
#: Most that the body of a request may hold, by the beginning of its path.
LIMITS: Final = (
    ("/api/import", 65 * MIB),
    ("/api/logs/", 65 * MIB),
    ("/api/blobs/", 32 * MIB),
    ("/api/lines", 33 * MIB),
)
LIMIT: Final = 4 * MIB
#: Most that is read of a request that is refused.
READ_AWAY: Final = 128 * MIB

#: The page loads nothing from anywhere else and is shown in no other page.
POLICY: Final = (
    "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)
HEADERS: Final = (
    ("content-security-policy", POLICY),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "geolocation=(self), camera=(self), microphone=()"),
)


class Guard:
    """Refuse what is not meant for this server, comes from another page or is too large.

    Parameters
    ----------
    app : ASGI application
    names : iterable of str
        Host names, without port, that requests may carry.
    """

    def __init__(self, app: ASGIApp, names: Iterable[str]) -> None:
        self._app = app
        self._names = frozenset(name.lower() for name in names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refused = self._refusal(scope["method"], headers)
        limit = limit_of(scope["path"])
        length = headers.get("content-length", "")
        if refused is None and length.isascii() and length.isdigit() and int(length) > limit:
            refused = (413, _too_large(limit))
        if refused is not None:
            await _read_away(receive)
            await refuse(send, *refused)
            return
        counted = _Counted(receive, limit)
        answered = False

        async def send_on(message: Message) -> None:
            nonlocal answered
            if message["type"] == "http.response.start":
                if counted.over:
                    return
                answered = True
                held = MutableHeaders(scope=message)
                for name, value in HEADERS:
                    held.setdefault(name, value)
                if scope["path"].startswith("/api/"):
                    held.setdefault("cache-control", "no-store")
            elif counted.over and not answered:
                return
            await send(message)

        try:
            await self._app(scope, counted, send_on)
        except ClientDisconnect:
            if not counted.over:
                raise
        if counted.over and not answered:
            await _read_away(receive)
            await refuse(send, 413, _too_large(limit))

    def _refusal(self, method: str, headers: Headers) -> tuple[int, str] | None:
        hosts = headers.getlist("host")
        if len(hosts) != 1 or host_name(hosts[0]) not in self._names:
            return (
                421,
                "this server answers to its own name only; open it by the address it told at its start",
            )
        if method in READS:
            return None
        origin = headers.get("origin")
        site = headers.get("sec-fetch-site", "same-origin")
        other = origin is not None and _netloc(origin) != hosts[0].lower()
        if other or site not in ("same-origin", "none"):
            return 403, "only this server's own page may write here"
        return None


class _Counted:
    """The body of a request, no more of it than allowed."""

    def __init__(self, receive: Receive, limit: int) -> None:
        self._receive = receive
        self._left = limit
        self.over = False

    async def __call__(self) -> Message:
        if self.over:
            return {"type": "http.disconnect"}
        message = await self._receive()
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            self.over = True
            return {"type": "http.disconnect"}
        return message


def host_name(host: str) -> str:
    """The name in a Host header, without port.

    Examples
    --------
    >>> host_name("127.0.0.1:8000"), host_name("[::1]:8000"), host_name("LocalHost")
    ('127.0.0.1', '::1', 'localhost')
    """
    if host.startswith("["):
        name, closed, _ = host[1:].partition("]")
        return name.lower() if closed else ""
    return host.partition(":")[0].lower()


def _netloc(origin: str) -> str:
    """Host and port of an origin; empty where it is none, which is no page of ours."""
    try:
        return urlsplit(origin).netloc.lower()
    except ValueError:  # an address of version 6 that is not closed
        return ""


def limit_of(path: str) -> int:
    """Most bytes that the body of a request to a path may hold."""
    return next((most for start, most in LIMITS if path.startswith(start)), LIMIT)


async def _read_away(receive: Receive) -> None:
    """Read what is still on its way, within reason: a sender that is cut off does not read why."""
    left = READ_AWAY
    while left > 0:
        message = await receive()
        left -= len(message.get("body", b""))
        if message["type"] != "http.request" or not message.get("more_body", False):
            return


def _too_large(limit: int) -> str:
    return f"is larger than the {limit // MIB} MiB that are taken in at once"


async def refuse(send: Send, status: int, what: str) -> None:
    """Answer a request with an error in the one shape."""
    body = json.dumps({"error": {"what": what, "findings": []}}).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
        *((name.encode(), value.encode()) for name, value in HEADERS),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
