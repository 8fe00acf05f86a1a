"""
One text for one value, byte for byte, so that a hash of it means something.

The form is that of RFC 8785 (JSON Canonicalization Scheme, 2020): no white space, object members
sorted by the UTF-16 code units of their names, the shortest escapes, UTF-8.  One thing is narrower:
numbers are whole and at most 2**53 - 1 in size, so that no two programs print one differently.  A
fraction is written as a text or in a smaller unit (µL, seconds).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TypeAlias, Union

from cubital.errors import InputError

Json: TypeAlias = Union[
    bool, int, str, "list[Json]", "tuple[Json, ...]", "Mapping[str, Json]", None
]

LARGEST = 2**53 - 1
DEEPEST = 8


def canonical(value: Json) -> bytes:
    """
    Write a value as canonical JSON.

    Raises:
        InputError: a number with a fraction or too large, a text that no UTF-8 can hold or with
            a NUL in it, something nested deeper than eight levels, or no JSON value at all.
    """
    return _encode(_plain(value, "", DEEPEST)).encode()


_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode


def _plain(value: Json, where: str, deep: int) -> object:
    """Check a value and put the members of its objects in order."""
    if isinstance(value, str):
        return _text(value, where)
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int):
        if not -LARGEST <= value <= LARGEST:
            raise InputError(f"The number is too large (over {LARGEST})", where)
        return value
    if deep == 0:
        raise InputError(f"Nested deeper than {DEEPEST} levels", where)
    if isinstance(value, Mapping):
        for name in value:
            if not isinstance(name, str):
                raise InputError(f"The name {name!r} is no text", where)
            _text(name, where)
        names = sorted(value, key=_utf16)
        return {name: _plain(value[name], f"{where}.{name}", deep - 1) for name in names}
    if isinstance(value, list | tuple):
        return [_plain(item, f"{where}[{n}]", deep - 1) for n, item in enumerate(value)]
    if isinstance(value, float):
        raise InputError(
            f"The number {value!r} has a fraction", where, "Write it whole in a smaller unit."
        )
    raise InputError(f"{type(value).__name__} is no JSON value", where)


def _text(text: str, where: str) -> str:
    """Refuse what a database or UTF-8 cannot hold."""
    if text.isascii():
        if "\0" in text:
            raise InputError("A text holds a NUL character", where)
        return text
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise InputError("A text holds half a character (a lone surrogate)", where) from error
    if "\0" in text:
        raise InputError("A text holds a NUL character", where)
    return text


def _utf16(name: str) -> bytes:
    """The order that RFC 8785 section 3.2.3 asks for."""
    return name.encode("utf-16-be")
