"""Runs of a real bench: seats, what is never spun, and planning again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.bench import BenchSpecimen, Machine, RunPlan, clocks_of, is_even, plan_runs, replan
from cubital.bench.waiting import kind_of
from cubital.errors import InputError
from cubital.finding import Severity
from tests.bench.small import NOW, PRACTICE, machines, minutes, ostrel, rotor, tube

VALLEY = [Machine(rotor("valley-24"))]


def planned(*specimens: BenchSpecimen, on: list[Machine] | None = None) -> RunPlan:
    """The plan of a morning."""
    return plan_runs(specimens, machines() if on is None else on, ostrel(), now=NOW)


def test_six_gel_tubes_share_a_run_without_a_balance_tube() -> None:
    """They wait for the last to clot; six of 24 places balance."""
    plan = planned(*(tube(f"G{n}", drawn=-40 + n) for n in range(6)), on=VALLEY)
    (run,) = plan.runs
    assert (run.centrifuge, run.speed_rpm, run.rcf_g, run.minutes) == ("valley-24", 3250, 2008, 10)
    assert run.start == NOW
    assert run.end == NOW + minutes(12)
    assert sorted(run.specimens) == [f"G{n}" for n in range(6)]
    assert all(seat.specimen for seat in run.seats)
    assert plan.proved == 3
    assert (plan.late, plan.late_bound, plan.runs_bound) == ((), 0, 1)


def test_an_odd_tube_gets_a_named_balance_tube() -> None:
    """One tube of 24: opposite it a balance tube of its kind and fill."""
    (run,) = planned(tube("A", volume_ul=4800), on=VALLEY).runs
    assert [(seat.place, seat.specimen) for seat in run.seats] == [(1, "A"), (13, "")]
    assert {seat.kind for seat in run.seats} == {"serum gel tube 5 mL, 4.5 to 5.0 mL"}


def test_tubes_of_other_fill_do_not_balance_each_other() -> None:
    """A full and a short tube of one kind: two pairs."""
    (run,) = planned(tube("A", volume_ul=5000), tube("B", volume_ul=3000), on=VALLEY).runs
    assert len(run.seats) == 4
    for kind in {seat.kind for seat in run.seats}:
        assert is_even([seat.place for seat in run.seats if seat.kind == kind], 24)


def test_families_run_apart_and_their_members_together() -> None:
    """Serum and drug levels share a run, coagulation has its own."""
    plan = planned(
        tube("S"), tube("D", "plain-6", ("digoxin",)), tube("C", "citrate-2.7", ("pt-inr",)),
        on=VALLEY,
    )  # fmt: skip
    assert sorted(run.programmes for run in plan.runs) == [
        ("coagulation",),
        ("serum", "drug_plain"),
    ]


def test_the_small_machine_takes_what_it_can() -> None:
    """Gel tubes want buckets that swing out: the fixed angle gets the citrate."""
    plan = planned(tube("S"), tube("C", "citrate-2.7", ("aptt-heparin",), drawn=-30))
    assert {run.centrifuge: run.programmes for run in plan.runs} == {
        "valley-24": ("serum",), "pass-12": ("coagulation",),
    }  # fmt: skip


def test_common_practice_sets_speeds() -> None:
    """3500 turns, whatever force that makes on the rotor."""
    plan = plan_runs([tube("S")], [Machine(rotor("pass-12"))], ostrel(), PRACTICE, now=NOW)
    assert [(run.speed_rpm, run.rcf_g) for run in plan.runs] == [(3500, 1178)]


def test_a_count_is_never_spun_and_what_is_spun_is_left_alone() -> None:
    """No run, and nothing said: nobody asked for one."""
    plan = planned(
        tube("count", "edta-3", ("fbc",)),
        tube("done", spins=1, spun_at=NOW - minutes(5), separated=True),
        tube("turning", spinning=True),
    )
    assert (plan.runs, plan.not_planned) == ((), ())


def test_a_gel_tube_is_never_spun_twice() -> None:
    """Asked for a second spin, it is refused with what to do instead; a plain tube may."""
    again = {"spins": 1, "spun_at": NOW - minutes(5), "separated": True, "again": True}
    plan = planned(tube("gel", **again), tube("plain", "plain-6", **again))
    assert [(each.specimen, each.finding.code) for each in plan.not_planned] == [
        ("gel", "gel-respin")
    ]
    assert plan.not_planned[0].finding.severity is Severity.STOP
    assert "new tube" in plan.not_planned[0].finding.sentence
    assert [run.specimens for run in plan.runs] == [("plain",)]


def test_a_count_that_somebody_wants_spun_is_refused() -> None:
    """Nobody overrides it."""
    plan = planned(tube("count", "edta-3", ("fbc",), again=True))
    (refused,) = plan.not_planned
    assert (refused.finding.code, refused.finding.severity) == ("spin-never", Severity.STOP)
    assert plan.runs == ()


def test_no_machine_is_told_with_the_reasons() -> None:
    """A cold programme where nothing is cooled; any programme where all is broken."""
    acth = tube("A", "edta-3", ("acth",), drawn=-20)
    plan = planned(acth, on=[Machine(rotor("pass-12"))])
    assert "cooled rotor" in plan.not_planned[0].finding.sentence
    broken = planned(acth, on=[Machine(rotor("valley-24"), broken=True)])
    assert "None is in order" in broken.not_planned[0].finding.sentence
    assert broken.findings[0].severity is Severity.ASK


def test_past_due_is_told_with_its_tests() -> None:
    """Two cold tubes and a busy machine: what comes out too late is named."""
    busy = [Machine(rotor("valley-24"), busy_until=NOW + minutes(30))]
    plan = planned(tube("A", "edta-3", ("acth",), drawn=-30), on=busy)
    assert plan.late == ("A",)
    (finding,) = plan.findings
    assert finding.code == "spin-late"
    assert "comes out at 09:42, past 09:30: too late for acth" in finding.sentence
    assert plan.late_bound == 1


def test_a_lost_test_does_not_hide_the_rest() -> None:
    """Potassium is gone; the tube is due for sodium, and in time."""
    plan = planned(tube("A", tests=("potassium", "sodium"), drawn=-70), on=VALLEY)
    assert plan.late == ()
    assert plan.runs[0].start == NOW


def test_seconds_are_rounded_to_the_safe_side() -> None:
    """Ready half a minute past nine it begins at one past; half a minute over is past due."""
    plan = planned(tube("A", drawn=-40, here=0.5), on=VALLEY)
    assert plan.runs[0].start == NOW + minutes(1)
    for drawn, late in ((-48, ()), (-48.5, ("B",))):
        aptt = tube("B", "edta-3", ("acth",), drawn=drawn)  # an hour; the run takes twelve minutes
        assert planned(aptt, on=VALLEY).late == late


def test_a_test_that_can_just_be_saved_is_due() -> None:
    """Potassium's hour ends with the run: it counts, and sodium's two hours do not replace it."""
    one = tube("A", tests=("potassium", "sodium"), drawn=-48)
    plan = planned(one, tube("B", drawn=-29, here=1), on=VALLEY)
    assert plan.late == ()
    assert plan.runs[0].start == NOW
    assert len(plan.runs) == 2


def test_what_is_coming_is_waited_for_when_that_saves_a_run() -> None:
    """A box in 20 min: one run for both."""
    plan = planned(tube("A"), tube("B", drawn=-30, here=20), on=VALLEY)
    assert [(run.start, sorted(run.specimens)) for run in plan.runs] == [
        (NOW + minutes(20), ["A", "B"])
    ]


# ------------------------------------------------------------------ planning again


def test_a_late_run_moves_the_rest() -> None:
    """Begun ten minutes late, it ends so; the machine's next run begins after it."""
    first = tube("A", "edta-3", ("acth",), drawn=-20)
    second = tube("B", drawn=-40)
    before = planned(first, second, on=VALLEY)
    assert [run.programmes for run in before.runs] == [("cold",), ("serum",)]
    later = NOW + minutes(14)
    after = replan(
        before, [first, second], VALLEY, ostrel(), now=later, begun={1: NOW + minutes(10)}
    )
    assert [run.number for run in after.runs] == [1, 2]
    assert (after.runs[0].begun, after.runs[0].end) == (True, NOW + minutes(22))
    assert after.runs[1].start == NOW + minutes(22)
    assert after.runs[1].specimens == ("B",)


def test_a_run_that_is_over_is_not_kept() -> None:
    """It ended this very minute; its machine is free."""
    before = planned(tube("A"), on=VALLEY)
    after = replan(before, [], VALLEY, ostrel(), now=NOW + minutes(12), begun={1: NOW})
    assert after.runs == ()


def test_a_run_that_did_not_begin_is_planned_again() -> None:
    """Nothing began; all is planned from now."""
    before = planned(tube("A"), on=VALLEY)
    after = replan(before, [tube("A")], VALLEY, ostrel(), now=NOW + minutes(7), begun={})
    assert [run.start for run in after.runs] == [NOW + minutes(7)]


def test_a_broken_machine_gives_its_tubes_back() -> None:
    """Its run is stopped, and what was in it goes elsewhere."""
    citrate = tube("C", "citrate-2.7", ("aptt-heparin",), drawn=-20)
    before = planned(citrate, on=[Machine(rotor("pass-12"))])
    now = [Machine(rotor("pass-12"), broken=True), Machine(rotor("valley-24"))]
    after = replan(before, [citrate], now, ostrel(), now=NOW + minutes(5), begun={1: NOW})
    assert [(run.centrifuge, run.begun) for run in after.runs] == [("valley-24", False)]


def test_what_cannot_be_is_refused() -> None:
    """Two of a number, a rotor of one place, an unknown run, a run in the future."""
    with pytest.raises(InputError, match="there twice"):
        planned(tube("A"), tube("A"))
    with pytest.raises(InputError, match="Two machines"):
        planned(tube("A"), on=[*VALLEY, *VALLEY])
    with pytest.raises(InputError, match="1 places cannot"):
        planned(tube("A"), on=[Machine(replace(rotor("valley-24"), places=1))])
    with pytest.raises(InputError, match="no time zone"):
        plan_runs([], VALLEY, ostrel(), now=NOW.replace(tzinfo=None))
    before = planned(tube("A"), on=VALLEY)
    for begun, words in (({9: NOW}, "no run 9"), ({1: NOW + minutes(1)}, "in the future")):
        with pytest.raises(InputError, match=words):
            replan(before, [tube("A")], VALLEY, ostrel(), now=NOW, begun=begun)


# ------------------------------------------------------------------ every plan


KINDS = (
    ("gel-5", ("sodium",)), ("gel-5", ("potassium",)), ("gel-3.5", ("tsh",)),
    ("plain-6", ("digoxin",)), ("citrate-2.7", ("pt-inr",)), ("citrate-1.8", ("aptt-heparin",)),
    ("edta-3", ("acth",)), ("edta-3", ("fbc",)), ("li-heparin-4", ("sodium",)),
)  # fmt: skip
MANY = st.lists(
    st.tuples(
        st.sampled_from(KINDS),
        st.integers(0, 90),
        st.integers(-20, 90),
        st.sampled_from([None, 0.6]),
    ),
    max_size=14,
)


@settings(max_examples=40, deadline=None)
@given(MANY, st.integers(0, 25))
def test_every_plan_keeps_the_rules(drawn: list, busy: int) -> None:  # type: ignore[type-arg]
    """
    Nothing before it is ready, no family mixed, nothing over capacity, every run balances.

    Each specimen that waits is in exactly one run or named as not planned; counts are in none.
    """
    specimens = {}
    for number, ((container, tests), age, wait, fill) in enumerate(drawn):
        nominal = ostrel().containers[container].nominal_ul
        one = tube(
            f"S{number}", container, tests, drawn=wait - age, here=wait,
            volume_ul=None if fill is None else int(fill * nominal),
        )  # fmt: skip
        specimens[one.code] = one
    on = [Machine(rotor("valley-24"), NOW + minutes(busy)), Machine(rotor("pass-12"))]
    plan = planned(*specimens.values(), on=on)
    clocks = {code: clocks_of(one, ostrel()) for code, one in specimens.items()}
    ready = {code for code, one in clocks.items() if one.ready_at is not None}
    served = [code for run in plan.runs for code in run.specimens]
    assert len(served) == len(set(served))
    assert set(served) | {each.specimen for each in plan.not_planned} == ready
    free = {"valley-24": NOW + minutes(busy), "pass-12": NOW}
    for run in plan.runs:
        places = rotor(run.centrifuge).places
        taken = [seat.place for seat in run.seats]
        assert len(set(taken)) == len(taken) <= places
        assert all(1 <= place <= places for place in taken)
        assert run.start >= free[run.centrifuge]
        free[run.centrifuge] = run.end
        families = {clocks[code].spin.programme.family for code in run.specimens}  # type: ignore[union-attr]
        assert len(families) == 1
        for kind in {seat.kind for seat in run.seats}:
            assert is_even([seat.place for seat in run.seats if seat.kind == kind], places)
        for seat in run.seats:
            if seat.specimen:
                assert clocks[seat.specimen].ready_at <= run.start  # type: ignore[operator]
                assert seat.kind == kind_of(specimens[seat.specimen], ostrel())
    assert plan.late_bound <= len(plan.late)
    assert plan.runs_bound <= len(plan.runs)
    assert {f.subject for f in plan.findings if f.code == "spin-late"} == set(plan.late)
