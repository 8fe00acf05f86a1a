"""What the patient says: shown on the plan's page, changed there, and what the chair was told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Self

from cubital.catalogue import Catalogue
from cubital.custody import Event
from cubital.desk import words
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.draw.page import Said, said
from cubital.desk.record.answers import ChairDraw, answers_of, chair_of
from cubital.desk.record.follow import finding_of
from cubital.desk.record.models import Requisition
from cubital.desk.requisition.draft import ANSWERS
from cubital.desk.requisition.typed import number, yes_no
from cubital.requisition.values import Answers

LABELS = (
    ("fasting_h", "Hours without food"),
    ("since_dose_h", "Hours since last dose"),
    ("next_dose_due", "Next dose still to come?"),
    ("seated_min", "Minutes seated"),
    ("supine_min", "Minutes lying"),
)
DUE = {True: "yes, not given yet", False: "no, already given"}
TOLD = {"met": "yes, it is so", "not_met": "no", "unknown": "not known"}


@dataclass(slots=True)
class AnswersDraft:
    """The answers as typed."""

    fasting_h: str = ""
    since_dose_h: str = ""
    next_dose_due: str = ""
    seated_min: str = ""
    supine_min: str = ""

    @classmethod
    def posted(cls, data: Mapping[str, str]) -> Self:
        """As the form sent them."""
        return cls(**{f.name: data.get(f.name, "").strip() for f in fields(cls)})

    @classmethod
    def of(cls, answers: Answers) -> Self:
        """As they stand."""
        due = {None: "", True: "yes", False: "no"}[answers.next_dose_due]
        numbers = {name: _shown(getattr(answers, name)) for name in ANSWERS}
        return cls(**numbers, next_dose_due=due)

    def to_mapping(self) -> dict[str, object]:
        """
        Give the core's JSON fields, for it to read and judge.

        Raises:
            InputError: a number that cannot be read.
        """
        typed: dict[str, object] = {
            name: number(getattr(self, name), what, f"{example}, a number")
            for name, (what, example) in ANSWERS.items()
        }
        return typed | {"next_dose_due": yes_no(self.next_dose_due)}


@dataclass(frozen=True, slots=True)
class Told:
    """One answer at the chair: what was asked, and what was said."""

    at: Any
    who: str
    asked: str
    answer: str


@dataclass(frozen=True, slots=True)
class AtChair:
    """One draw of the requisition: what was answered, and what was found."""

    begun_at: Any
    who: str
    state: str
    told: tuple[Told, ...]
    found: tuple[Said, ...]


def answers_context(row: Requisition) -> dict[str, Any]:
    """The part of the plan's page about the preparation."""
    last = answers_of([row]).get(row.number)
    answers = last.answers if last is not None else row.to_domain().answers
    catalogue = catalogue_at(row.place.catalogue_folder)
    return {
        "answer_lines": [(label, _words(name, answers)) for name, label in LABELS],
        "nothing_asked": answers == Answers(),
        "answered": last,
        "typed": AnswersDraft.of(answers),
        "at_chair": [_at_chair(each, catalogue, row) for each in chair_of(row)],
    }


def _shown(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}".rstrip("0").rstrip(".")


def _words(name: str, answers: Answers) -> str:
    value = getattr(answers, name)
    if value is None:
        return ""
    return DUE[value] if isinstance(value, bool) else _shown(value)


def _at_chair(each: ChairDraw, catalogue: Catalogue, row: Requisition) -> AtChair:
    return AtChair(
        each.draw.begun_at,
        each.draw.who,
        words.plain(each.draw.state),
        tuple(_told(event, catalogue, row) for event in each.answers),
        said((finding_of(found) for found in each.findings), catalogue),
    )


def _told(event: Event, catalogue: Catalogue, row: Requisition) -> Told:
    """The answer with the sentence that was read out, where the tables still have it."""
    need, test = str(event.payload["need"]), str(event.payload.get("test") or "")
    rows = catalogue.preparation(test, row.place.choices) if test in catalogue.tests else ()
    asked = next((each.sentence for each in rows if each.need == need), words.plain(need))
    return Told(event.happened_at, event.who, asked, TOLD[str(event.payload["answer"])])
