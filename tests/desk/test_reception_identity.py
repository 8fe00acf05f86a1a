"""Why a draw went on with fewer identifiers, shown beside its tubes instead of asked again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.test import Client

from cubital.desk.record import selectors_way
from cubital.desk.record.models import Person
from tests.desk.test_reception import last, scan
from tests.desk.way import drawn, made, requisition, stored

Sign = Callable[[str], Client]
TUBES = (("edta-3", ["fbc"]), ("gel-3.5", ["sodium", "creatinine"]))
WHY = "Unconscious or too ill to answer; wristband read"


@pytest.fixture
def bench(signed_in: Sign) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    return signed_in("bench")


def at_chair(kind: str, code: str, **payload: Any) -> None:
    """Something that the chair says of the draw of a tube."""
    draw = selectors_way.specimen_now(code).draw
    now = datetime.now(UTC)
    stored(made(kind, f"draw:{draw}", site="ostrel-valley", who="mira", at=now, **payload))


def two_tubes(*, birth_date: bool, ended: bool = True) -> list[str]:
    """Two tubes of one draw of a patient whose birth date is known or not."""
    row = requisition(2)
    if not birth_date:
        row.patient.birth_date = None
        row.patient.save()
    return drawn(row, *TUBES, ended=ended)


def mira() -> str:
    """Her name as people know it."""
    return Person.objects.get(username="mira").shown_name


def test_without_a_reason_each_tube_is_asked_about(bench: Client) -> None:
    """Nobody said why the birth date is unknown: somebody decides."""
    for code in two_tubes(birth_date=False):
        kind, where, said = scan(bench, code)
        assert (kind, where) == ("ask", "look")
        assert "lacks the birth date" in said


def test_with_the_reason_of_the_chair_nothing_is_asked_again(bench: Client) -> None:
    """Both tubes are accepted with a remark that says who and why, on the tray and on the page."""
    codes = two_tubes(birth_date=False)
    at_chair("override_given", codes[0], finding="identifier-missing", reason=WHY)
    for code in codes:
        kind, where, said = scan(bench, code)
        assert (kind, where) == ("note", "done"), said
        assert f"The requisition lacks the birth date. {mira()}: {WHY}." in said
        assert last(code, "specimen_accepted").payload["remarks"] == ["identifiers-answered"]
        page = bench.get(f"/reception/specimens/{code}/").content.decode()
        assert f"{mira()}: {WHY}." in page


def test_identifiers_that_were_read_are_a_note(bench: Client) -> None:
    """The patient could not say them, and every one is known: who said so stands beside it."""
    codes = two_tubes(birth_date=True)
    at_chair("override_given", codes[0], finding="identifiers-read", reason=WHY)
    kind, _, said = scan(bench, codes[1])
    assert kind == "note"
    assert f"read at the chair, not said. {mira()}: {WHY}." in said


def test_a_reason_for_something_else_answers_nothing(bench: Client) -> None:
    """Another rule that was gone past at the chair leaves the question open."""
    codes = two_tubes(birth_date=False)
    at_chair("override_given", codes[0], finding="tourniquet-long", reason="Veins hard to find")
    assert scan(bench, codes[0])[0] == "ask"


def test_the_chairs_reason_does_not_hide_what_else_is_wrong(bench: Client) -> None:
    """A leak is refused all the same."""
    codes = two_tubes(birth_date=False, ended=False)
    at_chair("identity_confirmed", codes[0], identifiers=["wristband"], reason="unconscious")
    assert scan(bench, codes[1])[0] == "note"
    look = bench.post(f"/reception/specimens/{codes[0]}/look/", {"leaking": "yes"})
    assert look.context["verdict"].outcome == "refused"
