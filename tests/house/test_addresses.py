"""No file binds anybody to a place on a network: no addresses of registries, no downloads, no trackers."""

from __future__ import annotations

import re
from pathlib import Path

ADDRESS = re.compile(r"\b(?:https?|ftp)://([A-Za-z0-9.-]+)", re.IGNORECASE)

#: Hosts that may be written down, with the reason. None of them is ever asked for anything.
NAMES_ONLY = {
    "www.w3.org": "names of XML namespaces, which SVG must carry",
    "www.opengis.net": "names of coordinate systems in GeoJSON",
    "scripts.sil.org": "the licence of the report's fonts, whose text names where it can be read",
    "127.0.0.1": "this machine",
    "localhost": "this machine",
}
#: Invented hosts that tests use as something that must not be reached (RFC 2606).
INVENTED = (".test", ".example", ".invalid")


def test_no_address_in_any_file(texts: dict[Path, str]) -> None:
    found = []
    for path, text in texts.items():
        for number, line in enumerate(text.splitlines(), 1):
            found += [
                f"{path}:{number}: {host}"
                for host in ADDRESS.findall(line)
                if host not in NAMES_ONLY and not host.endswith(INVENTED)
            ]
    assert found == []


def test_the_search_finds_addresses() -> None:
    assert ADDRESS.findall('see "https://files.test/simple/x.whl" and http://a.example') == [
        "files.test",
        "a.example",
    ]


def test_locks_and_scripts_name_no_source_of_packages(texts: dict[Path, str]) -> None:
    option = re.compile(r"--(?:extra-)?index-url[ =]|--find-links[ =]|--trusted-host|--default-index[ =]")
    found = [
        f"{path}:{number}"
        for path, text in texts.items()
        if path.suffix in {".lock", ".sh", ".toml", ".txt", ""} and path.parts[0] != "tests"
        for number, line in enumerate(text.splitlines(), 1)
        if option.search(line)
    ]
    assert found == []
    assert not any(path.name == "uv.lock" for path in texts), "uv's own lock writes addresses down"
