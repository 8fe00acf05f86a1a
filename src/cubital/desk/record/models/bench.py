"""What stands on the bench of a place, and when a box is expected there."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models

from cubital.catalogue import model_bench
from cubital.desk.record.models.places import Place

WORD = RegexValidator(
    r"^[A-Za-z0-9_.-]{1,32}$", "Write 1 to 32 letters, digits, dots, hyphens or underscores."
)
MOST_PLACES = 100
SPEEDS = (MinValueValidator(1), MaxValueValidator(100_000))
SECONDS = (MaxValueValidator(3600),)


class Centrifuge(models.Model):
    """A centrifuge of a place with its rotor: ``cubital.catalogue.model_bench.Centrifuge``."""

    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="centrifuges")
    code = models.CharField(max_length=32, validators=[WORD])
    name = models.CharField(max_length=80)
    places = models.PositiveIntegerField(
        validators=[MinValueValidator(2), MaxValueValidator(MOST_PLACES)]
    )
    radius_mm = models.PositiveIntegerField(
        validators=[MinValueValidator(10), MaxValueValidator(1000)]
    )
    swing = models.BooleanField(default=True)
    cooled = models.BooleanField(default=False)
    warmed = models.BooleanField(default=False)
    lowest_rpm = models.PositiveIntegerField(default=300, validators=list(SPEEDS))
    highest_rpm = models.PositiveIntegerField(validators=list(SPEEDS))
    step_rpm = models.PositiveIntegerField(default=10, validators=list(SPEEDS))
    run_up_s = models.PositiveIntegerField(default=0, validators=list(SECONDS))
    brake_s = models.PositiveIntegerField(default=0, validators=list(SECONDS))
    out_since = models.DateTimeField(null=True, blank=True)
    """Out of order since then."""
    out_why = models.CharField(max_length=200, blank=True, default="")
    out_by = models.CharField(max_length=150, blank=True, default="")

    class Meta:
        ordering = ["name", "code"]
        constraints = [
            models.UniqueConstraint(fields=["place", "code"], name="a_centrifuge_of_a_place_once")
        ]

    def __str__(self) -> str:
        return self.name

    def to_domain(self) -> model_bench.Centrifuge:
        """The bench room's own row."""
        return model_bench.Centrifuge(
            code=self.code,
            name=self.name,
            places=self.places,
            radius_mm=self.radius_mm,
            swing=self.swing,
            cooled=self.cooled,
            warmed=self.warmed,
            lowest_rpm=self.lowest_rpm,
            highest_rpm=self.highest_rpm,
            step_rpm=self.step_rpm,
            run_up_s=self.run_up_s,
            brake_s=self.brake_s,
            source="",
            layer=self.place.code,
        )


class Shelf(models.Model):
    """Where specimens are put away: ``code`` is what stands on it as a bar code."""

    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="shelves")
    code = models.CharField(max_length=32, validators=[WORD])
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=32)
    """A kind of ``storage_kinds.csv``."""

    class Meta:
        ordering = ["kind", "name", "code"]
        constraints = [
            models.UniqueConstraint(fields=["place", "code"], name="a_shelf_of_a_place_once")
        ]

    def __str__(self) -> str:
        return self.name


class BoxExpected(models.Model):
    """When a box that has left is expected; ``sent_at`` is that of the journey."""

    box = models.CharField(max_length=64, primary_key=True)
    sent_at = models.DateTimeField()
    at = models.DateTimeField()
    by = models.CharField(max_length=150)

    def __str__(self) -> str:
        return self.box
