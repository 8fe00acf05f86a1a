"""
How the draw is done, in the few lines a wall chart has: rest, tourniquet, skin, angle.

Every number is a row of settings.csv, so a laboratory's own number is what the plan says.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from cubital.catalogue import Catalogue
from cubital.draw.needs import Asked
from cubital.draw.preparation import POSTURES, too_young
from cubital.draw.scene import Scene
from cubital.finding import Reason

COAGULATION_CLASS = "citrate"
"""Order class of the tubes for coagulation tests."""


def technique(
    asked: Sequence[Asked],
    scene: Scene,
    *,
    route: str,
    gauge: int,
    order_classes: Collection[str] = (),
) -> tuple[Reason, ...]:
    """
    Give the lines of a draw, each with its source.

    A line is left out where a test or the patient demands something else, which the plan says at
    its own place: a posture of its own, no tourniquet, no alcohol on the skin.

    Args:
        asked: the tests, for what they demand of the patient and the skin.
        scene: whose patient it is, and whose numbers hold.
        route: ``venous`` or ``capillary``.
        gauge: of the needle, 0 for none.
        order_classes: of the containers that are drawn.
    """
    if not asked:
        return ()
    return tuple(_lines(asked, scene, route == "venous", gauge, order_classes))


def _lines(
    asked: Sequence[Asked], scene: Scene, venous: bool, gauge: int, order_classes: Collection[str]
) -> Iterator[Reason]:
    catalogue = scene.catalogue
    tests = [one.test.code for one in asked]
    told = {row.need for test in tests for row in catalogue.preparation(test, scene.choices)}
    needs = {row.need for test in tests for row in catalogue.handling(test, scene.choices)}
    allergies = {condition.code for condition in scene.patient.conditions}
    if venous and not too_young(scene.age_days, catalogue) and not told & POSTURES.keys():
        yield _line(catalogue, "Rest in one posture for {} minutes first.", "posture_min")
    if venous and "no_tourniquet" not in needs:
        most = "tourniquet_max_s"
        if COAGULATION_CLASS in order_classes:
            most = "tourniquet_coagulation_max_s"
        said = "Tourniquet {} to {} mm above the site; on for {} s at most."
        yield _line(catalogue, said, "tourniquet_above_mm_low", "tourniquet_above_mm_high", most)
    if "no_alcohol_swab" not in needs and "alcohol_allergy" not in allergies:
        said = "Wipe the skin with alcohol for {} s, then let it dry for {} s."
        yield _line(catalogue, said, "alcohol_wipe_s", "alcohol_dry_s")
    if venous and gauge:
        said = "Bevel up, the needle at {} to {} degrees to the skin."
        yield _line(catalogue, said, "needle_angle_low_deg", "needle_angle_high_deg")


def _line(catalogue: Catalogue, said: str, *keys: str) -> Reason:
    """A sentence with the settings' values in it, and the source of the first of them."""
    rows = [catalogue.setting(key) for key in keys]
    return catalogue.reason(rows[0], said.format(*(row.value for row in rows)))
