"""The models, one file a subject, gathered here."""

from __future__ import annotations

from cubital.desk.record.models.people import Person

__all__ = ["Person"]
