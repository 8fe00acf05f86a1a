"""The record: models, migrations, and the only code that touches the database."""

from __future__ import annotations

from django.apps import AppConfig


class RecordConfig(AppConfig):
    name = "cubital.desk.record"
    label = "record"
    verbose_name = "record"
