"""The page by which a phone comes to trust the server, and takes the field app in."""

from __future__ import annotations

import io
from collections.abc import Sequence
from html import escape
from importlib.resources import files
from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from plumbmark.app import devices
from plumbmark.web.errors import Refusal
from plumbmark.web.lan import Calling, Lan
from plumbmark.web.running import Held

router = APIRouter(include_in_schema=False)
#: Where each kind of phone keeps it, from memory: menus are renamed now and then.
_STEPS: Final[Sequence[tuple[str, Sequence[str]]]] = (
    (
        "iPhone or iPad",
        (
            "Open this page in Safari and tap the button above. Allow the profile.",
            "Settings, Profile Downloaded: open it, then More Details, and compare the SHA-256. Install.",
            "Settings, General, About, Certificate Trust Settings: switch it on.",
            "Open the field app below, then Share, Add to Home Screen.",
        ),
    ),
    (
        "Android",
        (
            "Tap the button above; the file is saved.",
            "Settings: search for “CA certificate”, choose Install anyway, pick the file.",
            "Settings: search for “trusted credentials”, User: open it and compare the SHA-256.",
            "Open the field app below in Chrome, then its menu, Add to Home screen, Install.",
        ),
    ),
    (
        "Windows, macOS, Linux",
        (
            "Save the file by the button above.",
            "Windows: open it, compare the details, Install Certificate, Trusted Root Authorities.",
            "macOS: open it in Keychain Access, compare the SHA-256, set it to Always Trust.",
            "Linux, and Firefox anywhere: the browser's settings, Certificates, Authorities, Import.",
        ),
    ),
)
_NOT_THE_NUMBER: Final = (
    "Compare what the phone's own settings show with what the server's machine shows. Nothing on this page "
    "can stand for either: before the phone trusts the server, anybody on the network could have written it."
)


@router.get("/install")
def get_install(held: Held, calling: Calling) -> HTMLResponse:
    """How to take the field app in: on a phone the steps, at the server the address and the number."""
    lan = held.lan
    if lan is None:
        what = "<h1>Phones</h1><p>Phones cannot reach this server. Start it with <code>--lan</code>.</p>"
        return _page("Phones", what)
    return _page("Take the field app in", _for_phone() if calling.over_lan else _at_server(lan))


@router.get("/install/authority.crt")
def get_authority(held: Held) -> Response:
    """The certificate that phones are told to trust."""
    if held.lan is None:
        raise Refusal(404, "this server was started without --lan")
    disposition = {"content-disposition": 'attachment; filename="plumbmark-authority.crt"'}
    return Response(held.lan.authority.der, media_type="application/x-x509-ca-cert", headers=disposition)


@router.get("/install/style.css")
def get_style() -> Response:
    """Looks of the page."""
    return Response((files("plumbmark") / "web" / "install.css").read_text("utf-8"), media_type="text/css")


@router.post("/install/code")
def show_code(held: Held, calling: Calling) -> HTMLResponse:
    """The page at the server with a new code on it."""
    if calling.over_lan:
        raise Refusal(403, "pairing codes are shown at the server only")
    if held.lan is None:
        raise Refusal(409, "phones cannot reach this server: it was started without --lan")
    return _page("Take the field app in", _at_server(held.lan, devices.new_code(held.answering.store).code))


def qr_terminal(address: str) -> str:
    """An address as a QR code for a terminal."""
    import segno

    drawn = io.StringIO()
    segno.make(address).terminal(drawn, compact=True, border=2)
    return drawn.getvalue()


def _at_server(lan: Lan, code: str = "") -> str:
    import segno

    address = f"{lan.address}install"
    picture = segno.make(address).svg_inline(scale=6, border=4, light="#fff", title=f"QR code of {address}")
    shown = (
        f'<p class="answer">{code[:4]} {code[5:]}</p><p>Pairs one phone within {devices.MINUTES} minutes. '
        "On it: open the field app, This device, and type it in.</p>"
        if code
        else "<p>Each phone needs a code of its own.</p>"
    )
    return (
        f"<h1>Take the field app in</h1><h2>1. Open this on the phone</h2><p class=picture>{picture}</p>"
        f'<p class="answer">{escape(lan.address)}<wbr>install</p>'
        "<p>The phone warns that it does not know the server: it cannot yet. Go on to the page, once, and "
        "follow its steps.</p>"
        f"<h2>2. Compare the SHA-256</h2><p class=number>{_in_rows(lan.authority.fingerprint)}</p>"
        f"<p>{_NOT_THE_NUMBER.replace('this page', 'the page on the phone')}</p>"
        f"<h2>3. Pair it</h2>{shown}"
        '<form method="post" action="/install/code"><button>Show a new code</button></form>'
        '<p><a href="/#/set">The phones that were paired</a></p>'
    )


def _for_phone() -> str:
    steps = ""
    for name, said in _STEPS:
        rows = "".join(f"<li>{escape(step)}</li>" for step in said)
        steps += f"<details><summary>{name}</summary><ol>{rows}</ol></details>"
    return (
        "<h1>Take the field app in</h1>"
        "<p>Once on each phone: it learns to trust this server, so that the field app stays on it for work "
        "without signal.</p>"
        '<p><a class="button" href="/install/authority.crt">Get the certificate</a></p>'
        f"{steps}<p>{_NOT_THE_NUMBER}</p>"
        "<p>The certificate counts for this server and for private networks, for nothing else there.</p>"
        "<h2>Then</h2><p>Open the field app and enter the pairing code that the server shows.</p>"
        '<p><a class="button" href="/#/set">Open the field app</a></p>'
    )


def _in_rows(number: str) -> str:
    """A fingerprint in rows of eight pairs.

    Examples
    --------
    >>> _in_rows("AB CD EF 01 23 45 67 89 AB")
    'AB CD EF 01 23 45 67 89<br>AB'
    """
    pairs = number.split()
    return "<br>".join(" ".join(pairs[k : k + 8]) for k in range(0, len(pairs), 8))


def _page(title: str, body: str) -> HTMLResponse:
    return HTMLResponse(
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{title} · plumbmark</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<link rel="stylesheet" href="/install/style.css"><main>{body}</main></html>',
        # With the policy of the other pages a browser would not say that its form is this page's own.
        headers={"cache-control": "no-store", "referrer-policy": "same-origin"},
    )
