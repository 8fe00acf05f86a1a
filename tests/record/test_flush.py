"""Tests against a running server may empty the tables between them, and the guards come back."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import connection

from cubital.desk.record import triggers
from cubital.desk.record.events import append_events
from cubital.desk.record.models import Event as EventRow
from tests.record.small_desk import draw

pytestmark = pytest.mark.usefixtures("database")


def test_a_flush_empties_the_events_and_leaves_the_guards() -> None:
    """What pytest-django does after a test with a live server."""
    append_events(events=draw("D-1"), person="mira")
    call_command("flush", verbosity=0, interactive=False)
    assert not EventRow.objects.exists()
    assert triggers.missing(connection) == ()
