"""Where blood is drawn: one laboratory may have several places, each at its own altitude."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models

from cubital.draw.values import Lot
from cubital.draw.values import Place as DomainPlace

if TYPE_CHECKING:
    from cubital.desk.record.models.stock import StockLot


LABEL_WHEN = [
    ("before", "before the draw: tubes carry their label when they are taken in hand"),
    ("after", "after the draw: printed at the chair and scanned on each tube"),
]


class Place(models.Model):
    """A place of draw and its policy; ``code`` also names the site's chain of events."""

    code = models.SlugField(max_length=32, unique=True)
    name = models.CharField(max_length=120)
    letters = models.CharField(
        max_length=2,
        unique=True,
        validators=[RegexValidator(r"^[A-Z0-9]{2}$", "Write two capital letters or digits.")],
    )
    """How this place's accession numbers begin."""
    altitude_m = models.IntegerField(
        default=0, validators=[MinValueValidator(-430), MaxValueValidator(6000)]
    )
    time_zone = models.CharField(max_length=64, default="UTC")
    order_profile = models.CharField(max_length=32, blank=True, default="")
    choices = models.JSONField(default=dict, blank=True)
    devices = models.JSONField(null=True, blank=True, default=None)
    catalogue_folder = models.CharField(max_length=400, blank=True, default="")
    label_size = models.CharField(max_length=32, default="50x25")
    keeps_stock = models.BooleanField(default=False)
    label_when = models.CharField(max_length=8, choices=LABEL_WHEN, default="before")
    """Whether tubes carry their label before the draw, or get it at the chair after it."""
    waste_scheme = models.CharField(max_length=32, default="local")
    """By whose rules waste is sorted here: a scheme of ``waste_streams.csv``."""
    phone_numbers = models.JSONField(default=list, blank=True)
    """The place's own numbers for when something goes wrong, as (whom, number)."""

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def to_domain(self, lots: Iterable[StockLot] = ()) -> DomainPlace:
        """What the draw room takes; ``lots`` count only where a stock list is kept."""
        on_hand: tuple[Lot, ...] | None = None
        if self.keeps_stock:
            on_hand = tuple(lot.to_domain() for lot in lots)
        return DomainPlace(
            altitude_m=self.altitude_m,
            lots=on_hand,
            order_profile=self.order_profile,
            choices=dict(self.choices),
            devices=None if self.devices is None else tuple(self.devices),
        )
