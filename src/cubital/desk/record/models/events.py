"""
What happened, only ever added to; and what it adds up to, made again from it at any time.

The event tables are guarded by triggers in the database itself (``desk/record/triggers.py``).  The
tables that end in ``Now`` are projections: their columns are the fields of the values in
``cubital.custody.items``.
"""

from __future__ import annotations

from datetime import datetime

from django.db import models

HASH = 64
LOGGED_KINDS = (
    "draw_not_obtained", "identity_mismatch", "incident_followed_up", "incident_recorded",
    "override_given", "specimen_missing", "specimen_refused", "tube_refused",
)  # fmt: skip
"""Kinds that the logbook reads by date; they have an index of their own."""


class Event(models.Model):
    """
    One event at its place in the site's chain.

    ``position`` is the order in which the desk recorded events of all sites.  ``payload`` is the
    canonical JSON text, byte for byte, that the hash covers.
    """

    position = models.BigAutoField(primary_key=True)
    uuid = models.CharField(max_length=36, unique=True)
    site = models.CharField(max_length=32)
    sequence = models.BigIntegerField()
    kind = models.CharField(max_length=32)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    who = models.CharField(max_length=150)
    sent_by = models.CharField(max_length=150)
    device = models.CharField(max_length=64, blank=True, default="")
    subject = models.CharField(max_length=80)
    payload = models.TextField()
    corrects = models.CharField(max_length=36, blank=True, default="")
    previous = models.CharField(max_length=HASH)
    hash = models.CharField(max_length=HASH)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["site", "sequence"], name="a_place_in_the_chain_once"),
        ]
        indexes = [
            models.Index(
                fields=["corrects"], name="events_that_mend", condition=~models.Q(corrects="")
            ),
            models.Index(
                fields=["kind", "subject"],
                name="events_to_tell",
                condition=models.Q(kind__in=("requester_told", "specimen_refused")),
            ),
            models.Index(
                fields=["happened_at"],
                name="events_of_the_logbook",
                condition=models.Q(kind__in=LOGGED_KINDS),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.uuid}"


class ChainHead(models.Model):
    """The end of a site's chain, kept beside it: shows when the end of the chain is cut off."""

    site = models.CharField(max_length=32, primary_key=True)
    sequence = models.BigIntegerField()
    hash = models.CharField(max_length=HASH)

    def __str__(self) -> str:
        return f"{self.site} {self.sequence}"


class Touch(models.Model):
    """An event and a subject that it happens to: a projection, for reading one subject's events."""

    pk = models.CompositePrimaryKey("subject", "position")
    subject = models.CharField(max_length=80)
    position = models.BigIntegerField()

    def __str__(self) -> str:
        return f"{self.subject} {self.position}"


class RefusedEvent(models.Model):
    """An event that was refused, with the reason; the same refusal is kept once."""

    uuid = models.CharField(max_length=36, blank=True, default="")
    site = models.CharField(max_length=32, blank=True, default="")
    kind = models.CharField(max_length=32, blank=True, default="")
    subject = models.CharField(max_length=80, blank=True, default="")
    sent_by = models.CharField(max_length=150)
    refused_at = models.DateTimeField()
    sentence = models.TextField()
    offered = models.TextField()
    digest = models.CharField(max_length=HASH, unique=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.kind} {self.uuid}"


def code() -> models.CharField[str, str]:
    """An identifier that is a projection's key."""
    return models.CharField(max_length=64, primary_key=True)


def word(length: int = 64) -> models.CharField[str, str]:
    """A short text that may be empty."""
    return models.CharField(max_length=length, blank=True, default="")


def moment() -> models.DateTimeField[datetime | None, datetime | None]:
    """A time that may not have come yet."""
    return models.DateTimeField(null=True, blank=True)


class DrawNow(models.Model):
    """A draw as it stands: ``cubital.custody.Draw``."""

    code = code()
    site = word(32)
    patient = word()
    requisition = word()
    state = word(16)
    who = word(150)
    begun_at = models.DateTimeField()
    ended_at = moment()
    reason = word()
    identified = models.IntegerField(default=0)
    attempts = models.IntegerField(default=0)
    open_attempt = word()
    tourniquet_on_at = moment()
    specimens = models.JSONField(default=list)

    class Meta:
        indexes = [
            models.Index(fields=["site", "begun_at"], name="draws_of_a_site"),
            models.Index(fields=["patient"], name="draws_of_a_patient"),
            models.Index(fields=["requisition"], name="draws_for_a_requisition"),
        ]

    def __str__(self) -> str:
        return self.code


class AttemptNow(models.Model):
    """An attempt as it stands: ``cubital.custody.Attempt``."""

    code = code()
    site = word(32)
    draw = word()
    who = word(150)
    begun_at = models.DateTimeField()
    body_site = word(32)
    side = word(8)
    device = word(32)
    gauge = models.IntegerField(null=True, blank=True)
    ended_at = moment()
    success = models.BooleanField(null=True, blank=True)
    reason = word()

    class Meta:
        indexes = [models.Index(fields=["draw"], name="attempts_of_a_draw")]

    def __str__(self) -> str:
        return self.code


class SpecimenNow(models.Model):
    """A specimen as it stands: ``cubital.custody.Specimen``."""

    code = code()
    site = word(32)
    state = word(16)
    place = word(80)
    patient = word()
    draw = word()
    requisition = word()
    parent = word()
    bound_for = word(32)
    container = word(32)
    material = word(32)
    lot = word()
    purpose = word(32)
    fill = word(8)
    volume_ul = models.IntegerField(null=True, blank=True)
    label_printed = models.BooleanField(default=False)
    label_matched = models.BooleanField(default=False)
    spins = models.IntegerField(default=0)
    before = word(16)
    before_place = word(80)
    collected_at = moment()
    received_at = moment()
    changed_at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(fields=["site", "state"], name="specimens_of_a_site"),
            models.Index(fields=["patient"], name="specimens_of_a_patient"),
            models.Index(fields=["draw"], name="specimens_of_a_draw"),
            models.Index(
                fields=["parent"], name="portions_of_a_specimen", condition=~models.Q(parent="")
            ),
        ]

    def __str__(self) -> str:
        return self.code


class BoxNow(models.Model):
    """A transport box as it stands: ``cubital.custody.Box``."""

    code = code()
    site = word(32)
    state = word(16)
    to = word(32)
    cooling = word(32)
    specimens = models.JSONField(default=list)
    sent_at = moment()
    opened_at = moment()

    def __str__(self) -> str:
        return self.code


class SpinNow(models.Model):
    """A centrifuge run as it stands: ``cubital.custody.Spin``."""

    code = code()
    site = word(32)
    state = word(16)
    centrifuge = word(32)
    programme = word(32)
    specimens = models.JSONField(default=list)
    begun_at = models.DateTimeField()
    ended_at = moment()

    def __str__(self) -> str:
        return self.code


class IncidentNow(models.Model):
    """An incident as it stands: ``cubital.custody.Incident``."""

    code = code()
    site = word(32)
    what = word(32)
    who = word(150)
    happened_at = models.DateTimeField()
    draw = word()
    patient = word()
    specimen = word()
    due_on = word(10)
    closed = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.code
