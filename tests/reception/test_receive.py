"""The reception's verdicts: each fault injected, each caught, test by test."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.catalogue import load_catalogue, shipped
from cubital.draw.needs import ask, dead_blood_ul
from cubital.draw.scene import scene_of
from cubital.draw.values import Place
from cubital.errors import InputError
from cubital.reception import Arrival, Outcome, SaidAtChair, not_registered
from cubital.reception.found import rule_rows
from cubital.reception.known import fill_percent
from tests.reception.makers import (
    ARRIVED,
    DRAWN,
    arrival,
    expected,
    judged,
    ordered,
    outcomes,
    requisition,
)

EDTA = ("edta-3", "fbc")
GEL = ("gel-3.5", "sodium", "potassium", "ldh")
CITRATE = ("citrate-2.7", "pt-inr", "aptt")


def codes(verdict) -> list[str]:
    """Codes of all findings, once each."""
    return sorted({f.code for f in verdict.findings})


def test_a_good_tube_is_accepted() -> None:
    """Nothing is found on a fresh, full, labelled EDTA tube."""
    verdict = judged(arrival(fill_percent=95), expected(*EDTA))
    assert verdict.outcome is Outcome.ACCEPTED
    assert verdict.findings == ()
    assert verdict.edition == shipped().edition


FAULTS: list[tuple[str, tuple[str, ...], dict[str, Any], dict[str, Any]]] = [
    ("label-none", EDTA, {"labels": 0}, {}),
    ("label-two", EDTA, {"labels": 2}, {}),
    ("label-incomplete", EDTA, {"label_complete": False}, {}),
    ("identity-disagrees", EDTA, {"identity_agrees": False}, {}),
    ("duplicate", EDTA, {"seen_before": True}, {}),
    ("wrong-material", EDTA, {"material": "urine"}, {}),
    ("wrong-container", EDTA, {"container": "gel-3.5"}, {}),
    ("tube-expired", EDTA, {"expires_on": date(2026, 11, 24)}, {}),
    ("underfilled", CITRATE, {"fill_percent": 80}, {}),
    ("overfilled", CITRATE, {"fill_percent": 120}, {}),
    ("clotted", EDTA, {"clot": True}, {}),
    ("haemolysed", GEL, {"haemolysis_g_per_l": 6.0}, {}),
    ("haemolysed-remark", GEL, {"haemolysis_grade": 1}, {}),
    ("leaking", EDTA, {"leaking": True}, {}),
    ("too-warm", ("edta-3", "ammonia"), {"temperature_c": 20.0}, {}),
    ("too-cold", GEL, {"temperature_c": 4.0}, {}),
    ("frozen-whole", EDTA, {"temperature_c": -2.0}, {}),
    ("too-old", EDTA, {"received_at": DRAWN + timedelta(hours=30)}, {}),
    ("soon-too-old", EDTA, {"received_at": DRAWN + timedelta(hours=10)}, {}),
    ("no-collection-time", EDTA, {}, {"collected_at": None}),
    ("requisition-incomplete", EDTA, {}, {"incomplete": ("the requester",)}),
    (
        "identifiers-answered",
        EDTA,
        {},
        {"said_at_chair": SaidAtChair("identifiers-read", "Mira", "Confused")},
    ),
    ("volume-short", ("gel-3.5", "sodium", "tsh", "ferritin"), {"fill_percent": 30}, {}),
    (
        "timed-volume-missing",
        ("", "urine-protein-24h"),
        {"material": "urine_24h"},
        {"material": "urine_24h"},
    ),
    (
        "wrong-preservative",
        ("", "urine-culture-boric"),
        {"material": "urine"},
        {"material": "urine"},
    ),
]


@pytest.mark.parametrize(("code", "what", "seen", "known"), FAULTS, ids=[f[0] for f in FAULTS])
def test_every_fault_is_caught_by_its_rule(code, what, seen, known) -> None:
    """One fault at a time: its rule finds it, with the table's severity and codes."""
    verdict = judged(arrival(**seen), expected(*what, **known))
    assert code in codes(verdict)
    row = rule_rows(shipped())[code]
    if row.severity != "note":
        assert not row.hl7_0490 or row.hl7_0490 in verdict.reject_codes
    assert not row.indicator or row.indicator in verdict.indicators
    assert all(f.sentence and f.source in shipped().sources for f in verdict.findings)


def test_every_rule_of_the_table_has_its_fault_here() -> None:
    """A new rule without a fault that proves it fails this test."""
    elsewhere = {"not-registered", "no-figure"}
    assert {f[0] for f in FAULTS} | elsewhere == set(rule_rows(shipped()))


@pytest.mark.parametrize(
    ("incomplete", "finding", "outcome", "words"),
    [
        (("the birth date",), "identifier-missing", "accepted_with_remark", "lacks the birth date"),
        (("the birth date",), "identifiers-read", "to_be_decided", "lacks the birth date"),
        ((), "identifiers-read", "accepted_with_remark", "read at the chair"),
        ((), "identifier-missing", "accepted_with_remark", "drawn with fewer identifiers"),
    ],
)
def test_what_the_chair_gave_a_reason_for_is_not_asked_again(
    incomplete: tuple[str, ...], finding: str, outcome: str, words: str
) -> None:
    """Fewer identifiers with a reason are a note that says who and why; a lack without one asks."""
    said = SaidAtChair(finding, "Mira Hollen", "Unconscious; wristband read")
    verdict = judged(arrival(), expected(*EDTA, incomplete=incomplete, said_at_chair=said))
    assert verdict.outcome == outcome
    (found,) = verdict.findings
    assert words in found.sentence
    told = "Mira Hollen: Unconscious; wristband read." in found.sentence
    assert told == (outcome == "accepted_with_remark")


def test_the_verdict_is_per_test() -> None:
    """Haemolysis refuses LDH, leaves a remark on potassium and none on sodium."""
    verdict = judged(arrival(haemolysis_g_per_l=1.0), expected(*GEL))
    assert outcomes(verdict) == {
        "sodium": "accepted",
        "potassium": "accepted_with_remark",
        "ldh": "refused",
    }
    assert verdict.outcome is Outcome.PARTLY
    assert verdict.recollect == ("ldh",)


def test_a_short_tube_serves_what_the_requester_wants_most() -> None:
    """The first tests fit, the last are asked for again."""
    tests = ("gel-3.5", "potassium", "creatinine", "tsh", "ferritin", "cortisol", "vitamin-d")
    verdict = judged(arrival(fill_percent=35), expected(*tests))
    refused = verdict.recollect
    assert 0 < len(refused) < len(tests) - 1
    assert refused == tests[-len(refused) :]


def test_what_cannot_be_replaced_is_never_refused_by_a_rule() -> None:
    """Spinal fluid without a label, leaking and old: a named person decides."""
    known = expected("", "csf-cells", material="csf")
    seen = arrival(material="csf", labels=0, leaking=True, received_at=DRAWN + timedelta(hours=9))
    verdict = judged(seen, known)
    assert verdict.outcome is Outcome.UNDECIDED
    assert verdict.recollect == ()
    assert {"label-none", "leaking", "too-old"} <= set(codes(verdict))


def test_an_unknown_specimen_is_kept_and_asked_about() -> None:
    """Nobody asked for it: to be decided, never thrown away."""
    verdict = not_registered(arrival(accession="XX"), shipped())
    assert verdict.outcome is Outcome.UNDECIDED
    assert verdict.reject_codes == ("RI",)


def test_a_laboratory_changes_a_severity_in_its_own_table(tmp_path: Path) -> None:
    """Two labels become a stop in a folder of the laboratory's own; the finding says so."""
    folder = tmp_path / "ostrel"
    folder.mkdir()
    (folder / "reception_rules.csv").write_text(
        "code,name,severity,hl7_0490,hl7_0493,indicator,source\n"
        "label-two,Two labels,stop,RM,,Pre-MisS,reception-memory\n"
    )
    verdict = judged(arrival(labels=2), expected(*EDTA), load_catalogue(folder))
    assert verdict.outcome is Outcome.REFUSED
    assert verdict.findings[0].layer == "ostrel"


def test_a_collection_still_to_come_is_refused_in_one_sentence() -> None:
    """A clock that runs ahead is said, not computed with."""
    known = expected(*EDTA, collected_at=ARRIVED + timedelta(hours=1))
    with pytest.raises(InputError, match="still to come"):
        judged(arrival(), known)


ARRIVALS = st.builds(
    Arrival,
    accession=st.just("OL2611250041S"),
    received_at=st.integers(0, 200).map(lambda h: DRAWN + timedelta(hours=h)),
    labels=st.integers(0, 2),
    label_complete=st.booleans(),
    identity_agrees=st.sampled_from([True, False, None]),
    material=st.sampled_from(["blood", "blood", "urine"]),
    container=st.sampled_from(["", "edta-3", "gel-3.5", "citrate-2.7"]),
    expires_on=st.sampled_from([None, date(2026, 11, 24), date(2027, 1, 1)]),
    fill_percent=st.one_of(st.none(), st.integers(0, 130)),
    clot=st.booleans(),
    haemolysis_grade=st.one_of(st.none(), st.integers(0, 4)),
    leaking=st.booleans(),
    temperature_c=st.one_of(st.none(), st.floats(-10, 40)),
    seen_before=st.booleans(),
)


@given(ARRIVALS, st.booleans())
def test_whatever_arrives_every_test_gets_its_verdict(seen: Arrival, irreplaceable: bool) -> None:
    """Each test once; asked for again exactly where refused; irreplaceable never refused."""
    known = expected(*GEL, irreplaceable=irreplaceable)
    verdict = judged(seen, known)
    assert [t.test for t in verdict.tests] == [t.code for t in known.tests]
    refused = [t.test for t in verdict.tests if t.outcome is Outcome.REFUSED]
    assert list(verdict.recollect) == refused
    assert not (irreplaceable and refused)
    accepted = [t for t in verdict.tests if t.outcome is Outcome.ACCEPTED]
    assert all(not t.findings for t in accepted)


@given(ARRIVALS, st.integers(1, 60))
def test_a_fuller_tube_never_serves_less(seen: Arrival, more: int) -> None:
    """Between the fill limits, more blood never refuses a test that less served."""
    low = replace(seen, fill_percent=30, container="", haemolysis_grade=None)
    high = replace(low, fill_percent=min(30 + more, 110))
    served = {t.test for t in judged(low, expected(*GEL)).tests if t.outcome is Outcome.ACCEPTED}
    after = {t.test for t in judged(high, expected(*GEL)).tests if t.outcome is Outcome.ACCEPTED}
    assert served <= after


def test_what_the_chair_planned_to_the_microlitre_is_enough_at_the_reception() -> None:
    """The least blood for six tests serves them; rounded down to a percent it would not."""
    asked_for = ("sodium", "potassium", "chloride", "bicarbonate", "urea", "creatinine")
    scene = scene_of(requisition(*asked_for), shipped(), Place(altitude_m=1900), ARRIVED)
    asked = ask(ordered(*asked_for), scene)
    dead = dead_blood_ul("core", "evacuated", asked[0].state, scene)
    least = dead + sum(one.volume_ul for one in asked)
    known = expected("gel-3.5", *asked_for)
    percent = fill_percent("gel-3.5", "short", least, shipped())
    exact = judged(arrival(fill_percent=percent, volume_ul=least), known)
    assert "volume-short" not in codes(exact)
    less = judged(arrival(fill_percent=percent, volume_ul=least - 1), known)
    assert "volume-short" in codes(less)
