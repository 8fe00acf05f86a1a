"""
From events to the rows of the lake.

A specimen or draw belongs to the month in which it happened by the clock of its place, whenever its
events reached the record: an event that arrives a week late lands where it belongs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from cubital.catalogue import Catalogue
from cubital.catalogue.model_quality import AgeGroup
from cubital.custody import Recorded
from cubital.draw.allowance import age_days
from cubital.errors import InputError
from cubital.indicators.gather import Draw, Gathered, Specimen, gather
from cubital.indicators.tubes import Tubes
from cubital.indicators.values import DrawRow, LakeRows, LakeSite, Requested, SpecimenRow

NOTHING_ASKED: Mapping[str, Requested] = {}
UNKNOWN = Requested()


def lake_rows(
    records: Iterable[Recorded],
    catalogue: Catalogue,
    *,
    sites: Iterable[LakeSite],
    requested: Mapping[str, Requested] = NOTHING_ASKED,
    now: datetime,
    mends: Iterable[Recorded] | None = None,
) -> LakeRows:
    """
    Make the rows of the lake out of everything that was recorded.

    Args:
        records: of all sites, in the order in which they were recorded.
        catalogue: tables by which volumes, orders of draw and groups are told.
        sites: every place that the events name; one that is missing gets its code as its name.
        requested: what is known of each requisition, by its number.
        now: a specimen on its way so long that policy calls it lost by now is not received.
        mends: the mending events among the records, where these are a stream too long to be held.

    Raises:
        InputError: a time zone that is not known, or events that do not hang together.
    """
    found = gather(records, mends)
    maker = _Maker(found, catalogue, {site.code: site for site in sites}, requested, now)
    specimens = [maker.specimen(each) for each in found.specimens.values() if counts(each)]
    draws = [maker.draw(each) for each in found.draws.values()]
    return LakeRows(tuple(_with_requests(specimens, found)), tuple(draws))


def counts(specimen: Specimen) -> bool:
    """Whether it has a row: it holds blood or was registered, and is no portion of another."""
    return not specimen.portion and (
        specimen.collected_at is not None or specimen.received_at is not None
    )


def listed(words: Iterable[str]) -> str:
    """Words between semicolons, ``;a;b;``, so that one is found by ``;a;``; "" for none."""
    kept = [word for word in dict.fromkeys(words) if word]
    return f";{';'.join(kept)};" if kept else ""


@dataclass(slots=True)
class _Maker:
    """What every row needs, and what is looked up once."""

    found: Gathered
    catalogue: Catalogue
    sites: Mapping[str, LakeSite]
    requested: Mapping[str, Requested]
    now: datetime
    zones: dict[str, ZoneInfo] = field(default_factory=dict)
    tubes: dict[str, Tubes] = field(default_factory=dict)

    def specimen(self, each: Specimen) -> SpecimenRow:
        """The row of a specimen; what concerns its whole requisition is set later."""
        at = each.collected_at or each.received_at
        assert at is not None
        local = self.local(at, each.site)
        draw = self.found.draws.get(each.draw)
        asked = self.requested.get(each.requisition, UNKNOWN)
        age = age_days(asked.birth_date, local.date())
        tubes = self.tubes_at(each.site)
        additive = tubes.additive_of(each.container, each.additive)
        needle = each.attempt
        return SpecimenRow(
            specimen=each.code,
            requisition=each.requisition,
            draw=each.draw,
            site=each.site,
            month=local.year * 100 + local.month,
            week=iso_week(local),
            day=local.date(),
            hour=local.hour if each.collected_at else None,
            ward=asked.ward,
            collector=each.collector,
            age_group=self.age_group(age),
            material=each.material,
            container=each.container,
            additive=additive,
            device=needle.device if needle else "",
            gauge=needle.gauge if needle else None,
            body_site=needle.body_site if needle else "",
            attempt=needle.number if needle else None,
            tourniquet_s=longest_s(draw),
            order_breach=tubes.breach(each, self.others(each)),
            anticoagulated=tubes.anticoagulated(additive),
            chemistry=tubes.chemistry(each.tests, additive, each.material),
            collected_at=each.collected_at,
            received_at=each.received_at,
            spun_at=each.spun_at,
            transport_s=between_s(each.collected_at, each.received_at),
            spin_wait_s=between_s(each.received_at, each.spun_at),
            fill=each.fill,
            volume_ul=tubes.volume_ul(each),
            needed_ul=tubes.needed_ul(each.tests, age),
            verdict=verdict(each),
            reasons=listed(each.reasons),
            found=listed((*each.reasons, *each.remarks, *each.recollected)),
            recollected=listed(each.recollected),
            haemolysis_mg_l=each.haemolysis_mg_l,
            not_received=self.lost(each),
            request_first=False,
            request_found="",
            late_s=seconds(each.late),
        )

    def draw(self, each: Draw) -> DrawRow:
        """The row of a draw."""
        local = self.local(each.begun_at, each.site)
        asked = self.requested.get(each.requisition, UNKNOWN)
        age = age_days(asked.birth_date, local.date())
        tubes = self.tubes_at(each.site)
        filled = self.filled(each)
        needle = each.attempts[-1] if each.attempts else None
        known = [
            (tubes.volume_ul(one) or 0, need)
            for one in filled
            if (need := tubes.needed_ul(one.tests, age)) is not None
        ]
        return DrawRow(
            draw=each.code,
            requisition=each.requisition,
            site=each.site,
            month=local.year * 100 + local.month,
            week=iso_week(local),
            day=local.date(),
            hour=local.hour,
            ward=asked.ward,
            collector=each.collector,
            age_group=self.age_group(age),
            device=needle.device if needle else each.device,
            gauge=needle.gauge if needle else each.gauge,
            ended=each.ended_at is not None,
            obtained=bool(filled),
            reason=each.reason,
            attempts=len(each.attempts),
            tourniquet_s=longest_s(each),
            coagulation=any(tubes.order_class_of(one) == "citrate" for one in filled),
            tubes=len(filled),
            order_breaches=sum(tubes.breach(one, filled) is True for one in filled),
            planned_ul=each.planned_ul,
            drawn_ul=sum(tubes.volume_ul(one) or 0 for one in filled),
            needed_ul=sum(need for _, need in known) if known else None,
            drawn_known_ul=sum(drawn for drawn, _ in known) if known else None,
            begun_at=each.begun_at,
            ended_at=each.ended_at,
            late_s=seconds(each.late),
        )

    def local(self, moment: datetime, site: str) -> datetime:
        """The same moment by the clock on the wall of a place."""
        if site not in self.zones:
            name = self.site(site).time_zone
            try:
                self.zones[site] = ZoneInfo(name)
            except (ZoneInfoNotFoundError, ValueError, OSError):
                raise InputError(
                    f"no time zone is called “{name}”",
                    f"site {site}",
                    "Write it like Asia/Kathmandu.",
                ) from None
        return moment.astimezone(self.zones[site])

    def site(self, code: str) -> LakeSite:
        """A place, with its code as its name where it is not listed."""
        return self.sites.get(code) or LakeSite(code, code)

    def tubes_at(self, site: str) -> Tubes:
        """What the catalogue says of tubes under a place's choices."""
        if site not in self.tubes:
            self.tubes[site] = Tubes.at(self.site(site), self.catalogue)
        return self.tubes[site]

    def filled(self, draw: Draw) -> list[Specimen]:
        """The tubes of a draw that hold blood, in the order in which they were filled."""
        tubes = (self.found.specimens[code] for code in draw.specimens)
        return sorted((one for one in tubes if one.filled_nth), key=lambda one: one.filled_nth)

    def others(self, specimen: Specimen) -> list[Specimen]:
        """The filled tubes of its draw."""
        draw = self.found.draws.get(specimen.draw)
        return self.filled(draw) if draw is not None else []

    def age_group(self, age: int | None) -> str:
        """The group of an age in days."""
        if age is None:
            return ""
        rows = self.catalogue.rows(AgeGroup)
        return next((r.code for r in rows if r.age_from_days <= age < r.age_to_days), "")

    def lost(self, each: Specimen) -> bool:
        """Missing from its box, or on its way for longer than policy allows."""
        if each.received_at is not None or each.discarded:
            return False
        longest = timedelta(hours=self.catalogue.number("indicator_not_received_h"))
        assert each.collected_at is not None
        return each.missing or self.now - each.collected_at > longest


def _with_requests(rows: list[SpecimenRow], found: Gathered) -> list[SpecimenRow]:
    """Mark the first specimen of each requisition, with what was found on any of them."""
    latest = datetime.max.replace(tzinfo=UTC)
    by_request: dict[str, list[int]] = {}
    for at, row in enumerate(rows):
        if row.requisition:
            by_request.setdefault(row.requisition, []).append(at)
    for number, places in by_request.items():
        first = min(
            places,
            key=lambda at: (
                rows[at].collected_at or rows[at].received_at or latest,
                rows[at].specimen,
            ),
        )
        words = [w for at in places for w in rows[at].found.split(";")]
        words += found.asked_again.get(number, {})
        rows[first] = replace(rows[first], request_first=True, request_found=listed(words))
    return rows


def iso_week(local: datetime) -> int:
    """ISO year and week, ``202610``."""
    year, week, _ = local.isocalendar()
    return year * 100 + week


def seconds(span: timedelta) -> int:
    """Whole seconds, rounded down."""
    return span // timedelta(seconds=1)


def between_s(start: datetime | None, end: datetime | None) -> int | None:
    """Whole seconds from one moment to another, None when one is not known."""
    return None if start is None or end is None else seconds(end - start)


def longest_s(draw: Draw | None) -> int | None:
    """The longest time that the tourniquet stayed on, None when none is on record."""
    return seconds(max(draw.tourniquet)) if draw is not None and draw.tourniquet else None


def verdict(each: Specimen) -> str:
    """How the reception decided, "" when it has not."""
    if each.refused:
        return "partly" if each.accepted else "refused"
    if not each.accepted:
        return ""
    return "remark" if each.remarks else "accepted"
