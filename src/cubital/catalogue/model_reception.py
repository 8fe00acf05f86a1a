"""The rows that the reception reads: its rules, interferences, and specimens other than blood."""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.row import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceptionRule(Row):
    """
    What a rule does when it finds something; a laboratory changes the severity here, not in code.

    ``stop`` refuses the tests concerned, ``ask`` leaves them to a named person, ``note`` accepts
    them with a remark.
    """

    FILE = "reception_rules.csv"
    KEY = ("code",)
    code: str
    name: str
    severity: str
    hl7_0490: str = ""  # reject reason, "" where the table has none
    hl7_0493: str = ""  # condition
    indicator: str = ""  # harmonised indicator that it counts in


@dataclass(frozen=True, slots=True, kw_only=True)
class Interference(Row):
    """
    How much free haemoglobin (g/L) a test bears.

    From ``remark_from`` on it is reported with a remark, from ``refuse_from`` on not at all; 0 in
    ``refuse_from`` means that no such limit is known.
    """

    FILE = "interferences.csv"
    KEY = ("test", "choice")
    test: str
    choice: str = ""
    remark_from_g_per_l: float
    refuse_from_g_per_l: float = 0.0
    direction: str  # high, low, either


@dataclass(frozen=True, slots=True, kw_only=True)
class HaemolysisGrade(Row):
    """The visual scale: what a grade means at most, in g/L of free haemoglobin."""

    FILE = "haemolysis_grades.csv"
    KEY = ("grade",)
    grade: int
    name: str
    up_to_g_per_l: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Material(Row):
    """What a specimen is."""

    FILE = "materials.csv"
    KEY = ("code",)
    code: str  # blood, urine, urine_24h, stool, csf, swab, sputum, fluid, ...
    name: str
    irreplaceable: bool = False  # never binned by a rule
    timed: bool = False  # collected over a period: its volume and time are results


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination(Row):
    """A test on a specimen other than blood, with the container and preservative it wants."""

    FILE = "examinations.csv"
    KEY = ("code",)
    code: str
    name: str
    material: str
    container: str  # words: sterile cup, 24 h bottle, ...
    preservative: str = ""  # "" for none
    minimum_ul: int = 0
    room_h: float = 0.0  # how long it keeps so; 0: not so
    fridge_h: float = 0.0
    spin: str = ""  # spin programme code, "" for none


RECEPTION_ROWS: tuple[type[Row], ...] = (
    ReceptionRule,
    Interference,
    HaemolysisGrade,
    Material,
    Examination,
)
