"""
Writes: what follows from the events of a draw, beyond the items themselves.

A finished draw marks its requisition as drawn and counts its blood against the patient's next
draw; an ended one is judged again by the core, and its findings are what the record keeps; a
container with a lot is taken from the lot's count.  All of it is a projection: made from the
events, taken back when a correction takes the events back, and made again by ``cubital rebuild``.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F

from cubital.chair import fold as chair_fold
from cubital.chair.values import Sheet
from cubital.custody import Draw, DrawState, Event, Item, Recorded, Specimen, effective
from cubital.custody.kinds import CHAIR, KINDS, MENDING
from cubital.desk.record.models import (
    DrawEffect,
    DrawFinding,
    LotUse,
    Patient,
    PatientDraw,
    Requisition,
    RequisitionState,
    SpecimenNow,
    StockLot,
    Touch,
)
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.rows import EVENT_COLUMNS, items_load, recorded_from
from cubital.desk.record.sheets import sheet_kept
from cubital.finding import Finding, Severity

ENDS = frozenset({"draw_finished", "draw_not_obtained"})
AT_CHAIR = frozenset(code for code, kind in KINDS.items() if kind.roles == CHAIR) | {
    "label_matched"
}
"""What a draw is judged by; the way of its tubes afterwards says nothing about the draw."""
OVER = (DrawState.FINISHED, DrawState.NOT_OBTAINED)


@dataclass(frozen=True, slots=True)
class Follows:
    """What follows from a draw as it stands."""

    effect: tuple[str, str, datetime, int] | None
    findings: tuple[Finding, ...]


def follow(records: Sequence[Recorded], touched: Mapping[str, Iterable[str]]) -> None:
    """
    Let follow what follows from records just written.

    Args:
        records: in their order.
        touched: event id -> subjects that it touches.
    """
    subjects: set[str] = set()
    for record in records:
        if record.event.kind in ENDS or record.event.kind in MENDING:
            subjects.update(touched[record.event.id])
        if record.event.kind == "tube_scanned" and record.event.payload.get("lot"):
            lot_use(record.event)
    for code in sorted(draws_of(subjects)):
        follow_draw(code)


def draws_of(subjects: Iterable[str]) -> set[str]:
    """The draws among these subjects, and those of the specimens among them."""
    by_type: dict[str, set[str]] = {}
    for subject in subjects:
        what, _, code = subject.partition(":")
        by_type.setdefault(what, set()).add(code)
    specimens = by_type.get("specimen")
    found = by_type.get("draw", set())
    if specimens:
        rows = SpecimenNow.objects.filter(code__in=specimens).exclude(draw="")
        found = found | set(rows.values_list("draw", flat=True))
    return found


def follow_all(
    items: Mapping[str, Item], touches: Iterable[tuple[str, int]], *, only_compare: bool = False
) -> tuple[str, ...]:
    """
    Make it again for every draw.

    Args:
        items: every item as the events say, by subject.
        touches: every subject with the position of an event that touches it.
        only_compare: look, and change nothing.

    Returns:
        The draws for which it was not what the events say.
    """
    positions: dict[str, set[int]] = {}
    for subject, position in touches:
        positions.setdefault(subject, set()).add(position)
    codes = {subject.partition(":")[2] for subject in items if subject.startswith("draw:")}
    codes |= {*DrawEffect.objects.values_list("draw", flat=True)}
    codes |= {*DrawFinding.objects.values_list("draw", flat=True)}
    wrong = []
    for code in sorted(codes):
        kept, wanted = kept_of(code), follows_of(code, items, positions)
        if kept != wanted:
            wrong.append(f"what follows from draw:{code}")
            if not only_compare:
                follow_save(code, kept, wanted)
    return tuple(wrong)


def follow_draw(code: str) -> None:
    """Put right what follows from one draw."""
    items = items_load([f"draw:{code}"])
    draw = items.get(f"draw:{code}")
    subjects = subjects_of(draw) if isinstance(draw, Draw) else []
    positions: dict[str, set[int]] = {}
    rows = Touch.objects.filter(subject__in=subjects).values_list("subject", "position")
    for subject, position in rows:
        positions.setdefault(subject, set()).add(position)
    wanted = follows_of(code, items | items_load(subjects), positions)
    follow_save(code, kept_of(code), wanted)


def follow_save(code: str, kept: Follows, wanted: Follows) -> None:
    """Put what is wanted in place of what is kept."""
    if kept.effect != wanted.effect:
        if kept.effect is not None:
            effect_undo(code, *kept.effect)
        if wanted.effect is not None:
            effect_do(code, *wanted.effect)
    if kept.findings != wanted.findings:
        findings_save(code, wanted.findings)


# ------------------------------------------------------------------ what the events say


def subjects_of(draw: Draw) -> list[str]:
    """A draw and its tubes."""
    return [f"draw:{draw.code}", *(f"specimen:{each}" for each in draw.specimens)]


def follows_of(
    code: str, items: Mapping[str, Item], positions: Mapping[str, Iterable[int]]
) -> Follows:
    """What follows from a draw, from its items and its events."""
    draw = items.get(f"draw:{code}")
    if not isinstance(draw, Draw) or draw.state not in OVER:
        return Follows(None, ())
    events = events_at({n for subject in subjects_of(draw) for n in positions.get(subject, ())})
    sheet = sheet_of(events)
    at_chair = [each for each in events if each.kind in AT_CHAIR]
    findings = chair_fold(sheet, at_chair).findings if sheet is not None else ()
    if draw.state is not DrawState.FINISHED or draw.ended_at is None:
        return Follows(None, findings)
    tubes = [items.get(f"specimen:{each}") for each in draw.specimens]
    volume = volume_of([each for each in tubes if isinstance(each, Specimen)], sheet)
    return Follows((draw.requisition, draw.patient, draw.ended_at, volume), findings)


def events_at(positions: Collection[int]) -> tuple[Event, ...]:
    """The events at these places of the log as they stand after all mending, in their order."""
    rows = EventRow.objects.filter(position__in=positions).order_by("position")
    return tuple(effective(recorded_from(row) for row in rows.values_list(*EVENT_COLUMNS)))


def sheet_of(events: Iterable[Event]) -> Sheet | None:
    """The sheet by which a draw was made, as its first event names it."""
    code = next((e.payload.get("sheet") for e in events if e.kind == "draw_begun"), None)
    return sheet_kept(str(code)) if code else None


def volume_of(tubes: Iterable[Specimen], sheet: Sheet | None) -> int:
    """Blood that a draw took, in µL: as estimated, else as the sheet expects of a full tube."""
    whole = sheet.discard_ul if sheet is not None else 0
    for each in tubes:
        if each.fill in ("", "none"):
            continue
        planned = sheet.tube(each.code) if sheet is not None else None
        expected = planned.fill_ul if planned is not None else 0
        whole += expected if each.volume_ul is None else each.volume_ul
    return whole


# ------------------------------------------------------------------ what the record holds


def kept_of(code: str) -> Follows:
    """What the record holds of it."""
    row = DrawEffect.objects.filter(draw=code).first()
    effect = None if row is None else (row.requisition, row.patient, row.taken_at, row.volume_ul)
    found = DrawFinding.objects.filter(draw=code).order_by("number")
    return Follows(effect, tuple(map(finding_of, found)))


def finding_of(row: DrawFinding) -> Finding:
    """A finding as the core gave it."""
    return Finding(row.code, Severity(row.severity), row.sentence, row.source, row.subject)


def findings_save(code: str, findings: Sequence[Finding]) -> None:
    """Write the findings of a draw in place of those that were there."""
    DrawFinding.objects.filter(draw=code).delete()
    DrawFinding.objects.bulk_create(
        DrawFinding(
            draw=code,
            number=number,
            code=each.code,
            severity=str(each.severity),
            sentence=each.sentence,
            source=each.source,
            subject=each.subject,
        )
        for number, each in enumerate(findings, start=1)
    )


def effect_do(
    code: str, requisition: str, patient: str, taken_at: datetime, volume_ul: int
) -> None:
    """Mark the requisition as drawn, and count the blood."""
    DrawEffect.objects.create(
        draw=code,
        requisition=requisition,
        patient=patient,
        taken_at=taken_at,
        volume_ul=volume_ul,
    )
    waiting = Requisition.objects.filter(number=requisition, state=RequisitionState.WAITING)
    waiting.update(state=RequisitionState.DRAWN)
    person = Patient.objects.filter(number=patient).first()
    if person is not None and volume_ul:
        PatientDraw.objects.get_or_create(patient=person, taken_at=taken_at, volume_ul=volume_ul)


def effect_undo(
    code: str, requisition: str, patient: str, taken_at: datetime, volume_ul: int
) -> None:
    """Take back what a draw did that, as the events stand now, did not end so."""
    DrawEffect.objects.filter(draw=code).delete()
    if not DrawEffect.objects.filter(requisition=requisition).exists():
        drawn = Requisition.objects.filter(number=requisition, state=RequisitionState.DRAWN)
        drawn.update(state=RequisitionState.WAITING)
    PatientDraw.objects.filter(
        patient__number=patient, taken_at=taken_at, volume_ul=volume_ul
    ).delete()


def lot_use(event: Event) -> None:
    """Take one container from the count of its lot, once."""
    lot = StockLot.objects.filter(
        place__code=event.site,
        container=str(event.payload["container"]),
        number=str(event.payload["lot"]),
    ).first()
    if lot is None:
        return
    _, fresh = LotUse.objects.get_or_create(
        specimen=event.subject.partition(":")[2], defaults={"lot": lot}
    )
    if fresh:
        StockLot.objects.filter(pk=lot.pk, count__gt=0).update(count=F("count") - 1)
