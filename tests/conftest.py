"""What tests of the desk share: a database in a file, and the invented clinic."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings as django_settings
from django.db import transaction
from django.db.models import Model
from django.test import Client

from cubital.desk.database import use_bundled_sqlite

use_bundled_sqlite()
# the browser's driver keeps an event loop in the test's own thread
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"


@pytest.fixture(scope="session")
def django_db_modify_db_settings(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Tests write to a real file with the desk's own settings, as a laboratory does."""
    database = django_settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        folder: Path = tmp_path_factory.mktemp("database")
        database.setdefault("TEST", {})["NAME"] = str(folder / "desk.sqlite3")


@pytest.fixture(scope="session", autouse=True)
def _lake_of_its_own(tmp_path_factory: pytest.TempPathFactory) -> None:
    """No test makes figures in the laboratory's own folder."""
    django_settings.LAKE = str(tmp_path_factory.mktemp("lake") / "figures")


@pytest.fixture(scope="session", autouse=True)
def _events_may_be_emptied() -> None:
    """Between tests against a running server the tables are emptied: lift their guards for that."""
    from django.core.management.commands.flush import Command
    from django.db import connections

    from cubital.desk.record import triggers

    handle = Command.handle

    def lifted(self: Command, **options: object) -> None:
        with triggers.lifted(connections[str(options["database"])]):
            handle(self, **options)

    Command.handle = lifted


class Clinic:
    """The invented clinic, made once and then copied row by row: much faster than made again."""

    def __init__(self) -> None:
        self.made_at = datetime.now(UTC)
        self.rows: list[list[Model]] = []

    def put(self) -> datetime:
        """Put it into an empty database; gives the time it was made at."""
        from cubital.desk.demo.fill import demo_fill

        if self.rows:
            with transaction.atomic():  # keys are looked at when all tables are full
                for rows in self.rows:
                    type(rows[0])._default_manager.bulk_create(rows)
        else:
            demo_fill(now=self.made_at)
            tables = apps.get_app_config("record").get_models()
            self.rows = [rows for t in tables if (rows := list(t._default_manager.all()))]
        return self.made_at


@pytest.fixture(scope="session")
def invented() -> Clinic:
    """The clinic to copy from."""
    return Clinic()


@pytest.fixture
def clinic(db: None, settings: object, invented: Clinic) -> datetime:
    """The invented clinic with a morning's requisitions; gives the time it was made at."""
    settings.DEMO = True
    return invented.put()


@pytest.fixture
def signed_in(clinic: datetime) -> Callable[[str], Client]:
    """A client of somebody in a role."""
    from cubital.desk.record.models import Person

    def sign_in(role: str) -> Client:
        client = Client()
        client.force_login(Person.objects.get(role=role))
        return client

    return sign_in
