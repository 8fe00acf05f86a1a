"""A requisition as typed into the form."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.http import QueryDict

from cubital.desk.requisition.patient_draft import PatientDraft
from cubital.desk.requisition.typed import moment, number, yes_no

ANSWERS = {
    "fasting_h": ("hours without food", "12"),
    "since_dose_h": ("hours since the last dose", "11.5"),
    "seated_min": ("minutes seated", "15"),
    "supine_min": ("minutes lying", "30"),
}


@dataclass(slots=True)
class Draft:
    """The form's fields, as typed; ``tests`` are (code, priority)."""

    requisition_number: str = ""
    patient: PatientDraft = field(default_factory=PatientDraft)
    known_patient: bool = False
    another_person: bool = False
    tests: list[tuple[str, str]] = field(default_factory=list)
    collect_date: str = ""
    collect_time: str = ""
    urgent: bool = False
    requester: str = ""
    ward: str = ""
    remarks: str = ""
    fasting_h: str = ""
    since_dose_h: str = ""
    next_dose_due: str = ""
    seated_min: str = ""
    supine_min: str = ""

    @classmethod
    def blank(cls, now: datetime) -> Draft:
        """An empty form, for a draw now."""
        return cls(collect_date=f"{now:%Y-%m-%d}", collect_time=f"{now:%H:%M}")

    @classmethod
    def posted(cls, data: QueryDict) -> Draft:
        """As the form sent it."""
        ticks = ("known_patient", "another_person", "urgent")
        typed: dict[str, Any] = {
            f.name: data.get(f.name, "").strip()
            for f in fields(cls)
            if f.name not in (*ticks, "patient", "tests")
        }
        return cls(
            **typed,
            known_patient=data.get("known_patient", "") == "on",
            another_person=data.get("another_person", "") == "on",
            urgent=data.get("urgent", "") == "on",
            patient=PatientDraft.posted(data),
            tests=[(code, data.get(f"priority-{code}", "5")) for code in data.getlist("test")],
        )

    def to_mapping(self, zone: ZoneInfo) -> dict[str, Any]:
        """
        Give the requisition's JSON shape, for the core to read and judge.

        Raises:
            InputError: a number, date or time that cannot be read.
        """
        answers: dict[str, Any] = {
            name: number(getattr(self, name), what, f"{example}, a number")
            for name, (what, example) in ANSWERS.items()
        }
        answers["next_dose_due"] = yes_no(self.next_dose_due)
        return {
            "schema": "cubital.requisition/1",
            "number": self.requisition_number,
            "patient": dict(self.patient.to_mapping()),
            "tests": [
                {"code": code, "priority": int(priority) if priority.isdecimal() else priority}
                for code, priority in self.tests
            ],
            "collect_at": moment(self.collect_date, self.collect_time, zone).isoformat(),
            "requester": self.requester,
            "ward": self.ward,
            "urgent": self.urgent,
            "answers": {name: value for name, value in answers.items() if value is not None},
            "remarks": self.remarks,
        }
