"""One way to write a value as bytes, the same in every program, so that a hash of it means something.

The form is JSON with sorted keys, no white space and UTF-8 unescaped. Whatever two programs might write
differently is refused: decimals above all, which is why a number that was typed travels as its text.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any, Final

from plumbmark.base.errors import FactError

MAX_INTEGER: Final = 2**53
MAX_DEPTH: Final = 32


def canonical_json(value: Any) -> bytes:
    """Write a value in its one form.

    Parameters
    ----------
    value : str, int, bool, None, or lists and mappings of them
        Mappings have keys of ASCII characters.

    Returns
    -------
    bytes
        JSON in UTF-8: keys sorted, no white space; escaped are `"`, the backslash, and what is below U+0020.

    Raises
    ------
    FactError
        A decimal, an integer beyond 2^53, half of a surrogate pair, a key that is not ASCII text, nesting
        deeper than 32, or a value of another kind; the message says where it stands.

    Examples
    --------
    >>> canonical_json({"b": [1, None], "a": "3 ft 1 in"}).decode()
    '{"a":"3 ft 1 in","b":[1,null]}'
    """
    _check(value, "", 0)
    # The check has seen every text, so encoding cannot fail.
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def fact_hash(wire: Mapping[str, Any]) -> str:
    """SHA-256 of a fact's canonical JSON without its key `hash`: 64 hexadecimal digits.

    Examples
    --------
    >>> fact_hash({"seq": 1, "hash": "ab"}) == fact_hash({"seq": 1})
    True
    """
    return hashlib.sha256(canonical_json({k: v for k, v in wire.items() if k != "hash"})).hexdigest()


def _check(value: Any, where: str, depth: int) -> None:
    if depth > MAX_DEPTH:
        raise FactError(f"{where or 'the value'} is nested deeper than {MAX_DEPTH}")
    # Kinds are compared exactly: a subclass of str or int may write itself otherwise.
    kind = type(value)
    if kind is str:
        _check_text(value, where)
    elif kind is int:
        if abs(value) > MAX_INTEGER:
            raise FactError(f"{where or 'the value'} is beyond 2^53 (write it as text)")
    elif kind is dict:
        for key, held in value.items():
            if type(key) is not str or not key.isascii():
                raise FactError(f"{where or 'the value'} has the key {key!r:.60}, and keys are ASCII text")
            _check(held, f"{where}.{key}" if where else key, depth + 1)
    elif kind is list:
        for index, held in enumerate(value):
            _check(held, f"{where}[{index}]", depth + 1)
    elif value is not None and kind is not bool:
        advice = " (write a number as the text that was typed)" if kind is float else ""
        raise FactError(
            f"{where or 'the value'} is of kind {kind.__name__}, which a fact cannot hold{advice}"
        )


def _check_text(text: str, where: str) -> None:
    try:
        text.encode()
    except UnicodeEncodeError:
        raise FactError(f"{where or 'the value'} has half of a surrogate pair in it") from None
