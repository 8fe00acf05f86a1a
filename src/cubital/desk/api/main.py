"""The JSON API: signed in with the desk's own session, and with its CSRF token on every write."""

from __future__ import annotations

from ninja import NinjaAPI
from ninja.security import django_auth

from cubital import __version__
from cubital.desk.api.events import router as events
from cubital.desk.people.who import EVERY_ROLE, opened_to, who_may

api = NinjaAPI(
    title="cubital",
    version=__version__,
    description="What the chair, the bench and other programs of the laboratory say to the desk.",
    auth=django_auth,
    docs_url=None,
    docs_decorator=who_may(*EVERY_ROLE, without_place=True),
    urls_namespace="api",
)
api.add_router("", events)

urls = api.urls
for pattern in urls[0]:
    # what a role may write is judged event by event; whoever has not signed in gets a 401
    opened_to(pattern.callback, EVERY_ROLE)
