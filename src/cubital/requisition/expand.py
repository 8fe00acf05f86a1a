"""
What was asked for as tests of the catalogue: panels opened, each test once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cubital.catalogue import Catalogue
from cubital.errors import RequisitionError
from cubital.requisition.values import OrderedTest

USUAL_PRIORITY = 5


@dataclass(frozen=True, slots=True)
class Asked:
    """
    One line of what was asked for.

    Args:
        said: code, LOINC code, name, short name or alias of a test or panel.
        priority: 1 is wanted most.
        through: panels through which it came already.
        where: for the sentence when nothing is called so.
    """

    said: str
    priority: int = USUAL_PRIORITY
    through: tuple[str, ...] = ()
    where: str = ""


def expand(asked: Iterable[Asked], catalogue: Catalogue) -> tuple[OrderedTest, ...]:
    """
    The tests asked for, in the order asked.

    A test asked for twice stays once, with its best priority; asked for by itself goes before
    asked for through a panel.

    Raises:
        RequisitionError: nothing is called so; the nearest codes are in the sentence.
    """
    found: dict[str, OrderedTest] = {}
    for line in asked:
        code = catalogue.find(line.said)
        if code is None:
            close = catalogue.suggest(line.said)
            mend = f"Did you mean {' or '.join(close)}?" if close else "Look its code up."
            raise RequisitionError(
                f"no test or panel is called “{line.said[:60]}”", line.where, mend
            )
        for test, path in catalogue.expand(code):
            new = OrderedTest(test, line.priority, (*line.through, *path))
            old = found.get(test)
            found[test] = new if old is None else _both(old, new)
    return tuple(found.values())


def _both(old: OrderedTest, new: OrderedTest) -> OrderedTest:
    through = () if not new.through else old.through
    return OrderedTest(old.code, min(old.priority, new.priority), through)
