"""
A morning's requisitions of the invented clinic: fifteen patients, each with something to plan for.

Ages are given back from the day of the demo.  A patient whose facts hang on that day (a newborn, a
child with blood taken yesterday) has the day in the number, so that another morning brings another.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

YEAR = timedelta(days=365.25)


@dataclass(frozen=True, slots=True)
class Case:
    """
    One patient and what is asked for.

    Args:
        key: last part of the patient's number; ``{day}`` in it is the day.
        age: back from the day.
        at: local time of the draw.
        tests: codes, or (code, priority).
        facts: more of the patient, in the requisition's JSON shape.
        taken: earlier draws, as (hours ago, µL).
        state: ``waiting``, ``drawn`` or ``cancelled``.
    """

    key: str
    family_name: str
    given_name: str
    age: timedelta | None
    sex: str
    at: time
    tests: tuple[str | tuple[str, int], ...]
    ward: str = ""
    requester: str = "Dr Halvek"
    urgent: bool = False
    facts: dict[str, Any] = field(default_factory=dict)
    answers: dict[str, Any] = field(default_factory=dict)
    taken: tuple[tuple[float, int], ...] = ()
    remarks: str = ""
    place: str = "ostrel-valley"
    state: str = "waiting"

    def patient_number(self, day: date) -> str:
        """The patient's number."""
        return f"OV-{self.key.format(day=f'{day:%y%m%d}')}"

    def to_mapping(self, number: str, now: datetime, zone: ZoneInfo) -> dict[str, Any]:
        """Give the requisition's JSON shape."""
        day = now.astimezone(zone).date()
        patient: dict[str, Any] = {
            "number": self.patient_number(day),
            "family_name": self.family_name,
            "given_name": self.given_name,
            "sex": self.sex,
            **self.facts,
        }
        if self.age is not None:
            patient["birth_date"] = (day - self.age).isoformat()
        if self.taken:
            midnight = datetime.combine(day, time.min, tzinfo=zone)
            patient["prior_draws"] = [
                {"taken_at": (midnight - timedelta(hours=h)).isoformat(), "volume_ul": volume}
                for h, volume in self.taken
            ]
        return {
            "schema": "cubital.requisition/1",
            "number": number,
            "patient": patient,
            "tests": [
                {"code": each} if isinstance(each, str) else {"code": each[0], "priority": each[1]}
                for each in self.tests
            ],
            "collect_at": datetime.combine(day, self.at, tzinfo=zone).isoformat(),
            "requester": self.requester,
            "ward": self.ward,
            "urgent": self.urgent,
            "answers": self.answers,
            "remarks": self.remarks,
        }


def years(count: float) -> timedelta:
    """So many years."""
    return timedelta(days=round(count * YEAR.days))


def having(*conditions: tuple[str, str], **facts: Any) -> dict[str, Any]:
    """Facts of a patient: conditions as (code, side), and the rest by name."""
    return {**facts, "conditions": [{"code": code, "side": side} for code, side in conditions]}


CASES = (
    Case(
        "10001", "Koralt", "Vesna", years(46), "female", time(7, 0),
        ("fbc-diff", "renal", "lipids", "glucose", "hba1c"),
        ward="Walk-in", facts={"weight_g": 64_000, "height_mm": 1680, "veins": "good"},
        answers={"fasting_h": 12.5, "seated_min": 20},
    ),
    Case(
        "10002", "Drumlin", "Aske", years(58), "male", time(7, 5),
        ("coagulation-screen", "d-dimer", "fbc", "crp", "renal", "liver", "tsh", "esr"),
        ward="Surgery 2", facts={"weight_g": 82_000, "height_mm": 1790, "veins": "good"},
        state="drawn",
    ),
    Case(
        "N{day}", "Koralt-Imre", "girl of Lena", timedelta(days=5), "female", time(7, 10),
        (("bilirubin-total", 1), ("fbc", 2), ("crp", 3), ("abo-rh", 4)),
        ward="Newborn room", facts={"weight_g": 2_900, "veins": "thin"}, urgent=True,
        taken=((10, 900), (34, 1_200)),
    ),
    Case(
        "C{day}", "Ostmar", "Pell", years(2.2), "male", time(7, 20),
        ("fbc-diff", "crp", "ferritin", "lead", "electrolytes"),
        ward="Children", facts={"weight_g": 11_500, "veins": "thin"}, taken=((30, 3_000),),
    ),
    Case(
        "10005", "Haldis", "Ingra", years(87), "female", time(7, 30),
        ("tsh", "renal", "vitamin-b12", "folate", "fbc"),
        ward="Home visit", facts=having(("hearing_impaired", ""), weight_g=47_000, veins="thin"),
    ),
    Case(
        "10006", "Ferro-Vitte", "Salme", years(59), "female", time(7, 40),
        ("fbc", "liver", "ca-125", "calcium"),
        ward="Oncology day room", facts=having(("mastectomy", "left"), weight_g=70_000),
    ),
    Case(
        "10007", "तमाङ", "सुनिता", years(34), "female", time(7, 45),
        ("electrolytes", "troponin-t", "lactate", "ammonia"),
        ward="Emergency", urgent=True,
        facts=having(("infusion", "right"), ("isolation_contact", ""), weight_g=58_000),
    ),
    Case(
        "10008", "Tarnov", "Edrik", years(63), "male", time(7, 50),
        ("coagulation-screen", "fbc"),
        ward="Lung clinic",
        facts={"weight_g": 91_000, "haematocrit_percent": 62, "veins": "good"},
        remarks="Lives at the pass since childhood.",
    ),
    Case(
        "10009", "முத்துக்குமாரசாமி", "அருணாச்சலம்", years(71), "male", time(8, 0),
        ("pt-inr", "renal", "digoxin"),
        ward="Heart clinic",
        facts=having(("anticoagulant", ""), ("fainting_history", ""), weight_g=66_000),
        answers={"since_dose_h": 3},
    ),
    Case(
        "10010", "القرشي", "عبد الرحمن", years(29), "male", time(8, 10),
        ("culture-blood", "fever", "malaria-film", "hiv-ag-ab"),
        ward="Emergency", urgent=True,
        facts=having(("chlorhexidine_allergy", ""), weight_g=74_000, veins="good"),
    ),
    Case(
        "10011", "Selm", "Orla", years(31), "female", time(8, 15),
        ("glucose-ogtt-0", "glucose-ogtt-60", "glucose-ogtt-120", "hba1c"),
        ward="Antenatal clinic",
        facts=having(("pregnancy_late", ""), weight_g=72_000, veins="good"),
        answers={"fasting_h": 6},
    ),
    Case(
        "10012", "欧阳", "明月", years(41), "female", time(8, 20),
        ("renin", "aldosterone", "potassium", "cortisol", "acth", "metanephrines"),
        ward="Endocrine clinic", facts={"weight_g": 61_000}, answers={"seated_min": 5},
    ),
    Case(
        "10013", "Unknown", "man from the tram", None, "male", time(8, 25),
        ("crossmatch", "group-screen", "fbc", "coagulation-screen", "ethanol"),
        ward="Emergency", urgent=True, facts=having(("cannot_identify", ""), veins="good"),
        requester="",
    ),
    Case(
        "10014", "Brill", "Tobin", years(52), "male", time(8, 30),
        ("lithium", "valproate", "tsh", "renal"),
        ward="Walk-in", facts=having(("needle_fear", ""), weight_g=88_000, veins="hand"),
    ),
    Case(
        "10015", "Wessel", "Hanne", years(38), "female", time(9, 0),
        ("pt-inr", "fbc", "glucose", "electrolytes", "esr"),
        ward="Pass post", facts={"weight_g": 59_000, "veins": "good"},
        place="ostrel-pass", answers={"fasting_h": 10},
    ),
    Case(
        "10001", "Koralt", "Vesna", years(46), "female", time(9, 30),
        ("renal", "tsh"), ward="Thyroid clinic", requester="Dr Mirova",
    ),
    Case(
        "10014", "Brill", "Tobin", years(52), "male", time(10, 0),
        ("fbc",), ward="Walk-in", state="cancelled",
    ),
)  # fmt: skip
