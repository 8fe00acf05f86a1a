"""Where specimens stand, and what goes today."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from cubital.bench import Stored, discard_today, standing
from cubital.catalogue import shipped
from cubital.catalogue.model_bench import Discard, Retention, StorageKind
from cubital.catalogue.model_logbook import WasteStream
from cubital.catalogue.model_reception import Material
from cubital.errors import InputError
from tests.bench.small import NOW

DAY = timedelta(days=1)
SCHEMES = sorted({row.scheme for row in shipped().rows(WasteStream)})


def stored(code: str = "A", days_ago: float = 0, **more: object) -> Stored:
    """Serum in the refrigerator since so many days."""
    since = NOW - days_ago * DAY
    one = Stored(
        code=code, place="R1 shelf 2", storage="refrigerator", material="blood", matrix="serum",
        tests=("sodium",), since=since, fresh_from=since, last_used_at=since,
    )  # fmt: skip
    return replace(one, **more)  # type: ignore[arg-type]


def test_serum_stands_a_week_after_its_last_test() -> None:
    """By the table; the tests on it keep by theirs."""
    found = standing(stored(), shipped())
    assert found.keep_until == NOW + 7 * DAY
    assert found.reason.source == "retention-guide"
    row = next(
        r for r in shipped().stability("sodium")
        if (r.matrix, r.condition) == ("serum_plasma", "fridge")
    )  # fmt: skip
    assert found.tests_until == (("sodium", NOW + timedelta(hours=row.keeps_h)),)
    assert found.findings == ()


def test_what_a_person_said_holds() -> None:
    """Put away until a date."""
    found = standing(stored(until=NOW + 30 * DAY), shipped())
    assert found.keep_until == NOW + 30 * DAY


def test_a_store_that_is_wrong_for_a_test_asks() -> None:
    """Unseparated blood never goes into a freezer."""
    found = standing(
        stored(storage="freezer", matrix="whole_blood", tests=("haemoglobin",)), shipped()
    )
    assert [f.code for f in found.findings] == ["stored-wrongly"]


def test_no_figure_is_no_time() -> None:
    """A test that no table knows so."""
    found = standing(stored(material="urine", matrix="", tests=("urine-culture",)), shipped())
    assert found.tests_until == (("urine-culture", None),)


def test_today_goes_what_is_due_by_tonight() -> None:
    """A week and a day old, a week old by tonight; not six days old, not what is held."""
    due = discard_today(
        [
            stored("old", 8), stored("week", 7), stored("fresh", 6),
            stored("tonight", 6.5), stored("held", 9, hold=True),
            stored("said", 1, until=NOW - DAY), stored("urine", 3, material="urine", matrix=""),
        ],
        shipped(), scheme="who_2014", now=NOW,
    )  # fmt: skip
    assert [each.code for each in due] == ["old", "said", "tonight", "urine", "week"]
    assert {each.stream.stream for each in due} == {"infectious"}
    assert due[0].sentence == "old from R1 shelf 2: yellow bag (infectious)."


def test_cultures_are_treated_first() -> None:
    """Broth goes into the stream that is made harmless first."""
    broth = stored(matrix="broth", storage="rack", tests=("culture-blood",), days_ago=9)
    (due,) = discard_today([broth], shipped(), scheme="who_2014", now=NOW)
    assert due.stream.stream == "highly_infectious"
    assert "autoclave, then" in due.sentence


@pytest.mark.parametrize("scheme", SCHEMES)
def test_every_material_has_a_stream_in_every_scheme(scheme: str) -> None:
    """And a time that it is kept, and a store."""
    catalogue = shipped()
    streams = {row.stream for row in catalogue.rows(WasteStream) if row.scheme == scheme}
    kept = {row.material for row in catalogue.rows(Retention)}
    for material in catalogue.rows(Material):
        rows = [
            row
            for row in catalogue.rows(Discard)
            if row.scheme == scheme and row.material == material.code
        ]
        assert any(row.matrix == "" for row in rows), material.code
        assert {row.stream for row in rows} <= streams
        assert material.code in kept
    assert {row.condition for row in catalogue.rows(StorageKind)} == {"room", "fridge", "frozen"}


def test_what_the_catalogue_does_not_hold_is_refused() -> None:
    """A store, a material, a scheme."""
    for call in (
        lambda: standing(stored(storage="cellar"), shipped()),
        lambda: standing(stored(material="stone"), shipped()),
        lambda: discard_today([stored(days_ago=9)], shipped(), scheme="moon", now=NOW),
    ):
        with pytest.raises(InputError):
            call()
