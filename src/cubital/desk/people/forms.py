"""Forms of sign-in and of the people's page."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm

from cubital.desk.record.models import Place, Role


class SignInForm(AuthenticationForm):
    """Name and password, in our words."""

    error_messages = {
        "invalid_login": "This name and password do not belong together; check both and try again.",
        "inactive": "This name may not sign in any more; ask a manager.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name"


class PersonForm(forms.Form):
    """A new person at the desk."""

    username = forms.CharField(label="Sign-in name", max_length=150)
    given_name = forms.CharField(label="Given name", max_length=150, required=False)
    family_name = forms.CharField(label="Family name", max_length=150, required=False)
    role = forms.ChoiceField(choices=Role.choices)
    place = forms.ModelChoiceField(
        queryset=Place.objects.all(), required=False, empty_label="any place"
    )
    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        help_text="At least 8 characters, not a common one; tell it to the person yourself.",
    )


class PersonChangeForm(forms.Form):
    """Another role, another place, or a shut door."""

    role = forms.ChoiceField(choices=Role.choices)
    place = forms.ModelChoiceField(
        queryset=Place.objects.all(), required=False, empty_label="any place"
    )
    is_active = forms.BooleanField(label="May sign in", required=False)
    password = forms.CharField(
        label="New password",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        required=False,
        help_text="Leave it empty to keep the present one.",
    )
