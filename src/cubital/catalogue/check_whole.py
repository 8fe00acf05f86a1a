"""
What must hold of the tables as a whole: nothing missing, nothing twice, no circle.

These checks run once every row is sound by itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from cubital.catalogue import model, model_draw, model_quality, vocabulary
from cubital.catalogue.catalogue import Catalogue
from cubital.catalogue.model import Row
from cubital.catalogue.names import spoken
from cubital.catalogue.table import place
from cubital.errors import CatalogueError

Problems = Iterator[CatalogueError]

YIELDS = {
    "serum": ("serum",),
    "plasma": ("plasma",),
    "serum_plasma": ("serum", "plasma"),
    "broth": ("broth",),
    "whole_blood": ("serum", "plasma", "whole_blood"),
}
"""Matrix of a test -> what an accepted additive may yield."""


def check_whole(catalogue: Catalogue) -> Problems:
    """All problems between tables."""
    yield from _defaults(catalogue)
    yield from _cycles(catalogue)
    yield from _meanings(catalogue)
    yield from _additives(catalogue)
    yield from _tests(catalogue)
    yield from _handling(catalogue)
    yield from _orders(catalogue)
    yield from _device_rules(catalogue)
    yield from _sites(catalogue)
    yield from _bands(catalogue)


def _at(row: Row, field: str) -> str:
    return place(type(row), row.layer, row.line, field)


def _defaults(catalogue: Catalogue) -> Problems:
    for topic, options in catalogue.options.items():
        rows = list(options.values())
        yield from _one_default(rows, f"the question {topic}")
    for route in vocabulary.ROUTES:
        profiles = [row for row in catalogue.rows(model.OrderProfile) if row.route == route]
        if profiles:
            yield from _one_default(profiles, f"the {route} route")
        else:
            yield CatalogueError(
                f"no order of draw for the {route} route", "order_profiles.csv", "Add a profile."
            )


def _one_default(rows: list[model.Option] | list[model.OrderProfile], what: str) -> Problems:
    defaults = [row for row in rows if row.default]
    if not defaults:
        yield CatalogueError(
            f"{what} has no default", _at(rows[-1], "default"), "Write yes in one of its rows."
        )
    for row in defaults[1:]:
        yield CatalogueError(
            f"{what} has a second default", _at(row, "default"), "Write yes in one row only."
        )


def _cycles(catalogue: Catalogue) -> Problems:
    """A panel that holds itself, however deep; empty panels."""
    state: dict[str, bool] = {}  # False: on the way down, True: done

    def walk(panel: str, path: tuple[str, ...]) -> Problems:
        state[panel] = False
        for row in catalogue.members.get(panel, ()):
            if row.member not in catalogue.panels:
                continue
            if state.get(row.member) is False:
                circle = (*path[path.index(row.member) :], row.member)
                yield CatalogueError(
                    f"the panels go in a circle ({' → '.join(circle)})",
                    _at(row, "member"),
                    "Take this member out, or another of the circle.",
                )
            elif row.member not in state:
                yield from walk(row.member, (*path, row.member))
        state[panel] = True

    for code, row in catalogue.panels.items():
        if code not in catalogue.members:
            yield CatalogueError(
                f"the panel {code} is empty", _at(row, "code"), "Add rows to panel_members.csv."
            )
        if code not in state:
            yield from walk(code, (code,))


def _meanings(catalogue: Catalogue) -> Problems:
    """A code, name or alias that means two things."""
    meaning: dict[str, model.Test | model.Panel] = {}
    named: list[model.Test | model.Panel] = [*catalogue.rows(model.Test)]
    named += catalogue.rows(model.Panel)
    for row in named:
        for word in spoken(row):
            other = meaning.setdefault(word, row)
            if other is not row:
                field = "loinc" if word == row.loinc else "aliases"
                yield CatalogueError(
                    f"“{word}” also means {other.code} of {other.FILE}",
                    _at(row, field),
                    "Give one of them another name.",
                )


def _additives(catalogue: Catalogue) -> Problems:
    mixed = _always(catalogue, catalogue.rows(model.Mixing))
    limited = _always(catalogue, catalogue.rows(model.FillLimit))
    used = {row.additive for row in catalogue.rows(model.Container)}
    for row in catalogue.rows(model.Additive):
        for there, file in ((mixed, "mixing.csv"), (limited, "fill_limits.csv")):
            if row.code in used and row.code not in there:
                yield CatalogueError(
                    f"{row.code} has no row in {file} that holds by default",
                    _at(row, "code"),
                    f"Add one to {file}.",
                )


def _always(catalogue: Catalogue, rows: Iterable[model.Mixing | model.FillLimit]) -> set[str]:
    return {row.additive for row in rows if catalogue.holds(row.choice)}


def _tests(catalogue: Catalogue) -> Problems:
    containers: dict[str, set[str]] = {}
    for tube in catalogue.rows(model.Container):
        containers.setdefault(tube.additive, set()).add(tube.form)
    for test in catalogue.rows(model.Test):
        if test.code not in catalogue.volumes:
            yield CatalogueError(
                f"{test.code} has no row in test_volumes.csv", _at(test, "code"), "Add one."
            )
        accepted = catalogue.accepted(test.code)
        forms = set().union(*(containers.get(row.additive, set()) for row in accepted))
        if not accepted:
            yield CatalogueError(
                f"{test.code} has no row in test_additives.csv", _at(test, "code"), "Add one."
            )
        elif not forms:
            yield CatalogueError(
                f"no container holds what {test.code} accepts", _at(test, "code"),
                "Add a container, or accept another additive.",
            )  # fmt: skip
        station = catalogue.benches[test.bench].station
        for form in sorted(forms):
            if (station, form) not in catalogue._dead:
                yield CatalogueError(
                    f"station {station} takes {test.code} but has no row for form {form} in "
                    "dead_volumes.csv",
                    _at(test, "bench"),
                    "Add one.",
                )
        yield from _accepted(catalogue, test)


def _accepted(catalogue: Catalogue, test: model.Test) -> Problems:
    ranks = Counter(row.rank for row in catalogue.accepted(test.code))
    for row in catalogue.accepted(test.code):
        gives = catalogue.additives[row.additive].yields
        if gives not in YIELDS[test.matrix]:
            yield CatalogueError(
                f"{test.code} is done on {test.matrix} and {row.additive} yields {gives}",
                _at(row, "additive"),
                "Take the row out, or mend the matrix in tests.csv.",
            )
        if ranks[row.rank] > 1:
            ranks[row.rank] = 1  # said once
            yield CatalogueError(
                f"rank {row.rank} of {test.code} stands twice", _at(row, "rank"),
                "Give each additive its own rank.",
            )  # fmt: skip


def _handling(catalogue: Catalogue) -> Problems:
    for row in catalogue.rows(model.Handling):
        timed = row.need in vocabulary.TIMED_NEEDS
        if timed != (row.value > 0):
            yield CatalogueError(
                f"{row.need} cannot have the value {row.value}",
                _at(row, "value"),
                "Write minutes." if timed else "Leave the cell empty.",
            )


def _orders(catalogue: Catalogue) -> Problems:
    """Every profile places every class that its route can meet."""
    classes: dict[str, set[str]] = {route: set() for route in vocabulary.ROUTES}
    for tube in catalogue.rows(model.Container):
        route = "capillary" if tube.form == "micro" else "venous"
        classes[route].add(catalogue.additives[tube.additive].order_class)
    for profile in catalogue.rows(model.OrderProfile):
        placed = {
            row.order_class
            for row in catalogue.rows(model.OrderPlace)
            if row.profile == profile.code
        }
        for missing in sorted(classes[profile.route] - placed):
            yield CatalogueError(
                f"the order {profile.code} has no place for {missing}",
                _at(profile, "code"),
                "Add it to order_of_draw.csv.",
            )


def _device_rules(catalogue: Catalogue) -> Problems:
    for row in catalogue.rows(model.DeviceRule):
        lancet = catalogue.devices[row.device].draws_by == "drops"
        if lancet != (row.gauge == 0) or (row.gauge and row.gauge not in catalogue.needles):
            yield CatalogueError(
                f"{row.device} cannot have gauge {row.gauge}",
                _at(row, "gauge"),
                "Write 0 for a lancet and a gauge of needles.csv for a needle.",
            )


def _sites(catalogue: Catalogue) -> Problems:
    for row in catalogue.rows(model.Site):
        if (row.route == "never") != (row.verdict == "never"):
            yield CatalogueError(
                f"route {row.route} and verdict {row.verdict} contradict each other",
                _at(row, "verdict"),
                "Write never in both or in neither.",
            )


def _bands(catalogue: Catalogue) -> Problems:
    """Bands of one kind neither overlap nor leave an age or weight out."""
    end = vocabulary.EVERYBODY_DAYS
    sexes = ("female", "male")
    yield from _band(catalogue.rows(model.AimRule), "age_from_days", "age_to_days", end)
    for sex in sexes:
        expected = [r for r in catalogue.rows(model.Haematocrit) if r.sex in ("any", sex)]
        yield from _band(expected, "age_from_days", "age_to_days", end)
    for choice in catalogue.options.get("tbv-per-kg", {}):
        for sex in sexes:
            volumes = [
                row
                for row in catalogue.rows(model.BloodVolume)
                if row.choice == choice and row.sex in ("any", sex)
            ]
            yield from _band(volumes, "age_from_days", "age_to_days", end)
    weights = catalogue.rows(model_draw.WeightBand)
    yield from _band(weights, "age_from_days", "age_to_days", end)
    groups = catalogue.rows(model_quality.AgeGroup)
    yield from _band(groups, "age_from_days", "age_to_days", end)
    limits: dict[tuple[object, ...], list[model.BloodLimit]] = {}
    for limit in catalogue.rows(model.BloodLimit):
        limits.setdefault((limit.policy, limit.window_h, limit.severity), []).append(limit)
    for group in limits.values():
        yield from _band(group, "age_from_days", "age_to_days", None)
    cultures: dict[str, list[model.CultureVolume]] = {}
    for culture in catalogue.rows(model.CultureVolume):
        cultures.setdefault(culture.choice, []).append(culture)
    for culture_group in cultures.values():
        yield from _band(culture_group, "weight_from_g", "weight_to_g", None)


def _band(rows: Iterable[Row], low: str, high: str, end: int | None) -> Problems:
    """
    Look at the bands of one kind in their order.

    Args:
        rows: of one kind.
        low: field where the half-open band begins.
        high: field where it ends.
        end: where the last band must end, or None when not everybody need be covered.
    """
    ordered = sorted(rows, key=lambda row: int(getattr(row, low)))
    if not ordered:
        return
    reached = 0 if end is not None else int(getattr(ordered[0], low))
    for row in ordered:
        start = int(getattr(row, low))
        if start < reached:
            yield CatalogueError(
                f"the band begins at {start} and the one before it ends at {reached}",
                _at(row, low),
                f"Write {reached}, or withdraw the other row.",
            )
        elif start > reached and end is not None:
            yield CatalogueError(
                f"nothing is said from {reached} to {start}", _at(row, low), f"Write {reached}."
            )
        reached = max(reached, int(getattr(row, high)))
    if end is not None and reached < end:
        yield CatalogueError(
            f"nothing is said from {reached} on", _at(ordered[-1], high), f"Write {end}."
        )
