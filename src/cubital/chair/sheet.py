"""The chair's sheet: a draw plan turned into what is asked, scanned and warned of at the chair."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from cubital.catalogue import Catalogue
from cubital.chair.few import few_for
from cubital.chair.scans import RULE
from cubital.chair.values import Policy, Question, Sheet, StockCode, Tube
from cubital.draw.technique import COAGULATION_CLASS
from cubital.draw.values import DrawPlan, Lot, PlannedContainer
from cubital.errors import RequisitionError
from cubital.finding import Finding, Severity
from cubital.requisition import LEAST_IDENTIFIERS
from cubital.requisition.values import Patient, Requisition

SETTINGS = (
    "identifiers_required",
    "attempts_per_collector",
    "tourniquet_max_s",
    "tourniquet_coagulation_max_s",
    "tourniquet_warn_s",
)


def chair_policy(catalogue: Catalogue, *, labels: str) -> Policy:
    """
    The policy of the chair from the catalogue's settings.

    Args:
        catalogue: with the laboratory's own settings laid over.
        labels: ``before`` or ``after`` the draw, as the place has it.
    """
    longest = timedelta(seconds=catalogue.number("tourniquet_max_s"))
    warn_at = timedelta(seconds=catalogue.number("tourniquet_warn_s"))
    return Policy(
        identifiers=max(catalogue.number("identifiers_required"), LEAST_IDENTIFIERS),
        attempts=catalogue.number("attempts_per_collector"),
        tourniquet=longest,
        tourniquet_coagulation=timedelta(seconds=catalogue.number("tourniquet_coagulation_max_s")),
        tourniquet_warning=longest - warn_at,
        labels=labels,
        sources=tuple((key, catalogue.setting(key).source) for key in SETTINGS),
    )


def questions_for(patient: Patient, wanted: int) -> tuple[Question, ...]:
    """
    Give the identifiers to ask for, as open questions: as many as wanted, or all that are known.

    Raises:
        RequisitionError: fewer are known than any policy may be content with.
    """
    born = "" if patient.birth_date is None else f"{patient.birth_date:%d %B %Y}"
    known = [
        Question("name", "What is your full name?", patient.whole_name, "name on the wristband"),
        Question("birth_date", "When were you born?", born, "birth date on the wristband"),
        Question(
            "number",
            "What number is on your card or band?",
            patient.number,
            "number on the wristband",
        ),
    ]
    known = [q for q in known if q.answer]
    if len(known) < LEAST_IDENTIFIERS:
        raise RequisitionError(
            f"{LEAST_IDENTIFIERS} identifiers at least are needed at the chair and {len(known)}"
            f" {'is' if len(known) == 1 else 'are'} known",
            patient.number,
            "Add the name, birth date or patient number first.",
        )
    return tuple(known[:wanted])


def namesakes(patient: Patient, others: Sequence[Patient]) -> tuple[Finding, ...]:
    """Warn of patients of the day who share the name or the birthday."""
    found = []
    for other in others:
        if other.number == patient.number:
            continue
        same_name = other.family_name.casefold() == patient.family_name.casefold()
        same_day = other.birth_date is not None and other.birth_date == patient.birth_date
        if not (same_name or same_day):
            continue
        shared = "name" if same_name else "birthday"
        shared = "name and birthday" if same_name and same_day else shared
        found.append(
            Finding(
                "namesake",
                Severity.NOTE,
                f"Same {shared} today: {other.whole_name}, No {other.number}. Look twice.",
                RULE,
                other.number,
            )
        )
    return tuple(found)


def stock_codes(catalogue: Catalogue, lots: Sequence[Lot]) -> tuple[StockCode, ...]:
    """The bar codes of lots on hand: container code and lot number with a colon between."""
    return tuple(
        StockCode(
            code=f"{lot.container}:{lot.number}",
            container=lot.container,
            shown=catalogue.containers[lot.container].name,
            lot=lot.number,
            expires_on=lot.expires_on,
            recalled=lot.recalled,
        )
        for lot in lots
    )


def _tube(catalogue: Catalogue, planned: PlannedContainer, accession: str) -> Tube:
    additive = catalogue.additives[planned.additive]
    return Tube(
        accession=accession,
        position=planned.position,
        container=planned.container,
        additive=planned.additive,
        shown=catalogue.containers[planned.container].name,
        colour=planned.colour,
        coagulation=additive.order_class == COAGULATION_CLASS,
        fill_ul=planned.fill_ul,
        fill_min_ul=planned.fill_min_ul,
        tests=tuple(test.code for test in planned.tests),
    )


def chair_sheet(
    plan: DrawPlan,
    requisition: Requisition,
    catalogue: Catalogue,
    accessions: Mapping[int, str],
    *,
    draw: str,
    site: str,
    today: date,
    labels: str,
    lots: Sequence[Lot] = (),
    others: Sequence[tuple[str, str]] = (),
    patients_of_day: Sequence[Patient] = (),
) -> Sheet:
    """
    Make the sheet of one draw.

    Args:
        plan: of this requisition.
        requisition: as planned.
        catalogue: the one the plan was made with.
        accessions: position in the order of draw -> accession number, for each labelled container.
        draw: id of the draw.
        site: code of the place.
        today: date at the place.
        labels: ``before`` or ``after``.
        lots: on hand, for their bar codes.
        others: accession numbers of other patients of the round, with words for each.
        patients_of_day: for the warning of namesakes.

    Raises:
        RequisitionError: fewer than two identifiers, or a container without its number.
    """
    policy = chair_policy(catalogue, labels=labels)
    wanted = [c for c in plan.containers if c.label_wanted]
    missing = [c.position for c in wanted if c.position not in accessions]
    if missing:
        raise RequisitionError(
            f"Container {missing[0]} of the plan has no accession number",
            requisition.number,
            "Number the containers first.",
        )
    discards = [c for c in plan.containers if not c.label_wanted]
    return Sheet(
        draw=draw,
        site=site,
        requisition=requisition.number,
        patient=requisition.patient.number,
        name=requisition.patient.whole_name,
        scans=tuple(dict.fromkeys((requisition.patient.number, requisition.number))),
        questions=questions_for(requisition.patient, policy.identifiers),
        tubes=tuple(_tube(catalogue, c, accessions[c.position]) for c in wanted),
        stock=stock_codes(catalogue, lots),
        others=tuple(others),
        policy=policy,
        plan_edition=plan.edition,
        today=today,
        discard=", ".join(catalogue.containers[c.container].name for c in discards),
        discard_ul=sum(c.fill_ul for c in discards) + plan.allowance.tubing_ul,
        findings=namesakes(requisition.patient, patients_of_day),
        few=few_for(requisition.patient, catalogue, policy.identifiers),
    )
