"""`job.toml` with keys set in it; comments, order and spelling of the rest stay as they were."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Item

from plumbmark.base.errors import UnitError
from plumbmark.base.units import parse_length
from plumbmark.exchange.jobfolder.jobtoml import ENTRY_KEYS, JOB_KEYS, LOCAL, SOIL_KEYS, SWEEP_KEYS
from plumbmark.exchange.jobfolder.keys import Holds, Key
from plumbmark.exchange.jobfolder.ticketfile import TICKET_KEYS

#: Tables that come once, and their keys.
HEADS: Final[dict[str, Sequence[Key]]] = {
    "job": JOB_KEYS,
    "soil": SOIL_KEYS,
    "ticket": TICKET_KEYS,
    "sweep": SWEEP_KEYS,
}
#: The key that an entry of a repeated table is known by, where it is not `id`.
NAMED_BY: Final = {"searches": "method"}
_PLAIN: Final = re.compile(
    r"[+-]?(?:0|[1-9][0-9]{0,17})(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,3})?"
)  # as TOML has it
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")


class JobDoc:
    """A job file that is being put together."""

    def __init__(self, data: bytes | None, job: str) -> None:
        self.data = data
        self._document: tomlkit.TOMLDocument | None = None
        self.plain: dict[str, Any] | None = {"job": {"id": job}}
        if data is None:
            self.edit().update({"job": {"id": job}})
            return
        try:
            self.plain = tomllib.loads(data.decode("utf-8-sig"))
            if any(not isinstance(self.plain.get(name, {}), dict) for name in HEADS):
                self.plain = None
        except (ValueError, RecursionError):
            self.plain = None

    @property
    def is_readable(self) -> bool:
        """Whether anything can be set in it; a file that is not TOML is given back as it came."""
        return self.plain is not None

    def edit(self) -> tomlkit.TOMLDocument:
        """The document, taken apart when it is first needed: most imported files stay as they are."""
        if self._document is None:
            text = "" if self.data is None else self.data.decode("utf-8-sig")
            self._document = tomlkit.parse(text)
        return self._document

    def ids(self, table: str) -> list[str]:
        """Ids of the entries of a repeated table, in order."""
        entries = (self.plain or {}).get(table)
        name = NAMED_BY.get(table, "id")
        if not isinstance(entries, list):
            return []
        return [str(e[name]) for e in entries if isinstance(e, dict) and name in e]

    @property
    def crs(self) -> str:
        """The job's coordinate system as the file names it."""
        crs = (self.plain or {}).get("job", {}).get("crs", LOCAL)
        return crs.upper() if isinstance(crs, str) and crs != LOCAL else LOCAL

    def set_baseline(
        self, name: str, start: tuple[float, float], end: tuple[float, float], placed: bool
    ) -> None:
        """Add a baseline; one that no map may show says so."""
        names = ("start_easting_m", "start_northing_m", "end_easting_m", "end_northing_m")
        values: dict[str, Any] = dict(zip(names, (f"{value:.3f}" for value in (*start, *end)), strict=True))
        if not placed:
            values["placed"] = False
        self.set_entry("baselines", name, values)

    def set_head(self, table: str, keys: Mapping[str, Any]) -> None:
        """Set keys of `[job]`, `[soil]`, `[ticket]` or `[sweep]`; null takes one out."""
        if self.plain is None:
            return
        document = self.edit()
        if table not in document:
            document[table] = tomlkit.table()
            self.plain[table] = {}
        _set(document[table], self.plain[table], keys, HEADS[table])

    def set_entry(self, table: str, ident: str, keys: Mapping[str, Any] | None) -> None:
        """Set keys of one entry of a repeated table, adding it if it is not there; None takes it out."""
        if self.plain is None:
            return
        document, name = self.edit(), NAMED_BY.get(table, "id")
        plain = self.plain.setdefault(table, [])
        if not isinstance(plain, list):
            return
        entries: Any = document.setdefault(table, tomlkit.aot())
        at = next((i for i, e in enumerate(plain) if isinstance(e, dict) and e.get(name) == ident), None)
        if keys is None:
            if at is not None:
                del entries[at], plain[at]
            return
        if at is None:
            entries.append(tomlkit.table() if isinstance(entries, AoT) else tomlkit.inline_table())
            plain.append({})
            at = len(plain) - 1
            _set(entries[at], plain[at], {name: ident}, ENTRY_KEYS[table])
        others = {key: value for key, value in keys.items() if key != name}
        _set(entries[at], plain[at], others, ENTRY_KEYS[table])

    def take_out(self, table: str, at: int | None, key: str) -> str | None:
        """Take one key out, of entry `at` of a repeated table or of a table that comes once.

        Returns
        -------
        str or None
            What it held, None where there is no such key.
        """
        document: Any = self.edit()
        try:
            held = document[table] if at is None else document[table][at]
            return str(held.pop(key))
        except (KeyError, IndexError, TypeError, AttributeError, TOMLKitError):
            return None

    def name_of(self, table: str, at: int) -> str:
        """Id of an entry by its number from 0, empty where it has none."""
        try:
            return str((self.plain or {})[table][at].get(NAMED_BY.get(table, "id"), ""))
        except (KeyError, IndexError, AttributeError, TypeError):
            return ""

    def drop(self, table: str, at: int | None) -> bool:
        """Take out an entry of a repeated table, by its number from 0; whether it was there."""
        document: Any = self.edit()
        try:
            if at is None:
                return False
            del document[table][at]
        except (KeyError, IndexError, TypeError):
            return False
        return True

    def written(self) -> bytes:
        """The file."""
        if self.data is not None and self._document is None:
            return self.data
        return tomlkit.dumps(self.edit()).encode()


def _set(held: Any, plain: dict[str, Any], keys: Mapping[str, Any], known: Sequence[Key]) -> None:
    by_name = {key.name: key for key in known}
    for name, value in keys.items():
        if value is None:
            held.pop(name, None)
            plain.pop(name, None)
        else:
            item = _item(value, by_name.get(name))
            held[name] = item
            plain[name] = item.unwrap()


def _item(value: Any, key: Key | None) -> Item:
    """A value of a fact as TOML holds it, by what its key holds."""
    holds = Holds.TEXT if key is None else key.holds
    if isinstance(value, list):
        single = {Holds.NUMBERS: Holds.NUMBER}.get(holds, Holds.TEXT)
        array = tomlkit.array()
        for each in value:
            array.append(_single(each, single, ""))
        return array
    return _single(value, holds, "" if key is None else key.name)


def _single(value: Any, holds: Holds, name: str) -> Item:
    if holds is Holds.NUMBER and isinstance(value, str):
        return _number(value.strip(), name)
    if holds is Holds.FLAG and value in ("true", "false", "yes", "no"):
        return tomlkit.item(value in ("true", "yes"))
    if isinstance(value, (str, bool, int)):
        return tomlkit.item(value)
    return tomlkit.item(str(value))


def _number(text: str, name: str) -> Item:
    """A typed number, spelled as typed where TOML allows it; what is none stays text, to be refused.

    Where metres are asked for, a length with another unit is turned into them, to a tenth of a millimetre.
    """
    if _PLAIN.fullmatch(text):
        return tomlkit.value(text)
    if _NUMBER.fullmatch(text):
        return tomlkit.item(float(text))
    if name.endswith("_m"):
        try:
            return tomlkit.item(round(parse_length(text, None).low, 4))
        except UnitError:
            pass
    return tomlkit.item(text)
