"""
What the chair knows before the patient sits down, and what has happened since.

A :class:`Sheet` is made once for a requisition and holds everything that the page needs, so that
it works with the network cut: each scan that can be expected and the sentence for each that is
wrong.  A :class:`State` is folded from the draw's own events.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from cubital.finding import Finding


@dataclass(frozen=True, slots=True)
class Policy:
    """
    The laboratory's own rules of the chair, from ``settings.csv`` and the place.

    Args:
        identifiers: how many the patient says, one by one.
        attempts: at most, per collector.
        tourniquet: the longest a tourniquet may stay.
        tourniquet_coagulation: the same where a coagulation tube is drawn.
        tourniquet_warning: how long before the end the page warns.
        labels: ``before`` (tubes carry their label before the draw) or ``after``.
        sources: setting key -> source key.
    """

    identifiers: int
    attempts: int
    tourniquet: timedelta
    tourniquet_coagulation: timedelta
    tourniquet_warning: timedelta
    labels: str
    sources: tuple[tuple[str, str], ...] = ()

    def source(self, key: str) -> str:
        """Where a setting comes from."""
        return dict(self.sources).get(key, "")


@dataclass(frozen=True, slots=True)
class Question:
    """An identifier that the patient says; ``answer`` is what stands on the requisition."""

    code: str  # name, birth_date, number
    ask: str
    answer: str
    read: str = ""  # where it is read on the wristband, for a patient who cannot say it


@dataclass(frozen=True, slots=True)
class FewReason:
    """
    Why fewer identifiers are known, or why the patient cannot say them.

    ``reads`` when they are read on the wristband, not said.
    """

    code: str
    name: str
    reads: bool
    source: str


@dataclass(frozen=True, slots=True)
class Few:
    """
    What stands in for identifiers that the record lacks, or that the patient cannot say.

    Args:
        lacking: in words, such as "birth date"; empty where enough are known: then a reason is
            given only for a patient who cannot say them, and from then on the checks hold as well.
        checks: ``wristband``, ``second_person`` or both; each must be made.
        reasons: one of them must be given.
        source: of the setting that names the checks.
    """

    lacking: tuple[str, ...]
    checks: tuple[str, ...]
    reasons: tuple[FewReason, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Tube:
    """
    A tube that the plan expects.

    Args:
        accession: of the specimen that it will hold.
        position: in the order of draw, 1 first.
        container: catalogue code.
        additive: catalogue code.
        shown: container in words, e.g. "EDTA, 3 mL".
        colour: closure colour code.
        coagulation: whether a coagulation test is served from it.
        fill_ul: expected fill, blood.
        fill_min_ul: accepted from here on.
        tests: codes of the tests that it serves.
    """

    accession: str
    position: int
    container: str
    additive: str
    shown: str
    colour: str
    coagulation: bool
    fill_ul: int
    fill_min_ul: int
    tests: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StockCode:
    """A bar code that stands on containers of one lot."""

    code: str
    container: str
    shown: str
    lot: str
    expires_on: date
    recalled: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """
    One draw, as the chair needs it.

    Args:
        draw: id of the draw.
        site: code of the place whose chain holds its events.
        requisition: its number.
        patient: patient number.
        name: whole name as registered.
        scans: texts that identify this patient (wristband, requisition).
        questions: in the order in which they are asked, as many as policy wants.
        tubes: in the order of draw.
        stock: bar codes of lots on hand, any container.
        others: (accession number, words) of other patients in the same round.
        discard: what to draw and throw away first, in words, "" when nothing.
        discard_ul: blood that is drawn and in no tube: a discard tube, what stays in the tubing.
        policy: the laboratory's own.
        plan_edition: stamp of the plan.
        today: date of the draw at the place, for expiry.
        findings: warnings known beforehand, such as namesakes.
        few: what stands in for identifiers that lack or cannot be said; None in older sheets.
    """

    draw: str
    site: str
    requisition: str
    patient: str
    name: str
    scans: tuple[str, ...]
    questions: tuple[Question, ...]
    tubes: tuple[Tube, ...]
    stock: tuple[StockCode, ...]
    others: tuple[tuple[str, str], ...]
    policy: Policy
    plan_edition: str
    today: date
    discard: str = ""
    discard_ul: int = 0
    findings: tuple[Finding, ...] = ()
    few: Few | None = None

    @property
    def coagulation(self) -> bool:
        """Whether a coagulation tube is drawn."""
        return any(tube.coagulation for tube in self.tubes)

    @property
    def tourniquet_limit(self) -> timedelta:
        """The limit that holds for this draw."""
        policy = self.policy
        return policy.tourniquet_coagulation if self.coagulation else policy.tourniquet

    def tube(self, accession: str) -> Tube | None:
        """The tube that will hold a specimen."""
        return next((t for t in self.tubes if t.accession == accession), None)


@dataclass(frozen=True, slots=True)
class Attempt:
    """One needle into one patient."""

    code: str
    who: str
    begun_at: datetime
    site: str
    side: str
    device: str
    gauge: int
    ended_at: datetime | None = None
    obtained: bool | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A tube that has been on the needle."""

    accession: str
    position: int
    lot: str
    at: datetime
    who: str
    fill: str = "full"  # full, short, none
    estimate_ul: int = 0
    mixed: bool = False
    labelled: bool = False


@dataclass(frozen=True, slots=True)
class State:
    """What has happened at the chair."""

    begun: bool = False
    scanned: bool = False
    confirmed: tuple[str, ...] = ()
    few: str = ""  # code of the reason for fewer identifiers
    mismatch: str = ""
    site: str = ""
    side: str = ""
    device: str = ""
    gauge: int = 0
    attempts: tuple[Attempt, ...] = ()
    tourniquet_since: datetime | None = None
    tourniquet_spans: tuple[timedelta, ...] = ()
    drawn: tuple[Drawn, ...] = ()
    labels_printed: tuple[str, ...] = ()
    collectors: tuple[str, ...] = ()
    handed_to: str = ""
    overridden: tuple[str, ...] = ()
    mishaps: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    ended: str = ""  # "", finished, not_obtained

    @property
    def attempt(self) -> Attempt | None:
        """The attempt under way."""
        last = self.attempts[-1] if self.attempts else None
        return last if last is not None and last.obtained is None else None

    def attempts_of(self, who: str) -> int:
        """How many needles this collector has used on this patient in this draw."""
        return sum(1 for attempt in self.attempts if attempt.who == who)

    def tube(self, accession: str) -> Drawn | None:
        """The tube drawn for a specimen."""
        return next((d for d in self.drawn if d.accession == accession), None)
