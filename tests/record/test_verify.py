"""The walk along the chains finds any changed byte and names the event."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.db import connection, connections

from cubital.desk.record import triggers
from cubital.desk.record.events import append_events
from cubital.desk.record.models import ChainHead
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.verify import verify
from tests.record.small_desk import draw, event


@pytest.fixture(autouse=True)
def _some_events(database: str) -> None:
    """Two draws in the valley and one event at the pass."""
    append_events(events=[*draw("D-1", "S-1"), *draw("D-2", "S-2")], person="mira")
    beyond = event("incident_recorded", "incident:I-1", site="pass", what="spill", note="Wiped.")
    append_events(events=[beyond], person="mira")


def tamper(statement: str) -> None:
    """Change the table as somebody who may do anything to the database could."""
    with triggers.lifted(connection), connection.cursor() as cursor:
        cursor.execute(statement)


def test_an_untouched_record_holds() -> None:
    """Every event of both sites is counted."""
    found = verify()
    assert found.holds
    assert {chain.site: chain.count for chain in found.chains} == {"pass": 1, "valley": 16}
    assert found.count == EventRow.objects.count()


OTHER = "substr({0}, 1, {1}) || CASE WHEN substr({0}, {1} + 1) = '0' THEN '1' ELSE '0' END"
"""The same text with another last character."""
CHANGES = (
    f"uuid = {OTHER.format('uuid', 35)}",
    "kind = 'tube_mixed'",
    "who = 'tove'",
    "sent_by = 'tove'",
    "device = 'tablet-9'",
    "subject = subject || '0'",
    "payload = replace(payload, '\"', '\"x')",
    "payload = payload || ' '",
    "payload = '{'",
    "payload = '[]'",
    f"payload = '{'[' * 5000}'",
    "payload = '{\"volume_ul\":1e999}'",
    "corrects = uuid",
    f"previous = {OTHER.format('previous', 63)}",
    f"hash = {OTHER.format('hash', 63)}",
    "site = 'pass', sequence = 99",
    "sequence = 999",
)
TIMES = {
    "sqlite": (
        "happened_at = substr(happened_at, 1, 18) || '0.000001'",
        "recorded_at = 'yesterday'",
        "happened_at = happened_at || '+00:00'",
        "sequence = 'four'",
    ),
    "postgresql": (
        "happened_at = happened_at + interval '1 microsecond'",
        "recorded_at = recorded_at - interval '1 hour'",
    ),
}


def test_any_change_of_any_column_is_found_and_named() -> None:
    """One event in the middle is changed, column by column, and put back each time."""
    target = EventRow.objects.get(site="valley", sequence=4)
    columns = [f.name for f in EventRow._meta.fields if f.name != "position"]
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {', '.join(columns)} FROM record_event WHERE position = %s",
                       [target.position])  # fmt: skip
        before = cursor.fetchone()
    for change in (*CHANGES, *TIMES[connection.vendor]):
        tamper(f"UPDATE record_event SET {change} WHERE position = {target.position}")
        found = verify()
        broken = [chain for chain in found.chains if not chain.holds]
        assert broken, change
        named = {chain.event for chain in broken}
        now = EventRow.objects.filter(position=target.position).values_list("uuid", flat=True)[0]
        following = EventRow.objects.get(site="valley", sequence=5).uuid
        moved = change.startswith(("site", "sequence"))
        assert named & ({now, following} if moved else {now}), change
        with triggers.lifted(connection), connection.cursor() as cursor:
            put = ", ".join(f"{name} = %s" for name in columns)
            cursor.execute(f"UPDATE record_event SET {put} WHERE position = %s",
                           [*before, target.position])  # fmt: skip
        assert verify().holds, change


def test_a_missing_event_a_cut_end_and_a_lost_head_are_found() -> None:
    """In the middle, at the end, and the head itself."""
    tamper("DELETE FROM record_event WHERE site = 'valley' AND sequence = 16")
    (report,) = [chain for chain in verify().chains if not chain.holds]
    assert "its end is missing" in report.sentence
    tamper("DELETE FROM record_event WHERE site = 'valley' AND sequence = 3")
    (report,) = [chain for chain in verify().chains if not chain.holds]
    assert (report.sequence, report.count) == (4, 2)
    ChainHead.objects.filter(site="pass").delete()
    assert {chain.site for chain in verify().chains if not chain.holds} == {"pass", "valley"}


def test_missing_guards_are_told() -> None:
    """A record whose triggers are gone does not hold, though every chain does."""
    triggers.remove(connection)
    found = verify()
    assert all(chain.holds for chain in found.chains)
    assert not found.holds
    assert len(found.triggers_missing) == 2 * len(triggers.wanted(connection))


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_byte_changed_in_the_file_itself_is_found(database: str) -> None:
    """One letter of a payload, flipped in the closed SQLite file."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connections["default"].close()
    path = Path(database.removeprefix("sqlite:///"))
    content = path.read_bytes()
    at = content.index(b'"note":"Wiped."') + len(b'"note":"W')
    path.write_bytes(content[:at] + b"o" + content[at + 1 :])
    (report,) = [chain for chain in verify().chains if not chain.holds]
    assert report.site == "pass"
    assert report.event == EventRow.objects.get(site="pass").uuid
