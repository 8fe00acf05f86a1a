"""A specimen that arrives though nobody sent it: the record can say what is so."""

from __future__ import annotations

from tests.custody.makers import Desk, drawn


def test_it_is_received_where_it_came_to_light_when_that_is_said() -> None:
    """Held in the valley, found at the pass: refused without the word, taken with it."""
    desk = Desk()
    drawn(desk, "S-1")
    sentence = desk.refused("specimen_received", "specimen:S-1", site="pass", who="ilan")
    assert "held at valley" in sentence
    desk.happen("specimen_received", "specimen:S-1", site="pass", who="ilan", unlisted=True)
    item = desk.items["specimen:S-1"]
    assert (item.site, item.state, item.place) == ("pass", "received", "reception")


def test_no_other_kind_knows_the_word() -> None:
    """Only arriving can be said so; an acceptance elsewhere stays refused."""
    desk = Desk()
    drawn(desk, "S-1")
    desk.happen("specimen_received", "specimen:S-1", who="ilan")
    sentence = desk.refused(
        "specimen_accepted", "specimen:S-1", site="pass", who="ilan", unlisted=True
    )
    assert "payload.unlisted" in sentence
