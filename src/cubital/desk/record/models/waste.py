"""Waste bags and sharps boxes as they stand, made again from the events at any time."""

from __future__ import annotations

from django.db import models

from cubital.desk.record.models.events import code, moment, word


class WasteNow(models.Model):
    """A bag or box as it stands: ``cubital.custody.Waste``."""

    code = code()
    site = word(32)
    state = word(16)
    scheme = word(32)
    stream = word(32)
    opened_at = models.DateTimeField()
    opened_by = word(150)
    fill_percent = models.IntegerField(default=0)
    closed_at = moment()
    weight_g = models.IntegerField(null=True, blank=True)
    handed_over_at = moment()
    handed_to = models.TextField(blank=True, default="")

    class Meta:
        indexes = [
            models.Index(fields=["site", "state"], name="waste_of_a_site"),
            models.Index(fields=["site", "closed_at"], name="waste_closed_at_a_site"),
        ]

    def __str__(self) -> str:
        return self.code
