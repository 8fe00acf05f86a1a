"""What every row of every table carries besides its facts, and where facts come from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What every row carries besides its facts."""

    FILE: ClassVar[str] = ""
    KEY: ClassVar[tuple[str, ...]] = ()

    source: str
    """Key into ``sources.toml``."""
    layer: str = "shipped"
    """"shipped", or the name of the laboratory's own folder; set by the reader."""
    line: int = 0
    """Row in the file (the header is 1); set by the reader."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """
    Where facts come from (``sources.toml``, one table a key).

    Args:
        key: what rows cite.
        title: of the document.
        year: of publication, 0 when it has none.
        part: table, section, page.
        basis: ``published``, ``common practice`` or ``from memory``.
        seen: ``primary`` (the document itself was read), ``secondary`` (a page that quotes it),
            ``computed`` (worked out from a stated formula) or ``no``.
        address: a short public reference such as a DOI, PMID or PMC number; "" when none.
        layer: which layer of the catalogue it came from.
    """

    key: str
    title: str
    year: int = 0
    part: str = ""
    basis: str = "from memory"
    seen: str = "no"
    address: str = ""
    layer: str = "shipped"
