"""
The kinds of event there are: one vocabulary for the chair, the way to the bench, and after.

A kind is data: what it happens to, what its payload holds, who may write it.  A new kind is a row
here, and a line in ``moves.py`` if it changes where a specimen is or stands.
"""

from __future__ import annotations

from dataclasses import dataclass

from cubital.custody.event import Event
from cubital.custody.payload import Field, check_payload, is_code
from cubital.errors import EventRefused

COLLECTOR, BENCH, QUALITY, MANAGER = "collector", "bench", "quality", "manager"
CHAIR = frozenset({COLLECTOR})
WAY = frozenset({COLLECTOR, BENCH})
AT_BENCH = frozenset({BENCH})
DESK = frozenset({COLLECTOR, BENCH, MANAGER})
EVERYBODY = frozenset({COLLECTOR, BENCH, QUALITY, MANAGER})
ENTRY = frozenset({COLLECTOR, MANAGER})

SUBJECTS = (
    "patient", "requisition", "draw", "attempt", "specimen", "box", "spin", "incident", "waste",
)  # fmt: skip
"""What an event can happen to."""


@dataclass(frozen=True, slots=True)
class Kind:
    """
    A kind of event.

    Args:
        code: its name in the record.
        about: subject types it happens to.
        meaning: a short sentence.
        fields: of its payload.
        roles: who may write it.
        mendable: whether a later event may correct or withdraw it.
    """

    code: str
    about: tuple[str, ...]
    meaning: str
    fields: tuple[Field, ...] = ()
    roles: frozenset[str] = EVERYBODY
    mendable: bool = True


def _optional(name: str, type_: str = "code", high: int = 10**9) -> Field:
    return Field(name, type_, required=False, high=high)


def _volume(name: str, *, required: bool = False) -> Field:
    return Field(name, "whole", required=required, high=10**8)


def _places(name: str) -> Field:
    """Places of a rotor: of its specimens in their order, or of its balance tubes."""
    return Field(name, "whole", required=False, many=True, low=1, high=1000)


DRAW = Field("draw", subject="draw")
TESTS = Field("tests", "word", required=False, many=True)
NOTE = _optional("note", "text")
WHY = Field("reason", "text")
SIDE = Field("side", "choice", required=False, choices=("left", "right", ""))
GAUGE = _optional("gauge", "whole", high=40)
REMARKS = Field("remarks", "word", required=False, many=True)
"""Codes of reception rules that found something, beside the one that decides."""
HAEMOLYSIS = _optional("haemolysis_mg_l", "whole")
"""Free haemoglobin as measured, in mg/L."""

_CHAIR_KINDS = (
    Kind("draw_begun", ("draw",), "A collector begins a draw for a patient.",
         (Field("patient"), Field("requisition"), _optional("edition", "text"),
          _optional("planned_ul", "whole"), _optional("sheet")), CHAIR),
    Kind("identity_confirmed", ("draw",), "The patient said identifiers, and they agree.",
         (Field("identifiers", "word", many=True), _optional("scanned", "flag"),
          _optional("by", "word"), _optional("reason", "word"), _optional("second", "text")),
         CHAIR),
    Kind("identity_mismatch", ("draw",), "An identifier does not agree: the draw stops.",
         (Field("identifier", "word"), NOTE), CHAIR, mendable=False),
    Kind("preparation_answered", ("draw",), "What the patient says about their preparation.",
         (Field("need", "word"), Field("answer", "choice", choices=("met", "not_met", "unknown")),
          _optional("value", "whole"), _optional("test", "word"), NOTE), CHAIR),
    Kind("requisition_answered", ("requisition",),
         "What is known of the preparation, in place of all that was known before.",
         (_optional("fasting_min", "whole"), _optional("since_dose_min", "whole"),
          _optional("next_dose_due", "flag"), _optional("seated_min", "whole"),
          _optional("supine_min", "whole")), ENTRY),
    Kind("site_chosen", ("draw",), "Where the needle will go in.",
         (Field("body_site", "word"), SIDE, NOTE), CHAIR),
    Kind("device_chosen", ("draw",), "What the blood will be drawn with.",
         (Field("device", "word"), GAUGE, NOTE), CHAIR),
    Kind("tourniquet_on", ("draw",), "The tourniquet is on.", (), CHAIR),
    Kind("tourniquet_off", ("draw",), "The tourniquet is off.", (), CHAIR),
    Kind("attempt_begun", ("attempt",), "A new needle goes in.",
         (DRAW, _optional("body_site", "word"), SIDE, _optional("device", "word"), GAUGE), CHAIR),
    Kind("attempt_ended", ("attempt",), "The needle is out.",
         (DRAW, Field("success", "flag"), _optional("reason", "word"), NOTE), CHAIR),
    Kind("tube_scanned", ("specimen",), "A container is taken in hand for this patient.",
         (DRAW, Field("patient"), Field("container", "word"), _optional("additive", "word"),
          _optional("lot"), _optional("expires_on", "date"), _optional("position", "whole"),
          _optional("purpose", "word"), _optional("requisition"), TESTS), CHAIR),
    Kind("tube_refused", ("draw",), "A container was scanned that must not be used.",
         (Field("finding", "word"), _optional("container", "word"), _optional("lot"),
          _optional("code"), NOTE), CHAIR),
    Kind("tube_filled", ("specimen",), "How far the container filled.",
         (Field("fill", "choice", choices=("full", "short", "none")), _volume("volume_ul")), CHAIR),
    Kind("tube_mixed", ("specimen",), "The container was turned over gently.",
         (_optional("inversions", "whole", high=100),), CHAIR),
    Kind("label_printed", ("specimen",), "A label was printed for it.",
         (_optional("label"), _optional("copies", "whole", high=100)), DESK),
    Kind("label_matched", ("specimen",), "Its label was scanned on it, and agrees.",
         (_optional("label"),), WAY),
    Kind("draw_handed_over", ("draw",), "Another collector goes on.",
         (Field("to"), _optional("reason", "word"), NOTE), CHAIR),
    Kind("draw_finished", ("draw",), "Every tube is filled and labelled; the patient may go.",
         (NOTE,), CHAIR),
    Kind("draw_not_obtained", ("draw",), "The draw ends without the blood it was for.",
         (Field("reason", "word"), NOTE), CHAIR),
    Kind("incident_recorded", ("incident",), "Something went wrong.",
         (Field("what", "word"), _optional("draw"), _optional("patient"), _optional("specimen"),
          Field("people", required=False, many=True), _optional("severity", "word"), NOTE)),
    Kind("incident_followed_up", ("incident",), "What was done about it, or is due.",
         (Field("action", "text"), _optional("due_on", "date"), _optional("owner"),
          _optional("closed", "flag"), NOTE)),
    Kind("override_given", ("draw", "specimen", "requisition", "box", "spin"),
         "Somebody goes on although a rule asks, and says why.",
         (Field("finding", "word"), WHY, _optional("decided_by")), DESK),
)  # fmt: skip

_WAY_KINDS = (
    Kind("specimen_boxed", ("specimen",), "Scanned into a transport box.",
         (Field("box", subject="box"),), WAY),
    Kind("specimen_unboxed", ("specimen",), "Taken out of a box before it left.",
         (Field("box", subject="box"), NOTE), WAY),
    Kind("box_sent", ("box",), "The box leaves with what is in it.",
         (Field("to", "word"), Field("specimens", many=True, subject="specimen"),
          _optional("cooling", "word"), _optional("courier", "text")), WAY),
    Kind("box_opened", ("box",), "The box is opened where it arrived.", (NOTE,), WAY),
    Kind("specimen_missing", ("specimen",), "Not in the box in which it was listed.", (NOTE,), WAY),
    Kind("specimen_registered", ("specimen",),
         "A specimen without a draw on record arrives: from a ward, or no blood at all.",
         (Field("material", "word"), Field("patient"), _optional("requisition"),
          _optional("container", "word"), _optional("collected_at", "time"), _volume("volume_ul"),
          TESTS), WAY),
    Kind("specimen_received", ("specimen",), "It arrives at the reception.",
         (_optional("unlisted", "flag"), NOTE), WAY),
    Kind("specimen_accepted", ("specimen",), "Fit for testing, with or without a remark.",
         (TESTS, _optional("decided_by"), REMARKS, HAEMOLYSIS, NOTE), AT_BENCH),
    Kind("specimen_refused", ("specimen",), "Not fit, as a whole or for some tests.",
         (Field("reason", "word"), TESTS, REMARKS, HAEMOLYSIS, NOTE), AT_BENCH),
    Kind("recollection_asked", ("specimen", "requisition"), "It is asked for again.",
         (Field("reason", "word"), TESTS, NOTE), DESK),
    Kind("requester_told", ("specimen", "requisition", "incident"), "Who was told, and how.",
         (Field("told", "text"), _optional("how", "word"), NOTE), DESK),
)  # fmt: skip

_BENCH_KINDS = (
    Kind("spin_begun", ("spin",), "A centrifuge runs with these specimens in it.",
         (Field("centrifuge", "word"), Field("specimens", many=True, subject="specimen"),
          _optional("programme", "word"), _optional("rcf_g", "whole"),
          _optional("seconds", "whole"), _optional("speed_rpm", "whole"),
          _places("places"), _places("balance")), AT_BENCH),
    Kind("spin_ended", ("spin",), "The run ended, or was broken off.",
         (Field("specimens", many=True, subject="specimen"),
          Field("outcome", "choice", choices=("done", "broken_off")), NOTE), AT_BENCH),
    Kind("aliquot_made", ("specimen",), "A portion with a tube of its own.",
         (Field("parent", subject="specimen"), Field("patient"), Field("material", "word"),
          _volume("volume_ul", required=True), _optional("container", "word"), TESTS), AT_BENCH),
    Kind("specimen_stored", ("specimen",), "Put away.",
         (Field("storage"), _optional("condition", "word"), _optional("until", "time")), AT_BENCH),
    Kind("specimen_taken_out", ("specimen",), "Back on the bench from its store.",
         (NOTE,), AT_BENCH),
    Kind("tests_added", ("specimen", "requisition"), "More tests from blood already here.",
         (Field("tests", "word", many=True), NOTE), DESK),
    Kind("tests_done", ("specimen",), "Measured.",
         (Field("tests", "word", many=True), HAEMOLYSIS, NOTE), AT_BENCH),
    Kind("specimen_discarded", ("specimen",), "Gone into a waste stream.",
         (_optional("stream", "word"), NOTE), WAY),
    Kind("test_cancelled", ("requisition", "specimen"), "A test will not be done.",
         (Field("test", "word"), WHY), DESK),
)  # fmt: skip

_WASTE_KINDS = (
    Kind("waste_opened", ("waste",), "A bag or sharps box is put up, with a bar code of its own.",
         (Field("scheme", "word"), Field("stream", "word"), NOTE)),
    Kind("waste_filled", ("waste",), "How full it is.",
         (Field("percent", "whole", high=100), NOTE)),
    Kind("waste_closed", ("waste",), "It is shut for good.", (NOTE,)),
    Kind("waste_weighed", ("waste",), "What it weighs, closed.",
         (Field("weight_g", "whole", low=1, high=100_000), NOTE)),
    Kind("waste_handed_over", ("waste",), "It leaves with whoever carries it away.",
         (Field("to", "text"), NOTE)),
)  # fmt: skip

_MENDING_KINDS = (
    Kind("event_corrected", SUBJECTS, "An earlier event was entered wrongly; this is how it was.",
         (WHY, Field("payload", "object"), _optional("happened_at", "time")), mendable=False),
    Kind("event_withdrawn", SUBJECTS, "An earlier event did not happen.",
         (WHY,), mendable=False),
)  # fmt: skip

KINDS: dict[str, Kind] = {
    kind.code: kind
    for kind in (*_CHAIR_KINDS, *_WAY_KINDS, *_BENCH_KINDS, *_WASTE_KINDS, *_MENDING_KINDS)
}
"""Every kind, by its code."""

MENDING = frozenset(kind.code for kind in _MENDING_KINDS)
"""Kinds that mend another event."""


def check_event(event: Event) -> None:
    """
    Check an event against its kind: subject, payload, and whether it says what it mends.

    Raises:
        EventRefused: one sentence.
    """
    kind = KINDS.get(event.kind)
    if kind is None:
        raise EventRefused(f"There is no kind of event {event.kind!r}.")
    what, _, code = event.subject.partition(":")
    if what not in kind.about or not is_code(code):
        wanted = " or ".join(f"{each}:CODE" for each in kind.about)
        raise EventRefused(f"subject: {event.kind} happens to {wanted}, not {event.subject!r}.")
    if (event.corrects is not None) != (event.kind in MENDING):
        if event.corrects is None:
            raise EventRefused(f"corrects: {event.kind} must name the event that it mends.")
        raise EventRefused(
            f"corrects: {event.kind} mends nothing; send event_corrected or event_withdrawn."
        )
    check_payload(event.payload, kind.fields)
    if event.kind == "attempt_ended":
        _check_reason(event)


def _check_reason(event: Event) -> None:
    """An attempt that failed says why."""
    if event.payload["success"] is False and not event.payload.get("reason"):
        raise EventRefused("payload.reason is missing: an attempt that failed says why.")


def touched(event: Event) -> tuple[str, ...]:
    """
    Give the subjects to which an event happens: its own, and those its payload names so.

    A mending event touches only its own subject here; ``mending.touched_by_mending`` adds those of
    the event that it mends.
    """
    subjects = [event.subject]
    for each in KINDS[event.kind].fields:
        if not each.subject:
            continue
        value = event.payload.get(each.name)
        codes = value if isinstance(value, list | tuple) else [value]
        subjects += [f"{each.subject}:{code}" for code in codes if code]
    return tuple(dict.fromkeys(subjects))
