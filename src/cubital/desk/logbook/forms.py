"""Forms of the logbook."""

from __future__ import annotations

from typing import Any

from django import forms

from cubital.catalogue import Catalogue
from cubital.catalogue.model_chair import Mishap
from cubital.desk.fields import give_choices
from cubital.desk.words import plain

NOBODY = ("", "nobody yet")


class ActionForm(forms.Form):
    """A corrective action: done, or due until a day."""

    action = forms.CharField(
        label="Corrective action",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What was done, or what somebody shall do.",
        error_messages={"required": "Say in a few words what was done or shall be done."},
    )
    due_on = forms.DateField(
        label="To be done by",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text="Empty when it is done already.",
        error_messages={"invalid": "Write a day such as 2026-11-30."},
    )
    owner = forms.ChoiceField(label="By whom", required=False)
    closed = forms.BooleanField(required=False, label="Nothing is left to do: close it")

    def __init__(self, people: list[tuple[str, str]], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        give_choices(self, "owner", [NOBODY, *people])


class IncidentForm(forms.Form):
    """Something that went wrong, written down at the desk."""

    what = forms.ChoiceField(
        label="What happened", error_messages={"required": "Choose what happened."}
    )
    happened_at = forms.DateTimeField(
        label="When",
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text="Empty for now.",
        error_messages={"invalid": "Write a day and time such as 2026-11-25 07:40."},
    )
    person = forms.ChoiceField(label="Which of us", required=False)
    patient = forms.CharField(
        label="Patient number", required=False, max_length=64, help_text="Scan the wristband."
    )
    note = forms.CharField(
        label="In a few words",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What happened and what was done at once. No results of tests.",
    )

    def __init__(
        self, catalogue: Catalogue, people: list[tuple[str, str]], *args: Any, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        groups: dict[str, list[tuple[str, str]]] = {}
        for row in catalogue.rows(Mishap):
            groups.setdefault(WHOM.get(row.whom, plain(row.whom)), []).append((row.code, row.name))
        give_choices(self, "what", [("", "choose"), *groups.items()])
        give_choices(self, "person", [("", "me, or nobody"), *people])


WHOM = {
    "collector": "To somebody who works here",
    "patient": "To a patient",
    "place": "To the place",
}
