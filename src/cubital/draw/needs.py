"""
From a requisition to the question that :mod:`cubital.draw.choose` answers.

Volumes in µL of blood.  Tests share a container only within one group: one station, one way of
keeping it (ambient, ice, warm), and either spun or left whole.  So potassium is never chilled for
its neighbour, and a blood count's tube is never spun.  The blood of a serum or plasma test is
``volume / (recovery * (1 - Hct))``, rounded up; the station's dead volume counts once a container.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cubital.catalogue.model import AcceptedAdditive, Handling, Station, Test
from cubital.draw.choose import Kind, Need
from cubital.draw.offers import VACUUM, Offer, Offers
from cubital.draw.scene import Scene
from cubital.errors import RequisitionError
from cubital.finding import Reason
from cubital.requisition.values import OrderedTest

AMBIENT, ICE, WARM = "ambient", "ice", "warm"
SPUN, WHOLE, BROTH = "spun", "whole", "broth"

_COOLING = {"ice_slurry": ICE, "warm_37c": WARM}


@dataclass(frozen=True, slots=True)
class Asked:
    """
    A test of the requisition with what it needs here.

    Args:
        index: its place in the requisition.
        cooling: ``ambient``, ``ice`` or ``warm``, between vein and bench.
        state: ``spun``, ``whole`` or ``broth``.
        may_ice: it may go along in a container that another test wants on ice.
        filled_whole: its container must be full.
        volume_ul: of blood.
        reason: of the volume.
    """

    index: int
    ordered: OrderedTest
    test: Test
    station: Station
    cooling: str
    state: str
    may_ice: bool
    filled_whole: bool
    handling: tuple[Handling, ...]
    accepted: tuple[AcceptedAdditive, ...]
    volume_ul: int
    reason: Reason

    def group(self, cooling: str) -> str:
        """The sharing group under a cooling."""
        return f"{self.station.code}/{cooling}/{self.state}"


@dataclass(frozen=True, slots=True)
class Way:
    """One kind with the offer behind it: what the solver's index means."""

    offer: Offer
    kind: Kind
    station: Station
    cooling: str


@dataclass(frozen=True, slots=True)
class Question:
    """
    Needs and kinds as the solver takes them, and what they stand for.

    Args:
        asked: the test of each need.
        homeless: tests that no single container on offer can serve.
    """

    asked: tuple[Asked, ...]
    needs: tuple[Need, ...]
    ways: tuple[Way, ...]
    homeless: tuple[Asked, ...]

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """The kinds alone."""
        return tuple(way.kind for way in self.ways)


def ask(tests: Sequence[OrderedTest], scene: Scene) -> tuple[Asked, ...]:
    """
    What each test of a requisition needs at this place.

    Raises:
        RequisitionError: a test that the catalogue does not hold.
    """
    return tuple(_asked(index, ordered, scene) for index, ordered in enumerate(tests))


def _asked(index: int, ordered: OrderedTest, scene: Scene) -> Asked:
    catalogue = scene.catalogue
    test = catalogue.tests.get(ordered.code)
    if test is None:
        raise RequisitionError(
            f"the catalogue holds no test called {ordered.code}",
            "tests",
            "Write the code of a test of the catalogue.",
        )
    handling = catalogue.handling(test.code, scene.choices)
    needs = {row.need for row in handling}
    cooling = next((_COOLING[need] for need in _COOLING if need in needs), AMBIENT)
    state = {"whole_blood": WHOLE, "broth": BROTH}.get(test.matrix, SPUN)
    volume, reason = _volume(test, state, scene)
    return Asked(
        index=index,
        ordered=ordered,
        test=test,
        station=catalogue.stations[catalogue.benches[test.bench].station],
        cooling=cooling,
        state=state,
        may_ice=cooling == AMBIENT and "never_chilled" not in needs and _keeps_cold(test, scene),
        filled_whole="filled_whole" in needs,
        handling=handling,
        accepted=catalogue.accepted(test.code),
        volume_ul=volume,
        reason=reason,
    )


def _volume(test: Test, state: str, scene: Scene) -> tuple[int, Reason]:
    row = scene.catalogue.volumes[test.code]
    if state != SPUN:
        sentence = f"{test.short} takes {row.volume_ul} µL of whole blood."
        return row.volume_ul, scene.catalogue.reason(row, sentence)
    blood = scene.blood_for_ul(row.volume_ul)
    matrix = test.matrix.replace("_", " or ")
    sentence = (
        f"{test.short} takes {row.volume_ul} µL of {matrix}: {blood} µL of blood at a haematocrit "
        f"of {scene.haematocrit_percent:g} % and {scene.recovery_percent} % recovery."
    )
    return blood, scene.catalogue.reason(row, sentence)


def _keeps_cold(test: Test, scene: Scene) -> bool:
    """Whether the table says that the unseparated blood keeps in the cold."""
    return any(
        row.matrix == "whole_blood" and row.condition == "fridge" and row.keeps_h > 0
        for row in scene.catalogue.stability(test.code, scene.choices)
    )


def dead_blood_ul(station: str, form: str, state: str, scene: Scene) -> int:
    """The dead volume of a station in a container of this form, as blood."""
    dead = scene.catalogue.dead_volume(station, form).dead_ul
    return scene.blood_for_ul(dead) if state == SPUN else dead


def rank_of(accepted: AcceptedAdditive, offer: Offer) -> int:
    """Preference of a container for a test: the additive first, then the container of it."""
    return accepted.rank * RANK_STEP + min(offer.container.rank, RANK_STEP - 1)


RANK_STEP = 100
"""More than any container's rank, so that a better additive always comes before a better size."""


def question(asked: Iterable[Asked], offers: Offers) -> Question:
    """Lay out needs and kinds for the solver."""
    rows = tuple(asked)
    iced = {(a.station.code, a.state) for a in rows if a.cooling == ICE}
    table = _Table(offers)
    needs, served, homeless = [], [], []
    for one in rows:
        coolings = [one.cooling]
        if one.may_ice and (one.station.code, one.state) in iced:
            coolings.append(ICE)
        kinds = table.kinds_for(one, coolings)
        if kinds:
            served.append(one)
            needs.append(Need(one.test.code, one.volume_ul, kinds, one.test.own_tube))
        else:
            homeless.append(one)
    return Question(tuple(served), tuple(needs), tuple(table.ways), tuple(homeless))


class _Table:
    """The kinds as they are found, each once."""

    def __init__(self, offers: Offers) -> None:
        self.offers = offers
        self.ways: list[Way] = []
        self._index: dict[tuple[str, str, bool], int] = {}

    def kinds_for(self, one: Asked, coolings: Iterable[str]) -> tuple[tuple[int, int], ...]:
        """(kind, rank) for a test: every offered container that can hold it."""
        found = []
        for cooling in coolings:
            for accepted in one.accepted:
                if cooling != one.cooling and self._clots(accepted.additive):
                    continue
                for offer in self.offers.of(accepted.additive):
                    index = self._way(one, offer, cooling)
                    kind = self.ways[index].kind
                    if kind.dead_ul + one.volume_ul <= kind.fill_max_ul:
                        found.append((index, rank_of(accepted, offer)))
        return tuple(found)

    def _clots(self, additive: str) -> bool:
        # A tube that has yet to clot is not chilled for a neighbour's sake.
        return self.offers.scene.catalogue.additives[additive].yields == "serum"

    def _way(self, one: Asked, offer: Offer, cooling: str) -> int:
        full = one.filled_whole and offer.way != VACUUM
        group = one.group(cooling)
        key = (offer.container.code, group, full)
        index = self._index.get(key)
        if index is None:
            dead = dead_blood_ul(one.station.code, offer.container.form, one.state, self._scene)
            kind = Kind(
                container=offer.container.code,
                group=group,
                fill_min_ul=offer.fill_max_ul if full else offer.fill_min_ul,
                fill_max_ul=offer.fill_max_ul,
                dead_ul=dead,
                max_tests=one.station.max_tests_per_tube,
            )
            index = self._index[key] = len(self.ways)
            self.ways.append(Way(offer, kind, one.station, cooling))
        return index

    @property
    def _scene(self) -> Scene:
        return self.offers.scene
