"""Boxes on their way and what the reception keeps beside its events."""

from __future__ import annotations

from django.db import models

from cubital.desk.record.models.people import Person
from cubital.desk.record.models.places import Place


class BoxPlan(models.Model):
    """Where a box that is being packed shall go, and how; forgotten when it leaves."""

    box = models.CharField(max_length=64, primary_key=True)
    to = models.CharField(max_length=32, blank=True, default="")
    cooling = models.CharField(max_length=32, blank=True, default="")
    courier = models.CharField(max_length=200, blank=True, default="")

    def __str__(self) -> str:
        return self.box


class BoxFound(models.Model):
    """A number that was scanned when a box was opened; ``sent`` is the event with which it left."""

    box = models.CharField(max_length=64)
    sent = models.CharField(max_length=36)
    code = models.CharField(max_length=64)
    at = models.DateTimeField()
    by = models.CharField(max_length=150)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["sent", "code"], name="a_number_in_a_box_once")
        ]

    def __str__(self) -> str:
        return f"{self.box} {self.code}"


class BoxLog(models.Model):
    """
    A temperature logger's file as it was read, for one journey of a box.

    ``columns`` is what a person answered when the headings did not say which column is which;
    ``findings`` are those of the reading, ``edition`` that of the tables by which the flights were
    reckoned.
    """

    box = models.CharField(max_length=64)
    sent = models.CharField(max_length=36)
    site = models.CharField(max_length=32)
    name = models.CharField(max_length=200)
    condition = models.CharField(max_length=32)
    columns = models.JSONField(default=dict)
    findings = models.JSONField(default=list)
    edition = models.CharField(max_length=32)
    digest = models.CharField(max_length=64)
    read_at = models.DateTimeField()
    read_by = models.CharField(max_length=150)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(fields=["sent", "digest"], name="a_file_of_a_journey_once")
        ]
        indexes = [models.Index(fields=["box"], name="logs_of_a_box")]

    def __str__(self) -> str:
        return f"{self.box} {self.name}"


class LogReading(models.Model):
    """One line of a logger's file, in degrees Celsius."""

    log = models.ForeignKey(BoxLog, on_delete=models.CASCADE, related_name="readings")
    number = models.PositiveIntegerField()
    at = models.DateTimeField()
    celsius = models.FloatField()

    class Meta:
        ordering = ["log", "number"]
        constraints = [
            models.UniqueConstraint(fields=["log", "number"], name="a_line_of_a_log_once")
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.celsius:.1f}"


class LogFlight(models.Model):
    """What a log meant for one test of one specimen, reckoned from its readings when it came."""

    log = models.ForeignKey(BoxLog, on_delete=models.CASCADE, related_name="flights")
    specimen = models.CharField(max_length=64)
    test = models.CharField(max_length=64)
    used_percent = models.FloatField()
    spoils_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField()
    findings = models.JSONField(default=list)

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["specimen"], name="flights_of_a_specimen")]

    def __str__(self) -> str:
        return f"{self.specimen} {self.test}"


class Looked(models.Model):
    """What somebody saw on a specimen at the reception, as the rules take it."""

    specimen = models.CharField(max_length=64, primary_key=True)
    seen = models.JSONField(default=dict)
    at = models.DateTimeField()
    by = models.CharField(max_length=150)

    def __str__(self) -> str:
        return self.specimen


class Stranger(models.Model):
    """Something that arrived and that the record does not know: kept, and asked about."""

    HOW = [
        ("known", "it is a specimen of this desk after all"),
        ("registered", "registered as a specimen"),
        ("sent_back", "sent back to where it came from"),
        ("discarded", "thrown away, nobody knows whose it is"),
    ]

    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    text = models.CharField(max_length=64)
    why = models.CharField(max_length=300)
    arrived_at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    how = models.CharField(max_length=16, choices=HOW, blank=True, default="")
    note = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering = ["-arrived_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["place", "text"],
                condition=models.Q(settled_at=None),
                name="an_open_question_once",
            )
        ]

    def __str__(self) -> str:
        return self.text
