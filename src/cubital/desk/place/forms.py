"""Forms of a place, its stock and its people."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from zoneinfo import available_timezones

from django import forms

from cubital.catalogue import Catalogue
from cubital.catalogue.model import OrderProfile
from cubital.catalogue.model_logbook import WasteStream
from cubital.desk import words
from cubital.desk.draw.page import why
from cubital.desk.fields import give_choices
from cubital.desk.record.models import Place
from cubital.desk.record.models.places import LABEL_WHEN

CHOICE = "choice-"


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to a question on which published sources disagree."""

    option: str
    meaning: str
    default: bool
    chosen: bool
    said: str


@dataclass(frozen=True, slots=True)
class Question:
    """Such a question with every answer."""

    name: str
    topic: str
    meaning: str
    answers: tuple[Answer, ...]


class PlaceForm(forms.Form):
    """Everything a laboratory sets for a place; the options come from its own catalogue."""

    name = forms.CharField(max_length=120)
    altitude_m = forms.IntegerField(
        label="Metres above the sea", help_text="Evacuated tubes draw less the higher one is."
    )
    time_zone = forms.CharField(max_length=64, help_text="Such as Europe/Zurich.")
    order_profile = forms.ChoiceField(label="Order of draw", required=False)
    label_size = forms.ChoiceField(label="Label paper")
    label_when = forms.ChoiceField(label="Labels at the chair", choices=LABEL_WHEN, required=False)
    phone_numbers = forms.CharField(
        label="Telephone numbers on first-aid cards",
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One a line, whom and number with a colon between, such as Ambulance: 112.",
    )
    waste_scheme = forms.ChoiceField(
        label="Waste is sorted by", help_text="Decides which bags and boxes can be opened here."
    )
    keeps_stock = forms.BooleanField(
        required=False,
        label="Plan only with containers on the stock list",
        help_text="Without it every container in use counts as on hand.",
    )
    catalogue_folder = forms.CharField(
        required=False,
        max_length=400,
        help_text=(
            "Full path on the desk’s machine of the laboratory’s own tables, laid over the shipped"
            " ones; empty for the shipped tables alone."
        ),
    )

    def __init__(self, catalogue: Catalogue, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        profiles = catalogue.rows(OrderProfile)
        give_choices(
            self,
            "order_profile",
            [
                ("", "the usual one of the route"),
                *((row.code, f"{row.name} ({row.route})") for row in profiles),
            ],
        )
        give_choices(
            self, "label_size", [(row.code, row.name) for row in catalogue.label_sizes.values()]
        )
        schemes = dict.fromkeys(row.scheme for row in catalogue.rows(WasteStream))
        give_choices(
            self, "waste_scheme", [(scheme, words.waste_scheme(scheme)) for scheme in schemes]
        )
        self.catalogue = catalogue
        for topic, options in catalogue.options.items():
            self.fields[CHOICE + topic] = forms.ChoiceField(
                label=words.plain(topic),
                required=False,
                choices=[(row.option, row.meaning) for row in options.values()],
            )

    @staticmethod
    def of(place: Place) -> dict[str, Any]:
        """The form's values of a place."""
        plain = ("name", "altitude_m", "time_zone", "order_profile", "label_size", "keeps_stock")
        more = ("label_when", "waste_scheme", "catalogue_folder")
        return {
            **{name: getattr(place, name) for name in (*plain, *more)},
            "phone_numbers": "\n".join(f"{whom}: {at}" for whom, at in place.phone_numbers),
            **{CHOICE + topic: option for topic, option in place.choices.items()},
        }

    def clean_time_zone(self) -> str:
        """Refuse a name that is no time zone."""
        zone: str = self.cleaned_data["time_zone"]
        if zone not in available_timezones():
            raise forms.ValidationError("This is no time zone. Write one such as Europe/Zurich.")
        return zone

    def clean_phone_numbers(self) -> list[list[str]]:
        """Read one number a line; refuse a line without a colon."""
        found = []
        for line in str(self.cleaned_data["phone_numbers"]).splitlines():
            whom, colon, number = (part.strip() for part in line.partition(":"))
            if not line.strip():
                continue
            if not (whom and colon and number):
                raise forms.ValidationError(
                    f"“{line.strip()}” is no number: write whom, a colon, and the number."
                )
            found.append([whom, number])
        return found

    def policy(self) -> dict[str, Any]:
        """What :func:`place_change` takes; an answer as shipped is no choice of the place's own."""
        data = dict(self.cleaned_data)
        data["label_when"] = data["label_when"] or LABEL_WHEN[0][0]
        chosen = {}
        for name in [name for name in data if name.startswith(CHOICE)]:
            topic, option = name.removeprefix(CHOICE), data.pop(name)
            if option and not self.catalogue.options[topic][option].default:
                chosen[topic] = option
        return {**data, "choices": chosen}

    def questions(self) -> list[Question]:
        """The questions on which published sources disagree, with every answer."""
        return [self.question(topic) for topic in self.catalogue.options]

    def question(self, topic: str) -> Question:
        """One of them, with the answer that stands on the form."""
        value = self[CHOICE + topic].value()
        known = value in self.catalogue.options[topic]
        chosen = self.catalogue.option(topic, {topic: value} if known else {})
        answers = tuple(
            Answer(
                option=row.option,
                meaning=row.meaning,
                default=row.default,
                chosen=row == chosen,
                said=why(self.catalogue.reason(row, ""), self.catalogue).source,
            )
            for row in self.catalogue.options[topic].values()
        )
        return Question(CHOICE + topic, words.plain(topic), chosen.meaning, answers)

    def plain_fields(self) -> list[forms.BoundField]:
        """The other fields."""
        return [field for field in self if not field.name.startswith(CHOICE)]


class NewPlaceForm(forms.Form):
    """What a place must have from the start and never changes."""

    name = forms.CharField(max_length=120)
    code = forms.SlugField(
        max_length=32, help_text="Small letters and hyphens, such as valley-laboratory; it stays."
    )
    letters = forms.CharField(
        label="Letters of its numbers",
        max_length=2,
        min_length=2,
        help_text="Two capital letters or digits that begin its accession numbers; they stay.",
    )
    altitude_m = forms.IntegerField(label="Metres above the sea")
    time_zone = forms.CharField(max_length=64, initial="UTC", help_text="Such as Europe/Zurich.")


class LotForm(forms.Form):
    """A lot of containers, as it stands on the box."""

    container = forms.ChoiceField()
    number = forms.CharField(label="Lot number", max_length=64)
    expires_on = forms.DateField(widget=forms.DateInput(attrs={"type": "date"}))
    count = forms.IntegerField(label="How many", min_value=0, max_value=1_000_000)

    def __init__(self, catalogue: Catalogue, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        give_choices(
            self, "container", [(row.code, row.name) for row in catalogue.containers.values()]
        )


class LotChangeForm(forms.Form):
    """A count, and a recall."""

    count = forms.IntegerField(min_value=0, max_value=1_000_000)
    recalled = forms.BooleanField(required=False)
