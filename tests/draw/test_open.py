"""Containers without a vacuum: whatever else is in the rack, its device can fill them."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given

from cubital.draw import DrawPlan, Place
from cubital.requisition.values import Requisition
from tests.draw.asking import CATALOGUE, SEA_LEVEL, asked
from tests.draw.hands import someone
from tests.draw.test_plan import PLENTY, found, plan
from tests.strategies import places, requisitions


def unfillable(drawn: DrawPlan) -> list[str]:
    """Containers without a vacuum, of a plan whose device gives blood through a vacuum only."""
    device = CATALOGUE.devices.get(drawn.device.device)
    if device is None or device.draws_by != "vacuum" or device.tubing_air_ul > 0:
        return []
    forms = [(c.container, CATALOGUE.containers[c.container].form) for c in drawn.containers]
    return [code for code, form in forms if form in ("micro", "gas_syringe")]


def test_open_containers_are_not_filled_through_a_holder() -> None:
    """A child's rack of micro-tubes comes from a syringe or open tubing, or somebody is asked."""
    child = replace(someone(370, veins="good"), weight_g=9000)
    drawn = plan(asked("crp", "fbc", patient=child))
    assert {CATALOGUE.containers[c.container].form for c in drawn.containers} == {"micro"}
    assert drawn.device.device
    assert unfillable(drawn) == []
    alone = plan(asked("crp", "fbc", patient=child), replace(SEA_LEVEL, devices=("straight",)))
    assert alone.device.device == ""
    assert "syringe or a winged set" in found(alone, "device-none")[0]


def test_a_gas_syringe_beside_a_tube_is_not_filled_through_a_holder() -> None:
    """One container without a vacuum decides the device of the whole rack, and that is a reason."""
    mixed = plan(asked("blood-gas", "fbc"))
    forms = {CATALOGUE.containers[c.container].form for c in mixed.containers}
    assert forms == {"gas_syringe", "evacuated"}
    assert mixed.device.device
    assert unfillable(mixed) == []
    said = [reason for reason in mixed.device.reasons if "without a vacuum" in reason.sentence]
    assert len(said) == 1
    assert said[0].source
    tubes = plan(asked("fbc"))
    assert not [r for r in tubes.device.reasons if "without a vacuum" in r.sentence]


@PLENTY
@given(requisitions(), places())
def test_no_plan_has_a_container_that_its_device_cannot_fill(
    requisition: Requisition, place: Place
) -> None:
    """Without a vacuum of its own: from a syringe, or the open tubing of a winged set."""
    drawn = plan(requisition, place)
    assert unfillable(drawn) == []
