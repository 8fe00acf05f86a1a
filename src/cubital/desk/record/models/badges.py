"""How somebody switches to themselves on a shared tablet, and what keeps strangers out."""

from __future__ import annotations

from django.db import models

from cubital.desk.record.models.people import Person


class Badge(models.Model):
    """The bar code that a person carries, and their PIN as an Argon2 hash."""

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="badge")
    code = models.CharField(max_length=64, unique=True)
    pin = models.CharField(max_length=256, blank=True, default="")
    """Empty until the person has chosen one: until then the badge opens nothing."""

    class Meta:
        ordering = ["person"]

    def __str__(self) -> str:
        return f"badge of {self.person.username}"


class Knock(models.Model):
    """Wrong attempts in a row at one door: of a person, of a device, of an address."""

    door = models.CharField(max_length=255, unique=True)
    wrong = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.door} {self.wrong}"
