"""A patient as typed into a form: kept as typed until it can be read, so that nothing is lost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from django.http import QueryDict

from cubital.desk import words
from cubital.desk.requisition.typed import number, scaled
from cubital.requisition.values import Patient


@dataclass(slots=True)
class ConditionDraft:
    """One condition as chosen: code, side and site."""

    code: str
    side: str = ""
    site: str = ""

    @classmethod
    def read(cls, text: str) -> ConditionDraft:
        """From the one hidden value a row of the form carries."""
        code, side, site = [*text.split("|"), "", ""][:3]
        return cls(code, side, site)

    @property
    def value(self) -> str:
        """The hidden value a row of the form carries."""
        return f"{self.code}|{self.side}|{self.site}"

    @property
    def words(self) -> str:
        """As a person says it."""
        parts = (self.code, self.side, self.site)
        return ", ".join(words.plain(part) for part in parts if part)


@dataclass(slots=True)
class PatientDraft:
    """The form's fields, as typed."""

    number: str = ""
    family_name: str = ""
    given_name: str = ""
    birth_date: str = ""
    sex: str = "unknown"
    weight_kg: str = ""
    height_cm: str = ""
    haematocrit: str = ""
    veins: str = "unknown"
    conditions: list[ConditionDraft] = field(default_factory=list)

    @classmethod
    def posted(cls, data: QueryDict) -> PatientDraft:
        """As the form sent it."""
        plain = {
            f.name: data.get(f.name, "").strip() for f in fields(cls) if f.name != "conditions"
        }
        plain["sex"] = plain["sex"] or "unknown"
        plain["veins"] = plain["veins"] or "unknown"
        return cls(**plain, conditions=[ConditionDraft.read(c) for c in data.getlist("condition")])

    @classmethod
    def of(cls, patient: Patient) -> PatientDraft:
        """As the record holds it."""
        haematocrit = patient.haematocrit_percent
        return cls(
            number=patient.number,
            family_name=patient.family_name,
            given_name=patient.given_name,
            birth_date=patient.birth_date.isoformat() if patient.birth_date else "",
            sex=patient.sex,
            weight_kg=words.kg(patient.weight_g) if patient.weight_g is not None else "",
            height_cm=words.cm(patient.height_mm) if patient.height_mm is not None else "",
            haematocrit="" if haematocrit is None else f"{haematocrit:g}",
            veins=patient.veins,
            conditions=[ConditionDraft(c.code, c.side, c.site) for c in patient.conditions],
        )

    def to_mapping(self) -> Mapping[str, Any]:
        """
        Give the patient part of the requisition's JSON shape.

        Raises:
            InputError: a number that cannot be read.
        """
        given: dict[str, Any] = {
            "number": self.number,
            "family_name": self.family_name,
            "given_name": self.given_name,
            "birth_date": self.birth_date or None,
            "sex": self.sex,
            "weight_g": scaled(
                self.weight_kg, "weight", "3.2 kg, without the unit", words.G_PER_KG
            ),
            "height_mm": scaled(
                self.height_cm, "height", "172 cm, without the unit", words.MM_PER_CM
            ),
            "haematocrit_percent": number(self.haematocrit, "haematocrit", "45, in percent"),
            "veins": self.veins,
            "conditions": [
                {"code": c.code, "side": c.side, "site": c.site} for c in self.conditions
            ],
        }
        return {key: value for key, value in given.items() if value not in (None, "", [])}
