"""How a specimen is divided: what the person says, the bench room's answer, the same on a page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from cubital.bench import Division, Portion, divide
from cubital.bench.remains import Remains, remains
from cubital.catalogue import Catalogue
from cubital.catalogue.model_bench import StorageKind
from cubital.desk import words
from cubital.desk.bench.asked import One
from cubital.desk.bench.known import Held
from cubital.desk.draw.page import Said, Why, said, why
from cubital.desk.reception.shown import short_name, test_name
from cubital.desk.record.bench import Poured
from cubital.desk.requisition.typed import scaled
from cubital.errors import InputError
from cubital.requisition.values import OrderedTest

PLENTY_UL = 10**7
CITRATE = "citrate"


@dataclass(frozen=True, slots=True)
class Wanted:
    """
    What the person says before a specimen is divided.

    Args:
        seen_ul: serum or plasma as seen, None to reckon with what is expected.
        primary: station whose sampler takes from the first tube, "" for none.
    """

    seen_ul: int | None
    primary: str


def wanted_of(data: Mapping[str, str], one: One) -> Wanted:
    """
    Read what was typed; what is left empty is as expected.

    Raises:
        InputError: a volume that cannot be read, or a station that no test of it has.
    """
    seen = scaled(data.get("seen", ""), "mL seen", "1.8, in mL", words.UL_PER_ML)
    if seen is not None and seen < 0:
        raise InputError("Less than nothing was seen", "mL seen", "Write how many mL there are.")
    names = stations(one.held.tests, one.scene.here.catalogue)
    primary = data.get("primary", usual_primary(one.held, one.scene.here.catalogue))
    if primary and primary not in names:
        raise InputError(f"No test of it is done at {primary[:40]!r}", mend="Choose from the list.")
    return Wanted(seen, primary)


def stations(tests: tuple[str, ...], catalogue: Catalogue) -> dict[str, str]:
    """Stations of these tests: code -> name."""
    rows = [catalogue.tests[test] for test in tests if test in catalogue.tests]
    codes = dict.fromkeys(catalogue.benches[row.bench].station for row in rows)
    return {code: catalogue.stations[code].name for code in codes}


def usual_primary(held: Held, catalogue: Catalogue) -> str:
    """Under a gel, the station with the most tests; without one nothing stays on the cells."""
    if held.is_portion or not held.bench.separated:
        return ""
    count = Counter(
        catalogue.benches[catalogue.tests[test].bench].station
        for test in held.tests
        if test in catalogue.tests
    )
    return count.most_common(1)[0][0] if count else ""


def left_of(one: One) -> Remains:
    """
    What can be divided: what there is without what was poured off and measured already.

    Raises:
        InputError: its volume or container is not known.
    """
    held, scene = one.held, one.scene
    done = tuple(
        test for test in held.served
        if test not in held.tests and test in scene.here.catalogue.tests
    )  # fmt: skip
    return remains(
        one.requisition, held.bench, scene.here.catalogue, scene.choices, served=done,
        taken_off_ul=held.taken_off_ul, portion=held.is_portion, now=scene.now,
    )  # fmt: skip


def division_of(one: One, wanted: Wanted, left: Remains) -> Division:
    """
    Ask the bench room.

    Raises:
        InputError: a test that the catalogue does not hold.
    """
    held, catalogue = one.held, one.scene.here.catalogue
    container = catalogue.containers[held.root.container]
    return divide(
        one.ordered(held.tests),
        wanted.seen_ul if wanted.seen_ul is not None else left.left_ul,
        catalogue,
        one.scene.choices,
        primary=wanted.primary,
        primary_form=container.form,
        citrate=catalogue.additives[container.additive].order_class == CITRATE
        and not held.is_portion,
    )


def may_be_divided(held: Held) -> str:
    """Why a specimen cannot be divided, "" when it can."""
    if not held.is_blood or held.matrix not in ("serum", "plasma"):
        return f"{held.code} holds no serum or plasma: it is not divided."
    if not held.tests:
        return f"{held.code} has no test left to divide it for."
    if str(held.specimen.state) not in ("accepted", "spun", "aliquoted"):
        return f"{held.code} is {str(held.specimen.state).replace('_', ' ')}: it is not at hand."
    return ""


def storage_for(tests: tuple[str, ...], one: One) -> str:
    """The kind of store that a portion for these tests wants."""
    catalogue = one.scene.here.catalogue
    wanted = [OrderedTest(test) for test in tests if test in catalogue.tests]
    made = divide(wanted, PLENTY_UL, catalogue, one.scene.choices)
    return made.portions[0].storage if made.portions else ""


def storage_name(code: str, catalogue: Catalogue) -> str:
    """A kind of store in words."""
    return next((row.name for row in catalogue.rows(StorageKind) if row.code == code), code)


# ---------------------------------------------------------------- on a page


@dataclass(frozen=True, slots=True)
class PortionShown:
    """A portion as proposed."""

    number: int
    station: str
    tests: tuple[str, ...]
    volume: str
    dead: str
    storage: str
    keeps: str
    label: str
    primary: bool


@dataclass(frozen=True, slots=True)
class DivisionShown:
    """A division as proposed, with what was typed."""

    portions: tuple[PortionShown, ...]
    stays: tuple[PortionShown, ...]
    left_out: tuple[tuple[str, str, Why], ...]
    findings: tuple[Said, ...]
    available: str
    expected: str
    spare: str
    haematocrit: str
    why: Why
    signature: str


def division_shown(one: One, made: Division, left: Remains) -> DivisionShown:
    """A division as the page shows it."""
    catalogue = one.scene.here.catalogue
    poured = [each for each in made.portions if not each.primary]
    known = "the patient’s own" if left.haematocrit_known else "expected at this age"
    return DivisionShown(
        portions=tuple(
            portion_shown(each, number, catalogue) for number, each in enumerate(poured, start=1)
        ),
        stays=tuple(portion_shown(each, 0, catalogue) for each in made.portions if each.primary),
        left_out=tuple(
            (each.test, test_name(each.test, catalogue), why(each.reason, catalogue))
            for each in made.left_out
        ),
        findings=said([f for f in made.findings if f.code != "aliquot-short"], catalogue),
        available=words.ml(made.available_ul),
        expected=words.ml(left.left_ul),
        spare=words.ml(made.spare_ul),
        haematocrit=f"{left.haematocrit_percent:g} %, {known}",
        why=why(left.reason, catalogue),
        signature=signature_of(made),
    )


def portion_shown(each: Portion, number: int, catalogue: Catalogue) -> PortionShown:
    """One portion."""
    return PortionShown(
        number=number,
        station=catalogue.stations[each.station].name,
        tests=tuple(short_name(test, catalogue) for test in each.tests),
        volume=words.ml(each.volume_ul),
        dead=words.ml(each.dead_ul),
        storage=storage_name(each.storage, catalogue),
        keeps=words.hours(each.keeps_h) if each.keeps_h is not None else "not known",
        label=each.label,
        primary=each.primary,
    )


def signature_of(made: Division) -> str:
    """What is proposed in a line, so that a page that is out of date is noticed."""
    return ";".join(",".join(each.tests) for each in made.portions if not each.primary)


def poured_of(data: Mapping[str, str], made: Division) -> tuple[Poured, ...]:
    """
    The portions as they were poured: as proposed, or with the volumes that were typed.

    Raises:
        InputError: a volume that cannot be read.
    """
    found = []
    poured = [each for each in made.portions if not each.primary]
    for number, each in enumerate(poured, start=1):
        typed = scaled(data.get(f"ml-{number}", ""), f"mL in portion {number}", "0.35, in mL",
                       words.UL_PER_ML)  # fmt: skip
        found.append(Poured(each.volume_ul if typed is None else typed, each.tests))
    return tuple(found)
