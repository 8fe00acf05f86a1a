"""One scan at the reception, answered: accepted at once, or standing out with the reason."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from cubital.accession import LENGTH, read_accession
from cubital.custody import Answer as Recording
from cubital.custody import Specimen, State
from cubital.custody import Verdict as Stored
from cubital.desk.reception.judging import judge
from cubital.desk.reception.seen import Seen
from cubital.desk.reception.shown import (
    OUTCOMES,
    SpecimenShown,
    sentences,
    since,
    specimen_shown,
)
from cubital.desk.record import boxes, receptions, selectors, selectors_way
from cubital.desk.record.models import Person, Role, Stranger
from cubital.desk.transport.known import Here, known_of
from cubital.errors import InputError
from cubital.reception import Arrival, Verdict, accepts_at_once, not_registered
from cubital.transport import compare_box

ON_THEIR_WAY = (State.DRAWN, State.LABELLED, State.IN_TRANSIT, State.MISSING, State.BOXED)
LONGEST = 64


@dataclass(frozen=True, slots=True)
class Answer:
    """
    What the page says to a scan.

    Args:
        kind: ``good``, ``note``, ``twice``, ``ask`` or ``stop``; the last two stand out.
        word: in a word or two.
        code: the number, as far as it could be read.
        sentence: why, "" where nothing is to be said.
        shown: the specimen, None where the record knows none.
        link: where to go on, "" where there is nothing more.
    """

    kind: str
    word: str
    code: str
    sentence: str = ""
    shown: SpecimenShown | None = None
    link: str = ""

    @property
    def stands_out(self) -> bool:
        """Whether somebody has to look."""
        return self.kind in ("ask", "stop")


@dataclass(frozen=True, slots=True)
class InBox:
    """A box that is being unpacked: its code, the event with which it left, and its list."""

    box: str
    sent: str
    listed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Scene:
    """Where, by whom and when something is scanned; and out of which box."""

    here: Here
    by: Person
    now: datetime
    box: InBox | None = None


def answer_scan(text: str, scene: Scene) -> Answer:
    """Answer one scan, and store what follows from it."""
    text = "".join(each for each in text if each.isprintable()).strip()[:LONGEST]
    if not text:
        return Answer("ask", "Nothing", "", "Nothing was scanned.")
    code, misread = number_read(text)
    specimen = selectors_way.specimen_now(code)
    if specimen is None and misread:
        return Answer("stop", "Misread", text, misread)
    if scene.box is None:
        return answer_known(code, specimen, scene)
    with transaction.atomic():
        answer = answer_known(code, specimen, scene)
        return told_against_list(answer, code, scene.box, scene)


def number_read(text: str) -> tuple[str, str]:
    """The number as the record writes it; and why it cannot be one, where its check tells."""
    try:
        return read_accession(text), ""
    except InputError as refused:
        plain = "".join(text.split()).replace("-", "")
        looks_like_one = len(plain) == LENGTH and plain[:2].isalnum() and plain[2:12].isdigit()
        return text, str(refused) if looks_like_one else ""


def answer_known(code: str, specimen: Specimen | None, scene: Scene) -> Answer:
    """Answer by where the specimen stands."""
    if specimen is None:
        return stranger(code, scene)
    if scene.here.row.code not in (specimen.site, specimen.bound_for):
        return elsewhere(specimen, scene)
    if specimen.state in ON_THEIR_WAY or specimen.state is State.RECEIVED:
        return arrive(specimen, scene)
    return already(specimen, scene)


def told_against_list(answer: Answer, code: str, box: InBox, scene: Scene) -> Answer:
    """Note that it was in the box, and say so when it is not on the list."""
    boxes.box_found_add(box=box.box, sent=box.sent, code=code, by=scene.by, now=scene.now)
    extra = [f for f in compare_box(box.listed, [*box.listed, code]) if f.subject == code]
    if not extra:
        return answer
    sentence = " ".join(filter(None, (extra[0].sentence, answer.sentence)))
    kind = answer.kind if answer.stands_out else "ask"
    word = answer.word if answer.stands_out else f"{answer.word}, not listed"
    return replace(answer, kind=kind, word=word, sentence=sentence)


# ---------------------------------------------------------------- what is known here


def arrive(specimen: Specimen, scene: Scene) -> Answer:
    """Receive it where it is on its way, have it judged, and accept it where nothing stands out."""
    here, now = scene.here, scene.now
    known = known_of(specimen)
    shown = specimen_shown(known, here.catalogue, now)
    waiting = specimen.state is State.RECEIVED
    at = specimen.received_at or now if waiting else now
    link = reverse("reception-specimen", args=[specimen.code])
    verdict: Verdict | None
    try:
        seen = Seen.of(selectors_way.looked(specimen.code)) if waiting else Seen()
        verdict, sentence = judge(known, here, seen, at=at, now=now), ""
    except InputError as unclear:
        verdict, sentence = None, str(unclear)
    done = accepts_at_once(verdict) if verdict is not None else None
    if scene.by.role != Role.BENCH:
        done = None
    refused = stored(specimen, scene, lambda: receptions.specimen_arrive(
        specimen=specimen, accept=done, place=here.row, by=scene.by, now=now))  # fmt: skip
    if refused is not None:
        return replace(refused, shown=shown)
    if selectors_way.is_asked_about(here.row, specimen.code):
        receptions.strangers_known(text=specimen.code, place=here.row, by=scene.by, now=now)
    if verdict is None:
        return Answer("ask", "Received", specimen.code, sentence, shown, link)
    return judged(verdict, Answer("", "", specimen.code, "", shown, link), specimen, scene)


def judged(verdict: Verdict, answer: Answer, specimen: Specimen, scene: Scene) -> Answer:
    """Put the verdict into the answer."""
    kind, word = OUTCOMES[verdict.outcome]
    said = sentences(verdict)
    if not verdict.tests:
        kind, word, said = "ask", "No test", "Nobody asked for a test from it: ask the requester."
    elif scene.by.role != Role.BENCH and kind in ("good", "note"):
        word = "Received"
    elif kind in ("good", "note"):
        word = "Accepted" if kind == "good" else "Accepted, remark"
    if specimen.state is State.RECEIVED and kind in ("ask", "stop"):
        at = since(specimen.received_at, scene.now)
        said = f"Received {at} ago, and still to be decided. {said}"
    if specimen.state is State.BOXED:
        said = f"It was in a box that had not left, and is taken out of it. {said}"
    if specimen.state is State.MISSING:
        said = f"It was said to be missing, and is here. {said}"
    return replace(answer, kind=kind, word=word, sentence=said.strip())


def stored(
    specimen: Specimen, scene: Scene, store: Callable[[], tuple[Recording, ...]]
) -> Answer | None:
    """Store, and give an answer only where the record refuses: often a colleague was faster."""
    answers = store()
    wrong = [each for each in answers if each.verdict is Stored.REFUSED]
    if not wrong:
        return None
    now = selectors_way.specimen_now(specimen.code)
    if now is not None and now.state is not specimen.state:
        return already(now, scene)
    link = reverse("reception-specimen", args=[specimen.code])
    return Answer("stop", "Not stored", specimen.code, wrong[0].sentence, None, link)


def already(specimen: Specimen, scene: Scene) -> Answer:
    """It has been here before, or it cannot be here at all."""
    link = reverse("reception-specimen", args=[specimen.code])
    if specimen.state in (State.PLANNED, State.EMPTY):
        said = (
            "The chair has not said yet how it filled: wait for its events, or ask the collector."
        )
        if specimen.state is State.EMPTY:
            said = "The chair says that no blood came into it: ask the collector."
        return Answer("ask", "Not filled", specimen.code, said, None, link)
    at = specimen.received_at
    when = f"{timezone.localtime(at):%H:%M:%S}" if at is not None else "a time nobody wrote down"
    said = f"Received already at {when}; nothing is stored twice."
    if specimen.state is State.REFUSED:
        return Answer("stop", "Refused already", specimen.code, said, None, link)
    if specimen.state is State.DISCARDED:
        said = "The record says that it was thrown away: look at the number again."
        return Answer("stop", "Thrown away", specimen.code, said, None, link)
    return Answer("twice", "Already here", specimen.code, said, None, link)


# ---------------------------------------------------------------- what is not


def elsewhere(specimen: Specimen, scene: Scene) -> Answer:
    """It belongs to another place, which has not sent it here."""
    holder = selectors.place_by_code(specimen.site)
    name = holder.name if holder is not None else specimen.site
    known = known_of(specimen)
    bound = selectors.place_by_code(specimen.bound_for) if specimen.bound_for else None
    said = f"{name} holds it and has not sent it here"
    if bound is not None:
        said = f"{name} sent it to {bound.name}, not here"
    keep(specimen.code, f"{said}.", scene)
    return Answer(
        "ask",
        "Another place’s",
        specimen.code,
        f"{said}: keep it, and look.",
        specimen_shown(known, scene.here.catalogue, scene.now),
        reverse("reception-specimen", args=[specimen.code]),
    )


def stranger(code: str, scene: Scene) -> Answer:
    """Nobody knows it: it is kept, and asked about; other things than specimens are told apart."""
    other = no_specimen(code)
    if other is not None:
        return other
    arrival = Arrival(accession=code, received_at=scene.now)
    finding = not_registered(arrival, scene.here.catalogue).findings[0]
    why = finding.sentence
    label = selectors_way.accession_row(code)
    if label is not None:
        why = (
            f"{receptions.UNTOLD} {label.requisition.number}, and the chair has not told of it yet."
        )
    row = keep(code, why, scene)
    link = reverse("reception-stranger", args=[row.pk])
    word = "Not told of yet" if label is not None else "Not known"
    return Answer("ask", word, code, why, None, link)


def keep(code: str, why: str, scene: Scene) -> Stranger:
    """Keep the question until somebody answers it."""
    return receptions.stranger_keep(
        text=code, why=why, place=scene.here.row, by=scene.by, now=scene.now
    )


def no_specimen(code: str) -> Answer | None:
    """A number that is known, and is no specimen's."""
    if selectors_way.box_now(code) is not None:
        return Answer("ask", "A box", code, "That is a box: open its page.", None,
                      reverse("transport-box", args=[code]))  # fmt: skip
    row = selectors.requisition_by_number(code)
    if row is not None:
        return Answer("ask", "A requisition", code,
                      "That is the number of a requisition: scan the label on the tube.", None,
                      reverse("plan", args=[code]))  # fmt: skip
    if selectors.patient_by_number(code) is not None:
        return Answer("ask", "A patient", code,
                      "That is a patient’s number: scan the label on the tube.")  # fmt: skip
    return None
