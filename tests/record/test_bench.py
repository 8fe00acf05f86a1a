"""What the bench writes, on both databases: one run a machine, one portion a test, or nothing."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier

import pytest
from django.db import connections

from cubital.custody import Specimen
from cubital.desk.record import bench, bench_place, selectors_bench
from cubital.desk.record.bench import Load, Past, Poured
from cubital.desk.record.models import Person, Place, Shelf, SpecimenNow, SpinNow
from cubital.desk.record.rebuild import rebuild
from cubital.desk.record.receptions import Evidence, Registered, specimen_register
from cubital.errors import EventRefused, InputError
from cubital.reception import Decision

AT = datetime.now(UTC) - timedelta(minutes=30)


def here() -> tuple[Place, Person]:
    """A place, and somebody at its bench."""
    place = Place.objects.order_by("pk")[0]
    return place, Person.objects.filter(role="bench")[0]


def specimens(*codes: str) -> list[Specimen]:
    """Accepted specimens of these numbers."""
    place, by = here()
    for code in codes:
        specimen_register(
            what=Registered(code, "blood", "P-1", "", "gel-5", ("sodium", "tsh"), AT),
            accept=Decision(accept=("sodium", "tsh")), looked={}, seen=Evidence(),
            place=place, by=by, now=AT,
        )  # fmt: skip
    return selectors_bench.specimens_of(codes)


def load(*codes: str, centrifuge: str = "big") -> Load:
    """A loaded rotor."""
    return Load(centrifuge, "serum", codes, tuple(range(1, len(codes) + 1)), (13,), 3250, 2008, 600)


def begin(*codes: str, at: datetime | None = None) -> str:
    """A run begins."""
    place, by = here()
    now = datetime.now(UTC)
    return bench.spin_begin(load=load(*codes), place=place, by=by, now=now, at=at or now)


def end(code: str, *, done: bool = True, note: str = "") -> None:
    """A run ends."""
    place, by = here()
    run = selectors_bench.run_by_code(code)
    now = datetime.now(UTC)
    bench.spin_end(spin=run.spin, done=done, note=note, place=place, by=by, now=now, at=now)


def state(code: str) -> str:
    """How a specimen stands."""
    return SpecimenNow.objects.get(code=code).state


# ---------------------------------------------------------------- runs


def test_a_run_comes_back_with_its_places(database: str) -> None:
    """What was written down of the rotor is read back; the tubes are in it, then spun."""
    specimens("S-1", "S-2")
    code = begin("S-1", "S-2")
    (run,) = selectors_bench.runs_on(here()[0])
    assert run.spin.code == code
    assert run.event.payload["places"] == [1, 2]
    assert run.event.payload["balance"] == [13]
    assert state("S-1") == "spinning"
    end(code)
    assert state("S-2") == "spun"
    assert selectors_bench.runs_on(here()[0]) == []
    (over,) = selectors_bench.runs_over(here()[0], AT)
    assert over.spin.code == code


def test_a_machine_takes_one_run_at_a_time(database: str) -> None:
    """The second is refused, whoever sends it; after the first it may begin."""
    specimens("S-1", "S-2")
    code = begin("S-1")
    with pytest.raises(InputError, match="runs already"):
        begin("S-2")
    end(code)
    assert begin("S-2") != code


def test_a_specimen_is_in_one_rotor(database: str) -> None:
    """The record refuses it in a second machine, and stores nothing of that run."""
    specimens("S-1", "S-2")
    begin("S-1")
    place, by = here()
    now = datetime.now(UTC)
    with pytest.raises(EventRefused, match="spinning"):
        bench.spin_begin(load=load("S-2", "S-1", centrifuge="small"), place=place, by=by, now=now,
                         at=now)  # fmt: skip
    assert SpinNow.objects.count() == 1
    assert state("S-2") == "accepted"


def test_times_must_be_possible(database: str) -> None:
    """Not in the future, not before it began, and a broken run says why."""
    specimens("S-1")
    with pytest.raises(InputError, match="still to come"):
        begin("S-1", at=datetime.now(UTC) + timedelta(minutes=5))
    code = begin("S-1")
    with pytest.raises(InputError, match="Why did it break off"):
        end(code, done=False)
    end(code, done=False, note="power cut")
    assert state("S-1") == "accepted"


# ---------------------------------------------------------------- portions


def pour(*portions: Poured) -> tuple[str, ...]:
    """Make portions of S-1."""
    place, by = here()
    (parent,) = selectors_bench.specimens_of(["S-1"])
    now = datetime.now(UTC)
    return bench.portions_make(parent=parent, material="serum", poured=portions, place=place,
                               by=by, now=now, day=now.date())  # fmt: skip


def test_portions_are_made_together_or_not_at_all(database: str) -> None:
    """An empty one, one for nothing, or none: no number is spent and nothing is written."""
    specimens("S-1")
    for wrong in ((), (Poured(0, ("tsh",)),), (Poured(100, ("tsh",)), Poured(90, ()))):
        with pytest.raises(InputError):
            pour(*wrong)
    one, two = pour(Poured(300, ("tsh",)), Poured(200, ("sodium",)))
    assert int(two[8:12]) == int(one[8:12]) + 1
    assert one[8:12] == "0001"
    assert {state(one), state("S-1")} == {"aliquoted"}
    assert [each.code for each in selectors_bench.unconfirmed(here()[0])] == [one, two]


def test_two_who_pour_at_once_make_one_set(database: str) -> None:
    """Of two at the same moment one makes the portion, and the other is told who serves it."""
    specimens("S-1")
    together = Barrier(2)

    def one() -> object:
        try:
            together.wait(10)
            return pour(Poured(300, ("tsh",)))
        except InputError as refused:
            return refused
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        answers = [future.result() for future in [pool.submit(one), pool.submit(one)]]
    refused = [each for each in answers if isinstance(each, InputError)]
    assert len(refused) == 1
    assert "serves tsh already" in str(refused[0])
    assert SpecimenNow.objects.filter(parent="S-1").count() == 1


def test_what_was_thrown_away_may_be_poured_again(database: str) -> None:
    """A portion that is gone serves nothing any more."""
    specimens("S-1")
    (first,) = pour(Poured(300, ("tsh",)))
    place, by = here()
    bench.specimens_discard(streams=[(first, "plastic")], place=place, by=by,
                            now=datetime.now(UTC), note="spilt")  # fmt: skip
    assert selectors_bench.portions_gone(["S-1"]) == {first}
    assert pour(Poured(250, ("tsh",))) != (first,)


# ---------------------------------------------------------------- stores, tests, boxes


def test_stores_remember_shelf_condition_and_day(database: str) -> None:
    """Put away, moved, taken out; past a rule only with a reason."""
    specimens("S-1")
    place, by = here()
    shelf = bench_place.shelf_add(place=place, code="FR-A", name="Fridge", kind="refrigerator",
                                  kinds={"refrigerator"})  # fmt: skip
    now = datetime.now(UTC)
    until = now + timedelta(days=9)
    with pytest.raises(InputError, match="A rule asks"):
        bench.specimen_store(code="S-1", shelf=shelf, condition="fridge", place=place, by=by,
                             now=now, past=Past("stored-wrongly"))  # fmt: skip
    bench.specimen_store(code="S-1", shelf=shelf, condition="fridge", place=place, by=by, now=now,
                         until=until, past=Past("stored-wrongly", "the rack is full"))  # fmt: skip
    events = selectors_bench.events_by_subject(["specimen:S-1"])["specimen:S-1"]
    assert [event.kind for event in events][-2:] == ["override_given", "specimen_stored"]
    assert events[-1].payload["storage"] == "FR-A"
    assert [one.code for one in selectors_bench.stored_at(place)] == ["S-1"]
    bench.specimen_take_out(code="S-1", place=place, by=by, now=now)
    assert state("S-1") == "accepted"
    with pytest.raises(EventRefused):
        bench.specimen_take_out(code="S-1", place=place, by=by, now=now)


def test_tests_are_added_to_all_or_to_none(database: str) -> None:
    """One specimen that is not there: none gets its test."""
    specimens("S-1")
    place, by = here()
    now = datetime.now(UTC)
    with pytest.raises(EventRefused, match="no specimen S-9"):
        bench.tests_add(tests=[("S-1", ["urea"]), ("S-9", ["alt"])], past=Past(), place=place,
                        by=by, now=now)  # fmt: skip
    with pytest.raises(InputError, match="No test is added"):
        bench.tests_add(tests=[], past=Past(), place=place, by=by, now=now)
    events = selectors_bench.events_by_subject(["specimen:S-1"])["specimen:S-1"]
    assert "tests_added" not in [event.kind for event in events]


def test_a_shelf_is_known_once_whatever_its_letters(database: str) -> None:
    """Large or small, one code is one shelf of a place; another place may have the same."""
    place, _ = here()
    wanted = {"code": "FR-A", "name": "Fridge", "kind": "refrigerator", "kinds": {"refrigerator"}}
    bench_place.shelf_add(place=place, **wanted)
    with pytest.raises(InputError, match="already"):
        bench_place.shelf_add(place=place, **{**wanted, "code": "fr-a"})
    other = Place.objects.exclude(pk=place.pk).first()
    if other is not None:
        bench_place.shelf_add(place=other, **wanted)
    assert Shelf.objects.filter(place=place).count() == 1


def test_the_record_made_again_holds_the_same_bench(database: str) -> None:
    """Runs, portions and stores are folded out of the events alone."""
    specimens("S-1", "S-2")
    end(begin("S-1", "S-2"))
    pour(Poured(300, ("tsh",)))
    before = list(SpecimenNow.objects.order_by("code").values())
    rebuild()
    assert list(SpecimenNow.objects.order_by("code").values()) == before
