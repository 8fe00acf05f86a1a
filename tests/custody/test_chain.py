"""The chain names the first record that is not as it was written."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from cubital.custody import Head, Recorded, Unreadable, verify_chain
from tests.custody.makers import Desk, drawn


@pytest.fixture
def desk() -> Desk:
    """A desk after one draw of two tubes: eleven records."""
    desk = Desk()
    drawn(desk, "S-1", "S-2")
    return desk


def test_an_untouched_chain_holds(desk: Desk) -> None:
    """Every record and the head agree."""
    report = verify_chain("valley", desk.records, desk.heads["valley"])
    assert report.holds
    assert report.count == len(desk.records) == desk.heads["valley"].sequence


def changed(record: Recorded, name: str) -> Recorded:
    """The record with one of its fields changed, as somebody with the file in hand could."""
    event, second = record.event, timedelta(microseconds=1)
    other: dict[str, Any] = {
        "site": "pass",
        "kind": "tube_mixed",
        "happened_at": event.happened_at + second,
        "who": "tove",
        "device": "",
        "subject": f"{event.subject}x",
        "payload": {**event.payload, "note": "."},
        "corrects": event.id,
        "id": event.id[:-1] + ("0" if event.id[-1] != "0" else "1"),
    }
    if name in other:
        return replace(record, event=replace(event, **{name: other[name]}))
    mine: dict[str, Any] = {
        "recorded_at": record.recorded_at + second,
        "sent_by": "tove",
        "sequence": record.sequence + 1,
        "previous": "0" * 63 + "1",
        "hash": "f" * 64,
    }
    return replace(record, **{name: mine[name]})


@pytest.mark.parametrize("at", [0, 5, 10])
@pytest.mark.parametrize(
    "name",
    [
        "id", "site", "kind", "happened_at", "who", "device", "subject", "payload", "corrects",
        "recorded_at", "sent_by", "sequence", "previous", "hash",
    ],
)  # fmt: skip
def test_a_change_anywhere_is_found_and_named(desk: Desk, at: int, name: str) -> None:
    """Whatever field of whatever record changes, the walk stops at that record."""
    records = list(desk.records)
    records[at] = changed(records[at], name)
    report = verify_chain("valley", records, desk.heads["valley"])
    assert not report.holds
    assert report.event == records[at].event.id
    assert report.count == at


def test_a_missing_record_is_found(desk: Desk) -> None:
    """The record after a gap does not follow."""
    records = desk.records[:4] + desk.records[5:]
    report = verify_chain("valley", records)
    assert report.event == desk.records[5].event.id
    assert "number 5 should follow" in report.sentence


def test_a_cut_end_is_found_by_the_head(desk: Desk) -> None:
    """What is left is a good chain, but the head knows that there was more."""
    assert verify_chain("valley", desk.records[:-2]).holds
    report = verify_chain("valley", desk.records[:-2], desk.heads["valley"])
    assert "its end is missing" in report.sentence


def test_a_changed_head_is_found(desk: Desk) -> None:
    """A head that is not the last record is said to be wrong."""
    head = replace(desk.heads["valley"], hash="0" * 64)
    assert "not its last record" in verify_chain("valley", desk.records, head).sentence


def test_a_record_that_cannot_be_read_is_named(desk: Desk) -> None:
    """Bytes that are no time or no JSON are a broken record, not a broken program."""
    broken = Unreadable("some-id", 3, "happened_at is no time.")
    report = verify_chain("valley", [*desk.records[:2], broken, *desk.records[3:]])
    assert (report.event, report.sequence, report.count) == ("some-id", 3, 2)


def test_an_empty_chain_holds() -> None:
    """A place where nothing has happened yet."""
    assert verify_chain("pass", [], Head("pass")).holds
