"""
Portions and where they come from: the tree of a specimen, both ways, and how often it was thawed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from cubital.catalogue import Catalogue
from cubital.custody import Event, Specimen
from cubital.errors import InputError
from cubital.finding import Finding, Severity


@dataclass(frozen=True, slots=True)
class Kin:
    """
    A specimen with its portions, and theirs.

    Args:
        code: its number.
        patient: whose it is.
        depth: 0 for what came from the patient.
        portions: in the order of their numbers.
    """

    code: str
    patient: str
    depth: int
    portions: tuple[Kin, ...] = field(default=())

    def lines(self) -> tuple[Kin, ...]:
        """The specimen and everything that came from it, each portion under its parent."""
        return (self, *(line for portion in self.portions for line in portion.lines()))


def way_up(specimens: Mapping[str, Specimen], code: str) -> tuple[str, ...]:
    """
    Give the numbers from a specimen up to what came from the patient, and the patient last.

    Raises:
        InputError: a specimen or parent that is not there, or parents that go in a circle.
    """
    way: list[str] = []
    while code:
        if code in way:
            raise InputError(f"The parents of {way[0]} go in a circle", mend="Mend its events.")
        if code not in specimens:
            raise InputError(f"There is no specimen {code!r}", mend="Write its number.")
        way.append(code)
        code = specimens[code].parent
    return (*way, specimens[way[-1]].patient)


def tree_of(specimens: Mapping[str, Specimen], code: str) -> Kin:
    """
    Give the whole tree in which a specimen stands, from the first tube down.

    Raises:
        InputError: as :func:`way_up`.
    """
    first = way_up(specimens, code)[-2]
    portions: dict[str, list[str]] = {}
    for one in specimens.values():
        if one.parent:
            portions.setdefault(one.parent, []).append(one.code)
    return _kin(specimens, portions, first, 0)


def _kin(
    specimens: Mapping[str, Specimen],
    portions: Mapping[str, list[str]],
    code: str,
    depth: int,
) -> Kin:
    below = sorted(portions.get(code, ()))
    return Kin(
        code,
        specimens[code].patient,
        depth,
        tuple(_kin(specimens, portions, each, depth + 1) for each in below),
    )


def of_patient(specimens: Mapping[str, Specimen], patient: str) -> tuple[Kin, ...]:
    """Every tree of a patient, by the number of its first tube."""
    firsts = [one.code for one in specimens.values() if one.patient == patient and not one.parent]
    return tuple(tree_of(specimens, code) for code in sorted(firsts))


def thaws(events: Iterable[Event], code: str) -> int:
    """
    Count how often a specimen was thawed, its parents' thaws before it was made counted too.

    A specimen thaws when it leaves a frozen store, or is put from there into one that is not.

    Args:
        events: in the order in which they happened, corrections applied.
        code: of the specimen.
    """
    frozen: set[str] = set()
    count: dict[str, int] = {}
    for event in events:
        _, _, one = event.subject.partition(":")
        if event.kind == "aliquot_made":
            count[one] = count.get(str(event.payload["parent"]), 0)
        cold = event.kind == "specimen_stored" and event.payload.get("condition") == "frozen"
        leaves = event.kind in ("specimen_taken_out", "specimen_stored") and not cold
        if leaves and one in frozen:
            frozen.discard(one)
            count[one] = count.get(one, 0) + 1
        elif cold:
            frozen.add(one)
    return count.get(code, 0)


def may_thaw(times: int, code: str, catalogue: Catalogue) -> Finding | None:
    """Say when a specimen was thawed as often as it may; None while it may be thawed."""
    most = catalogue.number("freeze_thaw_most")
    if times < most:
        return None
    row = catalogue.setting("freeze_thaw_most")
    again = "once" if times == 1 else f"{times} times"
    sentence = f"{code} was thawed {again} already: take another portion, or ask the bench."
    return Finding("thawed-before", Severity.ASK, sentence, row.source, code, row.layer)
