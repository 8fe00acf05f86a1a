"""
What a laboratory may do to settings: rules know them by key, so it gives another value, no more.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from cubital.catalogue.model import Row, Setting
from cubital.catalogue.table import Cell, Table, nearest, place
from cubital.errors import CatalogueError


def check_settings(
    below: Mapping[tuple[Cell, ...], Row], table: Table[Row], layer: str
) -> Iterator[CatalogueError]:
    """
    Problems of a laboratory's settings against those of the layers below.

    Args:
        below: settings by their key, as a tuple of one.
        table: the laboratory's.
        layer: its name.
    """
    known = {str(key[0]): row for key, row in below.items() if isinstance(row, Setting)}
    for key, line in table.withdrawn.items():
        yield CatalogueError(
            f"the setting {key[0]} cannot be withdrawn: rules need it",
            place(Setting, layer, line),
            "Give it another value.",
        )
    for row in table.rows:
        if not isinstance(row, Setting):
            continue
        old = known.get(row.key)
        if old is None:
            close = nearest(row.key, known)
            yield CatalogueError(
                f"no setting is called “{row.key}”",
                place(Setting, layer, row.line, "key"),
                f"Write {close}." if close else "Look the key up in the shipped settings.csv.",
            )
        elif _is_number(old.value) and not _is_number(row.value):
            yield CatalogueError(
                f"“{row.value}” is no number",
                place(Setting, layer, row.line, "value"),
                f"Write a number, as in the shipped row ({old.value}).",
            )


def _is_number(text: str) -> bool:
    try:
        return float(text) * 0 == 0 and "_" not in text
    except ValueError:
        return False
