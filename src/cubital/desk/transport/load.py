"""A box with what is in it, loaded for its page; and what the rules say of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cubital.custody import Box, BoxState, Specimen, State
from cubital.desk.record import selectors_way
from cubital.desk.record.models import BoxPlan, Requisition
from cubital.desk.record.selectors_way import Travel
from cubital.desk.transport.known import Here, tests_of
from cubital.finding import Finding, Severity
from cubital.transport import Travelled, compare_box, may_travel


@dataclass(frozen=True, slots=True)
class Content:
    """One specimen of a box."""

    specimen: Specimen
    row: Requisition | None
    tests: tuple[str, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Packed:
    """A box that is being packed: where it shall go, what is in it, what a rule says of that."""

    code: str
    plan: BoxPlan
    contents: tuple[Content, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Of all that is in it."""
        return tuple(finding for each in self.contents for finding in each.findings)

    @property
    def stops(self) -> tuple[Finding, ...]:
        """What must come out before it leaves."""
        return tuple(each for each in self.findings if each.severity is Severity.STOP)

    @property
    def asks(self) -> tuple[Finding, ...]:
        """What one goes past with a reason."""
        return tuple(each for each in self.findings if each.severity is Severity.ASK)


@dataclass(frozen=True, slots=True)
class Unpacked:
    """A box that was opened: what was listed, what was found, and how they differ."""

    travel: Travel
    contents: tuple[Content, ...]
    found: tuple[str, ...]
    findings: tuple[Finding, ...]
    awaited: tuple[Specimen, ...]

    @property
    def unlisted(self) -> tuple[str, ...]:
        """Numbers that were in it and not on its list."""
        listed = set(self.travel.listed)
        return tuple(code for code in self.found if code not in listed)


def packed(code: str, box: Box | None, here: Here) -> Packed:
    """Load a box that is being packed here."""
    plan = selectors_way.box_plan(code)
    inside = box.specimens if box is not None and box.state is BoxState.PACKING else ()
    return Packed(code, plan, contents_of(inside, here, plan.cooling))


def contents_of(codes: Iterable[str], here: Here, cooling: str) -> tuple[Content, ...]:
    """Specimens with their requisitions and tests; with a cooling, what the rules say of it."""
    listed = list(codes)
    found = selectors_way.specimens_now(listed)
    specimens = [found[code] for code in listed if code in found]
    rows = selectors_way.requisitions_for(specimens)
    tests = tests_of(specimens)
    return tuple(
        Content(
            each,
            rows.get(each.code),
            tests[each.code],
            may_travel(here.catalogue, each.code, tests[each.code], cooling, spun=each.spins > 0)
            if cooling
            else (),
        )
        for each in specimens
    )


def unpacked(box: Box, travel: Travel, here: Here) -> Unpacked:
    """Load a box that was opened here; what the reception took in counts as found."""
    contents = contents_of(travel.listed, here, "")
    scanned = selectors_way.found_in(travel.sent.id)
    taken = [c.specimen.code for c in contents if has_come(c.specimen, box.code)]
    found = tuple(dict.fromkeys((*scanned, *taken)))
    return Unpacked(
        travel=travel,
        contents=contents,
        found=found,
        findings=compare_box(travel.listed, found),
        awaited=tuple(
            c.specimen
            for c in contents
            if c.specimen.state is State.IN_TRANSIT and c.specimen.code not in found
        ),
    )


def has_come(specimen: Specimen, box: str) -> bool:
    """Whether a specimen that travelled in a box has left it for a laboratory since."""
    return specimen.state not in (State.IN_TRANSIT, State.MISSING) or (
        specimen.place != f"box:{box}"
    )


def travelled(contents: Sequence[Content]) -> tuple[tuple[Travelled, ...], tuple[str, ...]]:
    """What a log is judged for, and the specimens whose time of collection nobody wrote down."""
    known = [each for each in contents if each.specimen.collected_at is not None]
    unknown = [each.specimen.code for each in contents if each.specimen.collected_at is None]
    made = tuple(
        Travelled(each.specimen.code, each.specimen.collected_at, each.tests,
                  each.specimen.spins > 0)
        for each in known
        if each.specimen.collected_at is not None
    )  # fmt: skip
    return made, tuple(unknown)
