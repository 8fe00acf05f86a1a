"""
What is left in a specimen, and how it travelled.

Volumes in µL: of blood while it is unseparated, of serum or plasma once it is spun or poured off.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from cubital.bench.aliquots import expected_yield_ul
from cubital.bench.programmes import NO_CHOICES
from cubital.bench.values import BenchSpecimen
from cubital.catalogue import Catalogue
from cubital.catalogue.model import Container
from cubital.draw import Place
from cubital.draw.needs import AMBIENT, ICE, WARM, ask
from cubital.draw.scene import scene_of
from cubital.errors import InputError
from cubital.finding import Reason
from cubital.requisition.values import OrderedTest, Requisition


@dataclass(frozen=True, slots=True)
class Remains:
    """
    What a specimen gives, and what is left of it.

    Args:
        whole_ul: blood in it, or serum or plasma to expect of it once it is spun.
        left_ul: of that, without what was taken off and what its tests take.
        haematocrit_percent: by which serum or plasma is reckoned.
        haematocrit_known: it is the patient's own.
        reason: where the haematocrit comes from.
    """

    whole_ul: int
    left_ul: int
    haematocrit_percent: float
    haematocrit_known: bool
    reason: Reason


def remains(
    requisition: Requisition,
    specimen: BenchSpecimen,
    catalogue: Catalogue,
    choices: Mapping[str, str] = NO_CHOICES,
    *,
    served: Iterable[str],
    taken_off_ul: int = 0,
    portion: bool = False,
    now: datetime,
) -> Remains:
    """
    Say what is left of a blood specimen.

    Args:
        requisition: whose patient it is from: the haematocrit counts.
        specimen: as it stands; a volume of None is a full container.
        catalogue: whose volumes count.
        choices: topic -> option.
        served: tests that it has served or is to serve itself, those of its portions left out.
        taken_off_ul: poured into portions.
        portion: it is serum or plasma itself, poured off.
        now: when.

    Raises:
        InputError: a container or test that the catalogue does not hold, or a portion of unknown
            volume.
    """
    scene = scene_of(requisition, catalogue, Place(choices=choices), now)
    volume = _volume(specimen, catalogue)
    spun = portion or specimen.spins > 0
    if spun and not portion:
        volume = expected_yield_ul(volume, scene.haematocrit_percent, catalogue)
    asked = ask([OrderedTest(test) for test in served], scene)
    taken = sum(catalogue.volume_ul(each.test.code) if spun else each.volume_ul for each in asked)
    return Remains(
        whole_ul=volume,
        left_ul=max(0, volume - taken - taken_off_ul),
        haematocrit_percent=scene.haematocrit_percent,
        haematocrit_known=scene.haematocrit_known,
        reason=scene.haematocrit_reason,
    )


def _volume(specimen: BenchSpecimen, catalogue: Catalogue) -> int:
    if specimen.volume_ul is not None:
        return specimen.volume_ul
    row = catalogue.containers.get(specimen.container)
    if not isinstance(row, Container):
        raise InputError(
            "its volume is not known", f"specimen {specimen.code}", "Say how much is in it."
        )
    return row.nominal_ul


def travelled(
    tests: Iterable[str], catalogue: Catalogue, choices: Mapping[str, str] = NO_CHOICES
) -> str:
    """Say how an accepted specimen travelled, its handling kept: ``ice``, ``warm``, ``ambient``."""
    needs = {row.need for test in tests for row in catalogue.handling(test, choices)}
    if "ice_slurry" in needs:
        return ICE
    return WARM if "warm_37c" in needs else AMBIENT
