"""What was asked for, by whom, for whom and when."""

from __future__ import annotations

from django.db import models

from cubital.desk.record.models.patients import Patient
from cubital.desk.record.models.people import Person
from cubital.desk.record.models.places import Place
from cubital.requisition.values import Answers, OrderedTest
from cubital.requisition.values import Requisition as DomainRequisition


class RequisitionState(models.TextChoices):
    """Where a requisition stands."""

    WAITING = "waiting", "waiting"
    DRAWN = "drawn", "drawn"
    CANCELLED = "cancelled", "cancelled"


class Requisition(models.Model):
    """
    One requisition at one place.

    ``document`` keeps what came in, in the shape ``cubital.requisition/1``, exactly.
    """

    number = models.CharField(max_length=64, unique=True)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="requisitions")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="requisitions")
    collect_at = models.DateTimeField()
    requester = models.CharField(max_length=200, blank=True, default="")
    ward = models.CharField(max_length=200, blank=True, default="")
    urgent = models.BooleanField(default=False)
    remarks = models.TextField(blank=True, default="")
    fasting_h = models.FloatField(null=True, blank=True)
    since_dose_h = models.FloatField(null=True, blank=True)
    next_dose_due = models.BooleanField(null=True, blank=True)
    seated_min = models.FloatField(null=True, blank=True)
    supine_min = models.FloatField(null=True, blank=True)
    document = models.JSONField(default=dict)
    state = models.CharField(
        max_length=16, choices=RequisitionState.choices, default=RequisitionState.WAITING
    )
    cancelled_why = models.CharField(max_length=300, blank=True, default="")
    cancelled_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    cancelled_at = models.DateTimeField(null=True, blank=True)
    entered_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    entered_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-urgent", "collect_at", "number"]
        indexes = [models.Index(fields=["place", "collect_at"], name="requisition_by_day")]

    def __str__(self) -> str:
        return self.number

    def to_domain(self) -> DomainRequisition:
        """The requisition as the core reads it; the patient as known now."""
        return DomainRequisition(
            number=self.number,
            patient=self.patient.to_domain(),
            tests=tuple(row.to_domain() for row in self.tests.all()),
            collect_at=self.collect_at,
            requester=self.requester,
            ward=self.ward,
            urgent=self.urgent,
            answers=Answers(
                fasting_h=self.fasting_h,
                since_dose_h=self.since_dose_h,
                next_dose_due=self.next_dose_due,
                seated_min=self.seated_min,
                supine_min=self.supine_min,
            ),
            remarks=self.remarks,
        )


class RequisitionTest(models.Model):
    """One test asked for, at its place in the requester's list."""

    requisition = models.ForeignKey(Requisition, on_delete=models.CASCADE, related_name="tests")
    position = models.PositiveIntegerField()
    code = models.CharField(max_length=64)
    priority = models.PositiveSmallIntegerField(default=5)
    through = models.JSONField(default=list)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["requisition", "code"], name="a_test_once"),
            models.UniqueConstraint(fields=["requisition", "position"], name="a_position_once"),
        ]

    def __str__(self) -> str:
        return self.code

    def to_domain(self) -> OrderedTest:
        """The requisition room's own value."""
        return OrderedTest(code=self.code, priority=self.priority, through=tuple(self.through))


class Accession(models.Model):
    """The number on a container's label; given once, never twice."""

    number = models.CharField(max_length=32, unique=True)
    requisition = models.ForeignKey(
        Requisition, on_delete=models.PROTECT, related_name="accessions"
    )
    position = models.PositiveIntegerField()
    container = models.CharField(max_length=64)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(
                fields=["requisition", "position", "container"], name="a_label_once"
            )
        ]

    def __str__(self) -> str:
        return self.number


class Counter(models.Model):
    """The last running number given under a name: numbers are never given twice."""

    name = models.CharField(max_length=64, unique=True)
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.name} {self.last}"
