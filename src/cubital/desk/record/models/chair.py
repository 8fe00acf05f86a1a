"""What the chair keeps beside its events: its sheets, and what follows from a draw."""

from __future__ import annotations

from django.db import models

from cubital.desk.record.models.people import Person
from cubital.desk.record.models.requisitions import Requisition
from cubital.desk.record.models.stock import StockLot


class ChairSheet(models.Model):
    """A sheet as it was given to a chair, named by its content; its draws are judged by it."""

    code = models.CharField(max_length=32, primary_key=True)
    requisition = models.ForeignKey(
        Requisition, on_delete=models.CASCADE, related_name="chair_sheets"
    )
    document = models.JSONField()
    plan = models.JSONField(default=dict)
    """The plan it was made from, ``cubital.plan/1``: what labels are printed from."""
    given_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["given_at"]

    def __str__(self) -> str:
        return self.code


class DrawEffect(models.Model):
    """
    What a finished draw did to its requisition and its patient: a projection.

    It is what the draw's events say, so that a corrected event can take it back.
    """

    draw = models.CharField(max_length=64, primary_key=True)
    requisition = models.CharField(max_length=64)
    patient = models.CharField(max_length=64)
    taken_at = models.DateTimeField()
    volume_ul = models.PositiveIntegerField()

    class Meta:
        indexes = [models.Index(fields=["requisition"], name="effects_on_a_requisition")]

    def __str__(self) -> str:
        return self.draw


class DrawFinding(models.Model):
    """What the core found when it judged the events of an ended draw again: a projection."""

    draw = models.CharField(max_length=64)
    number = models.PositiveIntegerField()
    code = models.CharField(max_length=64)
    severity = models.CharField(max_length=8)
    sentence = models.TextField()
    source = models.CharField(max_length=64)
    subject = models.CharField(max_length=80, blank=True, default="")

    class Meta:
        ordering = ["draw", "number"]
        constraints = [
            models.UniqueConstraint(fields=["draw", "number"], name="a_finding_of_a_draw_once")
        ]

    def __str__(self) -> str:
        return f"{self.draw} {self.code}"


class LotUse(models.Model):
    """A container that was taken from a lot's count; the same specimen is taken once."""

    specimen = models.CharField(max_length=64, primary_key=True)
    lot = models.ForeignKey(StockLot, on_delete=models.CASCADE, related_name="uses")

    def __str__(self) -> str:
        return self.specimen


class Habit(models.Model):
    """What a person likes at the chair: reminders, sounds."""

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="habit")
    reminders = models.BooleanField(default=True)
    sounds = models.BooleanField(default=True)

    def __str__(self) -> str:
        return f"habits of {self.person.username}"
