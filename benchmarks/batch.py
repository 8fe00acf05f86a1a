"""
A hundred thousand requisitions planned in one batch, on all cores beside one.

Invented requisitions of 1 to 15 tests, a third of them of children, through the command line as a
user runs it.  ``python -m benchmarks.batch`` prints the table and writes
``benchmarks/results/batch.md``; ``--rows`` makes it smaller.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import platform
import random
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

from cubital.catalogue import shipped

RESULTS = Path(__file__).parent / "results" / "batch.md"
ROWS = 100_000
DAY = date(2026, 1, 12)
COLUMNS = ("number", "patient_number", "family_name", "birth_date", "sex", "weight_g", "tests",
           "collect_at")  # fmt: skip
CUBITAL = [sys.executable, "-c", "from cubital.cli import main; main()"]


def write_rows(path: Path, rows: int) -> None:
    """Requisitions of invented people, the same each time."""
    rng = random.Random(7)
    tests = [code for code in shipped().tests if not code.startswith("culture")]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(COLUMNS)
        for nth in range(rows):
            child = rng.random() < 1 / 3
            days = rng.randint(1, 4000) if child else rng.randint(7000, 33_000)
            weight_g = 3_500 + days * 8 if child else rng.randint(42_000, 110_000)
            chosen = rng.sample(tests, rng.randint(1, 15))
            writer.writerow(
                (f"R{nth}", f"P{nth}", "Ash", DAY - timedelta(days=days),
                 rng.choice(("female", "male")), weight_g, ";".join(chosen), f"{DAY}T08:00Z")
            )  # fmt: skip


def planned(path: Path, jobs: int) -> tuple[float, int, int]:
    """Seconds, lines and refused rows of a batch."""
    out = path.with_suffix(f".{jobs}.jsonl")
    begin = time.perf_counter()
    subprocess.run(
        [*CUBITAL, "plan", "--batch", str(path), "--out", str(out), "--jobs", str(jobs),
         "--now", f"{DAY}T07:00Z"],
        check=True, stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    seconds = time.perf_counter() - begin
    with out.open(encoding="utf-8") as lines:
        several = ["error" in json.loads(line) for line in lines]
    return seconds, len(several), sum(several)


def page(rows: int, cores: int, all_s: float, one_s: float, part: int, refused: int) -> str:
    """The results as a page."""
    ratio = (rows / all_s) / (part / one_s)
    return f"""# A batch of requisitions

Written by `python -m benchmarks.batch`: invented requisitions of 1 to 15 tests, a third of them of
children, through `cubital plan --batch`; seconds from the start of the command to its end.

| | requisitions | seconds | a second |
|---|--:|--:|--:|
| all {cores} cores | {rows:,} | {all_s:.1f} | {rows / all_s:,.0f} |
| one core | {part:,} | {one_s:.1f} | {part / one_s:,.0f} |

{ratio:.2f} times as many a second on {cores} cores as on one. {refused:,} rows were refused.

Python {platform.python_version()}; a load of {os.getloadavg()[0]:.1f} at the end.
"""


def main(arguments: list[str] | None = None) -> None:
    """Make the rows, plan them, print and keep the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=ROWS)
    asked, _ = parser.parse_known_args(arguments)
    cores = os.cpu_count() or 1
    part = max(1, asked.rows // 10)
    with tempfile.TemporaryDirectory() as folder:
        whole, tenth = Path(folder) / "whole.csv", Path(folder) / "tenth.csv"
        write_rows(whole, asked.rows)
        write_rows(tenth, part)
        all_s, lines, refused = planned(whole, cores)
        if lines != asked.rows:
            raise SystemExit(f"{lines:,} lines came of {asked.rows:,} requisitions.")
        one_s, _, _ = planned(tenth, 1)
    text = page(asked.rows, cores, all_s, one_s, part, refused)
    print(text)
    if asked.rows == ROWS:
        RESULTS.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
