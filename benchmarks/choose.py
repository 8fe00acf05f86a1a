"""
The choice of containers: how long it takes, beside CP-SAT, and that both agree.

``python -m benchmarks.choose`` times 2,000 random requisitions of 3 to 25 tests and 60 of 40 to 60
over the shipped catalogue on one core, and compares ``--equal`` questions (3,000 unless told) of 1
to 25 tests with CP-SAT, one worker, ``--seconds`` each.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterable
from itertools import chain
from pathlib import Path

from tests.draw.cpsat import OutOfTimeError, optimum

from benchmarks import cases
from cubital.draw.choose import choose_containers

PAGE = Path(__file__).parent / "results" / "choose.md"


def answer(case: cases.Case) -> tuple[int, int, int] | None:
    """Tubes, blood and preference."""
    found = choose_containers(
        case.needs, case.kinds, aim=case.aim, stock=case.stock, blood_limit_ul=case.blood_limit_ul
    )
    return None if found is None else (len(found.tubes), found.blood_ul, found.preference)


def timed(questions: Iterable[cases.Case]) -> list[float]:
    """Milliseconds of each question, ascending."""
    took = []
    for case in questions:
        begin = time.perf_counter()
        answer(case)
        took.append((time.perf_counter() - begin) * 1000)
    return sorted(took)


def row(name: str, took: list[float]) -> str:
    """A line of the table."""
    at = len(took)
    return (
        f"| {name} | {at} | {took[at // 2]:.3f} | {took[int(at * 0.99)]:.2f} | {took[-1]:.1f}"
        f" | {sum(took) / at:.3f} |"
    )


def beside(questions: Iterable[cases.Case], seconds: float) -> tuple[list[float], list[float], int]:
    """Milliseconds of ours and of CP-SAT where it proved its answer, and how often it did not."""
    mine, theirs, open_ = [], [], 0
    for case in questions:
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
            open_ += 1
            continue
        if own != other:
            raise SystemExit(f"{case.name}: {own} here, {other} by CP-SAT")
        mine.append((middle - begin) * 1000)
        theirs.append((time.perf_counter() - middle) * 1000)
    return mine, theirs, open_


def main() -> None:
    """Time, compare, print, and write the page."""
    read = argparse.ArgumentParser(description=__doc__)
    read.add_argument("--equal", type=int, default=3000)
    read.add_argument("--seconds", type=float, default=10.0)
    read.add_argument("--large", type=int, default=60)
    asked, _ = read.parse_known_args()
    usual = timed(cases.shipped(2000, seed=1))
    large = timed(cases.shipped(asked.large, seed=1, tests=(40, 60)))
    half = asked.equal // 2
    questions = chain(
        cases.rough(half, seed=5, tests=(1, 12)), cases.shipped(half, seed=5, tests=(1, 25))
    )
    mine, theirs, open_ = beside(questions, asked.seconds)
    ratio = sum(theirs) / sum(mine)
    proved = f"{len(mine)} of {len(mine) + open_}"
    means = f"{sum(theirs) / len(theirs):.1f} ms beside {sum(mine) / len(mine):.3f} ms"
    lines = [
        "# The choice of containers",
        "",
        "Written by `python -m benchmarks.choose`: one core, plain Python. Milliseconds.",
        "",
        "| requisitions over the shipped catalogue | n | median | p99 | worst | mean |",
        "|---|---:|---:|---:|---:|---:|",
        row("3 to 25 tests, a third with a blood limit", usual),
        row("40 to 60 tests", large),
        "",
        f"CP-SAT, one worker, {asked.seconds:g} s a question: {proved} questions proved, every one",
        "equal in tubes, blood and preference, and in whether there is an answer.",
        f"At the mean of those it takes {ratio:.0f} times as long as ours ({means}).",
        "",
    ]
    print("\n".join(lines))
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text("\n".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
