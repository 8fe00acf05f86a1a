"""
The catalogue: every table, checked, immutable, with the few questions that rooms ask of it.

Choices are a mapping topic -> option; where a topic is not named, its default holds.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from functools import cached_property
from types import MappingProxyType
from typing import Any, TypeVar, cast

from cubital.catalogue import model, names
from cubital.catalogue.model import Row
from cubital.catalogue.table import nearest
from cubital.errors import CatalogueError
from cubital.finding import Reason

R = TypeVar("R", bound=Row)

NO_CHOICES: Mapping[str, str] = MappingProxyType({})


@dataclasses.dataclass(frozen=True, eq=False)
class Catalogue:
    """
    All tables of all layers laid over each other.

    Args:
        edition: of the shipped tables, with a short hash of every file read.
        layers: ``shipped`` and the names of the laboratory's folders, lowest first.
        sources: by key.
        tables: the rows of each class, in file order.
    """

    edition: str
    layers: tuple[str, ...]
    sources: Mapping[str, model.Source]
    tables: Mapping[type[Row], tuple[Row, ...]]

    # ------------------------------------------------------------ rows and indexes

    def rows(self, cls: type[R]) -> tuple[R, ...]:
        """All rows of a table, in file order."""
        return cast("tuple[R, ...]", self.tables.get(cls, ()))

    def _by(self, cls: type[R], field: str) -> Mapping[Any, R]:
        return MappingProxyType({getattr(row, field): row for row in self.rows(cls)})

    def _grouped(self, cls: type[R], field: str) -> Mapping[str, tuple[R, ...]]:
        groups: dict[str, list[R]] = {}
        for row in self.rows(cls):
            groups.setdefault(getattr(row, field), []).append(row)
        return {key: tuple(group) for key, group in groups.items()}

    @cached_property
    def tests(self) -> Mapping[str, model.Test]:
        """Tests by code."""
        return self._by(model.Test, "code")

    @cached_property
    def panels(self) -> Mapping[str, model.Panel]:
        """Panels by code."""
        return self._by(model.Panel, "code")

    @cached_property
    def additives(self) -> Mapping[str, model.Additive]:
        """Additives by code."""
        return self._by(model.Additive, "code")

    @cached_property
    def containers(self) -> Mapping[str, model.Container]:
        """Containers by code."""
        return self._by(model.Container, "code")

    @cached_property
    def stations(self) -> Mapping[str, model.Station]:
        """Stations by code."""
        return self._by(model.Station, "code")

    @cached_property
    def benches(self) -> Mapping[str, model.Bench]:
        """Benches by code."""
        return self._by(model.Bench, "code")

    @cached_property
    def needles(self) -> Mapping[int, model.Needle]:
        """Needles by gauge."""
        return self._by(model.Needle, "gauge")

    @cached_property
    def devices(self) -> Mapping[str, model.Device]:
        """Devices by code."""
        return self._by(model.Device, "code")

    @cached_property
    def sites(self) -> Mapping[str, model.Site]:
        """Sites by code."""
        return self._by(model.Site, "code")

    @cached_property
    def colours(self) -> Mapping[str, model.ClosureColour]:
        """Closure colours by code."""
        return self._by(model.ClosureColour, "code")

    @cached_property
    def label_sizes(self) -> Mapping[str, model.LabelSize]:
        """Label sizes by code."""
        return self._by(model.LabelSize, "code")

    @cached_property
    def conditions(self) -> frozenset[str]:
        """Codes of what a patient may have: conditions of sites, and cautions."""
        sites = {row.condition for row in self.rows(model.SiteCondition)}
        return frozenset(sites | {row.condition for row in self.rows(model.PatientCaution)})

    # ------------------------------------------------------------ choices and settings

    @cached_property
    def options(self) -> Mapping[str, Mapping[str, model.Option]]:
        """Topic -> option -> row."""
        topics: dict[str, dict[str, model.Option]] = {}
        for row in self.rows(model.Option):
            topics.setdefault(row.topic, {})[row.option] = row
        return topics

    @cached_property
    def _defaults(self) -> Mapping[str, str]:
        return {row.topic: row.option for row in self.rows(model.Option) if row.default}

    def option(self, topic: str, choices: Mapping[str, str] = NO_CHOICES) -> model.Option:
        """
        The chosen option of a topic, else its default.

        Raises:
            CatalogueError: no such topic, or no such option of it.
        """
        options = self.options.get(topic)
        if options is None:
            close = nearest(topic, self.options) or "one of " + ", ".join(self.options)
            raise CatalogueError(
                f"no question is called “{topic}”", "choices.csv, topic", f"Write {close}."
            )
        chosen = choices.get(topic) or self._defaults[topic]
        if chosen not in options:
            raise CatalogueError(
                f"{topic} cannot be “{chosen}”",
                "choices.csv, option",
                f"Write one of {', '.join(options)}.",
            )
        return options[chosen]

    def holds(self, choice: str, choices: Mapping[str, str] = NO_CHOICES) -> bool:
        """Whether a row's ``choice`` cell (``topic:option`` or "") holds under the choices."""
        if not choice:
            return True
        topic, _, option = choice.partition(":")
        return (choices.get(topic) or self._defaults.get(topic)) == option

    def _chosen(
        self, rows: tuple[R, ...], fields: tuple[str, ...], choices: Mapping[str, str]
    ) -> tuple[R, ...]:
        """
        The rows that hold; where two speak of the same fields, the one with a choice.
        """
        found: dict[tuple[object, ...], R] = {}
        for row in rows:
            choice = str(getattr(row, "choice", ""))
            if self.holds(choice, choices):
                key = tuple(getattr(row, name) for name in fields)
                if choice or key not in found:
                    found[key] = row
        return tuple(found.values())

    def _one(self, rows: tuple[R, ...], choices: Mapping[str, str]) -> R:
        """The row that holds; where the chosen option has none, that of the default option."""
        chosen = self._chosen(rows, (), choices) or self._chosen(rows, (), NO_CHOICES)
        return chosen[0]

    @cached_property
    def settings(self) -> Mapping[str, model.Setting]:
        """Settings by key."""
        return self._by(model.Setting, "key")

    def setting(self, key: str) -> model.Setting:
        """
        The row of a setting.

        Raises:
            CatalogueError: no such key.
        """
        row = self.settings.get(key)
        if row is None:
            raise CatalogueError(f"the setting {key} is missing", "settings.csv, key", "Add it.")
        return row

    def number(self, key: str) -> int:
        """A setting as a whole number."""
        return int(self._read(key, int, "a whole number"))

    def decimal(self, key: str) -> float:
        """A setting as a decimal."""
        return self._read(key, float, "a number with a point")

    def word(self, key: str) -> str:
        """A setting as a word."""
        return self.setting(key).value

    def _read(self, key: str, kind: type[int] | type[float], mend: str) -> float:
        row = self.setting(key)
        try:
            return kind(row.value)
        except ValueError:
            file = "settings.csv" if row.layer == "shipped" else f"{row.layer}/settings.csv"
            raise CatalogueError(
                f"{key} cannot be “{row.value}”", f"{file}, row {row.line}, value", f"Write {mend}."
            ) from None

    # ------------------------------------------------------------ what a test needs

    @cached_property
    def _accepted(self) -> Mapping[str, tuple[model.AcceptedAdditive, ...]]:
        groups = self._grouped(model.AcceptedAdditive, "test")
        return {test: tuple(sorted(group, key=lambda r: r.rank)) for test, group in groups.items()}

    @cached_property
    def volumes(self) -> Mapping[str, model.TestVolume]:
        """Analyser volumes by test."""
        return self._by(model.TestVolume, "test")

    @cached_property
    def _handling(self) -> Mapping[str, tuple[model.Handling, ...]]:
        return self._grouped(model.Handling, "test")

    @cached_property
    def _preparation(self) -> Mapping[str, tuple[model.Preparation, ...]]:
        return self._grouped(model.Preparation, "test")

    @cached_property
    def _stability(self) -> Mapping[str, tuple[model.Stability, ...]]:
        return self._grouped(model.Stability, "test")

    @cached_property
    def _mixing(self) -> Mapping[str, tuple[model.Mixing, ...]]:
        return self._grouped(model.Mixing, "additive")

    @cached_property
    def _fill_limits(self) -> Mapping[str, tuple[model.FillLimit, ...]]:
        return self._grouped(model.FillLimit, "additive")

    @cached_property
    def ratios(self) -> Mapping[str, model.Ratio]:
        """Blood to additive, by additive; dry additives have none."""
        return self._by(model.Ratio, "additive")

    @cached_property
    def _dead(self) -> Mapping[tuple[str, str], model.DeadVolume]:
        return {(row.station, row.form): row for row in self.rows(model.DeadVolume)}

    def accepted(self, test: str) -> tuple[model.AcceptedAdditive, ...]:
        """Additives that the test accepts, preferred first."""
        return self._accepted.get(test, ())

    def volume_ul(self, test: str) -> int:
        """What the analyser takes, in the test's own matrix."""
        return self.volumes[test].volume_ul

    def dead_volume(self, station: str, form: str) -> model.DeadVolume:
        """What the station's sampler leaves in a container of this form."""
        return self._dead[station, form]

    def handling(
        self, test: str, choices: Mapping[str, str] = NO_CHOICES
    ) -> tuple[model.Handling, ...]:
        """Demands on the specimen that hold under the choices, each need once."""
        return self._chosen(self._handling.get(test, ()), ("need",), choices)

    def preparation(
        self, test: str, choices: Mapping[str, str] = NO_CHOICES
    ) -> tuple[model.Preparation, ...]:
        """What the patient must have done, under the choices, each need once."""
        return self._chosen(self._preparation.get(test, ()), ("need",), choices)

    def stability(
        self, test: str, choices: Mapping[str, str] = NO_CHOICES
    ) -> tuple[model.Stability, ...]:
        """How long the test keeps, under the choices, each matrix and condition once."""
        return self._chosen(self._stability.get(test, ()), ("matrix", "condition"), choices)

    def mixing(self, additive: str, choices: Mapping[str, str] = NO_CHOICES) -> model.Mixing:
        """Inversions of an additive under the choices."""
        return self._one(self._mixing[additive], choices)

    def fill_limit(self, additive: str, choices: Mapping[str, str] = NO_CHOICES) -> model.FillLimit:
        """How full a container of this additive must be, under the choices."""
        return self._one(self._fill_limits[additive], choices)

    # ------------------------------------------------------------ codes and names

    @cached_property
    def members(self) -> Mapping[str, tuple[model.PanelMember, ...]]:
        """Members by panel, in file order."""
        return self._grouped(model.PanelMember, "panel")

    def expand(self, code: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """
        The tests of a test or panel, each once, with the panels through which it came.

        Raises:
            KeyError: the code is neither a test nor a panel.
        """
        if code in self.tests:
            return ((code, ()),)
        if code not in self.panels:
            raise KeyError(code)
        found: dict[str, tuple[str, ...]] = {}
        self._collect(code, (), found)
        return tuple(found.items())

    def _collect(self, code: str, path: tuple[str, ...], found: dict[str, tuple[str, ...]]) -> None:
        if code in self.tests:
            found.setdefault(code, path)
        else:
            for row in self.members.get(code, ()):
                self._collect(row.member, (*path, code), found)

    @cached_property
    def _names(self) -> names.Names:
        return names.Names.of(self.rows(model.Test), self.rows(model.Panel))

    def find(self, text: str) -> str | None:
        """The code of a test or panel by code, LOINC code, name, short name or alias."""
        return self._names.find(text)

    def search(self, text: str, limit: int = 12) -> tuple[tuple[str, str, str], ...]:
        """
        Type-ahead over tests and panels: (code, name, ``test`` or ``panel``), best first.
        """
        return self._names.search(text, limit)

    def suggest(self, text: str, limit: int = 3) -> tuple[str, ...]:
        """Codes whose code or name is most like a text that was not found."""
        return self._names.suggest(text, limit)

    def reason(self, row: Row, sentence: str) -> Reason:
        """A sentence with the row's source and layer."""
        return Reason(sentence, row.source, row.layer)
