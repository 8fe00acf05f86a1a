"""The screens of the chair."""

from __future__ import annotations

from django.apps import AppConfig


class ChairConfig(AppConfig):
    name = "cubital.desk.chair"
    label = "chair"
    verbose_name = "chair"
