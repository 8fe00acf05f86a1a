"""
The choice of containers: how long it takes, beside CP-SAT, and that both agree.

``python -m benchmarks.choose`` does three things on one core:

1. times random requisitions over the shipped catalogue;
2. sets every so-manieth of the first family before CP-SAT too, one worker, and compares the time;
3. draws questions of 1 to 25 tests until CP-SAT has proved ``--equal`` of them (3,000 unless told),
   and compares tubes, blood, preference, and whether there is an answer.

The third part takes an hour or two, nearly all of it in CP-SAT; ``--part times`` leaves it out.
The pages land in ``benchmarks/results``; a disagreement ends the run.
"""

from __future__ import annotations

import argparse
import itertools
import platform
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.draw.cpsat import OutOfTimeError, optimum

from benchmarks import cases
from cubital.draw.choose import choose_containers

RESULTS = Path(__file__).parent / "results"
ROUNDS = 3
Value = tuple[int, int, int] | None


def answer(case: cases.Case) -> Value:
    """Tubes, blood and preference."""
    found = choose_containers(
        case.needs, case.kinds, aim=case.aim, stock=case.stock, blood_limit_ul=case.blood_limit_ul
    )
    return None if found is None else (len(found.tubes), found.blood_ul, found.preference)


def timed(questions: Iterable[cases.Case]) -> list[float]:
    """Milliseconds of each question, the best of three rounds, ascending."""
    took = []
    for case in questions:
        best = float("inf")
        for _ in range(ROUNDS):
            begin = time.perf_counter()
            answer(case)
            best = min(best, time.perf_counter() - begin)
        took.append(best * 1000)
    return sorted(took)


def figures(took: list[float]) -> str:
    """Columns: number, median, p99, worst, mean."""
    took = sorted(took)
    at = len(took)
    return (
        f"{at} | {took[at // 2]:.3f} | {took[int(at * 0.99)]:.2f} | {took[-1]:.1f}"
        f" | {sum(took) / at:.3f}"
    )


@dataclass
class Duel:
    """
    Ours and CP-SAT on the same questions.

    Args:
        ours, theirs: milliseconds of each question; CP-SAT's own stop where it ran out of time.
        unproved: how often it did.
    """

    ours: list[float] = field(default_factory=list)
    theirs: list[float] = field(default_factory=list)
    unproved: int = 0

    @property
    def proved(self) -> int:
        """Questions on which both agreed."""
        return len(self.ours) - self.unproved

    def fight(self, case: cases.Case, seconds: float) -> None:
        """
        One question; a disagreement ends the run.

        Raises:
            SystemExit: the two answers differ.
        """
        begin = time.perf_counter()
        own = answer(case)
        middle = time.perf_counter()
        try:
            other = optimum(
                case.needs,
                case.kinds,
                aim=case.aim,
                stock=case.stock,
                blood_limit_ul=case.blood_limit_ul,
                seconds=seconds,
            )
        except OutOfTimeError:
            self.unproved += 1
        else:
            if own != other:
                raise SystemExit(f"{case.name}: {own} here, {other} by CP-SAT")
        self.ours.append((middle - begin) * 1000)
        self.theirs.append((time.perf_counter() - middle) * 1000)


def questions_to_prove() -> Iterator[cases.Case]:
    """Without end: requisitions of 1 to 25 tests, with and without stock, and odd numbers."""
    for seed in itertools.count(100):
        yield from cases.shipped(60, seed, (1, 25))
        yield from cases.shipped(20, seed, (1, 25), stocked=1.0)
        yield from cases.rough(20, seed, (1, 15))


def prove(wanted: int, seconds: float) -> Duel:
    """Compare until so many are proved."""
    duel = Duel()
    begin = time.perf_counter()
    for case in questions_to_prove():
        if duel.proved >= wanted:
            break
        duel.fight(case, seconds)
        if len(duel.ours) % 200 == 0:
            took = time.perf_counter() - begin
            print(f"{duel.proved} proved, {duel.unproved} open, {took:.0f} s", flush=True)
    return duel


def equality(wanted: int, patience: float) -> list[str]:
    """The page of the proof, line by line."""
    duel = prove(wanted, patience)
    return [
        "# The choice of containers is exact",
        "",
        "Written by `python -m benchmarks.choose --part equal`.  Questions of 1 to 25 tests: three",
        "of five random requisitions over the shipped catalogue, one of five the same from a short",
        "stock list, one of five with odd numbers (1 to 15 tests).",
        "",
        f"CP-SAT, one worker, proved {duel.proved:,} of them within {patience:g} s each.  In every",
        "one both agreed in tubes, blood and preference, and in whether there is an answer at all.",
        f"Another {duel.unproved:,} it did not prove in that time; they count for nothing.",
        "",
        "Milliseconds, one round each, the unproved included:",
        "",
        "| | n | median | p99 | worst | mean |",
        "|---|---:|---:|---:|---:|---:|",
        f"| ours | {figures(duel.ours)} |",
        f"| CP-SAT | {figures(duel.theirs)} |",
        "",
    ]


def timing(asked: argparse.Namespace) -> list[str]:
    """The page of the times, line by line."""
    few = timed(cases.shipped(asked.times, 1))
    many = timed(cases.shipped(asked.large, 1, (40, 60)))
    short = timed(cases.shipped(asked.times, 2, stocked=1.0))
    short_many = timed(cases.shipped(asked.large, 2, (40, 60), stocked=1.0))
    beside = Duel()
    every = max(1, asked.times // max(1, asked.beside))
    for case in itertools.islice(cases.shipped(asked.times, 1), 0, None, every):
        beside.fight(case, asked.seconds)
    ratio = sum(beside.theirs) / sum(beside.ours)
    version = platform.python_version()
    return [
        "# The choice of containers: how long it takes",
        "",
        f"Written by `python -m benchmarks.choose --part times`: plain Python {version}, one core,",
        "two cores and 24 GB shared with other work; milliseconds, the best of three rounds.",
        "",
        "| requisitions over the shipped catalogue | n | median | p99 | worst | mean |",
        "|---|---:|---:|---:|---:|---:|",
        f"| 3 to 25 tests, a third with a blood limit | {figures(few)} |",
        "| *goal* | | *0.25* | *5* | *50* | |",
        f"| 40 to 60 tests, a third with a blood limit | {figures(many)} |",
        "| *goal* | | | *200* | | |",
        f"| 3 to 25 tests, from a short stock list | {figures(short)} |",
        f"| 40 to 60 tests, from a short stock list | {figures(short_many)} |",
        "",
        f"CP-SAT, one worker, at most {asked.seconds:g} s a question, on every {every}th of the",
        "first row, each solved once by both, in the same run:",
        "",
        "| | n | median | p99 | worst | mean |",
        "|---|---:|---:|---:|---:|---:|",
        f"| ours | {figures(beside.ours)} |",
        f"| CP-SAT | {figures(beside.theirs)} |",
        "",
        f"At the mean CP-SAT takes {ratio:,.0f} times as long (goal: 250).  It ran out of time on",
        f"{beside.unproved} of {len(beside.ours)}; those count with the time it was given.",
        "",
    ]


def write(name: str, lines: list[str]) -> None:
    """Print a page and keep it."""
    print("\n".join(lines), flush=True)
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / name).write_text("\n".join(lines), encoding="utf-8")


def main() -> None:
    """Time, compare, print, and write the pages."""
    read = argparse.ArgumentParser(description=__doc__)
    read.add_argument("--part", choices=("times", "equal", "all"), default="all")
    read.add_argument("--times", type=int, default=2000)
    read.add_argument("--large", type=int, default=200)
    read.add_argument("--beside", type=int, default=200)
    read.add_argument("--seconds", type=float, default=30.0)
    read.add_argument("--equal", type=int, default=3000)
    read.add_argument("--patience", type=float, default=4.0)
    asked, _ = read.parse_known_args()
    if asked.part != "equal":
        write("choose.md", timing(asked))
    if asked.part != "times":
        write("choose-equal.md", equality(asked.equal, asked.patience))


if __name__ == "__main__":
    main()
