"""
What the lake is made from, and its rows.

The fields of :class:`SpecimenRow` and :class:`DrawRow` are the columns of the lake, in this order.
Volumes in µL, durations in whole seconds, times in UTC.  ``month`` (``202603``), ``week`` (ISO year
and week, ``202610``), ``day`` and ``hour`` are those of the place's own clock on the wall.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class LakeSite:
    """
    A place as the lake knows it: the code is the key, the name is shown.

    Args:
        code: as events name it.
        name: shown.
        time_zone: IANA name.
        order_profile: order of draw that holds there, "" for the route's default.
        choices: topic -> option, as of the place.
        now: the code under which the place goes on, where it got another; else "".
    """

    code: str
    name: str
    time_zone: str = "UTC"
    order_profile: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    now: str = ""


@dataclass(frozen=True, slots=True)
class Requested:
    """What the lake takes of a requisition: no name, no number of a patient."""

    ward: str = ""
    birth_date: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenRow:
    """
    One specimen that held blood or another material; portions of it have no row of their own.

    Args:
        site: where it was collected, or registered when it came from elsewhere.
        month, week, day: of the collection; of the reception when the collection has no time.
        hour: of the collection, None when it has no time.
        collector: sign-in name of who filled it, "" when not known.
        age_group: code of ``age_groups.csv``, "" when the birth date is not known.
        attempt: how many needles the draw had used when it was filled.
        tourniquet_s: longest time without a pause that the tourniquet stayed on in its draw.
        order_breach: filled after a tube that comes later, None when that cannot be told.
        anticoagulated, chemistry: whether it counts in such denominators.
        transport_s: collection to reception; negative when a clock was wrong.
        spin_wait_s: reception to the first run that was spun to its end.
        needed_ul: blood that its tests take, dead volume not counted.
        verdict: ``accepted``, ``remark``, ``partly`` (refused for some tests), ``refused`` or "".
        reasons: of the refusal, each between semicolons: ``;haemolysed;``, "" for none.
        found: the same with remarks, overridden findings and what was asked for again.
        recollected: reasons for which blood was asked for again, in the same form.
        haemolysis_mg_l: free haemoglobin as measured.
        not_received: listed in a box and missing, or on its way for longer than policy allows.
        request_first: it is the first specimen of its requisition.
        request_found: what was found on any specimen of that requisition or on it, first only.
        late_s: how long after it happened the latest of its events reached the record.
    """

    specimen: str
    requisition: str
    draw: str
    site: str
    month: int
    week: int
    day: date
    hour: int | None
    ward: str
    collector: str
    age_group: str
    material: str
    container: str
    additive: str
    device: str
    gauge: int | None
    body_site: str
    attempt: int | None
    tourniquet_s: int | None
    order_breach: bool | None
    anticoagulated: bool
    chemistry: bool
    collected_at: datetime | None
    received_at: datetime | None
    spun_at: datetime | None
    transport_s: int | None
    spin_wait_s: int | None
    fill: str
    volume_ul: int | None
    needed_ul: int | None
    verdict: str
    reasons: str
    found: str
    recollected: str
    haemolysis_mg_l: int | None
    not_received: bool
    request_first: bool
    request_found: str
    late_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawRow:
    """
    One draw, also one that gave no blood.

    Args:
        month, week, day, hour: of its begin.
        collector: who had it at the end.
        device, gauge: of the last needle.
        ended: finished, or given up.
        obtained: at least one tube holds blood.
        reason: why not, "" when it was.
        attempts: needles.
        coagulation: a coagulation tube was drawn; the tourniquet's limit is stricter then.
        tubes: with blood.
        order_breaches: tubes filled after one that comes later.
        drawn_ul: as far as volumes are on record, or the container's nominal volume of a full one.
        needed_ul: of the tubes whose tests are on record, None when none is.
        drawn_known_ul: blood in those same tubes.
    """

    draw: str
    requisition: str
    site: str
    month: int
    week: int
    day: date
    hour: int
    ward: str
    collector: str
    age_group: str
    device: str
    gauge: int | None
    ended: bool
    obtained: bool
    reason: str
    attempts: int
    tourniquet_s: int | None
    coagulation: bool
    tubes: int
    order_breaches: int
    planned_ul: int | None
    drawn_ul: int
    needed_ul: int | None
    drawn_known_ul: int | None
    begun_at: datetime
    ended_at: datetime | None
    late_s: int


@dataclass(frozen=True, slots=True)
class LakeRows:
    """All rows that the events give, in the order of the first event of each."""

    specimens: tuple[SpecimenRow, ...]
    draws: tuple[DrawRow, ...]
