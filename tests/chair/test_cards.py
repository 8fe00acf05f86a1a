"""The cards of the chair as the page keeps them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from cubital.catalogue import shipped
from cubital.catalogue.model_chair import Mishap, Reminder
from cubital.chair import due_after
from cubital.chair.cards import MOMENTS, cards_to, source_words

NUMBERS = {"Ambulance": "112", "Occupational health": "555-0142"}


def test_every_mishap_has_its_card_with_the_places_own_numbers() -> None:
    """Steps in order, each with a source; numbers as the place has them."""
    cards = cards_to(shipped(), NUMBERS)
    assert cards["numbers"] == [["Ambulance", "112"], ["Occupational health", "555-0142"]]
    assert [m["code"] for m in cards["mishaps"]] == [m.code for m in shipped().rows(Mishap)]
    for mishap in cards["mishaps"]:
        assert mishap["steps"], mishap["code"]
        for part in (*mishap["steps"], *mishap["due"]):
            assert cards["sources"][part["source"]]
    assert "local protocol" in cards["caution"]


def test_what_follows_a_needlestick_falls_on_the_same_dates_as_the_core_says() -> None:
    """The page adds hours; the core gives the same moments, most urgent first."""
    at = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
    needlestick = next(m for m in cards_to(shipped())["mishaps"] if m["code"] == "needlestick")
    on_page = [
        (d["code"], at + timedelta(hours=d["from_h"]), at + timedelta(hours=d["until_h"]))
        for d in needlestick["due"]
    ]
    core = [(d.code, d.best_from, d.until) for d in due_after(shipped(), "needlestick", at)]
    assert on_page == core
    assert "See a physician" in needlestick["due"][0]["sentence"]
    assert needlestick["due"][0]["until_h"] <= 2


def test_every_reminder_has_its_moment() -> None:
    """None of the table is lost, and each moment is one the page knows."""
    reminders = cards_to(shipped())["reminders"]
    assert tuple(reminders) == MOMENTS
    kept = [each["code"] for some in reminders.values() for each in some]
    assert sorted(kept) == sorted(row.code for row in shipped().rows(Reminder))


def test_no_reminder_contradicts_a_demand_of_a_test() -> None:
    """Where a test bears no fist or no tourniquet, the reminder to close or loosen it is silent."""
    unless = {
        each["code"]: each["unless"]
        for some in cards_to(shipped())["reminders"].values()
        for each in some
    }
    assert unless["fist-closed"] == "no_fist"
    assert unless["tourniquet-off"] == "no_tourniquet"


def test_a_mismatch_has_a_reason_of_its_own() -> None:
    """Why no blood was obtained, in words; and no new attempt after it."""
    reasons = {r["code"]: r for r in cards_to(shipped())["not_obtained"]}
    assert not reasons["identity_mismatch"]["new_attempt"]
    assert reasons["no_vein"]["new_attempt"]


def test_a_source_says_its_basis_unless_it_is_published() -> None:
    """Whoever reads a card sees what it stands on."""
    assert source_words(shipped(), "who-2010-table-8-1").count("(2010)") == 1
    assert source_words(shipped(), "chair-memory").endswith("from memory")
    assert source_words(shipped(), "no-such-source") == "no-such-source"
