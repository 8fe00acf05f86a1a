"""The planning of runs in whole minutes: sound, least, and bounded."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

import pytest
from benchmarks.spin_cases import day, hour
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.bench.balance import fits
from cubital.bench.spin_bounds import late_bound
from cubital.bench.spin_family import Family, lowest
from cubital.bench.spin_layers import rest_of, within
from cubital.bench.spin_plan import plan
from cubital.bench.spin_question import NEVER, Answer, Job, Question, Rotor, Spun, faults, score_of
from cubital.bench.spin_search import Effort, Limits, Search, State, undominated


def least(question: Question) -> tuple[int, int, int]:
    """The best score by trying every set of jobs as the next run of every rotor."""
    jobs, rotors = question.jobs, question.rotors

    @cache
    def rest(free: tuple[int, ...], left: frozenset[int]) -> tuple[int, int, int]:
        if not left:
            return 0, 0, 0
        found = [
            tuple(map(sum, zip(cost, rest(after, left - taken), strict=True)))
            for cost, after, taken in nexts(free, left)
        ]
        return min(found, default=(NEVER, NEVER, NEVER))  # type: ignore[return-value]

    def nexts(free: tuple[int, ...], left: frozenset[int]):  # type: ignore[no-untyped-def]
        for size in range(1, len(left) + 1):
            for chosen in itertools.combinations(sorted(left), size):
                mine = [jobs[at] for at in chosen]
                kinds = [job.kind for job in mine]
                counts = [kinds.count(kind) for kind in sorted(set(kinds))]
                if len({job.family for job in mine}) > 1:
                    continue
                for at, rotor in enumerate(rotors):
                    length = rotor.minutes[mine[0].family]
                    if not length or not fits(counts, rotor.places):
                        continue
                    start = max([free[at], *(job.release for job in mine)])
                    late = sum(start + length > job.due for job in mine)
                    waiting = sum(start - job.release for job in mine)
                    after = (*free[:at], start + length, *free[at + 1 :])
                    yield (late, 1, waiting), after, frozenset(chosen)

    return rest(tuple(rotor.free for rotor in rotors), frozenset(range(len(jobs))))


@st.composite
def questions(draw: st.DrawFn) -> Question:
    """Up to five jobs of up to two families and kinds on one or two small rotors."""
    families = draw(st.integers(1, 2))
    job = st.builds(
        lambda family, kind, release, length: Job(family, kind, release, release + length),
        st.integers(0, families - 1),
        st.integers(0, 1),
        st.integers(-5, 12),
        st.integers(3, 25),
    )
    jobs = draw(st.lists(job, min_size=1, max_size=5))
    first = Rotor(
        draw(st.sampled_from([2, 4, 6])),
        draw(st.integers(0, 4)),
        tuple(draw(st.integers(4, 9)) for _ in range(families)),
    )
    second = Rotor(
        draw(st.sampled_from([2, 4, 6])),
        draw(st.integers(0, 4)),
        tuple(draw(st.sampled_from([0, 5, 8])) for _ in range(families)),
    )
    twin = replace(first, free=draw(st.integers(0, 9)))
    rotors = draw(st.sampled_from([(first,), (first, second), (first, twin)]))
    return Question(tuple(jobs), rotors)


@settings(max_examples=60, deadline=None)
@given(questions())
def test_small_questions_are_answered_with_the_least_there_is(question: Question) -> None:
    """Past due, runs and waiting are those of trying everything; the bounds hold."""
    answer = plan(question)
    assert faults(question, answer.runs) == []
    assert answer.score == score_of(question, answer.runs) == least(question)
    assert answer.proved == 3
    assert answer.late_bound == answer.score[0]
    assert answer.runs_bound == answer.score[1]


@settings(max_examples=40, deadline=None)
@given(questions())
def test_the_bounds_alone_are_never_above_the_least(question: Question) -> None:
    """The bound on jobs past due, before any search."""
    families = Search(question).families
    assert late_bound(question, families) <= least(question)[0]


@settings(max_examples=80, deadline=None)
@given(questions())
def test_the_search_alone_finds_the_least_and_proves_that_there_is_no_less(
    question: Question,
) -> None:
    """Within the least past due and runs it finds the least waiting; below either, nothing."""
    late, runs, waiting = least(question)
    effort = Effort(nodes=10**6)
    found = within(Search(question), Limits(late, runs), effort)
    assert found.runs is not None
    assert found.exhausted
    assert score_of(question, found.runs) == (late, runs, waiting)
    for limits in (
        Limits(late - 1), Limits(late, runs - 1), Limits(late, runs, waiting),
    ):  # fmt: skip
        none = within(Search(question), limits, effort)
        assert none.runs is None
        assert none.exhausted
    rest = rest_of(Search(question), Search(question).begin, Limits(late, runs), 0)
    assert rest is not None
    assert rest[0] <= runs
    assert rest[1] <= waiting


def test_a_search_that_left_something_out_proves_nothing() -> None:
    """With next to no effort its "no" is not a proof, and the plan says so."""
    question = hour(34)
    answer = plan(question)
    assert answer.proved == 3
    limits = Limits(*answer.score)  # less waiting
    assert within(Search(question), limits, Effort(nodes=10**6)).exhausted
    assert not within(Search(question), limits, Effort(nodes=1)).exhausted
    assert not within(Search(question), limits, Effort(nodes=10**6, few=True)).exhausted
    assert plan(question, nodes=1).proved < 3


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_a_busy_hour_has_a_sound_plan(seed: int) -> None:
    """Nothing before its release, no family mixed, every run balances, each job once."""
    question = hour(seed)
    answer = plan(question, nodes=8000)
    assert faults(question, answer.runs) == []
    assert answer.score == score_of(question, answer.runs)
    assert answer.late_bound <= answer.score[0]
    assert answer.runs_bound <= answer.score[1]


@pytest.mark.parametrize(("seed", "jobs"), [(0, 100), (1, 200), (2, 500)])
def test_a_busy_day_has_a_sound_plan_within_its_bounds(seed: int, jobs: int) -> None:
    """Hundreds of jobs: sound, and the bounds are where bounds belong."""
    question = day(seed, jobs)
    answer = plan(question)
    assert faults(question, answer.runs) == []
    assert answer.late_bound <= answer.score[0]
    assert answer.runs_bound <= answer.score[1] <= 2 * answer.runs_bound
    assert answer.nodes < 100_000


def test_more_effort_never_answers_worse() -> None:
    """The same question with little and with much effort; the bounds of one hold for the other."""
    for seed in range(6):
        little, much = plan(hour(seed), nodes=200), plan(hour(seed))
        assert much.score <= little.score
        assert little.late_bound <= much.score[0]
        if much.score[0] <= little.score[0]:
            assert little.runs_bound <= much.score[1]


def test_the_same_question_has_the_same_answer() -> None:
    """No chance and no clock."""
    assert plan(hour(7)) == plan(hour(7))


def test_it_waits_for_one_more_tube_when_that_saves_a_run() -> None:
    """Two tubes ten minutes apart and time enough: one run."""
    question = Question((Job(0, 0, 0, 60), Job(0, 0, 10, 60)), (Rotor(4, 0, (15,)),))
    assert plan(question).runs == (Spun(0, 0, 10, (0, 1)),)


def test_it_does_not_wait_when_a_tube_would_be_lost() -> None:
    """The first tube is due before the second comes."""
    question = Question((Job(0, 0, 0, 20), Job(0, 0, 10, 60)), (Rotor(4, 0, (15,)),))
    assert plan(question).score == (0, 2, 5)


def test_a_slow_rotor_does_not_take_what_a_fast_one_saves() -> None:
    """Past due on the slow rotor at once, in time on the fast one a little later."""
    question = Question(
        (Job(0, 0, 0, 20), Job(0, 0, 0, 40)), (Rotor(2, 0, (30,)), Rotor(2, 8, (12,)))
    )
    assert plan(question).score[0] == 0


def test_some_go_with_the_slow_rotor_and_the_rest_wait_for_the_fast_one() -> None:
    """Three that only the fast rotor saves and it takes two: the third goes along at once."""
    question = Question(
        (Job(0, 0, 0, 100), Job(0, 0, 0, 15), Job(0, 0, 0, 15), Job(0, 0, 0, 15)),
        (Rotor(6, 0, (30,)), Rotor(2, 5, (10,))),
    )
    assert plan(question).score == (1, 2, 10)


def test_a_slow_run_may_leave_any_number_of_doubtful_jobs_to_a_fast_one() -> None:
    """Past due in this run, to be saved by the other rotor: none, one, two or all go along."""
    jobs = (Job(0, 0, 0, 100), Job(0, 0, 0, 15), Job(0, 0, 0, 15), Job(0, 0, 0, 15))
    question = Question(jobs, (Rotor(6, 0, (30,)), Rotor(2, 5, (10,))))
    search = Search(question)
    (family,) = search.families
    tried = search.loads.sets(family, family.all, 0, 0, few=False)
    assert sorted((load.number, load.late) for load in tried) == [(1, 0), (2, 1), (3, 2), (4, 3)]


def test_a_state_goes_only_when_another_is_as_good_in_all_respects() -> None:
    """Same jobs left: later, more past due and more waiting goes; any one better stays."""
    best = State((0, 5), (3,), 1)
    later, less_late, sooner = (
        State((1, 5), (3,), 1),
        State((0, 5), (3,), 0),
        State((0, 4), (3,), 1),
    )
    other = State((9, 9), (1,), 9)
    layer = {best: (10, None), later: (10, None), less_late: (12, None), sooner: (11, None)}
    kept = undominated({**layer, other: (99, None)})
    assert set(kept) == {best, less_late, sooner, other}
    assert set(undominated({best: (10, None), less_late: (10, None)})) == {less_late}


def test_runs_are_proved_only_when_fewer_are_refuted() -> None:
    """With little effort the bound stays below, and the plan does not claim its runs."""
    much, little = plan(hour(47)), plan(hour(47), nodes=50)
    assert (much.proved, much.runs_bound) == (3, much.score[1])
    assert little.proved == 1
    assert little.runs_bound < little.score[1]


def test_the_bound_on_past_due_counts_runs_and_places() -> None:
    """Time for one run of two families; time for four long jobs beside a short one; boxes apart."""

    def bound(jobs: list[Job], minutes: tuple[int, ...]) -> int:
        question = Question(tuple(jobs), (Rotor(4, 0, minutes),))
        return late_bound(question, Search(question).families)

    assert bound([Job(0, 0, 0, 15), Job(1, 0, 0, 15)], (10, 10)) == 1
    assert bound([Job(0, 0, 0, 20)] + [Job(1, 0, 0, 20)] * 8, (5, 20)) == 5
    apart = [Job(0, 0, at, at + 10) for at in (0, 40) for _ in range(6)]
    assert bound(apart, (10,)) == 4
    assert bound([Job(0, 0, 0, 9), Job(0, 0, 0)], (10,)) == 1


def test_families_are_not_mixed_and_kinds_need_places() -> None:
    """Two families: two runs; three kinds of one tube each need six places."""
    two = Question((Job(0, 0, 0), Job(1, 0, 0)), (Rotor(8, 0, (10, 10)),))
    assert plan(two).score[:2] == (0, 2)
    three = (Job(0, 0, 0), Job(0, 1, 0), Job(0, 2, 0))
    assert plan(Question(three, (Rotor(6, 0, (10,)),))).score[1] == 1
    assert plan(Question(three, (Rotor(4, 0, (10,)),))).score[1] == 2


def test_nothing_to_spin() -> None:
    """No jobs, no runs, all proved."""
    assert plan(Question((), (Rotor(4, 0, ()),))) == Answer((), (0, 0, 0), 0, 0, 3, 0)


def test_faults_are_seen() -> None:
    """Each way in which a plan can be wrong is told."""
    question = Question(
        (Job(0, 0, 5), Job(1, 0, 0), Job(0, 1, 0)), (Rotor(2, 3, (10, 0)), Rotor(2, 0, (10, 10)))
    )
    sound = (Spun(0, 0, 5, (0,)), Spun(1, 1, 0, (1,)), Spun(1, 0, 10, (2,)))
    assert faults(question, sound) == []

    def of(*runs: Spun) -> set[str]:
        return set(faults(question, runs))

    assert "not every job runs exactly once" in of(*sound[:2])
    assert "a run before its rotor or a job is ready" in of(Spun(0, 0, 3, (0,)), *sound[1:])
    assert "a run before its rotor or a job is ready" in of(*sound[:2], Spun(0, 0, 2, (2,)))
    assert "a family where it cannot run" in of(sound[0], Spun(0, 1, 20, (1,)), sound[2])
    assert "a family where it cannot run" in of(Spun(1, 1, 20, (0, 1)), sound[2])
    assert "two runs of one rotor at once" in of(*sound[:2], Spun(1, 0, 9, (2,)))
    assert "a run that does not balance" in of(Spun(1, 0, 20, (0, 2)), sound[1])
    assert "an empty run" in of(*sound, Spun(0, 0, 40, ()))


def test_a_family_counts_its_jobs_as_bits() -> None:
    """Released by, in time at, sums of releases, by the definition of each."""
    question = hour(3)
    for index in range(max(job.family for job in question.jobs) + 1):
        family = Family(question, index)
        jobs = [question.jobs[at] for at in family.jobs]
        for moment in range(-40, 200, 7):
            released = family.released(moment)
            in_time = family.in_time(moment)
            assert family.members(released) == tuple(
                at for at in family.jobs if question.jobs[at].release <= moment
            )
            assert family.members(in_time) == tuple(
                at for at in family.jobs if question.jobs[at].due >= moment
            )
            assert family.release_sum(released) == sum(
                job.release for job in jobs if job.release <= moment
            )


def test_lowest_bits() -> None:
    """So many of them, or all."""
    assert lowest(0b101101, 2) == 0b101
    assert lowest(0b101101, 9) == 0b101101
    assert lowest(0, 3) == 0
