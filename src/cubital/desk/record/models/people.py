"""Who works at the desk."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models


class Role(models.TextChoices):
    """What a person does here; every role sees only its own screens."""

    COLLECTOR = "collector", "Collector"
    BENCH = "bench", "Bench"
    QUALITY = "quality", "Quality"
    MANAGER = "manager", "Manager"


class Person(AbstractUser):
    """Somebody who may sign in."""

    role = models.CharField(max_length=16, choices=Role.choices, default=Role.COLLECTOR)
    place = models.ForeignKey(
        "record.Place", null=True, blank=True, on_delete=models.SET_NULL, related_name="people"
    )

    @property
    def shown_name(self) -> str:
        """The name as others at the desk know it."""
        return self.get_full_name() or self.username
