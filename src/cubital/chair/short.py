"""
Too little blood at the chair: what can still be done with the tubes in the hand.

The core's :func:`cubital.draw.what_fits` is asked with the tubes of the sheet that are not drawn
yet as the only ones on hand, so that its answer needs no new label.  Volumes in µL of blood.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from cubital.catalogue import Catalogue
from cubital.chair.cards import source_words
from cubital.chair.said import finding_to
from cubital.chair.values import Sheet, Tube
from cubital.draw import Lot, Place, PlannedContainer, what_fits
from cubital.finding import Finding
from cubital.requisition.values import Requisition

IN_HAND = "in hand"
LONG_AFTER = timedelta(days=3650)
"""Tubes in the hand were looked at when they were scanned: none expires here."""
FINE_UL, COARSE_UL = 250, 500
"""Steps of the table kept for when the network is cut: fine where little is planned at all."""
FINE_BELOW_UL = 3000
MOST_STEPS = 40

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Fill:
    """A tube that still gets blood: how much, and for which tests."""

    accession: str
    fill_ul: int
    tests: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StillPossible:
    """
    What can still be done.

    Args:
        obtained_ul: blood there is for the tubes that are left.
        fills: in the order of draw of the sheet.
        left_out: accession numbers of tubes that get none.
        missed: a finding for each test that cannot be done, and what else to mind.
    """

    obtained_ul: int
    fills: tuple[Fill, ...]
    left_out: tuple[str, ...]
    missed: tuple[Finding, ...]


def still_possible(
    sheet: Sheet,
    requisition: Requisition,
    obtained_ul: int,
    catalogue: Catalogue,
    place: Place,
    *,
    drawn: Collection[str] = (),
    gone: Collection[str] = (),
    now: datetime,
) -> StillPossible:
    """
    Ask the core what can be done with so much blood in the tubes that are left.

    Args:
        sheet: of the draw.
        requisition: with all its tests.
        obtained_ul: blood there is, or that will still come, for the tubes that are left.
        catalogue: the one that the plan was made with.
        place: the same.
        drawn: accession numbers of tubes that are drawn; a test that one of them serves is done.
        gone: of tubes that got no blood and are not to be had any more.
        now: when the question is asked.

    Raises:
        InputError: a negative volume.
    """
    away = {*drawn, *gone}
    left = [tube for tube in sheet.tubes if tube.accession not in away]
    done = {test for tube in sheet.tubes if tube.accession in drawn for test in tube.tests}
    wanted = {test for tube in sheet.tubes for test in tube.tests} - done
    asked = replace(
        requisition, tests=tuple(test for test in requisition.tests if test.code in wanted)
    )
    if not asked.tests:
        return StillPossible(obtained_ul, (), tuple(tube.accession for tube in left), ())
    answer = what_fits(
        asked, obtained_ul, catalogue, replace(place, lots=_in_hand(left, now)), now=now
    )
    fills = _matched(left, answer.containers)
    filled = {fill.accession for fill in fills}
    return StillPossible(
        obtained_ul,
        fills,
        tuple(tube.accession for tube in left if tube.accession not in filled),
        answer.findings,
    )


def _in_hand(left: Sequence[Tube], now: datetime) -> tuple[Lot, ...]:
    counted = Counter(tube.container for tube in left)
    until = (now + LONG_AFTER).date()
    return tuple(Lot(container, IN_HAND, until, count) for container, count in counted.items())


def _matched(left: Sequence[Tube], planned: Sequence[PlannedContainer]) -> tuple[Fill, ...]:
    """Give each container of the answer a labelled tube, one whose label names its tests first."""
    free = list(left)
    found: dict[str, Fill] = {}
    for container in planned:
        tests = tuple(test.code for test in container.tests)
        alike = [tube for tube in free if tube.container == container.container]
        if not alike:
            continue
        best = max(alike, key=lambda tube: len(set(tube.tests) & set(tests)))
        free.remove(best)
        found[best.accession] = Fill(best.accession, container.fill_ul, tests)
    return tuple(found[tube.accession] for tube in left if tube.accession in found)


def short_to(answer: StillPossible, catalogue: Catalogue) -> Json:
    """The answer as the page keeps it; each finding with its source in words."""
    return {
        "obtained_ul": answer.obtained_ul,
        "fills": [
            {"accession": fill.accession, "fill_ul": fill.fill_ul, "tests": list(fill.tests)}
            for fill in answer.fills
        ],
        "left_out": list(answer.left_out),
        "missed": [
            {**finding_to(finding), "words": source_words(catalogue, finding.source)}
            for finding in answer.missed
        ],
    }


def step_of(sheet: Sheet) -> int:
    """The step of the table: fine where the whole rack takes little."""
    whole = sum(tube.fill_ul for tube in sheet.tubes)
    step = FINE_UL if whole < FINE_BELOW_UL else COARSE_UL
    while whole // step > MOST_STEPS:
        step *= 2
    return step


def short_table(
    sheet: Sheet, requisition: Requisition, catalogue: Catalogue, place: Place, *, now: datetime
) -> Json:
    """
    Answers in steps, for when the network is cut.

    ``after`` has one list for each number of tubes drawn in order; its item ``n`` answers for
    ``n`` steps of blood.
    """
    step = step_of(sheet)
    after: list[list[Json]] = []
    for count in range(len(sheet.tubes)):
        drawn = {tube.accession for tube in sheet.tubes[:count]}
        whole = sum(tube.fill_ul for tube in sheet.tubes[count:])
        after.append(
            [
                short_to(
                    still_possible(
                        sheet, requisition, obtained_ul, catalogue, place, drawn=drawn, now=now
                    ),
                    catalogue,
                )
                for obtained_ul in range(0, whole, step)
            ]
        )
    return {"step_ul": step, "after": after}
