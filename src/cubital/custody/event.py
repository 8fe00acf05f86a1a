"""
What happened, as one value.

An event is made where it happened, with its own id, and never changes.  The record adds who sent
it, when it was recorded, its place in the site's chain and the hash (see ``chain.py``).

JSON shape ``cubital.event/1``::

    {"id": "019…", "site": "valley", "kind": "tube_filled", "subject": "specimen:OL26-0001",
     "happened_at": "2026-11-25T07:42:03.120000Z", "who": "mira", "device": "tablet-2",
     "payload": {"fill": "full"}, "corrects": null}
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

from cubital.custody.canonical import Json, canonical
from cubital.custody.uuid7 import is_uuid7
from cubital.errors import EventRefused, InputError

FIELDS = (
    "id", "site", "kind", "happened_at", "who", "device", "subject", "payload", "corrects",
)  # fmt: skip
CODE_LENGTH = 64
SUBJECT_LENGTH = 80
SLUG = re.compile(r"[A-Za-z0-9_-]{1,32}")
LONGEST_PAYLOAD = 8192


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """
    One thing that happened.

    Args:
        id: UUID version 7, made where it happened.
        site: code of the place where it happened; names the chain.
        kind: a key of ``KINDS``.
        happened_at: timezone-aware.
        who: the person's sign-in name.
        device: what it was entered on, or "".
        subject: what it happened to, ``type:code``, for example ``specimen:OL26-0001``.
        payload: what the kind asks for besides.
        corrects: id of the event that this one mends, else None.
    """

    id: str
    site: str
    kind: str
    happened_at: datetime
    who: str
    subject: str
    device: str = ""
    payload: Mapping[str, Json] = field(default_factory=dict)
    corrects: str | None = None


def event_from(shape: object) -> Event:
    """
    Read an event from its JSON shape; the kind and its payload are checked by ``check_event``.

    Raises:
        EventRefused: one sentence, what is wrong and where.
    """
    if not isinstance(shape, Mapping):
        raise EventRefused("An event is a JSON object.")
    unknown = [str(name) for name in shape if name not in FIELDS]
    if unknown:
        raise EventRefused(f"An event has no field {unknown[0][:40]!r}.")
    corrects = shape.get("corrects")
    payload = shape.get("payload", {})
    if not isinstance(payload, Mapping):
        raise EventRefused("payload: write a JSON object.")
    return Event(
        id=_id(shape.get("id"), "id"),
        site=_slug(shape.get("site"), "site"),
        kind=_slug(shape.get("kind"), "kind"),
        happened_at=time_from(shape.get("happened_at"), "happened_at"),
        who=_text(shape.get("who"), "who", 150),
        device=_text(shape.get("device", ""), "device", CODE_LENGTH, empty=True),
        subject=_text(shape.get("subject"), "subject", SUBJECT_LENGTH),
        payload=_whole(payload),
        corrects=None if corrects is None else _id(corrects, "corrects"),
    )


def event_to(event: Event) -> dict[str, Json]:
    """Give the JSON shape of an event."""
    return {
        "id": event.id,
        "site": event.site,
        "kind": event.kind,
        "happened_at": time_to(event.happened_at),
        "who": event.who,
        "device": event.device,
        "subject": event.subject,
        "payload": event.payload,
        "corrects": event.corrects,
    }


def content(event: Event) -> bytes:
    """The canonical bytes of what the sender says: two events are the same if these are."""
    return canonical(event_to(event))


def time_to(moment: datetime) -> str:
    """Write a time in UTC, to the microsecond, always in the same length."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def time_from(value: object, where: str) -> datetime:
    """
    Read an ISO 8601 time that says its zone.

    Raises:
        EventRefused: no such time.
    """
    mend = "write a time with its zone, such as 2026-11-25T07:42:03.120Z."
    if not isinstance(value, str) or len(value) > 40:
        raise EventRefused(f"{where}: {mend}")
    try:
        moment = datetime.fromisoformat(value)
        if moment.tzinfo is None:
            raise EventRefused(f"{where}: {value!r} names no time zone; {mend}")
        moment = moment.astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise EventRefused(f"{where}: {value!r} is no time; {mend}") from error
    if not 1970 <= moment.year < 9000:
        raise EventRefused(f"{where}: {value!r} is no time of this desk; {mend}")
    return moment


def _whole(payload: Mapping[str, Json]) -> Mapping[str, Json]:
    """Refuse a payload that has no canonical form or is beyond all measure."""
    try:
        size = len(canonical(payload))
    except InputError as error:
        raise EventRefused(f"payload{error}") from error
    if size > LONGEST_PAYLOAD:
        raise EventRefused(f"payload: {size} bytes are too long; keep to {LONGEST_PAYLOAD}.")
    return payload


def _id(value: object, where: str) -> str:
    if not isinstance(value, str) or not is_uuid7(value):
        raise EventRefused(f"{where}: write a UUID version 7 in lower case.")
    return value


def _slug(value: object, where: str) -> str:
    if not isinstance(value, str) or not SLUG.fullmatch(value):
        raise EventRefused(f"{where}: write 1 to 32 letters, digits, hyphens or underscores.")
    return value


def _text(value: object, where: str, longest: int, *, empty: bool = False) -> str:
    if not isinstance(value, str) or len(value) > longest or not (value or empty):
        raise EventRefused(f"{where}: write a text of at most {longest} characters.")
    if value != value.strip() or not value.isprintable():
        raise EventRefused(f"{where}: leave out line breaks and spaces around the text.")
    return value
