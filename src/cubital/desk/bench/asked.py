"""One specimen of the bench, as an address names it, and its requisition."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django.http import Http404

from cubital.desk.bench.known import Held, Scene, hold, scene_at
from cubital.desk.people.request import DeskRequest
from cubital.desk.record import selectors_bench
from cubital.desk.record.models import Requisition
from cubital.desk.transport.known import Known, known_of
from cubital.errors import InputError
from cubital.requisition.values import OrderedTest
from cubital.requisition.values import Requisition as DomainRequisition


@dataclass(frozen=True, slots=True)
class One:
    """A specimen with the scene, its requisition, and the priorities of its tests."""

    scene: Scene
    held: Held
    known: Known

    @property
    def row(self) -> Requisition | None:
        """Its requisition's row."""
        return self.known.row

    @property
    def requisition(self) -> DomainRequisition:
        """Its requisition, or the patient alone."""
        return self.known.requisition

    def ordered(self, tests: tuple[str, ...]) -> tuple[OrderedTest, ...]:
        """These tests with the requester's priorities."""
        asked = {test.code: test for test in (*self.known.tests, *self.requisition.tests)}
        return tuple(asked.get(test) or OrderedTest(test) for test in tests)


def one_or_404(request: DeskRequest, code: str) -> One:
    """
    The specimen that an address names, at whatever place.

    Raises:
        Http404: there is none.
    """
    found = selectors_bench.specimens_of([code])
    if not found:
        raise Http404
    scene = scene_at(request.place)
    return One(scene, hold(found, scene)[code], known_of(found[0]))


def with_tests(held: Held, tests: tuple[str, ...]) -> Any:
    """The bench room's value with other tests."""
    return replace(held.bench, tests=tests)


def here_only(held: Held, scene: Scene) -> None:
    """
    Refuse what another place holds.

    Raises:
        InputError: it is not here.
    """
    if held.specimen.site != scene.place.code:
        raise InputError(f"{held.code} is not at this place", mend="Receive it here first.")
