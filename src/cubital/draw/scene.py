"""
What a plan stands on: the patient on the day, the place, the haematocrit, the aim, the stock.

Volumes in µL, ages in days, haematocrit in percent.  Where the age is not known, the rows that
reach to the highest age hold: those of an adult.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Protocol, TypeVar

from cubital.catalogue.model import AimRule, Haematocrit
from cubital.draw.allowance import age_days
from cubital.draw.stock import Stock, stock_on
from cubital.draw.values import Place
from cubital.errors import InputError
from cubital.finding import Reason
from cubital.requisition.values import Patient, Requisition

if TYPE_CHECKING:
    from cubital.catalogue import Catalogue

HUNDREDTHS = 100  # a haematocrit is reckoned in hundredths of a percent, so that rounding is exact


class _Banded(Protocol):
    @property
    def age_from_days(self) -> int: ...
    @property
    def age_to_days(self) -> int: ...


B = TypeVar("B", bound=_Banded)


@dataclass(frozen=True, slots=True)
class Scene:
    """
    Who, where, when and with what.

    Args:
        at: when the blood will be drawn: the time asked for, or now when that has passed.
        age_days: None when the birth date is not known.
        haematocrit_percent: what the yield is reckoned with, known or expected.
        haematocrit_known: whether it is the patient's own.
        haematocrit_reason: where it comes from.
        recovery_percent: of the serum or plasma that can be taken off, a whole percentage.
        aim: what comes first at this age, and whether small containers are offered.
        spared: the condition for which the least blood comes first whatever the age, or "".
        stock: what is on hand.
    """

    catalogue: Catalogue
    place: Place
    patient: Patient
    at: datetime
    age_days: int | None
    haematocrit_percent: float
    haematocrit_known: bool
    haematocrit_reason: Reason
    recovery_percent: int
    aim: AimRule
    stock: Stock
    spared: str = ""

    @property
    def choices(self) -> Mapping[str, str]:
        """The laboratory's choices, over the catalogue's defaults."""
        return self.place.choices

    @property
    def day(self) -> date:
        """The day of the draw, in the time zone of the requisition."""
        return self.at.date()

    @property
    def thick_blood(self) -> bool:
        """Whether the patient's own haematocrit is over the one that citrate tubes allow."""
        limit = self.catalogue.decimal("citrate_haematocrit_percent")
        return self.haematocrit_known and self.haematocrit_percent > limit

    def blood_for_ul(self, matrix_ul: int) -> int:
        """
        Blood that yields ``matrix_ul`` of serum or plasma, rounded up.

        ``volume / (recovery * (1 - Hct))``, in whole hundredths of a percent.
        """
        cells = round(self.haematocrit_percent * HUNDREDTHS)
        liquid = (100 * HUNDREDTHS - cells) * self.recovery_percent
        return -(-matrix_ul * 100 * 100 * HUNDREDTHS // liquid)


def scene_of(requisition: Requisition, catalogue: Catalogue, place: Place, now: datetime) -> Scene:
    """
    Gather what a plan stands on.

    Raises:
        InputError: times without a time zone, or a haematocrit that is not between 0 and 100.
    """
    patient = requisition.patient
    at = draw_time(requisition, now)
    age = age_days(patient.birth_date, at.date())
    percent, known, reason = _haematocrit(patient, age, catalogue)
    aim, spared = _aim(patient, age, catalogue)
    return Scene(
        catalogue=catalogue,
        place=place,
        patient=patient,
        at=at,
        age_days=age,
        haematocrit_percent=percent,
        haematocrit_known=known,
        haematocrit_reason=reason,
        recovery_percent=catalogue.number("plasma_recovery_percent"),
        aim=aim,
        stock=stock_on(place.lots, at.date(), catalogue.setting("container_expiry_grace_days")),
        spared=spared,
    )


def _aim(patient: Patient, age: int | None, catalogue: Catalogue) -> tuple[AimRule, str]:
    """What comes first: by age, or the least blood for a condition that spares it; and which."""
    rule = in_band(catalogue.rows(AimRule), age, "aims.csv")
    setting = catalogue.setting("least_blood_conditions")
    sparing = setting.value.split(";")
    spared = next((c.code for c in patient.conditions if c.code in sparing), "")
    if not spared:
        return rule, ""
    least = replace(
        rule,
        aim="least_blood",
        small_containers=True,
        source=setting.source,
        layer=setting.layer,
    )
    return least, spared


def draw_time(requisition: Requisition, now: datetime) -> datetime:
    """
    When the blood will be drawn: the time asked for, or now when that has passed.

    Raises:
        InputError: one of the two has no time zone.
    """
    for name, moment in (("now", now), ("collect_at", requisition.collect_at)):
        if moment.tzinfo is None:
            raise InputError(
                "a time without a time zone cannot be used", name, "Give it with its offset."
            )
    return max(now, requisition.collect_at)


def in_band(rows: Iterable[B], age: int | None, where: str) -> B:
    """
    The row whose age band holds ``age``; where the age is unknown, that of the oldest.

    Raises:
        InputError: no row holds it.
    """
    best: B | None = None
    for row in rows:
        if age is None:
            if best is None or row.age_to_days > best.age_to_days:
                best = row
        elif row.age_from_days <= age < row.age_to_days:
            return row
    if best is None:
        raise InputError(f"no row holds for an age of {age} days", where, "Add a row for it.")
    return best


def _haematocrit(
    patient: Patient, age: int | None, catalogue: Catalogue
) -> tuple[float, bool, Reason]:
    """The haematocrit to reckon with: the patient's own, or the expected high one."""
    own = patient.haematocrit_percent
    recovery = catalogue.setting("plasma_recovery_percent")
    if own is not None:
        if not 0 < own < 100:
            raise InputError(
                f"a haematocrit of {own:g} % cannot be used",
                "haematocrit",
                "Give percent, between 0 and 100.",
            )
        sentence = f"Yield by the patient's last haematocrit of {own:g} %."
        return own, True, catalogue.reason(recovery, sentence)
    rows = [row for row in catalogue.rows(Haematocrit) if _of_sex(row, patient.sex)]
    if age is None:
        oldest = in_band(rows, None, "haematocrits.csv").age_to_days
        rows = [row for row in rows if row.age_to_days == oldest]
    else:
        rows = [row for row in rows if row.age_from_days <= age < row.age_to_days]
    if not rows:
        raise InputError(
            f"no row holds for an age of {age} days", "haematocrits.csv", "Add a row for it."
        )
    row = max(rows, key=lambda r: r.percent)
    sentence = f"Yield by a haematocrit of {row.percent} %, the high end expected at this age."
    return float(row.percent), False, catalogue.reason(row, sentence)


def _of_sex(row: Haematocrit, sex: str) -> bool:
    return row.sex in ("any", sex) or sex not in ("female", "male")
