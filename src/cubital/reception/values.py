"""What arrives, what was asked for, and the verdict."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from cubital.finding import Finding
from cubital.requisition.values import OrderedTest


@dataclass(frozen=True, slots=True)
class Arrival:
    """
    What the receiver sees and scans.

    Args:
        accession: as scanned; "" where there is nothing to scan.
        received_at: when.
        labels: how many labels stick on it.
        label_complete: at least the identifiers that policy wants are on it.
        identity_agrees: label and requisition name the same person; None when not compared.
        material: code of ``materials.csv``.
        container: catalogue code as seen, "" when it is as expected.
        vessel: of other specimens, in the words of ``examinations.csv``; "" when not looked at.
        preservative: of other specimens, as labelled.
        expires_on: of the tube, None when not readable.
        fill_percent: of the nominal volume, measured or estimated; None when it looks right.
        volume_ul: as measured, of blood as the chair said it; None when not measured.
        clot: seen in it.
        haemolysis_grade: on the visual scale, None when not looked at (unspun).
        haemolysis_g_per_l: measured index, preferred where both are given.
        leaking: leaking, cracked or open.
        temperature_c: measured at the opening, None when not.
        timed_minutes, timed_volume_ml: of a timed collection.
        seen_before: the same number was received already.
    """

    accession: str
    received_at: datetime
    labels: int = 1
    label_complete: bool = True
    identity_agrees: bool | None = True
    material: str = "blood"
    container: str = ""
    preservative: str = ""
    expires_on: date | None = None
    fill_percent: int | None = None
    volume_ul: int | None = None
    clot: bool = False
    haemolysis_grade: int | None = None
    haemolysis_g_per_l: float | None = None
    leaking: bool = False
    temperature_c: float | None = None
    timed_minutes: int | None = None
    timed_volume_ml: int | None = None
    seen_before: bool = False
    vessel: str = ""


@dataclass(frozen=True, slots=True)
class SaidAtChair:
    """
    Why a draw went on with fewer identifiers than are asked, or with identifiers that were read.

    Args:
        finding: ``identifier-missing`` where fewer were known, else ``identifiers-read``.
        who: gave the reason.
        why: in words.
    """

    finding: str
    who: str
    why: str


@dataclass(frozen=True, slots=True)
class Expected:
    """
    What the record knows of it.

    Args:
        accession: of the specimen.
        requisition: its number.
        material: code of ``materials.csv``.
        container: catalogue code of the planned container, "" for other specimens.
        tests: asked from this specimen, with the requester's priority.
        collected_at: None when nobody wrote it down.
        irreplaceable: never binned by a rule (a neonate's, a timed one; the material may say so).
        incomplete: what is missing on the requisition, in words.
        used_percent: test -> share of its stability used up on the way, where a log was read.
        spun: separated before it travelled.
        said_at_chair: why the identifiers of its draw are fewer or were read, None where they are
            as usual or nobody said it.
    """

    accession: str
    requisition: str
    material: str
    container: str
    tests: tuple[OrderedTest, ...]
    collected_at: datetime | None
    irreplaceable: bool = False
    incomplete: tuple[str, ...] = ()
    used_percent: tuple[tuple[str, float], ...] = ()
    spun: bool = False
    said_at_chair: SaidAtChair | None = None


class Outcome(StrEnum):
    """Of a test, or of a specimen as a whole."""

    ACCEPTED = "accepted"
    REMARKED = "accepted_with_remark"
    UNDECIDED = "to_be_decided"  # a named person decides
    REFUSED = "refused"
    PARTLY = "partly_refused"  # of a specimen only


@dataclass(frozen=True, slots=True)
class TestVerdict:
    """One test: done or not, and why."""

    test: str
    outcome: Outcome
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Verdict:
    """
    The reception's answer, test by test.

    Args:
        accession: of the specimen, or what was scanned.
        outcome: of the whole.
        tests: in the order of the requisition.
        findings: all, hardest first.
        recollect: tests to be asked for again.
        reject_codes: HL7 table 0490, without repetition.
        condition_codes: HL7 table 0493, without repetition.
        indicators: harmonised indicators in which it counts.
        edition: of the catalogue.
    """

    accession: str
    outcome: Outcome
    tests: tuple[TestVerdict, ...]
    findings: tuple[Finding, ...]
    recollect: tuple[str, ...]
    reject_codes: tuple[str, ...]
    condition_codes: tuple[str, ...]
    indicators: tuple[str, ...]
    edition: str
