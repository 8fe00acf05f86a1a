"""From events to rows: what counts, where it belongs, and what is said when it cannot be told."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from cubital.catalogue import shipped
from cubital.errors import InputError
from cubital.indicators.rows import lake_rows
from cubital.indicators.values import LakeSite, Requested, SpecimenRow
from tests.indicators.makers import BEGIN, CITRATE, EDTA, GEL, NOW, SITES, Log, aged

HALF_HOUR = timedelta(minutes=30)


def by_code(log: Log, **more: object) -> dict[str, SpecimenRow]:
    """Specimen rows by code."""
    return {row.specimen: row for row in log.rows(**more).specimens}  # type: ignore[arg-type]


def test_a_draw_becomes_rows():
    """Needle, tourniquet, times and group of a specimen; needles, tubes and volumes of its draw."""
    log = Log()
    log.draw("D", tubes={"S": CITRATE, "T": GEL}, failed=1, tests={"T": ["potassium"]})
    log.arrive("S", BEGIN + HALF_HOUR)
    log.arrive("T", BEGIN + HALF_HOUR)
    log.spin("C", ["T"], BEGIN + 2 * HALF_HOUR)
    rows = log.rows(requested={"R-D": aged(30)})
    s, t = rows.specimens
    assert (s.attempt, s.device, s.gauge, s.tourniquet_s) == (2, "straight", 21, 40)
    assert (s.ward, s.age_group, s.collector) == ("ward-1", "adult", "mira")
    assert (s.anticoagulated, s.chemistry) == (True, False)
    assert (t.anticoagulated, t.chemistry) == (False, True)
    assert (s.verdict, s.transport_s) == ("accepted", 1800 - 50)
    assert t.spin_wait_s == 1800
    (draw,) = rows.draws
    assert (draw.attempts, draw.tubes, draw.obtained, draw.ended) == (2, 2, True, True)
    assert draw.coagulation
    assert draw.drawn_ul == 2700 + 3500
    assert draw.drawn_known_ul == 3500
    assert draw.needed_ul == t.needed_ul
    assert 0 < (t.needed_ul or 0) < 3500


def test_needed_blood_is_what_the_plan_reckons():
    """The plan's own yield: 35 µL of plasma at a haematocrit of 53 % and 85 % recovery."""
    volume = shipped().volume_ul("potassium")
    log = Log()
    log.draw("D", tubes={"S": GEL}, tests={"S": ["potassium"]})
    (row,) = log.rows().specimens
    assert row.needed_ul == -(-volume * 10_000 // (47 * 85))


def test_tests_that_the_catalogue_does_not_know_give_no_need():
    """An old code is not guessed at."""
    log = Log()
    log.draw("D", tubes={"S": GEL}, tests={"S": ["phlogiston"]})
    rows = log.rows()
    assert rows.specimens[0].needed_ul is None
    assert rows.draws[0].needed_ul is None
    assert rows.specimens[0].chemistry  # by its additive


def test_what_holds_no_blood_and_portions_have_no_row():
    """An empty tube and an aliquot are not specimens of their own."""
    log = Log()
    end = log.draw("D", tubes={"S": GEL, "E": EDTA}, fills={"E": "none"})
    log.arrive("S", end)
    log.add("aliquot_made", "specimen:A", end, parent="S", patient="P-1", material="serum",
            volume_ul=300, who="ilan")  # fmt: skip
    assert list(by_code(log)) == ["S"]


def test_a_draw_without_blood_has_a_row():
    """With its reason and needles, so that it cannot be forgotten."""
    log = Log()
    log.draw("D", failed=2)
    (row,) = log.rows().draws
    assert (row.obtained, row.ended, row.reason, row.attempts) == (False, True, "no_vein", 2)
    assert row.needed_ul is None


def test_order_breach():
    """Filled after a tube that comes later; a new needle begins the order anew."""
    log = Log()
    log.draw("D", tubes=[("E", EDTA), ("C", CITRATE), ("G", GEL)])
    rows = by_code(log)
    assert [rows[code].order_breach for code in "ECG"] == [False, True, True]
    again = Log()
    again.add("draw_begun", "draw:D", BEGIN, patient="P-1", requisition="R-1")
    here = {"site": "valley", "who": "mira"}
    for n, (code, container) in enumerate((("E", EDTA), ("C", CITRATE))):
        needle = f"attempt:{n}"
        again.add("attempt_begun", needle, BEGIN, draw="D", device="straight", gauge=21)
        again.tube(code, "D", container, BEGIN, here)
        again.add("attempt_ended", needle, BEGIN, draw="D", success=True)
    assert [row.order_breach for row in again.rows().specimens] == [False, False]


def test_the_local_order_of_a_place_decides():
    """Where the ESR tube comes last by the laboratory's choice, it is not in breach there."""
    log = Log()
    log.draw("D", tubes=[("E", EDTA), ("B", "esr-1.6")])
    assert by_code(log)["B"].order_breach is True
    sites = [LakeSite("valley", "Valley", choices={"esr-place": "last"})]
    assert by_code(log, sites=sites)["B"].order_breach is False


def test_refused_for_some_tests_is_partly_refused():
    """Accepted for the others right after, by name, the refusal stands."""
    log = Log()
    end = log.draw("D", tubes={"S": GEL}, tests={"S": ["potassium", "creatinine"]})
    here = {"who": "ilan"}
    log.add("specimen_received", "specimen:S", end, **here)
    log.add("specimen_refused", "specimen:S", end, reason="haemolysed", tests=["potassium"], **here)
    log.add("specimen_accepted", "specimen:S", end, decided_by="ilan", tests=["creatinine"], **here)
    row = by_code(log)["S"]
    assert (row.verdict, row.reasons) == ("partly", ";haemolysed;")


def test_a_refusal_that_is_lifted_becomes_a_remark():
    """A named person accepts it for the refused tests, or for all."""
    for tests in ([], ["potassium"], ["potassium", "creatinine"]):
        log = Log()
        end = log.draw("D", tubes={"S": GEL})
        log.arrive("S", end, refused="haemolysed", tests=["potassium"])
        log.add("specimen_accepted", "specimen:S", end, who="ilan", decided_by="ilan",
                **({"tests": tests} if tests else {}))  # fmt: skip
        row = by_code(log)["S"]
        assert (row.verdict, row.reasons, row.found) == ("remark", "", ";haemolysed;")


def test_remarks_overrides_and_recollections_are_found():
    """Whatever the reception noted is in ``found``, only refusals in ``reasons``."""
    log = Log()
    end = log.draw("D", tubes={"S": GEL})
    log.arrive("S", end, remarks=["haemolysed-remark"], haemolysis_mg_l=700)
    log.add("override_given", "specimen:S", end, finding="label-two", reason="Both agree.",
            who="ilan")  # fmt: skip
    log.add("recollection_asked", "specimen:S", end, reason="lost-in-laboratory", who="ilan")
    row = by_code(log)["S"]
    assert row.reasons == ""
    assert row.found == ";haemolysed-remark;label-two;lost-in-laboratory;"
    assert (row.recollected, row.haemolysis_mg_l) == (";lost-in-laboratory;", 700)


def test_the_first_specimen_stands_for_its_requisition():
    """With what was found on any of them, and what was asked for again on paper."""
    log = Log()
    end = log.draw("D", tubes={"B": EDTA, "A": GEL}, requisition="R-9")
    log.arrive("A", end, refused="clotted")
    log.add("recollection_asked", "requisition:R-9", end, reason="request-misidentified")
    rows = by_code(log)
    assert rows["B"].request_first
    assert rows["B"].request_found == ";clotted;request-misidentified;"
    assert not rows["A"].request_first
    assert rows["A"].request_found == ""


def test_not_received():
    """Missing from its box, or on its way for longer than two days; never when it turned up."""
    log = Log()
    end = log.draw("D", tubes={"M": GEL, "T": GEL, "W": GEL, "X": GEL})
    log.add("specimen_missing", "specimen:M", end, who="ilan")
    log.add("specimen_missing", "specimen:T", end, who="ilan")
    log.arrive("T", end + timedelta(hours=1))
    log.add("specimen_discarded", "specimen:X", end)
    soon = by_code(log, now=end + timedelta(hours=47))
    late = by_code(log, now=end + timedelta(hours=49))
    assert {code for code, row in soon.items() if row.not_received} == {"M"}
    assert {code for code, row in late.items() if row.not_received} == {"M", "W"}


def test_a_specimen_from_elsewhere():
    """Registered without a time of collection: it belongs to the month in which it arrived."""
    log = Log()
    log.add("specimen_registered", "specimen:U", BEGIN, material="urine", patient="P-1", who="ilan")
    log.add("specimen_registered", "specimen:V", BEGIN, material="blood", patient="P-1", who="ilan",
            collected_at="2026-02-28T20:00:00Z", container=GEL)  # fmt: skip
    rows = by_code(log)
    assert (rows["U"].month, rows["U"].hour, rows["U"].chemistry) == (202603, None, False)
    assert rows["U"].transport_s is None
    assert (rows["V"].month, rows["V"].hour) == (202603, 1)  # 20:00 UTC is 01:45 there, in March


def test_the_month_is_that_of_the_clock_on_the_wall():
    """23:30 UTC on the last of February is March in the valley."""
    log = Log()
    log.draw("D", datetime(2026, 2, 28, 23, 30, tzinfo=UTC), tubes={"S": GEL})
    assert log.rows().specimens[0].month == 202603
    utc = [LakeSite("valley", "Valley")]
    assert log.rows(sites=utc).specimens[0].month == 202602


def test_an_hour_that_comes_twice_does_no_harm():
    """Clocks go back at night: the way takes as long as it took, and the hour is the wall's."""
    there = [LakeSite("valley", "Valley", "Europe/Vienna")]
    before = datetime(2026, 10, 25, 0, 50, tzinfo=UTC)  # 02:50, and again 02:10 after the change
    log = Log()
    log.draw("D", before, tubes={"S": GEL}, tourniquet_s=None)
    log.arrive("S", before + timedelta(minutes=20))
    (row,) = log.rows(sites=there).specimens
    assert (row.hour, row.transport_s) == (2, 20 * 60 - 10)


def test_an_event_a_week_late_lands_in_its_month():
    """It belongs where it happened, and says how late it became known."""
    log = Log()
    at = datetime(2026, 3, 30, 6, tzinfo=UTC)
    log.draw("D", at, tubes={"S": GEL})
    log.delay = timedelta(days=8)
    log.arrive("S", at + HALF_HOUR)
    (row,) = log.rows().specimens
    assert (row.month, row.verdict) == (202603, "accepted")
    assert row.late_s == 8 * 86400


def test_corrections_and_withdrawals_hold():
    """The row shows how it was, not how it was first entered."""
    log = Log()
    end = log.draw("D", tubes={"S": GEL})
    log.add("specimen_received", "specimen:S", end, who="ilan")
    wrong = log.add("specimen_refused", "specimen:S", end, reason="clotted", who="ilan")
    log.add("event_corrected", "specimen:S", end, corrects=wrong.id, reason="Wrong tube.",
            payload={"reason": "haemolysed"}, who="vera")  # fmt: skip
    assert by_code(log)["S"].reasons == ";haemolysed;"
    streamed = lake_rows(
        iter(log.records), shipped(), sites=SITES, now=NOW,
        mends=[one for one in log.records if one.event.corrects],
    )  # fmt: skip
    assert streamed == log.rows()
    log.add("event_withdrawn", "specimen:S", end, corrects=wrong.id, reason="Wrong tube.",
            who="vera")  # fmt: skip
    assert by_code(log)["S"].verdict == ""


def test_a_run_that_was_broken_off_is_no_spin():
    """The first run that ended well counts."""
    log = Log()
    end = log.draw("D", tubes={"S": GEL})
    log.arrive("S", end)
    log.spin("1", ["S"], end + HALF_HOUR, outcome="broken_off")
    log.spin("2", ["S"], end + 2 * HALF_HOUR)
    log.spin("3", ["S"], end + 3 * HALF_HOUR)
    assert by_code(log)["S"].spun_at == end + 2 * HALF_HOUR


def test_whoever_takes_over_has_the_draw():
    """The draw goes to who ended it, each tube to who filled it."""
    log = Log()
    log.add("draw_begun", "draw:D", BEGIN, patient="P-1", requisition="R")
    log.add("attempt_begun", "attempt:1", BEGIN, draw="D", device="winged", gauge=23)
    log.add("attempt_ended", "attempt:1", BEGIN, draw="D", success=False, reason="no_vein")
    log.add("draw_handed_over", "draw:D", BEGIN, to="tove")
    log.add("attempt_begun", "attempt:2", BEGIN, who="tove", draw="D", device="winged", gauge=23)
    log.tube("S", "D", GEL, BEGIN, {"site": "valley", "who": "tove"})
    rows = log.rows()
    assert (rows.draws[0].collector, rows.draws[0].ended) == ("tove", False)
    assert (rows.specimens[0].collector, rows.specimens[0].attempt) == ("tove", 2)


def test_an_unknown_time_zone_is_said():
    """In one sentence, with the place."""
    log = Log()
    log.draw("D", tubes={"S": GEL})
    with pytest.raises(InputError, match="site valley: no time zone is called “Nowhere/Else”"):
        log.rows(sites=[LakeSite("valley", "Valley", "Nowhere/Else")])


def test_events_without_their_beginning_are_said():
    """A log that is not whole, or out of order, gives no figures."""
    log = Log()
    log.draw("D", tubes={"S": GEL})
    log.records = log.records[3:]
    with pytest.raises(InputError, match="no earlier event begins"):
        log.rows()


def test_no_events_no_rows():
    """An empty record is not an error."""
    rows = lake_rows([], shipped(), sites=SITES, now=NOW)
    assert (rows.specimens, rows.draws) == ((), ())


def test_a_row_holds_no_name_and_no_patient_number():
    """Only the ward and a group of ages go along."""
    log = Log()
    log.draw("D", tubes={"S": GEL})
    (row,) = log.rows(requested={"R-D": Requested("ward-2", BEGIN.date())}).specimens
    assert "P-1" not in repr(row)
    assert (row.ward, row.age_group) == ("ward-2", "newborn")
