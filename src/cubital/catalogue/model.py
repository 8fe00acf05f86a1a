"""
The rows of the catalogue: one class a table, one row one fact.

A table is a CSV file under ``tables/`` whose header names the fields below (order free).  Every
row ends in ``source``, a key into ``sources.toml``.  Units are in the field's name: ``_ul``,
``_g``, ``_mm``, ``_m``, ``_h``, ``_s``, ``_days``.  Only a field with a default may be empty.

``KEY`` names the fields that identify a row.  A laboratory's own folder holds tables of the same
names; a row with the same key replaces the shipped one, a new key adds a row.

``choice`` (where a table has it) names the option of a disagreement topic (``choices.csv``) under
which the row holds; "" holds always.

Age bands are half open, ``from <= age < to``, in days; a year is 365.25 days, a month 30.4375, both
rounded down; 0 to 54786 (150 years) is everybody.
"""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.model_bench import BENCH_ROWS
from cubital.catalogue.model_chair import CHAIR_ROWS
from cubital.catalogue.model_draw import DRAW_ROWS
from cubital.catalogue.model_logbook import LOGBOOK_ROWS
from cubital.catalogue.model_quality import QUALITY_ROWS
from cubital.catalogue.model_reception import RECEPTION_ROWS
from cubital.catalogue.model_way import WAY_ROWS
from cubital.catalogue.row import Row as Row
from cubital.catalogue.row import Source as Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Option(Row):
    """One answer to a question on which published sources disagree; the laboratory chooses."""

    FILE = "choices.csv"
    KEY = ("topic", "option")
    topic: str  # e.g. renin-cooling, heel-depth, esr-place, tbv-per-kg, potassium-whole-blood
    option: str
    default: bool  # exactly one per topic: the cautious one
    meaning: str  # a short plain sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting(Row):
    """A single number or word of policy, e.g. ``tourniquet_max_s = 60``."""

    FILE = "settings.csv"
    KEY = ("key",)
    key: str
    value: str
    unit: str = ""
    meaning: str = ""


# ---------------------------------------------------------------- additives and containers


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosureColour(Row):
    """ISO 6710 closure colour as drawn on a screen, always with its name written on it."""

    FILE = "closure_colours.csv"
    KEY = ("code",)
    code: str  # light-blue
    name: str  # light blue
    rgb: str  # #9fd3f0
    ink: str  # text colour on it, #000000 or #ffffff


@dataclass(frozen=True, slots=True, kw_only=True)
class Additive(Row):
    """What is in the container."""

    FILE = "additives.csv"
    KEY = ("code",)
    code: str  # k2_edta, na_citrate_9nc, clot_activator, serum_gel, ...
    name: str
    letter_code: str = ""  # ISO 6710: K2E, 9NC, Z, CAT, LH ...
    colour: str  # closure_colours code
    hl7_0371: str = ""
    order_class: str  # culture, plain, citrate, citrate_esr, clot_activator, serum_gel,
    # heparin_na, heparin_li, edta, acd, fluoride, trace, gas
    yields: str  # serum, plasma, whole_blood (the most it can give besides whole blood), broth


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio(Row):
    """Blood to additive, by volume, for liquid additives."""

    FILE = "ratios.csv"
    KEY = ("additive",)
    additive: str
    blood_parts: int
    additive_parts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixing(Row):
    """Gentle full inversions, as a range."""

    FILE = "mixing.csv"
    KEY = ("additive", "choice")
    additive: str
    choice: str = ""
    inversions_low: int
    inversions_high: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FillLimit(Row):
    """How full a container must be, in percent of its nominal volume."""

    FILE = "fill_limits.csv"
    KEY = ("additive", "choice")
    additive: str
    choice: str = ""
    minimum_percent: int
    maximum_percent: int
    to_the_mark: bool  # the blood:additive ratio matters: fill to the mark, nothing between


@dataclass(frozen=True, slots=True, kw_only=True)
class Container(Row):
    """A tube, micro-tube, bottle or syringe."""

    FILE = "containers.csv"
    KEY = ("code",)
    code: str
    name: str
    additive: str
    form: str  # evacuated, micro, culture_bottle, gas_syringe
    nominal_ul: int  # blood it takes at 1013.25 hPa and 20 °C
    headspace_ul: int = 0  # gas left above the blood at nominal fill (evacuated only)
    made_for_altitude_m: int = 0  # 0: calibrated for sea level
    rank: int = 0  # preference among containers of one additive, 0 best
    in_use: bool = True  # offered by default where no stock list is given
    height_mm: int
    diameter_mm: int


# ---------------------------------------------------------------- tests


@dataclass(frozen=True, slots=True, kw_only=True)
class Station(Row):
    """A place on the bench where one tube stands: tests of one station may share a tube."""

    FILE = "stations.csv"
    KEY = ("code",)
    code: str
    name: str
    max_tests_per_tube: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DeadVolume(Row):
    """What the station's sampler leaves in a container: once per tube, in its sample matrix."""

    FILE = "dead_volumes.csv"
    KEY = ("station", "form")
    station: str
    form: str
    dead_ul: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench(Row):
    """Where a test is done."""

    FILE = "benches.csv"
    KEY = ("code",)
    code: str
    name: str
    station: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Test(Row):
    """A test; ``source`` is that of its LOINC code."""

    FILE = "tests.csv"
    KEY = ("code",)
    code: str  # lower-case letters, digits and hyphens: potassium, pt-inr, culture-blood
    name: str
    short: str  # at most 12 characters, for labels
    loinc: str = ""
    bench: str
    matrix: str  # serum, plasma, serum_plasma, whole_blood, broth
    own_tube: bool = False
    containers_needed: int = 1  # >1: a set that is always drawn whole (cfDNA 2, IGRA 4)
    aliases: str = ""  # other names, separated by ;


@dataclass(frozen=True, slots=True, kw_only=True)
class AcceptedAdditive(Row):
    """An additive that a test accepts; rank 0 is preferred."""

    FILE = "test_additives.csv"
    KEY = ("test", "additive")
    test: str
    additive: str
    rank: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TestVolume(Row):
    """What the analyser takes, in the test's own matrix (serum, plasma or whole blood)."""

    FILE = "test_volumes.csv"
    KEY = ("test",)
    test: str
    volume_ul: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Handling(Row):
    """A demand on the specimen between vein and analyser."""

    FILE = "handling.csv"
    KEY = ("test", "need", "choice")
    test: str
    need: str  # ice_slurry, never_chilled, dark, warm_37c, no_tourniquet, filled_whole,
    # no_fist, to_lab_within_min, spin_within_min, upright, no_alcohol_swab, quarantine_air
    value: int = 0  # minutes where the need has a limit
    choice: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Preparation(Row):
    """What the patient must have done before."""

    FILE = "preparation.csv"
    KEY = ("test", "need", "choice")
    test: str
    need: str  # fasting_h, after_dose_h, before_dose, supine_min, seated_min, clock_from_to,
    # no_smoking_h, no_exercise_h, upright_h, no_biotin_h
    low: int = 0
    high: int = 0
    severity: str  # stop, ask, note: when not met or not known
    sentence: str
    choice: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stability(Row):
    """How long a test keeps; 0 means must not be kept so."""

    FILE = "stability.csv"
    KEY = ("test", "matrix", "condition", "choice")
    test: str
    matrix: str  # whole_blood (unseparated), serum_plasma
    condition: str  # room, fridge, frozen
    keeps_h: float
    choice: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel(Row):
    """A named group of tests."""

    FILE = "panels.csv"
    KEY = ("code",)
    code: str
    name: str
    loinc: str = ""
    aliases: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelMember(Row):
    """A test or a panel inside a panel; cycles are refused."""

    FILE = "panel_members.csv"
    KEY = ("panel", "member")
    panel: str
    member: str


# ---------------------------------------------------------------- needles, devices, order, sites


@dataclass(frozen=True, slots=True, kw_only=True)
class Needle(Row):
    """ISO 6009 colour and outer diameter of a gauge."""

    FILE = "needles.csv"
    KEY = ("gauge",)
    gauge: int
    hub_colour: str
    outer_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedleBore(Row):
    """Inner diameter: wall is nominal, regular, thin or extra_thin (ISO 9626 minima)."""

    FILE = "needle_bores.csv"
    KEY = ("gauge", "wall")
    gauge: int
    wall: str
    inner_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Device(Row):
    """What the collector holds."""

    FILE = "devices.csv"
    KEY = ("code",)
    code: str  # straight, winged, syringe, winged_syringe, heel_lancet, finger_lancet
    name: str
    route: str  # venous, capillary
    tubing_air_ul: int = 0  # air between vein and first tube
    draws_by: str  # vacuum, plunger, drops
    needle_length_mm: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceRule(Row):
    """Which device and gauge for whom; the lowest rank that matches is proposed."""

    FILE = "device_rules.csv"
    KEY = ("choice", "device", "gauge", "age_from_days", "age_to_days", "veins")
    choice: str = ""
    device: str
    gauge: int  # 0 for lancets
    age_from_days: int
    age_to_days: int
    veins: str  # any, good, thin, fragile, hand
    rank: int
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderProfile(Row):
    """A named order of draw."""

    FILE = "order_profiles.csv"
    KEY = ("code",)
    code: str  # who2010, gp41, syringe, capillary, local
    name: str
    route: str  # venous, capillary
    default: bool = False  # the route's default


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPlace(Row):
    """Place of an order class in a profile; equal positions are kept in additive order."""

    FILE = "order_of_draw.csv"
    KEY = ("profile", "order_class")
    profile: str
    order_class: str
    position: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Site(Row):
    """Where blood may be taken."""

    FILE = "sites.csv"
    KEY = ("code",)
    code: str  # median_cubital, cephalic, basilic, hand_back, ankle_foot, heel, finger, ...
    name: str
    route: str  # venous, capillary, never
    verdict: str  # allowed, by_order, never
    rank: int  # order of preference
    sided: bool = True
    age_from_days: int = 0
    age_to_days: int = 54786
    caution: str = ""  # one sentence, "" when none
    limb: str = ""  # arm, leg, or "" for the rest of the body
    level: int = 0  # how far out on the limb: 1 upper arm or thigh, 2 elbow or knee, 3 forearm or
    # lower leg, 4 wrist or ankle, 5 hand or foot, 6 finger or toe


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteCondition(Row):
    """What a condition of the patient does to sites: ``mastectomy`` excludes an arm."""

    FILE = "site_conditions.csv"
    KEY = ("condition",)
    condition: str  # mastectomy, fistula, infusion, hematoma, ... given with a side
    scope: str  # arm, below (sites distal to it stay allowed), site
    severity: str  # stop, ask
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientCaution(Row):
    """Allergies, anticoagulants, fainting history, isolation: what the collector must know."""

    FILE = "patient_cautions.csv"
    KEY = ("condition",)
    condition: str
    severity: str
    sentence: str


# ---------------------------------------------------------------- blood volume


@dataclass(frozen=True, slots=True, kw_only=True)
class BloodVolume(Row):
    """Total blood volume per kg; ``choice`` is an option of topic ``tbv-per-kg``."""

    FILE = "blood_volumes.csv"
    KEY = ("choice", "sex", "age_from_days", "age_to_days")
    choice: str
    sex: str  # any, female, male
    age_from_days: int
    age_to_days: int
    ml_per_kg: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BloodLimit(Row):
    """How much may be taken in a window; ``policy`` is an option of topic ``blood-limit``."""

    FILE = "blood_limits.csv"
    KEY = ("policy", "age_from_days", "age_to_days", "window_h", "severity")
    policy: str
    age_from_days: int
    age_to_days: int
    window_h: int  # 24, 672 (4 weeks), 1344 (8 weeks)
    measure: str  # percent_of_tbv, ml_per_kg, ml
    value: float
    severity: str  # stop, ask


@dataclass(frozen=True, slots=True, kw_only=True)
class AimRule(Row):
    """What comes first for an age: ``fewest_tubes`` or ``least_blood``."""

    FILE = "aims.csv"
    KEY = ("age_from_days", "age_to_days")
    age_from_days: int
    age_to_days: int
    aim: str
    small_containers: bool  # micro containers offered


@dataclass(frozen=True, slots=True, kw_only=True)
class Haematocrit(Row):
    """Expected haematocrit where none is known, percent, the high end (it yields least)."""

    FILE = "haematocrits.csv"
    KEY = ("sex", "age_from_days", "age_to_days")
    sex: str
    age_from_days: int
    age_to_days: int
    percent: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CultureVolume(Row):
    """Blood for culture by weight."""

    FILE = "culture_volumes.csv"
    KEY = ("choice", "weight_from_g", "weight_to_g")
    choice: str = ""
    weight_from_g: int
    weight_to_g: int
    sets: int
    first_set_ul: int
    second_set_ul: int
    bottles_per_set: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSize(Row):
    """Paper for labels."""

    FILE = "label_sizes.csv"
    KEY = ("code",)
    code: str  # 50x25, 38x19, a4-3x8, ...
    name: str
    width_mm: float
    height_mm: float
    page_width_mm: float
    page_height_mm: float
    columns: int = 1
    rows: int = 1
    left_mm: float = 0.0
    top_mm: float = 0.0
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0


ROWS: tuple[type[Row], ...] = (
    Option, Setting, ClosureColour, Additive, Ratio, Mixing, FillLimit, Container, Station,
    DeadVolume, Bench, Test, AcceptedAdditive, TestVolume, Handling, Preparation, Stability, Panel,
    PanelMember, Needle, NeedleBore, Device, DeviceRule, OrderProfile, OrderPlace, Site,
    SiteCondition, PatientCaution, BloodVolume, BloodLimit, AimRule, Haematocrit, CultureVolume,
    LabelSize, *DRAW_ROWS, *CHAIR_ROWS, *WAY_ROWS, *RECEPTION_ROWS, *BENCH_ROWS, *LOGBOOK_ROWS,
    *QUALITY_ROWS,
)  # fmt: skip
"""Every table, in the order in which they refer to each other."""
