"""Fixtures of the record's tests: a new database of each vendor, with a small desk in it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack

import pytest
from django.conf import settings
from pytest_django.plugin import DjangoDbBlocker

from tests.postgres import Databases, default_database, postgres
from tests.record.small_desk import fill

VENDORS = ("sqlite", "postgresql")


@pytest.fixture(scope="session")
def databases(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Databases]:
    """Where new databases come from; PostgreSQL is started when the first test asks for it."""
    assert settings.configured
    with ExitStack() as stack:
        started: list[str] = []

        def server() -> str:
            if not started:
                started.append(stack.enter_context(postgres()))
            return started[0]

        yield Databases(tmp_path_factory.mktemp("databases"), server)


@pytest.fixture(params=VENDORS)
def database(
    request: pytest.FixtureRequest, databases: Databases, django_db_blocker: DjangoDbBlocker
) -> Iterator[str]:
    """A new database that Django works on: the test runs once on SQLite and once on PostgreSQL."""
    with django_db_blocker.unblock():
        url = databases.new(request.param)
        with default_database(url):
            fill()
            yield url
