"""
Every error that cubital raises on purpose, in one tree.

    CubitalError
    ├── InputError (ValueError)         what somebody gave us cannot be used
    │   ├── CatalogueError              a row of a table: file, row, field, and the mend
    │   ├── RequisitionError            a requisition: which part, and how to mend it
    │   └── LabelError                  a label that cannot be printed as asked
    └── RecordError                     the record refuses
        ├── EventRefused                an event that cannot have happened, or is not allowed
        └── ChainBroken                 the hash chain of a site does not hold

A rule that *finds* something about blood raises nothing: it returns a
:class:`cubital.finding.Finding`.  Errors are for what cannot be computed at all.
"""

from __future__ import annotations


class CubitalError(Exception):
    """The base of them all."""


class InputError(CubitalError, ValueError):
    """
    What somebody gave us cannot be used.

    Args:
        what: what is wrong, as the start of a sentence.
        where: the place (file, row, field), or "".
        mend: what to do instead, or "".
    """

    def __init__(self, what: str, where: str = "", mend: str = "") -> None:
        super().__init__(what, where, mend)
        self.what = what
        self.where = where
        self.mend = mend

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        mend = f" {self.mend}" if self.mend else ""
        end = "" if self.what.endswith((".", "!", "?")) else "."
        return f"{place}{self.what}{end}{mend}"


class CatalogueError(InputError):
    """A row of a catalogue table cannot be used; ``where`` is ``file, row N, field``."""


class RequisitionError(InputError):
    """A requisition cannot be used."""


class LabelError(InputError):
    """A label cannot be printed as asked."""


class RecordError(CubitalError):
    """The record refuses."""


class EventRefused(RecordError):
    """An event that cannot have happened, or that its sender may not write."""


class ChainBroken(RecordError):
    """The hash chain of a site does not hold; the message names the event."""
