"""What is left of a specimen, how it travelled, and how what was poured off is spun again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.bench import BenchSpecimen, clocks_of, expected_yield_ul, plan_runs, spin_of
from cubital.bench.remains import remains, travelled
from cubital.errors import InputError
from cubital.requisition.values import Patient, Requisition
from tests.bench.small import NOW, machines, ostrel, tube

WHO = Patient("P-1", "Koralt", haematocrit_percent=40.0)
ASKED = Requisition("R-1", WHO, (), NOW)


def left(specimen: BenchSpecimen, *served: str, **more: object) -> int:
    """What is left of a specimen of a patient with a haematocrit of 40 %."""
    return remains(ASKED, specimen, ostrel(), served=served, now=NOW, **more).left_ul  # type: ignore[arg-type]


def test_blood_is_left_while_it_is_unseparated():
    """A full tube without the blood that its test's serum takes."""
    fresh = tube("A", "gel-5")
    assert left(fresh) == 5000
    serum = ostrel().volume_ul("sodium")
    blood = 5000 - left(fresh, "sodium")
    assert expected_yield_ul(blood, 40, ostrel()) in (serum, serum + 1)


def test_serum_is_left_once_it_is_spun():
    """The expected yield without what was poured off and what its tests take."""
    spun = tube("A", "gel-5", spins=1, spun_at=NOW)
    whole = expected_yield_ul(5000, 40, ostrel())
    assert left(spun) == whole
    assert left(spun, "sodium", taken_off_ul=300) == whole - 300 - ostrel().volume_ul("sodium")
    assert left(spun, taken_off_ul=9000) == 0


def test_a_portion_is_serum_already():
    """Its own volume counts, not a yield of it."""
    poured = tube("A1", "gel-5", volume_ul=400, spins=1, spun_at=NOW)
    assert left(poured, "sodium", portion=True) == 400 - ostrel().volume_ul("sodium")


def test_whole_blood_takes_whole_blood():
    """A blood count takes its volume of the blood itself."""
    edta = tube("A", "edta-3", tests=("fbc",))
    assert left(edta, "fbc") == 3000 - ostrel().volume_ul("fbc")


@settings(max_examples=40)
@given(volume=st.integers(0, 20_000), off=st.integers(0, 20_000), spins=st.integers(0, 2))
def test_nothing_is_left_below_nothing_or_above_all(volume: int, off: int, spins: int):
    """Between nothing and what there is."""
    one = tube("A", volume_ul=volume, spins=spins, spun_at=NOW if spins else None)
    found = remains(ASKED, one, ostrel(), served=("sodium",), taken_off_ul=off, now=NOW)
    assert 0 <= found.left_ul <= found.whole_ul <= volume


def test_a_volume_that_nobody_knows_is_said():
    """No container and no volume: one sentence."""
    urine = replace(tube("U"), container="", material="urine")
    with pytest.raises(InputError, match="its volume is not known"):
        remains(ASKED, urine, ostrel(), served=(), now=NOW)


def test_how_it_travelled_follows_its_tests():
    """Ice where a test wants ice slurry, else warm or as it is."""
    catalogue = ostrel()
    assert travelled(("sodium",), catalogue) == "ambient"
    iced = [code for code in catalogue.tests
            if any(row.need == "ice_slurry" for row in catalogue.handling(code))]  # fmt: skip
    assert iced
    assert travelled(("sodium", iced[0]), catalogue) == "ice"


def test_what_was_poured_off_has_no_gel():
    """Serum from a gel tube may be spun again in its new tube; the gel tube itself never."""
    tests = ("sodium",)
    assert spin_of(ostrel(), "gel-5", tests).gel
    assert not spin_of(ostrel(), "gel-5", tests, portion=True).gel
    poured = tube("A1", "gel-5", volume_ul=400, spins=1, spun_at=NOW, separated=True,
                  again=True, portion=True)  # fmt: skip
    plan = plan_runs([poured], machines(), ostrel(), now=NOW)
    assert [run.specimens for run in plan.runs] == [("A1",)]
    assert plan.runs[0].seats[0].kind.startswith("portion tube")


def test_citrate_plasma_has_a_second_programme():
    """Poured off and spun again, it gets the programme that the table names so."""
    first = spin_of(ostrel(), "citrate-2.7", ("pt-inr",)).programme
    second = spin_of(ostrel(), "citrate-2.7", ("pt-inr",), portion=True).programme
    assert (first.code, second.code) == ("coagulation", "coagulation_second")
    poured = tube("A1", "citrate-2.7", ("pt-inr",), volume_ul=500, spins=1, spun_at=NOW,
                  separated=True, again=True, portion=True)  # fmt: skip
    assert clocks_of(poured, ostrel()).spin.programme == second
