"""Writes: boxes packed, sent and opened, and the logs of their journeys."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from hashlib import sha256

from django.db import IntegrityError, transaction

from cubital.custody import Box, Specimen
from cubital.custody.payload import is_code
from cubital.desk.record.events import append_event
from cubital.desk.record.happened import append_all, happened
from cubital.desk.record.models import (
    BoxFound,
    BoxLog,
    BoxPlan,
    LogFlight,
    LogReading,
    Person,
    Place,
)
from cubital.errors import InputError
from cubital.finding import Finding
from cubital.transport import Flight, TemperatureLog

AT_ONCE = 1000


def box_named(text: str) -> str:
    """
    Read the code of a box as scanned or typed.

    Raises:
        InputError: it cannot be one.
    """
    code = text.strip()
    if not is_code(code) or "/" in code:
        raise InputError(
            f"{text.strip()[:64]!r} cannot be the code of a box",
            mend="Scan the bar code on the box, or write 1 to 64 letters and digits.",
        )
    return code


def box_put_in(*, box: str, specimen: str, place: Place, by: Person, now: datetime) -> None:
    """
    Put a specimen into a box.

    Raises:
        EventRefused: it is elsewhere, has no matched label, or the box has left.
    """
    event = happened(
        "specimen_boxed", f"specimen:{specimen}", site=place.code, by=by, now=now, box=box
    )
    append_event(event=event, person=by, now=now)


def box_take_out(*, box: str, specimen: str, place: Place, by: Person, now: datetime) -> None:
    """
    Take a specimen out of a box that has not left.

    Raises:
        EventRefused: it is not in it, or the box has left.
    """
    event = happened(
        "specimen_unboxed", f"specimen:{specimen}", site=place.code, by=by, now=now, box=box
    )
    append_event(event=event, person=by, now=now)


def box_plan_change(*, box: str, to: str, cooling: str, courier: str) -> BoxPlan:
    """Keep where a box shall go and how."""
    row, _ = BoxPlan.objects.update_or_create(
        box=box, defaults={"to": to, "cooling": cooling, "courier": courier.strip()[:200]}
    )
    return row


def box_send(
    *,
    box: Box,
    plan: BoxPlan,
    asked: Collection[Finding],
    why: str,
    place: Place,
    by: Person,
    now: datetime,
) -> None:
    """
    Let a box leave with everything that is in it.

    Args:
        box: as it stands.
        plan: to which place, with which cooling, by whom.
        asked: findings that one goes past.
        why: the reason for that.
        place: where it leaves.
        by: who sends it.
        now: when.

    Raises:
        InputError: no place or cooling was chosen, or one goes past a finding without a reason.
        EventRefused: the record refuses it; nothing is stored.
    """
    if not plan.to or not plan.cooling:
        raise InputError("Where does it go, and how is it kept?", mend="Choose both, then send.")
    why = why.strip()
    if asked and not why:
        raise InputError("A rule asks about this box", mend="Write why it goes nevertheless.")
    past = dict.fromkeys((each.subject, each.code) for each in asked)
    events = [
        happened("override_given", f"specimen:{subject}", site=place.code, by=by, now=now,
                 finding=code, reason=why)
        for subject, code in past
    ]  # fmt: skip
    events.append(
        happened("box_sent", f"box:{box.code}", site=place.code, by=by, now=now, to=plan.to,
                 specimens=list(box.specimens), cooling=plan.cooling, courier=plan.courier)
    )  # fmt: skip
    with transaction.atomic():
        BoxPlan.objects.filter(box=box.code).delete()
        append_all(events=events, by=by, now=now)


def box_open(*, box: str, place: Place, by: Person, now: datetime) -> None:
    """
    Open a box where it arrived.

    Raises:
        EventRefused: it is not on its way here.
    """
    event = happened("box_opened", f"box:{box}", site=place.code, by=by, now=now)
    append_event(event=event, person=by, now=now)


def box_found_add(*, box: str, sent: str, code: str, by: Person, now: datetime) -> bool:
    """Keep that a number was scanned in an opened box; False when it was before."""
    _, fresh = BoxFound.objects.get_or_create(
        sent=sent, code=code[:64], defaults={"box": box, "at": now, "by": by.username}
    )
    return fresh


def box_say_missing(
    *, box: str, missing: Collection[Specimen], place: Place, by: Person, now: datetime
) -> None:
    """
    Say of specimens on the list of an opened box that they are not in it.

    Raises:
        EventRefused: one of them is not on its way any more; nothing is stored.
    """
    events = [
        happened("specimen_missing", f"specimen:{each.code}", site=place.code, by=by, now=now,
                 note=f"not in box {box} when it was opened")
        for each in missing
    ]  # fmt: skip
    append_all(events=events, by=by, now=now)


def box_log_keep(
    *,
    box: str,
    sent: str,
    log: TemperatureLog,
    data: bytes,
    condition: str,
    columns: Mapping[str, str],
    flights: Sequence[Flight],
    edition: str,
    place: Place,
    by: Person,
    now: datetime,
) -> BoxLog:
    """
    Keep a logger's readings for one journey of a box, and what they mean.

    Raises:
        InputError: the same file is kept for this journey already.
    """
    digest = sha256(data).hexdigest()
    try:
        with transaction.atomic():
            row = BoxLog.objects.create(
                box=box,
                sent=sent,
                site=place.code,
                name=log.name[:200],
                condition=condition,
                columns=dict(columns),
                findings=[finding_to(each) for each in log.findings],
                edition=edition,
                digest=digest,
                read_at=now,
                read_by=by.username,
            )
            LogReading.objects.bulk_create(
                (
                    LogReading(log=row, number=number, at=each.at, celsius=each.celsius)
                    for number, each in enumerate(log.readings, start=1)
                ),
                batch_size=AT_ONCE,
            )
            flights_keep(row, flights, log.end)
    except IntegrityError as twice:
        raise InputError(
            "This file was read for this journey already", log.name, "Look at it below."
        ) from twice
    return row


def flights_keep(row: BoxLog, flights: Sequence[Flight], ended_at: datetime) -> None:
    """Keep what a log means for each test, in place of what was kept before."""
    LogFlight.objects.filter(log=row).delete()
    LogFlight.objects.bulk_create(
        LogFlight(
            log=row,
            specimen=each.specimen,
            test=each.test,
            used_percent=each.used_percent,
            spoils_at=each.spoils_at,
            ended_at=ended_at,
            findings=[finding_to(found) for found in each.findings],
        )
        for each in flights
    )


def finding_to(each: Finding) -> dict[str, str]:
    """A finding as it is kept."""
    return {
        "code": each.code,
        "severity": str(each.severity),
        "sentence": each.sentence,
        "source": each.source,
        "subject": each.subject,
        "layer": each.layer,
    }
