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
