"""What the record says of a specimen, as the rules want it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from cubital.catalogue import shipped
from cubital.custody import Event, uuid7
from cubital.reception import (
    Outcome,
    SaidAtChair,
    fill_percent,
    is_irreplaceable,
    said_at_chair,
    used_percent,
    what_lacks,
)
from tests.reception.makers import DRAWN, PATIENT, arrival, expected, judged, requisition

DAY = DRAWN.date()


@pytest.mark.parametrize(
    ("age_days", "tests", "so"),
    [
        (0, ("fbc",), True),
        (27, ("fbc",), True),
        (28, ("fbc",), False),
        (12_000, ("fbc",), False),
        (12_000, ("fbc", "glucose-ogtt-60"), True),  # at one point in time after the drink
        (12_000, ("lithium",), True),  # 12 h after the dose, neither earlier nor later
        (12_000, ("paracetamol",), False),  # at least 4 h after: an hour later will do
    ],
)
def test_a_newborns_and_a_timed_one_cannot_be_replaced(
    age_days: int, tests: tuple[str, ...], so: bool
) -> None:
    """Under 28 days, or a test that belongs to a window after a dose."""
    patient = replace(PATIENT, birth_date=DAY - timedelta(days=age_days))
    assert is_irreplaceable(patient, tests, DAY, shipped(), {}) is so


def test_nobody_is_a_newborn_whose_birth_date_is_unknown() -> None:
    """An unknown age is not young."""
    patient = replace(PATIENT, birth_date=None)
    assert not is_irreplaceable(patient, ("fbc",), DAY, shipped(), {})


def test_what_lacks_is_said_in_words_only_where_policy_wants_more() -> None:
    """Three identifiers are wanted; whichever is not there is named."""
    whole = requisition("fbc")
    assert what_lacks(whole, shipped()) == ()
    unknown = replace(whole, patient=replace(PATIENT, birth_date=None))
    assert what_lacks(unknown, shipped()) == ("the birth date",)


def at_chair(kind: str, **payload: object) -> Event:
    """An event of the draw."""
    return Event(
        id=uuid7(DRAWN, bytes(10)), site="ostrel-valley", kind=kind, happened_at=DRAWN, who="mira",
        device="tablet", subject="draw:D-1", payload=payload,
    )  # fmt: skip


FEW = at_chair("override_given", finding="identifier-missing", reason="Unconscious; band read")
READ = at_chair("override_given", finding="identifiers-read", reason="Confused; band read")
CODE = at_chair("identity_confirmed", identifiers=["wristband"], reason="birth_date_unknown")


@pytest.mark.parametrize(
    ("events", "lacks", "said"),
    [
        ((), True, None),
        ((at_chair("identity_confirmed", identifiers=["name"]),), True, None),
        ((at_chair("override_given", finding="site-shut", reason="No other."),), True, None),
        ((at_chair("attempt_ended", success=False, reason="no_flow"),), True, None),
        ((CODE, FEW), True, ("identifier-missing", "Unconscious; band read")),
        ((READ,), True, ("identifiers-read", "Confused; band read")),
        ((CODE,), True, ("identifier-missing", "Neither patient nor family knows the birth date")),
        ((CODE,), False, ("identifiers-read", "Neither patient nor family knows the birth date")),
        ((FEW, READ), False, ("identifiers-read", "Confused; band read")),
    ],
)
def test_the_reason_of_the_chair_is_found_in_its_draw(
    events: tuple[Event, ...], lacks: bool, said: tuple[str, str] | None
) -> None:
    """The words of the logbook before the code; nothing else that has a reason counts."""
    found = said_at_chair(events, shipped(), lacks=lacks)
    assert found == (SaidAtChair(said[0], "mira", said[1]) if said else None)


@pytest.mark.parametrize(
    ("container", "fill", "volume_ul", "percent"),
    [
        ("citrate-2.7", "short", 1350, 50),
        ("citrate-2.7", "full", 1350, None),
        ("citrate-2.7", "short", None, None),
        ("no-such-tube", "short", 1350, None),
    ],
)
def test_a_short_fill_is_taken_from_the_chair(
    container: str, fill: str, volume_ul: int | None, percent: int | None
) -> None:
    """Its estimate against the nominal volume; without one only the eye counts."""
    assert fill_percent(container, fill, volume_ul, shipped()) == percent


def test_time_after_the_log_counts_at_room() -> None:
    """Half of what potassium keeps as whole blood, after a log that used up a third."""
    keeps_h = next(
        row.keeps_h
        for row in shipped().stability("potassium")
        if (row.matrix, row.condition) == ("whole_blood", "room")
    )
    end = DRAWN
    later = end + timedelta(hours=keeps_h / 2)
    used = used_percent(33.0, end, later, "potassium", shipped(), {}, spun=False)
    assert used == pytest.approx(83.0)
    assert used_percent(33.0, end, end, "potassium", shipped(), {}, spun=False) == 33.0


def test_another_vessel_than_the_examination_wants() -> None:
    """A culture from a cup that is not sterile is refused; the strip from the same cup is not."""
    known = expected("", "urine-culture", "urine-strip", material="urine")
    seen = arrival(material="urine", vessel="clean cup", volume_ul=20_000)
    verdict = judged(seen, known)
    assert {t.test: t.outcome for t in verdict.tests} == {
        "urine-culture": Outcome.REFUSED,
        "urine-strip": Outcome.ACCEPTED,
    }
    assert verdict.findings[0].code == "wrong-container"
    assert "sterile cup" in verdict.findings[0].sentence
