"""What the tests of this room share."""

from datetime import datetime, timedelta, timezone

import pytest

from cubital.catalogue import Catalogue, shipped

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=timezone(timedelta(hours=5, minutes=45)))


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    """The shipped tables."""
    return shipped()
