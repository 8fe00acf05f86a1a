"""Forms of a place's centrifuges and shelves."""

from __future__ import annotations

from typing import Any

from django import forms

from cubital.catalogue import Catalogue
from cubital.catalogue.model_bench import StorageKind
from cubital.desk.fields import give_choices
from cubital.desk.record.models import Centrifuge
from cubital.desk.record.models.bench import MOST_PLACES

FACTS = (
    "name", "places", "radius_mm", "swing", "cooled", "warmed", "lowest_rpm", "highest_rpm",
    "step_rpm", "run_up_s", "brake_s",
)  # fmt: skip


class CentrifugeForm(forms.Form):
    """A centrifuge with its rotor, as its plate and its handbook say."""

    name = forms.CharField(max_length=80, help_text="As people call it.")
    places = forms.IntegerField(
        label="Places in the rotor", min_value=2, max_value=MOST_PLACES,
        help_text="Evenly around the axis.",
    )  # fmt: skip
    radius_mm = forms.IntegerField(
        label="Radius, mm", min_value=10, max_value=1000,
        help_text="From the axis to the bottom of a tube, buckets swung out.",
    )  # fmt: skip
    highest_rpm = forms.IntegerField(label="Highest speed", min_value=1, max_value=100_000,
                                     help_text="Turns a minute.")  # fmt: skip
    lowest_rpm = forms.IntegerField(label="Lowest speed", min_value=1, max_value=100_000,
                                    initial=300)  # fmt: skip
    step_rpm = forms.IntegerField(label="Steps of the speed", min_value=1, max_value=100_000,
                                  initial=10)  # fmt: skip
    run_up_s = forms.IntegerField(label="Run-up, seconds", min_value=0, max_value=3600, initial=0)
    brake_s = forms.IntegerField(label="Brake, seconds", min_value=0, max_value=3600, initial=0)
    swing = forms.BooleanField(
        label="The buckets swing out", required=False, initial=True,
        help_text="Without: the tubes stand at a fixed angle.",
    )  # fmt: skip
    cooled = forms.BooleanField(label="Cooled", required=False)
    warmed = forms.BooleanField(label="Warmed", required=False)

    @staticmethod
    def of(row: Centrifuge) -> dict[str, Any]:
        """The form's values of a centrifuge."""
        return {name: getattr(row, name) for name in FACTS}


class NewCentrifugeForm(CentrifugeForm):
    """The same with its code, which stays."""

    code = forms.CharField(
        max_length=32, help_text="Letters, digits and hyphens, such as big-24; it stays."
    )
    field_order = ("code", *FACTS)


class ShelfForm(forms.Form):
    """A shelf, a rack or a drawer where specimens are put away."""

    code = forms.CharField(
        max_length=32, label="Code on it", help_text="What its bar code says, such as FR1-A."
    )
    name = forms.CharField(max_length=80, help_text="As people call it.")
    kind = forms.ChoiceField(label="Kind of store")

    def __init__(self, catalogue: Catalogue, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        give_choices(
            self,
            "kind",
            [
                (row.code, f"{row.name}, {row.low_c:g} to {row.high_c:g} °C")
                for row in catalogue.rows(StorageKind)
            ],
        )


class OutForm(forms.Form):
    """Why a centrifuge is out of order."""

    why = forms.CharField(max_length=200, required=False)
