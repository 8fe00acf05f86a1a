"""Fields whose choices are known only when a form is made."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms


def give_choices(form: forms.Form, name: str, choices: Iterable[Any]) -> None:
    """Set what a choice field of the form offers: pairs of value and words, or groups of them."""
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)
    field.choices = list(choices)
