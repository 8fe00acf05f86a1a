"""What the receiver taps on the page, as text, as the rules' value, and in words for the events."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from datetime import date, datetime
from typing import Any

from cubital.catalogue import Catalogue
from cubital.catalogue.model_reception import HaemolysisGrade
from cubital.desk.record.receptions import Evidence
from cubital.desk.requisition.typed import number
from cubital.errors import InputError
from cubital.reception import Arrival

LABELS = (
    ("one", "one, complete"),
    ("incomplete", "one, not complete"),
    ("two", "two or more"),
    ("none", "none"),
)
IDENTITY = (("agrees", "agrees"), ("disagrees", "another person"), ("unknown", "not compared"))
FILLS = ("25", "50", "75", "90")
UL_PER_ML = 1000
MG_PER_G = 1000


@dataclass(frozen=True, slots=True)
class Seen:
    """Everything as it was tapped or typed; the defaults mean that it looks right."""

    labels: str = "one"
    identity: str = "agrees"
    container: str = ""
    fill: str = ""
    clot: str = ""
    grade: str = ""
    haemolysis: str = ""
    leaking: str = ""
    temperature: str = ""
    expires_on: str = ""
    material: str = ""
    vessel: str = ""
    preservative: str = ""
    volume_ml: str = ""
    timed_hours: str = ""
    timed_volume_ml: str = ""

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Seen:
        """Read a form or what was kept; unknown names are left alone."""
        known = {each.name for each in fields(cls)}
        given = {name: str(data[name]).strip() for name in known if name in data}
        return replace(cls(), **given)

    def kept(self) -> dict[str, str]:
        """What is kept of it: only what differs from looking right."""
        usual = asdict(Seen())
        return {name: value for name, value in asdict(self).items() if value != usual[name]}

    def arrival(self, accession: str, at: datetime, *, material: str) -> Arrival:
        """
        As the rules take it.

        Raises:
            InputError: a number or date that cannot be read.
        """
        minutes = scaled(self.timed_hours, "Hours of collection", "24", 60)
        volume = scaled(self.timed_volume_ml, "Whole volume, mL", "1450", 1)
        grade = number(self.grade, "Haemolysis", "2")
        return Arrival(
            accession=accession,
            received_at=at,
            labels={"none": 0, "two": 2}.get(self.labels, 1),
            label_complete=self.labels != "incomplete",
            identity_agrees={"agrees": True, "disagrees": False}.get(self.identity),
            material=self.material or material,
            container=self.container,
            preservative=self.preservative,
            expires_on=day(self.expires_on, "Tube expires on"),
            fill_percent=scaled(self.fill, "Filled to, %", "75", 1),
            volume_ul=scaled(self.volume_ml, "Volume, mL", "2.5", UL_PER_ML),
            clot=self.clot == "yes",
            haemolysis_grade=None if grade is None else int(grade),
            haemolysis_g_per_l=number(self.haemolysis, "Haemolysis index, g/L", "0.6"),
            leaking=self.leaking == "yes",
            temperature_c=number(self.temperature, "Temperature, °C", "4.5"),
            timed_minutes=minutes,
            timed_volume_ml=volume,
            vessel=self.vessel,
        )

    def evidence(self, catalogue: Catalogue) -> Evidence:
        """In words, and the measured index in mg/L."""
        index = number(self.haemolysis, "Haemolysis index, g/L", "0.6")
        mg_l = None if index is None else round(index * MG_PER_G)
        return Evidence("; ".join(self.words(catalogue)), mg_l)

    def words(self, catalogue: Catalogue) -> list[str]:
        """What differs from looking right, each in a few words."""
        grades = {str(row.grade): row.name for row in catalogue.rows(HaemolysisGrade)}
        containers = catalogue.containers
        given = {
            "labels": f"labels: {dict(LABELS).get(self.labels, self.labels)}",
            "identity": f"identity: {dict(IDENTITY).get(self.identity, self.identity)}",
            "container": f"container: {_name(containers, self.container)}",
            "fill": f"filled to {self.fill} %",
            "clot": "clot seen",
            "grade": f"haemolysis: {grades.get(self.grade, self.grade)}",
            "haemolysis": f"haemolysis index {self.haemolysis} g/L",
            "leaking": "leaking or broken",
            "temperature": f"{self.temperature} °C at the opening",
            "expires_on": f"tube expires on {self.expires_on}",
            "vessel": f"in a {self.vessel}",
            "preservative": f"preservative: {self.preservative}",
            "volume_ml": f"{self.volume_ml} mL",
            "timed_hours": f"collected over {self.timed_hours} h",
            "timed_volume_ml": f"{self.timed_volume_ml} mL in all",
        }
        return [given[name] for name in self.kept() if name in given]


def _name(containers: Mapping[str, Any], code: str) -> str:
    row = containers.get(code)
    return row.name if row is not None else code


def scaled(text: str, what: str, example: str, factor: int) -> int | None:
    """
    Read a number that is not negative, as whole small units.

    Raises:
        InputError: it is no number, or negative.
    """
    value = number(text, what, example)
    if value is None:
        return None
    if value < 0:
        raise InputError(f"{text!r} is less than nothing", what, f"Write it as {example}.")
    return round(value * factor)


def day(text: str, what: str) -> date | None:
    """
    Read a date; None where nothing was written.

    Raises:
        InputError: it is no date.
    """
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as bad:
        raise InputError(f"{text!r} is no date", what, "Write it as 2026-11-25.") from bad
