"""What is missing, and what was asked for twice."""

from dataclasses import replace
from datetime import timedelta

from cubital.catalogue import Catalogue
from cubital.finding import Severity
from cubital.requisition import missing, requisition_from
from tests.requisition.conftest import NOW
from tests.requisition.examples import WHOLE, small


def test_a_whole_requisition_lacks_nothing(catalogue: Catalogue):
    """Three identifiers and somebody who waits for the results."""
    whole = requisition_from(WHOLE, catalogue=catalogue, now=NOW)
    assert missing(whole, catalogue) == ()


def test_missing_identifiers_are_asked_for(catalogue: Catalogue):
    """Which they are, how many are needed, and whom to ask."""
    bare = requisition_from(small(patient_number=""), catalogue=catalogue, now=NOW)
    asked, requester = missing(bare, catalogue)
    assert (asked.code, asked.severity) == ("identifier-missing", Severity.ASK)
    assert asked.sentence == (
        "3 identifiers of the patient are needed, and patient number and birth date are "
        "missing: ask the patient, or the registration desk."
    )
    assert asked.source in catalogue.sources
    assert (requester.code, requester.severity) == ("requester-missing", Severity.NOTE)
    assert requester.source in catalogue.sources


def test_duplicates_of_the_day_are_asked_back(catalogue: Catalogue):
    """Same patient, same test, within the window; never by another patient or long before."""
    whole = requisition_from(WHOLE, catalogue=catalogue, now=NOW)
    twin = replace(whole, number="R-8", collect_at=whole.collect_at - timedelta(hours=2))
    other_tests = replace(twin, number="R-9", tests=())
    other_day = replace(twin, number="R-10", collect_at=whole.collect_at - timedelta(days=2))
    stranger = replace(twin, number="R-11", patient=replace(whole.patient, number="OV-9"))
    found = missing(
        whole, catalogue, earlier=(whole, twin, other_tests, other_day, stranger)
    )  # fmt: skip
    assert [(one.code, one.severity, one.subject) for one in found] == [
        ("test-twice", Severity.ASK, "potassium"),
        ("test-twice", Severity.ASK, "glucose"),
    ]
    assert "already on requisition R-8 for 2026-03-02 05:30" in found[0].sentence


def test_patients_without_a_number_are_not_taken_for_one_another(catalogue: Catalogue):
    """Two unknown patients are two."""
    bare = requisition_from(small(patient_number=""), catalogue=catalogue, now=NOW)
    found = missing(bare, catalogue, earlier=(replace(bare, number="R-2"),))
    assert "test-twice" not in [one.code for one in found]
