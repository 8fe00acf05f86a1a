"""
Sessions and who is signed in, read with one plain statement each.

Every scan asks both; Django's own stores spend most of that time on writing the same two statements
again.  What they mean is unchanged: the session stands in the database, and a sign-out, a changed
password or a shut door counts at once.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.contrib.sessions.models import Session
from django.db import connection
from django.utils import timezone

from cubital.desk.record.models import Person
from cubital.desk.record.quick import Table

SESSIONS = Table(Session, ("session_key", "session_data", "expire_date"))
PEOPLE = Table(Person, [field.attname for field in Person._meta.concrete_fields])


class SessionStore(DatabaseStore):
    """Django's own store of sessions in the database, with a quicker look."""

    def _get_session_from_db(self) -> Session | None:
        for key, data, expires in SESSIONS.select("session_key", [self.session_key]):
            if still(expires):
                return Session(key, data, expires)
        self._session_key = None
        return None


class SignIn(ModelBackend):
    """Name and password, as Django does it, with a quicker look at who is signed in."""

    def get_user(self, user_id: Any) -> Person | None:
        """The person of a session, None when they may not sign in any more."""
        for row in PEOPLE.select("id", [user_id]):
            person = Person.from_db(connection.alias, PEOPLE.names, row)
            return person if self.user_can_authenticate(person) else None
        return None


def still(expires: datetime) -> bool:
    """Whether that moment has not come."""
    return expires > timezone.now()
