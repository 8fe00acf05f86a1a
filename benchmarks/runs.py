"""
Centrifuge runs: our search beside CP-SAT for a busy hour, and beside its bounds for a busy day.

``python -m benchmarks.runs`` prints both tables and writes ``benchmarks/results/runs.md``.
"""

from __future__ import annotations

import statistics
import time
from dataclasses import dataclass
from pathlib import Path

from tests.bench.cpsat import Optimum, optimum

from benchmarks.spin_cases import day, hour
from cubital.bench.spin_plan import plan
from cubital.bench.spin_question import Answer, Question, faults

HOURS = 50
DAYS = (100, 200, 300, 400, 500)
DAYS_EACH = 4
CP_SAT_SECONDS = 20.0
RESULTS = Path(__file__).parent / "results" / "runs.md"
GOALS = ("past due", "runs", "waiting")


@dataclass(frozen=True)
class Hour:
    """One question of an hour, answered twice."""

    question: Question
    answer: Answer
    seconds: float
    other: Optimum

    @property
    def agrees(self) -> int:
        """Objectives, from the first on, in which we are equal to what CP-SAT proved."""
        count = 0
        for ours, theirs in zip(
            self.answer.score, self.other.values[: self.other.proved], strict=False
        ):
            if ours != theirs:
                return count
            count += 1
        return count

    @property
    def differs(self) -> bool:
        """Whether CP-SAT proved a value that is not ours."""
        return self.agrees < self.other.proved


def timed(question: Question) -> tuple[Answer, float]:
    """
    Answer a question, with the seconds of processor that it took.

    A fault in the plan is an error.
    """
    begun = time.process_time()
    answer = plan(question)
    seconds = time.process_time() - begun
    wrong = faults(question, answer.runs)
    if wrong:
        raise AssertionError(f"the plan is not sound: {wrong}")
    return answer, seconds


def measured_hours() -> list[Hour]:
    """All questions of an hour, printed as they come."""
    found = []
    for seed in range(HOURS):
        question = hour(seed)
        answer, seconds = timed(question)
        one = Hour(question, answer, seconds, optimum(question, seconds=CP_SAT_SECONDS))
        print(row(seed, one), flush=True)
        found.append(one)
    return found


def row(seed: int, one: Hour) -> str:
    """A line of the first table."""
    places = " ".join(str(rotor.places) for rotor in one.question.rotors)
    theirs = " ".join(
        f"{value}{'' if at < one.other.proved else '?'}"
        for at, value in enumerate(one.other.values)
    )
    ours = " ".join(str(value) for value in one.answer.score)
    word = "differs" if one.differs else "equal"
    return (
        f"| {seed} | {len(one.question.jobs)} | {places} | {ours} | {one.answer.proved} |"
        f" {one.seconds * 1000:.0f} | {theirs} | {one.other.proved} | {one.other.seconds:.1f} |"
        f" {word} |"
    )


def summary(hours: list[Hour]) -> list[str]:
    """What the first table comes to."""
    lines = []
    for at, name in enumerate(GOALS):
        proved = [one for one in hours if one.other.proved > at]
        equal = [one for one in proved if one.agrees > at]
        lines.append(
            f"- CP-SAT proves {name} in {len(proved)} of {len(hours)}: equal in {len(equal)}."
        )
    open_ = [one for one in hours if one.other.proved < len(GOALS)]
    told = [(one.answer.score[: len(one.other.values)], one.other.values) for one in open_]
    better = sum(ours < theirs for ours, theirs in told)
    worse = sum(ours > theirs for ours, theirs in told)
    ours = sum(one.answer.proved == len(GOALS) for one in hours)
    times = sorted(one.seconds for one in hours)
    theirs = sorted(one.other.seconds for one in hours)
    seconds = f"median {statistics.median(times):.3f}, most {times[-1]:.2f}"
    their_seconds = f"median {statistics.median(theirs):.1f}, most {theirs[-1]:.1f}"
    return [
        *lines,
        f"- It leaves {len(open_)} open: ours beats its best in {better}, falls behind in {worse}.",
        f"- Our search proves all three objectives in {ours} of {len(hours)}.",
        f"- Seconds: {seconds}; CP-SAT {their_seconds}.",
    ]


def measured_days() -> list[str]:
    """Lines of the second table."""
    lines = []
    for jobs in DAYS:
        for seed in range(DAYS_EACH):
            question = day(seed, jobs)
            answer, seconds = timed(question)
            places = " ".join(str(rotor.places) for rotor in question.rotors)
            late, runs, waiting = answer.score
            line = (
                f"| {jobs} | {places} | {late} | {answer.late_bound} | {runs} |"
                f" {answer.runs_bound} | {waiting} | {seconds:.2f} |"
            )
            print(line, flush=True)
            lines.append(line)
    return lines


HOURS_HEAD = "| case | tubes | rotors | ours | proved | ms | CP-SAT | proved | s | |"
DAYS_HEAD = "| tubes | rotors | past due | at least | runs | at least | waiting, min | s |"


def page(hours: list[Hour], days: list[str]) -> str:
    """The results as a page."""
    return f"""# Centrifuge runs

Written by `python -m benchmarks.runs`. Objectives: tubes past due, runs, total waiting in minutes,
one after the other.

## {HOURS} busy hours of 10 to 40 tubes, beside CP-SAT

CP-SAT has {CP_SAT_SECONDS:.0f} s and 2 workers a case; a value with ? is its best and not proved.
`proved` counts objectives. Our times are those of one processor, CP-SAT's those of the clock.

{HOURS_HEAD}
{"|" + " --- |" * 10}
{chr(10).join(row(seed, one) for seed, one in enumerate(hours))}

{chr(10).join(summary(hours))}

## Busy days of 100 to 500 tubes, beside the bounds

No plan has fewer tubes past due than the first `at least`; no plan with as few past due as ours has
fewer runs than the second.

{DAYS_HEAD}
{"|" + " --- |" * 8}
{chr(10).join(days)}
"""


def main() -> None:
    """Measure, print, save."""
    print(HOURS_HEAD)
    hours = measured_hours()
    print("\n".join(summary(hours)))
    print(DAYS_HEAD)
    days = measured_days()
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(page(hours, days), "utf-8")


if __name__ == "__main__":
    main()
