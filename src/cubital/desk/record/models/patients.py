"""The person who is pricked, and what the rules must know about them."""

from __future__ import annotations

from django.db import models

from cubital.requisition.values import Condition, PriorDraw
from cubital.requisition.values import Patient as DomainPatient


class Patient(models.Model):
    """A person under the laboratory's own patient number."""

    SEXES = [("female", "female"), ("male", "male"), ("other", "other"), ("unknown", "unknown")]
    VEINS = [
        ("unknown", "not looked at yet"),
        ("good", "good"),
        ("thin", "thin"),
        ("fragile", "fragile"),
        ("hand", "back of the hand only"),
    ]

    number = models.CharField(max_length=64, unique=True)
    family_name = models.CharField(max_length=200)
    given_name = models.CharField(max_length=200, blank=True, default="")
    birth_date = models.DateField(null=True, blank=True)
    sex = models.CharField(max_length=8, choices=SEXES, default="unknown")
    weight_g = models.PositiveIntegerField(null=True, blank=True)
    height_mm = models.PositiveIntegerField(null=True, blank=True)
    haematocrit_percent = models.FloatField(null=True, blank=True)
    veins = models.CharField(max_length=8, choices=VEINS, default="unknown")

    class Meta:
        ordering = ["family_name", "given_name", "number"]
        indexes = [models.Index(fields=["family_name", "given_name"], name="patient_by_name")]

    def __str__(self) -> str:
        return self.number

    @property
    def shown_name(self) -> str:
        """Family name, then given name, as registered."""
        return f"{self.family_name}, {self.given_name}" if self.given_name else self.family_name

    def to_domain(self) -> DomainPatient:
        """The patient with their conditions and the draws on record."""
        return DomainPatient(
            number=self.number,
            family_name=self.family_name,
            given_name=self.given_name,
            birth_date=self.birth_date,
            sex=self.sex,
            weight_g=self.weight_g,
            height_mm=self.height_mm,
            haematocrit_percent=self.haematocrit_percent,
            veins=self.veins,
            conditions=tuple(row.to_domain() for row in self.conditions.all()),
            prior_draws=tuple(row.to_domain() for row in self.prior_draws.all()),
        )


class PatientCondition(models.Model):
    """Something about the patient that rules look at, e.g. an infusion in the left arm."""

    patient = models.ForeignKey(Patient, on_delete=models.CASCADE, related_name="conditions")
    code = models.CharField(max_length=64)
    side = models.CharField(max_length=8, blank=True, default="")
    site = models.CharField(max_length=64, blank=True, default="")

    class Meta:
        ordering = ["code", "side", "site"]
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "code", "side", "site"], name="a_condition_once"
            )
        ]

    def __str__(self) -> str:
        return self.code

    def to_domain(self) -> Condition:
        """The requisition room's own value."""
        return Condition(code=self.code, side=self.side, site=self.site)


class PatientDraw(models.Model):
    """Blood taken from a patient: counted against the limits of the next draw."""

    patient = models.ForeignKey(Patient, on_delete=models.CASCADE, related_name="prior_draws")
    taken_at = models.DateTimeField()
    volume_ul = models.PositiveIntegerField()

    class Meta:
        ordering = ["-taken_at"]
        constraints = [
            models.UniqueConstraint(fields=["patient", "taken_at", "volume_ul"], name="a_draw_once")
        ]

    def __str__(self) -> str:
        return f"{self.taken_at:%Y-%m-%d %H:%M}"

    def to_domain(self) -> PriorDraw:
        """The requisition room's own value."""
        return PriorDraw(taken_at=self.taken_at, volume_ul=self.volume_ul)
