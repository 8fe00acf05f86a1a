"""
What a payload may hold: a small schema, and the check of a payload against it.

Numbers here bound the format only; none says anything about blood.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from cubital.custody.canonical import Json
from cubital.custody.event import CODE_LENGTH, time_from
from cubital.errors import EventRefused

TYPES = ("code", "word", "text", "whole", "flag", "time", "date", "choice", "object")
NOTE_LENGTH = 2000
WORD = re.compile(r"[A-Za-z0-9_.-]{1,32}")
"""A catalogue code: containers have a dot in theirs."""
MOST_ITEMS = 500


@dataclass(frozen=True, slots=True)
class Field:
    """
    One member of a payload.

    Args:
        name: of the member.
        type: ``code`` (an identifier: 1 to 64 characters without line breaks), ``word`` (a
            catalogue code: letters, digits, dots, hyphens, underscores), ``text`` (free, to 2,000
            characters), ``whole`` (a whole number), ``flag``, ``time``, ``date``, ``choice``,
            ``object``.
        required: must be there.
        many: a list of such values, each once, in the sender's order.
        choices: what a ``choice`` may be.
        low, high: bounds of a ``whole`` number.
        subject: type of subject that the code names, when the event happens to that as well.
    """

    name: str
    type: str = "code"
    required: bool = True
    many: bool = False
    choices: tuple[str, ...] = ()
    low: int = 0
    high: int = 10**9
    subject: str = ""


def check_payload(payload: Mapping[str, Json], fields: tuple[Field, ...]) -> None:
    """
    Check a payload against its kind's fields.

    Raises:
        EventRefused: the first member that is missing, unknown or wrong.
    """
    known = {each.name for each in fields}
    for name in payload:
        if name not in known:
            raise EventRefused(f"payload.{name[:40]}: this kind of event has no such field.")
    for each in fields:
        value = payload.get(each.name)
        if value is None:
            if each.required:
                raise EventRefused(f"payload.{each.name} is missing.")
            continue
        if each.many:
            _check_many(value, each)
        else:
            _check_one(value, each)


def is_code(value: str) -> bool:
    """Tell whether a text can be an identifier: printable, no spaces around it, 1 to 64 long."""
    return 0 < len(value) <= CODE_LENGTH and value.isprintable() and value == value.strip()


def _check_many(value: Json, each: Field) -> None:
    if not isinstance(value, list | tuple) or len(value) > MOST_ITEMS:
        raise EventRefused(f"payload.{each.name}: write a list of at most {MOST_ITEMS}.")
    if each.required and not value:
        raise EventRefused(f"payload.{each.name}: the list is empty.")
    for item in value:
        _check_one(item, each)
    if len(set(map(str, value))) < len(value):
        raise EventRefused(f"payload.{each.name}: something stands in the list twice.")


def _check_one(value: Json, each: Field) -> None:
    wrong = _text_wrong(value, each) if each.type in TEXTS else _value_wrong(value, each)
    if wrong:
        raise EventRefused(f"payload.{each.name}: write {wrong}.")


TEXTS = frozenset({"code", "word", "text", "time", "date", "choice"})


def _text_wrong(value: Json, each: Field) -> str:
    """Say what a text should be, "" when it is so."""
    if not isinstance(value, str):
        return "a text"
    if each.type == "code" and not is_code(value):
        return f"a code of 1 to {CODE_LENGTH} characters, without spaces around it"
    if each.type == "word" and not WORD.fullmatch(value):
        return "1 to 32 letters, digits, dots, hyphens or underscores"
    if each.type == "text" and len(value) > NOTE_LENGTH:
        return f"at most {NOTE_LENGTH} characters"
    if each.type == "choice" and value not in each.choices:
        return "one of " + ", ".join(each.choices)
    if each.type == "time":
        time_from(value, f"payload.{each.name}")
    if each.type == "date":
        try:
            date.fromisoformat(value)
        except ValueError:
            return "a date such as 2026-11-25"
    return ""


def _value_wrong(value: Json, each: Field) -> str:
    """Say what a number, flag or object should be, "" when it is so."""
    if each.type == "flag":
        return "" if isinstance(value, bool) else "true or false"
    if each.type == "object":
        return "" if isinstance(value, Mapping) else "a JSON object"
    if isinstance(value, bool) or not isinstance(value, int):
        return "a whole number"
    if not each.low <= value <= each.high:
        return f"a whole number from {each.low} to {each.high}"
    return ""
