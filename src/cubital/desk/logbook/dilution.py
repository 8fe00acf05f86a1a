"""The disinfectant calculator: from the bottle's strength to the one that is wanted."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from cubital.catalogue import Catalogue
from cubital.catalogue.model_logbook import Disinfectant
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.draw.page import why
from cubital.desk.fields import give_choices
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.errors import InputError
from cubital.finding import Reason
from cubital.logbook import Dilution, dilute


class DilutionForm(forms.Form):
    """What for, what stands on the bottle, and how much is wanted."""

    use = forms.ChoiceField(label="What for", error_messages={"required": "Choose what for."})
    stock = forms.CharField(
        label="Strength on the bottle, %", help_text="Available chlorine, for example 5.25."
    )
    volume = forms.IntegerField(
        label="How much, mL",
        error_messages={"invalid": "Write whole millilitres, for example 1000."},
    )

    def __init__(self, catalogue: Catalogue, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        give_choices(
            self,
            "use",
            [
                (row.use, f"{row.name} ({row.strength_percent:g} %)")
                for row in catalogue.rows(Disinfectant)
            ],
        )

    def clean_stock(self) -> float:
        """A strength in percent; a decimal comma will do."""
        text: str = self.cleaned_data["stock"]
        try:
            return float(text.strip().rstrip("%").replace(",", "."))
        except ValueError:
            raise forms.ValidationError("Write a strength in percent such as 5.25.") from None


@require_GET
@who_may(*EVERY_ROLE)
def calculator(request: DeskRequest) -> HttpResponse:
    """How to mix, how long it must stay on, and when it goes stale."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    asked = request.GET or None
    form = DilutionForm(catalogue, asked, initial={"stock": "5", "volume": 1000})
    context: dict[str, Any] = {"form": form}
    status = 200
    if asked is not None:
        status = 422
        if form.is_valid():
            data = form.cleaned_data
            try:
                answer = dilute(
                    catalogue,
                    data["use"],
                    data["stock"],
                    data["volume"],
                    mixed_at=timezone.localtime(),
                )
            except InputError as refused:
                context["said"] = str(refused)
            else:
                context |= said(answer, catalogue)
                status = 200
    return render(request, "waste/dilution.html", context, status=status)


def said(answer: Dilution, catalogue: Catalogue) -> dict[str, Any]:
    """An answer in words."""
    least, most = (int(each.total_seconds()) // 60 for each in answer.contact)
    return {
        "answer": answer,
        "parts": f"{float(answer.water_parts):.2f}".rstrip("0").rstrip("."),
        "contact": f"{least} min" if least == most else f"{least} to {most} min",
        "why": why(Reason("", answer.use.source, answer.use.layer), catalogue),
    }
