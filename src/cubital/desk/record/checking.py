"""One clear sentence out of whatever a model's own validators found."""

from __future__ import annotations

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import models

from cubital.errors import InputError


def checked(row: models.Model) -> None:
    """
    Run the model's validators.

    Raises:
        InputError: the first thing that is wrong, with the field's plain name.
    """
    try:
        row.full_clean()
    except ValidationError as error:
        raise InputError(*first_sentence(row, error)) from error


def first_sentence(row: models.Model, error: ValidationError) -> tuple[str, str]:
    """Give the sentence and the field's plain name."""
    found = (
        error.message_dict if hasattr(error, "error_dict") else {NON_FIELD_ERRORS: error.messages}
    )
    field, sentences = next(iter(found.items()))
    if field == NON_FIELD_ERRORS:
        return sentences[0], ""
    found_field = row._meta.get_field(field)
    return sentences[0], str(getattr(found_field, "verbose_name", field))
