"""Sign-in, roles and badges."""

from __future__ import annotations

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "cubital.desk.people"
    label = "people"
    verbose_name = "people"
