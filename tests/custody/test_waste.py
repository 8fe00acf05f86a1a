"""Bags and sharps boxes in the record: what can happen to one, and in what order."""

from __future__ import annotations

import pytest

from cubital.custody import Waste, WasteState
from tests.custody.makers import BEGIN, Desk

BAG = "waste:WOL261125001"


def opened() -> Desk:
    """A desk with one open sharps box."""
    desk = Desk()
    desk.happen("waste_opened", BAG, scheme="local", stream="sharps")
    return desk


def test_a_bag_from_its_opening_to_the_hand_over() -> None:
    """Each step is kept with its time, and the last state is handed over."""
    desk = opened()
    desk.happen("waste_filled", BAG, percent=40)
    desk.happen("waste_filled", BAG, percent=75, who="ilan")
    closed = desk.happen("waste_closed", BAG)
    desk.happen("waste_weighed", BAG, weight_g=2350, who="vera")
    gone = desk.happen("waste_handed_over", BAG, to="Common treatment plant")
    assert desk.items[BAG] == Waste(
        code="WOL261125001",
        site="valley",
        state=WasteState.HANDED_OVER,
        scheme="local",
        stream="sharps",
        opened_at=desk.records[0].event.happened_at,
        opened_by="mira",
        fill_percent=75,
        closed_at=closed.happened_at,
        weight_g=2350,
        handed_over_at=gone.happened_at,
        handed_to="Common treatment plant",
    )
    assert desk.records[0].event.happened_at > BEGIN


@pytest.mark.parametrize(
    ("before", "kind", "payload", "sentence"),
    [
        ((), "waste_opened", {"scheme": "local", "stream": "sharps"}, "another bar code"),
        ((), "waste_weighed", {"weight_g": 100}, "is open"),
        ((), "waste_handed_over", {"to": "the plant"}, "is open"),
        (("waste_closed",), "waste_closed", {}, "closed again"),
        (("waste_closed",), "waste_filled", {"percent": 90}, "nothing more goes in"),
    ],
)
def test_what_cannot_have_happened_is_refused(
    before: tuple[str, ...], kind: str, payload: dict[str, object], sentence: str
) -> None:
    """Out of order, or twice: one sentence, and the bag stays as it was."""
    desk = opened()
    for each in before:
        desk.happen(each, BAG)
    stands = desk.items[BAG]
    assert sentence in desk.refused(kind, BAG, **payload)
    assert desk.items[BAG] == stands


def test_a_bag_that_is_not_there_or_stands_elsewhere() -> None:
    """A bar code nobody opened, and a bag of the other place."""
    desk = opened()
    assert "no waste bag" in desk.refused("waste_closed", "waste:W-9")
    assert "stands at valley" in desk.refused("waste_closed", BAG, site="pass")


def test_a_wrong_weight_is_corrected_by_a_later_event() -> None:
    """The kilograms typed as grams are mended; the bag is folded anew."""
    desk = opened()
    desk.happen("waste_closed", BAG)
    wrong = desk.happen("waste_weighed", BAG, weight_g=2)
    desk.happen(
        "event_corrected",
        BAG,
        corrects=wrong.id,
        reason="Grams, not kilograms.",
        payload={"weight_g": 2350},
    )
    item = desk.items[BAG]
    assert isinstance(item, Waste)
    assert item.weight_g == 2350
