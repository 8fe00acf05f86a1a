"""
How much blood may be taken: total blood volume, limits by window, blood already taken.

Volumes in µL, weights in g, heights in mm, ages in days.  The numbers are rows of
blood_volumes.csv and blood_limits.csv; the topics ``tbv-per-kg``, ``tbv-adult`` and
``blood-limit`` choose among them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from cubital.catalogue import Catalogue
from cubital.catalogue.model import BloodLimit, BloodVolume
from cubital.catalogue.model_draw import WeightBand
from cubital.draw.values import BloodAllowance
from cubital.finding import Finding, Reason, Severity
from cubital.requisition.values import Patient

DAY_H = 24
EIGHT_WEEKS_H = 8 * 7 * 24
UL_PER_ML = 1000
DAYS_A_YEAR = 365.25


def age_days(birth: date | None, on: date) -> int | None:
    """Whole days from birth to a day, None when the birth date is unknown, never below 0."""
    return None if birth is None else max(0, (on - birth).days)


def is_child(age: int | None, catalogue: Catalogue) -> bool:
    """Whether an age in days is under the setting ``adult_from_days``; an unknown age is not."""
    return age is not None and age < catalogue.number("adult_from_days")


# ---------------------------------------------------------------- total blood volume


def nadler_ul(height_mm: int, weight_g: int, sex: str, catalogue: Catalogue) -> int:
    """
    Total blood volume of an adult after Nadler (1962): litres = a·height³ + b·weight + c.

    For a sex other than ``female`` or ``male`` the lower of the two is given.
    """
    sexes = (sex,) if sex in ("female", "male") else ("female", "male")
    height_m, weight_kg = height_mm / 1000, weight_g / 1000
    litres = min(
        catalogue.decimal(f"nadler_{one}_height3") * height_m**3
        + catalogue.decimal(f"nadler_{one}_weight") * weight_kg
        + catalogue.decimal(f"nadler_{one}_constant")
        for one in sexes
    )
    return max(0, int(litres * 1_000_000))


def blood_volume_row(
    age: int | None, sex: str, catalogue: Catalogue, choices: Mapping[str, str]
) -> BloodVolume | None:
    """
    The row of mL per kg that holds under topic ``tbv-per-kg``.

    An option with rows of its own gives the one that fits; one without (the cautious "lowest of
    all") gives the lowest that the others give.  None when no row fits.
    """
    option = catalogue.option("tbv-per-kg", choices).option
    rows: dict[str, list[BloodVolume]] = {}
    for row in catalogue.rows(BloodVolume):
        rows.setdefault(row.choice, [])
        if _in_band(age, row.age_from_days, row.age_to_days):
            rows[row.choice].append(row)
    if option in rows:
        return _for_sex(rows[option], sex)
    fitting = (_for_sex(group, sex) for group in rows.values())
    return min((row for row in fitting if row is not None), key=_ml_per_kg, default=None)


def _for_sex(rows: list[BloodVolume], sex: str) -> BloodVolume | None:
    """A row of the own sex, else one for anybody, else any; the lowest where several fit."""
    own = [row for row in rows if row.sex == sex]
    anybody = [row for row in rows if row.sex == "any"]
    return min(own or anybody or rows, key=_ml_per_kg, default=None)


def _ml_per_kg(row: BloodVolume) -> int:
    return row.ml_per_kg


def total_blood_volume_ul(
    patient: Patient, catalogue: Catalogue, choices: Mapping[str, str], on: date
) -> tuple[int | None, Reason | None]:
    """
    Total blood volume on a day and why; (None, None) when the weight is unknown.

    For adults whose height is known the topic ``tbv-adult`` says whether mL per kg, Nadler's
    formula or the lower of both holds.
    """
    age = age_days(patient.birth_date, on)
    row = blood_volume_row(age, patient.sex, catalogue, choices)
    if patient.weight_g is None or row is None:
        return None, None
    volume = patient.weight_g * row.ml_per_kg
    reason = catalogue.reason(
        row,
        f"Total blood volume {volume / UL_PER_ML:.0f} mL: {row.ml_per_kg} mL per kg "
        f"at {patient.weight_g / 1000:g} kg.",
    )
    option = catalogue.option("tbv-adult", choices)
    if patient.height_mm is None or age is None or is_child(age, catalogue):
        return volume, reason
    nadler = nadler_ul(patient.height_mm, patient.weight_g, patient.sex, catalogue)
    if option.option == "per_kg" or (option.option == "lower" and volume <= nadler):
        return volume, reason
    sentence = f"Total blood volume {nadler / UL_PER_ML:.0f} mL, from height and weight."
    return nadler, catalogue.reason(catalogue.setting("nadler_male_height3"), sentence)


# ---------------------------------------------------------------- limits


@dataclass(frozen=True, slots=True)
class LimitLeft:
    """One limit: what it allows in its window, what of it is used, what is left."""

    severity: Severity
    window_h: int
    limit_ul: int
    taken_ul: int
    left_ul: int
    reason: Reason


@dataclass(frozen=True, slots=True)
class Allowance:
    """
    What may be taken before a plan is made.

    Args:
        total_blood_volume_ul: None when the weight is unknown.
        stop_left_ul: left under the tightest limit that stops; None when no such limit is known.
        ask_left_ul: left under the tightest limit that asks; None likewise.
        taken_24h_ul, taken_8wk_ul: taken before.
        limits: every limit that could be worked out, the tightest first.
        findings: what is unknown, what is used up.
        reasons: the blood volume and the tightest limits.
    """

    total_blood_volume_ul: int | None
    stop_left_ul: int | None
    ask_left_ul: int | None
    taken_24h_ul: int
    taken_8wk_ul: int
    limits: tuple[LimitLeft, ...]
    findings: tuple[Finding, ...]
    reasons: tuple[Reason, ...]

    @property
    def limit_ul(self) -> int | None:
        """What is left under the tightest limit of either kind; None when no limit is known."""
        known = [left for left in (self.stop_left_ul, self.ask_left_ul) if left is not None]
        return min(known, default=None)


def taken_ul(patient: Patient, now: datetime, window_h: int) -> int:
    """Blood taken in the window that ends now, its first moment counted, in µL."""
    since = now - timedelta(hours=window_h)
    return sum(max(0, prior.volume_ul) for prior in patient.prior_draws if prior.taken_at >= since)


def allowance(
    patient: Patient, catalogue: Catalogue, choices: Mapping[str, str], now: datetime
) -> Allowance:
    """
    What may be taken at ``now`` (the time of the draw) by the policy of topic ``blood-limit``.

    With an unknown birth date the bands of every age count, so that the tightest holds.
    """
    on = now.date()
    age = age_days(patient.birth_date, on)
    policy = catalogue.option("blood-limit", choices).option
    rows = [
        row
        for row in catalogue.rows(BloodLimit)
        if row.policy == policy and _in_band(age, row.age_from_days, row.age_to_days)
    ]
    total, why = total_blood_volume_ul(patient, catalogue, choices, on)
    limits = sorted(
        (
            _limit_left(row, amount, patient, catalogue, now)
            for row in rows
            if (amount := _limit_ul(row, patient, total)) is not None
        ),
        key=lambda left: (left.left_ul, left.severity != Severity.STOP, left.window_h),
    )
    stop = next((left for left in limits if left.severity == Severity.STOP), None)
    ask = next((left for left in limits if left.severity == Severity.ASK), None)
    tightest = tuple(left.reason for left in (stop, ask) if left is not None)
    return Allowance(
        total_blood_volume_ul=total,
        stop_left_ul=None if stop is None else stop.left_ul,
        ask_left_ul=None if ask is None else ask.left_ul,
        taken_24h_ul=taken_ul(patient, now, DAY_H),
        taken_8wk_ul=taken_ul(patient, now, EIGHT_WEEKS_H),
        limits=tuple(limits),
        findings=_unknowns(patient, age, rows, catalogue),
        reasons=(() if why is None else (why,)) + tightest,
    )


def limit_findings(allowed: Allowance, planned_ul: int) -> tuple[Finding, ...]:
    """Every limit that ``planned_ul`` would pass: one finding a severity, the tightest limit."""
    found: dict[Severity, Finding] = {}
    for left in allowed.limits:
        if planned_ul > left.left_ul and left.severity not in found:
            found[left.severity] = _over(left, planned_ul)
    return tuple(found.values())


def blood_allowance(allowed: Allowance, planned_ul: int, needed_ul: int) -> BloodAllowance:
    """The allowance as a plan carries it."""
    return BloodAllowance(
        total_blood_volume_ul=allowed.total_blood_volume_ul,
        limit_ul=allowed.limit_ul,
        taken_24h_ul=allowed.taken_24h_ul,
        taken_8wk_ul=allowed.taken_8wk_ul,
        planned_ul=planned_ul,
        needed_ul=needed_ul,
        reasons=allowed.reasons,
    )


def window_words(window_h: int) -> str:
    """``24`` as "24 hours", ``1344`` as "8 weeks"."""
    days, hours = divmod(window_h, 24)
    if hours or days < 2:
        return f"{window_h} hours"
    return f"{days // 7} weeks" if days % 7 == 0 and days >= 14 else f"{days} days"


def _in_band(age: int | None, start: int, end: int) -> bool:
    return age is None or start <= age < end


def _limit_ul(row: BloodLimit, patient: Patient, total_ul: int | None) -> int | None:
    if row.measure == "ml":
        return int(row.value * UL_PER_ML)
    if row.measure == "ml_per_kg":
        # mL per kg times g is µL.
        return None if patient.weight_g is None else int(row.value * patient.weight_g)
    return None if total_ul is None else int(row.value * total_ul / 100)


def _limit_left(
    row: BloodLimit, limit_ul: int, patient: Patient, catalogue: Catalogue, now: datetime
) -> LimitLeft:
    taken = taken_ul(patient, now, row.window_h)
    left = max(0, limit_ul - taken)
    sentence = (
        f"At most {limit_ul / UL_PER_ML:.1f} mL in {window_words(row.window_h)} "
        f"({_measure_words(row)}); {taken / UL_PER_ML:.1f} mL taken, "
        f"{left / UL_PER_ML:.1f} mL left."
    )
    severity = Severity(row.severity)
    reason = catalogue.reason(row, sentence)
    return LimitLeft(severity, row.window_h, limit_ul, taken, left, reason)


def _measure_words(row: BloodLimit) -> str:
    words = {
        "percent_of_tbv": f"{row.value:g} % of the blood volume",
        "ml_per_kg": f"{row.value:g} mL per kg",
        "ml": f"{row.value:g} mL",
    }
    return words[row.measure]


def _over(left: LimitLeft, planned_ul: int) -> Finding:
    mend = (
        "Take smaller tubes or fewer tests, or wait."
        if left.severity == Severity.STOP
        else "Take smaller tubes or fewer tests, or have the order confirmed."
    )
    sentence = (
        f"The plan takes {planned_ul / UL_PER_ML:.1f} mL, over the blood limit. "
        f"{left.reason.sentence} {mend}"
    )
    return Finding(
        "blood-limit", left.severity, sentence, left.reason.source, "", left.reason.layer
    )


def _unknowns(
    patient: Patient, age: int | None, rows: list[BloodLimit], catalogue: Catalogue
) -> tuple[Finding, ...]:
    found = []
    if age is None and rows:
        sentence = (
            "The birth date is unknown, so the tightest blood limit of any age holds: "
            "ask for the age."
        )
        found.append(
            Finding("age-unknown", Severity.ASK, sentence, rows[0].source, "", rows[0].layer)
        )
    weighed = [row for row in rows if row.measure != "ml"]
    if patient.weight_g is None and weighed:
        child = age is None or is_child(age, catalogue)
        severity = Severity.ASK if child else Severity.NOTE
        sentence = "The weight is unknown, so the blood limit cannot be worked out: weigh or ask."
        row = weighed[0]
        found.append(Finding("weight-unknown", severity, sentence, row.source, "", row.layer))
    return (*found, *_odd_weight(patient, age, catalogue))


def _odd_weight(patient: Patient, age: int | None, catalogue: Catalogue) -> tuple[Finding, ...]:
    """An ask where the weight can hardly be that of somebody so old: the limits hang on it."""
    weight = patient.weight_g
    if weight is None or age is None:
        return ()
    for row in catalogue.rows(WeightBand):
        if row.age_from_days <= age < row.age_to_days:
            if row.weight_from_g <= weight <= row.weight_to_g:
                return ()
            sentence = (
                f"{weight / 1000:g} kg can hardly be the weight at {_age_words(age)} (from "
                f"{row.weight_from_g / 1000:g} to {row.weight_to_g / 1000:g} kg): the blood limit "
                f"hangs on it. Weigh, or look both up."
            )
            return (Finding("weight-odd", Severity.ASK, sentence, row.source, "", row.layer),)
    return ()


def _age_words(age: int) -> str:
    years = int(age / DAYS_A_YEAR)
    return f"{years} years" if years > 1 else f"{age} days"
