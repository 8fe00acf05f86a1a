"""
The sources that rows cite: ``sources*.toml``, one table a key.

Several files of one folder are one set (``sources.toml``, ``sources-tests.toml``): a key may stand
in one of them only.  A laboratory's source replaces the shipped one of the same key.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping

from cubital.catalogue.model import Source
from cubital.catalogue.table import WITHDRAWN, decode, nearest
from cubital.errors import CatalogueError

BASES = ("published", "common practice", "from memory")
SEEN = ("primary", "secondary", "computed", "no")
FIELDS = {"title": str, "year": int, "part": str, "basis": str, "seen": str, "address": str}


def read_sources(data: bytes, name: str, layer: str) -> tuple[list[Source], list[CatalogueError]]:
    """
    Read one file of sources; problems are collected, one a source at most.

    Args:
        data: bytes of the TOML file.
        name: of the file, for the sentences.
        layer: written on each source.
    """
    where = name if layer == "shipped" else f"{layer}/{name}"
    try:
        tables = tomllib.loads(decode(data, where))
    except CatalogueError as problem:
        return [], [problem]
    except tomllib.TOMLDecodeError as bad:
        mend = 'Write [key] and under it lines such as title = "…".'
        return [], [CatalogueError(f"the file is not TOML: {bad}", where, mend)]
    sources, problems = [], []
    for key, table in tables.items():
        try:
            sources.append(_source(key, table, f"{where}, [{key}]", layer))
        except CatalogueError as problem:
            problems.append(problem)
    return sources, problems


def _source(key: str, table: object, where: str, layer: str) -> Source:
    if not isinstance(table, Mapping):
        raise CatalogueError("the line stands outside a source", where, "Put [key] above it.")
    if key == WITHDRAWN:
        raise CatalogueError("the key is taken: it withdraws rows", where, "Choose another key.")
    for field, value in table.items():
        kind = FIELDS.get(field)
        if kind is None:
            close = nearest(field, FIELDS) or "one of " + ", ".join(FIELDS)
            raise CatalogueError(f"no field is called “{field}”", where, f"Write {close}.")
        if type(value) is not kind:
            mend = "Write a whole number." if kind is int else "Write a text in quotes."
            raise CatalogueError(f"{field} cannot be {value!r}", where, mend)
    for field, words in (("basis", BASES), ("seen", SEEN)):
        if table.get(field, words[-1]) not in words:
            raise CatalogueError(
                f"{field} cannot be “{table[field]}”", where, f"Write one of {', '.join(words)}."
            )
    if not str(table.get("title", "")).strip():
        raise CatalogueError("the title is missing", where, 'Write title = "…".')
    if table.get("basis") == "published" and table.get("seen", "no") == "no":
        raise CatalogueError(
            "a published source has not been seen by anybody", where,
            "Write seen = primary, secondary or computed, or basis = from memory.",
        )  # fmt: skip
    return Source(key=key, layer=layer, **table)
