"""What the page of one specimen shows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone

from cubital.accession import is_sound
from cubital.catalogue import Catalogue
from cubital.catalogue.model_reception import Examination, HaemolysisGrade, Material
from cubital.custody import KINDS, Event, Specimen, State
from cubital.desk import words
from cubital.desk.people.request import DeskRequest
from cubital.desk.reception.seen import FILLS, IDENTITY, LABELS, Seen
from cubital.desk.reception.shown import (
    OUTCOMES,
    material_name,
    sentences,
    since,
    tests_shown,
    tube_shown,
)
from cubital.desk.record import selectors, selectors_way
from cubital.desk.record.models import Role
from cubital.desk.record.receptions import refused_tests
from cubital.desk.transport.known import Here, Known
from cubital.reception import Outcome, Verdict

ARRIVED = (State.RECEIVED, State.ACCEPTED, State.REFUSED, State.SPUN, State.ALIQUOTED)
SCALE_RGB = {0: "#f0dc8c", 1: "#f0b890", 2: "#e58a76", 3: "#cf4a47", 4: "#8f1a24"}
"""About how plasma looks at each grade, on a screen; the words beside it count."""
FULL_WORDS = {
    Outcome.ACCEPTED: "Nothing stands against it.",
    Outcome.REMARKED: "It may be accepted, with a remark.",
    Outcome.UNDECIDED: "A named person decides.",
    Outcome.REFUSED: "It is refused, and asked for again.",
    Outcome.PARTLY: "Some of its tests are refused, and asked for again.",
}


@dataclass(frozen=True, slots=True)
class Grade:
    """One step of the drawn scale of haemolysis."""

    grade: str
    name: str
    rgb: str
    up_to: str


@dataclass(frozen=True, slots=True)
class Step:
    """One event on the specimen's way."""

    at: datetime
    meaning: str
    who: str
    said: str


def has_arrived(specimen: Specimen) -> bool:
    """Whether it stands in a laboratory already, so that its arrival counts and not now."""
    return specimen.state in ARRIVED


def may_be_decided(specimen: Specimen, request: DeskRequest) -> bool:
    """Whether the reception here may decide on it now."""
    return has_arrived(specimen) and specimen.site == request.place.code


def page_context(
    request: DeskRequest, known: Known, here: Here, seen: Seen, verdict: Verdict | None
) -> dict[str, Any]:
    """Everything the page reads."""
    specimen, catalogue, now = known.specimen, here.catalogue, timezone.now()
    writes = request.user.role == Role.BENCH
    held = here.row.code in (specimen.site, specimen.bound_for)
    return {
        "specimen": specimen,
        "sound": is_sound(specimen.code),
        "row": known.row,
        "patient": known.requisition.patient,
        "today": timezone.localdate(),
        "tube": tube_shown(specimen, catalogue),
        "material": material_name(specimen.material, catalogue),
        "is_blood": specimen.material == "blood",
        "age": since(specimen.collected_at, now),
        "state": specimen.state.replace("_", " "),
        "where": place_words(specimen),
        "fill": fill_words(specimen),
        "logged": logged(known),
        "steps": steps(known.events),
        "seen": seen,
        "may_write": writes,
        "may_decide": writes and may_be_decided(specimen, request),
        "may_receive": writes and held and not has_arrived(specimen),
        "may_take_over": writes and not held,
        "may_label": writes and specimen.site == here.row.code,
        **seen_choices(specimen, catalogue, seen),
        **(verdict_context(request, known, verdict, catalogue) if verdict is not None else {}),
    }


def verdict_context(
    request: DeskRequest, known: Known, verdict: Verdict, catalogue: Catalogue
) -> dict[str, Any]:
    """The verdict, and the one button; none where everything is decided so already."""
    tests = tests_shown(verdict, catalogue)
    done = sum(not each.refused and not each.undecided for each in tests)
    refused = sum(each.refused for each in tests)
    undecided = any(each.undecided for each in tests)
    kind, _ = OUTCOMES[verdict.outcome]
    settled = known.specimen.state in (State.ACCEPTED, State.SPUN, State.ALIQUOTED)
    before = refused_tests(known.events)
    fresh = [each for each in tests if each.refused and each.code not in before]
    nothing_new = settled and not fresh and not undecided
    if known.specimen.state is State.REFUSED and not done and not undecided:
        nothing_new = True  # refused already, and not refused a second time
    return {
        "verdict": verdict,
        "kind": kind if tests else "ask",
        "outcome": FULL_WORDS[verdict.outcome] if tests else "Nobody asked for a test from it.",
        "tests": tests,
        "undecided": undecided,
        "refuses": bool(refused) or undecided,
        "button": "" if not tests or nothing_new else button(done, refused, undecided=undecided),
        "remark_late": nothing_new and settled and verdict.outcome is Outcome.REMARKED,
        "people": list(selectors_way.who_may_decide()) if undecided else [],
        "me": request.user.get_username(),
        "edition": verdict.edition,
        "summary": sentences(verdict),
    }


def button(done: int, refused: int, *, undecided: bool) -> str:
    """What the one button does."""
    if undecided:
        return "Store the decision"
    if not refused:
        return f"Accept {words.counted(done, 'test')}"
    if not done:
        return "Refuse it"
    return f"Accept {done}, refuse {refused}"


def seen_choices(specimen: Specimen, catalogue: Catalogue, seen: Seen) -> dict[str, Any]:
    """What the taps offer."""
    wanted = [r for r in catalogue.rows(Examination) if r.material == specimen.material]
    return {
        "labels": LABELS,
        "identities": IDENTITY,
        "fills": FILLS,
        "other_fill": seen.fill not in ("", *FILLS),
        "grades": [
            Grade(str(row.grade), row.name, SCALE_RGB.get(row.grade, "#8f1a24"),
                  f"{row.up_to_g_per_l:g}")
            for row in catalogue.rows(HaemolysisGrade)
        ],
        "containers": [(row.code, row.name) for row in catalogue.containers.values()],
        "vessels": list(dict.fromkeys(row.container for row in wanted)),
        "preservatives": list(dict.fromkeys(r.preservative for r in wanted if r.preservative)),
        "timed": any(r.timed for r in catalogue.rows(Material) if r.code == specimen.material),
    }  # fmt: skip


def place_words(specimen: Specimen) -> str:
    """Where it is, in words."""
    holder = selectors.place_by_code(specimen.site)
    name = holder.name if holder is not None else specimen.site
    return f"{specimen.place.replace(':', ' ')}, {name}"


def fill_words(specimen: Specimen) -> str:
    """What the chair said of its fill."""
    if not specimen.fill:
        return ""
    volume = f", about {words.ml(specimen.volume_ul)} mL" if specimen.volume_ul else ""
    return f"{specimen.fill}{volume}"


def logged(known: Known) -> str:
    """The most that a log of its journey used up of any test, in words."""
    if not known.flights:
        return ""
    worst = max(percent for percent, _ in known.flights.values())
    return f"read; up to {worst:.0f} % of what a test keeps was used up on the way"


def steps(events: Iterable[Event]) -> list[Step]:
    """The specimen's own events, newest first."""
    own = [event for event in events if not event.subject.startswith("requisition:")]
    deciders = (str(event.payload.get("decided_by") or "") for event in own)
    names = selectors_way.shown_names([*(event.who for event in own), *deciders])
    return [
        Step(
            event.happened_at,
            KINDS[event.kind].meaning,
            names.get(event.who, event.who),
            payload_words(event, names),
        )
        for event in reversed(own)
    ]


def payload_words(event: Event, names: Mapping[str, str]) -> str:
    """What an event says that matters to the reception."""
    said = event.payload
    parts = [str(said[name]) for name in ("reason", "told", "how", "finding") if said.get(name)]
    if said.get("decided_by"):
        who = str(said["decided_by"])
        parts.append(f"decided by {names.get(who, who)}")
    if event.kind == "specimen_boxed" or event.kind == "box_sent":
        parts.append(str(said.get("box") or said.get("to") or ""))
    if said.get("note"):
        parts.append(str(said["note"]))
    return "; ".join(words.plain(p) if p in (said.get("reason"), said.get("finding")) else p
                     for p in parts if p)  # fmt: skip
