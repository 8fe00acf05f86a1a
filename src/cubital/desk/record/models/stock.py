"""Containers on hand, lot by lot."""

from __future__ import annotations

from django.db import models

from cubital.desk.record.models.places import Place
from cubital.draw.values import Lot


class StockLot(models.Model):
    """Containers of one lot at one place."""

    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="lots")
    container = models.CharField(max_length=64)
    number = models.CharField(max_length=64)
    expires_on = models.DateField()
    count = models.PositiveIntegerField()
    recalled = models.BooleanField(default=False)

    class Meta:
        ordering = ["container", "expires_on", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["place", "container", "number"], name="one_row_a_lot_and_place"
            )
        ]

    def __str__(self) -> str:
        return f"{self.container} {self.number}"

    def to_domain(self) -> Lot:
        """The draw room's own value."""
        return Lot(
            container=self.container,
            number=self.number,
            expires_on=self.expires_on,
            count=self.count,
            recalled=self.recalled,
        )
