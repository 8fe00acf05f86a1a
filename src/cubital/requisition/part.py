"""
One object of what came in, read field by field, each refusal one sentence.

The same object reads JSON and a row of a CSV file: only the way a place is named differs.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from typing import Self

from cubital.catalogue.table import nearest
from cubital.errors import RequisitionError

DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
TIME = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}.*")
DATE_MEND = "Write a date such as 1961-04-03."
TIME_MEND = "Write a date and time such as 2026-03-02T07:30 or 2026-03-02T07:30+01:00."
LINE_SIGNS = "\n\t"
"""Control signs that a remark may hold."""
TURNING_SIGNS = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""They make a text look like another one; no name needs them, in any script."""


def shown(value: object) -> str:
    """A value as it stands in a sentence: short, and in quotes when it is text."""
    if isinstance(value, str):
        plain = "".join(sign if sign.isprintable() else "·" for sign in value[:40])
        return f"“{plain}{'…' if len(value) > 40 else ''}”"
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, Mapping):
        return "an object"
    if isinstance(value, float) and math.isinf(value):
        return "so large a number"
    return "a list" if isinstance(value, (list, tuple)) else str(value)[:40]


@dataclass(frozen=True, slots=True)
class Part:
    """
    One object and where it stands.

    Args:
        fields: name -> value.
        where: file and requisition or row, "" when not known.
        path: in front of a field's name, such as ``patient.``.
    """

    fields: Mapping[str, object]
    where: str = ""
    path: str = ""

    @classmethod
    def of(cls, value: object, where: str, path: str) -> Self:
        """
        The object that stands at a place.

        Raises:
            RequisitionError: something else stands there.
        """
        if not isinstance(value, Mapping) or not all(isinstance(key, str) for key in value):
            place = ", ".join(word for word in (where, path.rstrip(".")) if word)
            raise RequisitionError(
                f"{shown(value)} stands where an object is needed",
                place,
                "Write { … } with fields.",
            )
        return cls(value, where, path)

    def at(self, field: str) -> str:
        """Where a field stands, for a sentence."""
        return ", ".join(word for word in (self.where, self.path + field) if word)

    def refuse(self, field: str, mend: str, what: str = "") -> RequisitionError:
        """The error for a field whose value cannot be used."""
        return RequisitionError(
            what or f"{shown(self.fields.get(field))} cannot be used", self.at(field), mend
        )

    def only(self, known: Collection[str]) -> None:
        """Refuse fields that have no meaning: a slip in a name must not drop what it holds."""
        for name in self.fields:
            if name not in known:
                close = nearest(name, known)
                mend = f"Write {close}." if close else f"Fields are {', '.join(known)}."
                raise RequisitionError(
                    f"no field is called {shown(name)}", self.at(name[:40]), mend
                )

    def text(
        self, field: str, most: int = 200, *, lines: bool = False, needed: bool = False
    ) -> str:
        """A text of at most so many signs, outer blanks dropped; "" when it is not there."""
        value = self.fields.get(field)
        if value is None:
            value = ""
        if not isinstance(value, str):
            raise self.refuse(field, "Write a text.")
        text = value.strip()
        if len(text) > most:
            raise self.refuse(field, f"Write at most {most}.", f"the text has {len(text)} signs")
        if not text.isprintable():
            _refuse_signs(self, field, text, LINE_SIGNS if lines else "")
        if needed and not text:
            raise self.refuse(field, "Write it.", "the field is empty")
        return text

    def word(self, field: str, words: Collection[str], default: str) -> str:
        """One of a few words."""
        text = self.text(field) or default
        if text not in words:
            raise self.refuse(field, f"Write one of {', '.join(filter(None, words))}.")
        return text

    def integer(self, field: str, mend: str) -> int | None:
        """A whole number, or None when it is not there."""
        value = self.fields.get(field)
        if value is None or (isinstance(value, int) and not isinstance(value, bool)):
            return value
        if isinstance(value, float) and value.is_integer():
            return int(value)
        raise self.refuse(field, mend)

    def decimal(self, field: str, mend: str) -> float | None:
        """A finite number, or None when it is not there."""
        value = self.fields.get(field)
        if value is None:
            return None
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            number = float(value) if abs(value) < 1e12 else math.inf
            if math.isfinite(number):
                return number
        raise self.refuse(field, mend)

    def flag(self, field: str) -> bool | None:
        """True, false, or None when it is not there."""
        value = self.fields.get(field)
        if value is None or isinstance(value, bool):
            return value
        raise self.refuse(field, "Write true or false.")

    def day(self, field: str) -> date | None:
        """A calendar date, or None when it is not there."""
        value = self.fields.get(field)
        if value is None or value == "":
            return None
        if isinstance(value, str) and DATE.fullmatch(value):
            try:
                return date.fromisoformat(value)
            except ValueError:
                pass
        raise self.refuse(field, DATE_MEND)

    def moment(self, field: str, zone: tzinfo | None) -> datetime | None:
        """
        A time with its zone (that of the place when none is written), or None.

        An hour that the clocks leave out in spring is refused, not guessed; of one that they show
        twice in autumn the first is meant, unless the offset is written.
        """
        value = self.fields.get(field)
        if value is None or value == "":
            return None
        if isinstance(value, str) and TIME.fullmatch(value):
            try:
                moment = datetime.fromisoformat(value)
                here = moment if moment.tzinfo else moment.replace(tzinfo=zone)
                again = here.astimezone(UTC).astimezone(here.tzinfo)
            except (ValueError, OverflowError):
                pass
            else:
                if again.replace(tzinfo=None) != here.replace(tzinfo=None):
                    what = f"the clocks go forward over {moment:%Y-%m-%d %H:%M}: there is no such"
                    mend = "Write the time with its offset, such as +01:00."
                    raise self.refuse(field, mend, f"{what} time")
                return here
        raise self.refuse(field, TIME_MEND)

    def items(self, field: str, most: int) -> list[object]:
        """A list of at most so many entries; empty when it is not there."""
        value = self.fields.get(field)
        if value is None:
            return []
        if not isinstance(value, (list, tuple)):
            raise self.refuse(field, "Write a list: [ … ].")
        if len(value) > most:
            raise self.refuse(field, f"Write at most {most}.", f"the list has {len(value)} entries")
        return list(value)

    def inner(self, field: str, value: object, at: int | None = None) -> Self:
        """The object that a field, or an entry of its list (counted from 1), holds."""
        index = "" if at is None else f"[{at}]"
        return self.of(value, self.where, f"{self.path}{field}{index}.")


def _refuse_signs(part: Part, field: str, text: str, allowed: str) -> None:
    for sign in text:
        hidden = unicodedata.category(sign) in ("Cc", "Cs", "Zl", "Zp") or sign in TURNING_SIGNS
        if hidden and sign not in allowed:
            raise part.refuse(
                field,
                "Take it out.",
                f"the text holds a control sign (U+{ord(sign):04X})",
            )
