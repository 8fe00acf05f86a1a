"""
Indicators over a lake of 50 million specimens, beside the same table made by hand.

One indicator's monthly table by place: our expression on DuckDB, the query written by hand for
DuckDB, polars and pandas, each in a process of its own on the same files in the same run; then all
indicators at once.  ``python -m benchmarks.indicators`` prints the tables and writes
``benchmarks/results/indicators.md``; ``--rows`` makes it smaller.  The lake is made in a temporary
folder (about two gigabytes for 50 million) and thrown away, or kept in the folder that ``--lake``
names and used again.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from cubital.catalogue import shipped
from cubital.indicators.lake import Part, begin_lake, read_files, write_part
from cubital.indicators.schema import DRAWS, SCHEMAS, SPECIMENS
from cubital.indicators.values import LakeSite

RESULTS = Path(__file__).parent / "results" / "indicators.md"
ROWS = 50_000_000
TUBES_A_DRAW = 3
SITES = tuple(f"place-{n:02}" for n in range(10))
MONTHS = tuple(range(202601, 202613))
ONE = "Pre-HemR"
TIMES = 3
WORDS = ("", ";haemolysed;", ";clotted;", ";volume-short;", ";wrong-container;", ";label-none;",
         ";haemolysed;volume-short;")  # fmt: skip
WEIGHTS = (0.982, 0.008, 0.003, 0.003, 0.001, 0.001, 0.002)
GOAL_RATIO, GOAL_SECONDS, GOAL_MB = 1.3, 10.0, 1000


# ------------------------------------------------------------------ the lake


def make_lake(folder: Path, rows: int) -> None:
    """An invented year at ten places, one part after another."""
    begin_lake(folder, sites=[LakeSite(code, code) for code in SITES], edition="benchmark")
    parts = [(month, site) for month in MONTHS for site in SITES]
    for nth, (month, site) in enumerate(parts):
        size = rows * (nth + 1) // len(parts) - rows * nth // len(parts)
        rng = np.random.default_rng(nth)
        specimens = some_specimens(rng, month, site, size, nth)
        write_part(folder, Part(SPECIMENS, month, site), specimens, "benchmark")
        draws = some_draws(rng, month, site, -(-size // TUBES_A_DRAW), nth)
        write_part(folder, Part(DRAWS, month, site), draws, "benchmark")


def chosen(rng: np.random.Generator, words: tuple[str, ...], size: int, weights: Any = None) -> Any:
    """Words drawn at random."""
    at = pa.array(rng.choice(len(words), size, p=weights).astype("int32"))
    return pa.DictionaryArray.from_arrays(at, pa.array(words)).cast(pa.string())


def named(prefix: str, numbers: np.ndarray) -> Any:
    """Codes with a number."""
    return pc.binary_join_element_wise(prefix, pa.array(numbers).cast(pa.string()), "")


def moments(rng: np.random.Generator, month: int, size: int) -> tuple[np.ndarray, dict[str, Any]]:
    """Seconds since 1970 within a month, in order, with the columns that follow from them."""
    first = date(month // 100, month % 100, 1)
    days = ((first + timedelta(days=31)).replace(day=1) - first).days
    start = int(np.datetime64(first.isoformat()).astype("datetime64[s]").astype("int64"))
    at = np.sort(rng.integers(start, start + days * 86400, size))
    day = at // 86400
    known = np.unique(day)
    weeks = {d: date.fromordinal(719163 + int(d)).isocalendar() for d in known}
    week = np.array([weeks[d][0] * 100 + weeks[d][1] for d in known], dtype="int32")
    return at, {
        "month": np.full(size, month, "int32"),
        "week": week[np.searchsorted(known, day)],
        "day": pa.array(day.astype("int32")).cast(pa.date32()),
        "hour": (at % 86400 // 3600).astype("int32"),
    }


def some_specimens(
    rng: np.random.Generator, month: int, site: str, size: int, nth: int
) -> pa.Table:
    """Specimens of a part."""
    at, when = moments(rng, month, size)
    way = rng.gamma(3, 1200, size).astype("int32")
    wait = rng.gamma(2, 1500, size).astype("int32")
    spun = rng.random(size) < 0.6
    lost = rng.random(size) < 0.001
    words = chosen(rng, WORDS, size, WEIGHTS)
    numbers = np.arange(size) + nth * 10_000_000
    draws = numbers // TUBES_A_DRAW
    index = pa.array(rng.integers(0, 900, size).astype("int32"), mask=rng.random(size) < 0.7)
    same = pa.array([site]).take(pa.array(np.zeros(size, "int32")))
    columns: dict[str, Any] = {
        "specimen": named("OL", numbers), "requisition": named("R", draws),
        "draw": named("D", draws), "site": same, **when,
        "ward": chosen(rng, ("ward-1", "ward-2", "ward-3", ""), size),
        "collector": chosen(rng, tuple(f"collector-{n}" for n in range(12)), size),
        "age_group": chosen(rng, ("adult", "older", "child", "infant"), size),
        "material": chosen(rng, ("blood",), size),
        "container": chosen(rng, ("gel-3.5", "edta-3", "citrate-2.7"), size),
        "additive": chosen(rng, ("serum_gel", "k2_edta", "na_citrate_9nc"), size),
        "device": chosen(rng, ("straight", "winged"), size),
        "gauge": rng.choice(np.array([21, 21, 22, 23], "int32"), size),
        "body_site": chosen(rng, ("median_cubital", "cephalic"), size),
        "attempt": rng.choice(np.array([1, 1, 1, 1, 2], "int32"), size),
        "tourniquet_s": rng.integers(15, 90, size).astype("int32"),
        "order_breach": rng.random(size) < 0.01,
        "anticoagulated": rng.random(size) < 0.5, "chemistry": rng.random(size) < 0.55,
        "collected_at": stamps(at), "received_at": stamps(at + way, lost),
        "spun_at": stamps(at + way + wait, lost | ~spun),
        "transport_s": pa.array(way, mask=lost), "spin_wait_s": pa.array(wait, mask=lost | ~spun),
        "fill": chosen(rng, ("full", "full", "short"), size),
        "volume_ul": rng.integers(1000, 5000, size).astype("int32"),
        "needed_ul": rng.integers(100, 1500, size).astype("int32"),
        "verdict": chosen(rng, ("accepted",), size), "reasons": words, "found": words,
        "recollected": chosen(rng, ("", ";lost-in-laboratory;"), size, (0.9995, 0.0005)),
        "haemolysis_mg_l": index, "not_received": lost,
        "request_first": numbers % TUBES_A_DRAW == 0, "request_found": words,
        "late_s": rng.integers(0, 60, size).astype("int32"),
    }  # fmt: skip
    return table(SPECIMENS, columns)


def some_draws(rng: np.random.Generator, month: int, site: str, size: int, nth: int) -> pa.Table:
    """Draws of a part."""
    at, when = moments(rng, month, size)
    numbers = np.arange(size) + nth * 10_000_000 // TUBES_A_DRAW
    drawn = rng.integers(2000, 12_000, size).astype("int32")
    columns: dict[str, Any] = {
        "draw": named("D", numbers), "requisition": named("R", numbers),
        "site": pa.array([site]).take(pa.array(np.zeros(size, "int32"))), **when,
        "ward": chosen(rng, ("ward-1", "ward-2", "ward-3", ""), size),
        "collector": chosen(rng, tuple(f"collector-{n}" for n in range(12)), size),
        "age_group": chosen(rng, ("adult", "older", "child", "infant"), size),
        "device": chosen(rng, ("straight", "winged"), size),
        "gauge": rng.choice(np.array([21, 21, 22, 23], "int32"), size),
        "ended": np.ones(size, bool), "obtained": rng.random(size) < 0.98,
        "reason": chosen(rng, ("",), size),
        "attempts": rng.choice(np.array([1, 1, 1, 1, 2, 3], "int32"), size),
        "tourniquet_s": rng.integers(15, 90, size).astype("int32"),
        "coagulation": rng.random(size) < 0.3,
        "tubes": rng.integers(1, 5, size).astype("int32"),
        "order_breaches": (rng.random(size) < 0.01).astype("int32"),
        "planned_ul": drawn, "drawn_ul": drawn,
        "needed_ul": rng.integers(200, 4000, size).astype("int32"), "drawn_known_ul": drawn,
        "begun_at": stamps(at), "ended_at": stamps(at + 240),
        "late_s": rng.integers(0, 60, size).astype("int32"),
    }  # fmt: skip
    return table(DRAWS, columns)


def stamps(seconds: np.ndarray, missing: np.ndarray | None = None) -> Any:
    """Microseconds of UTC."""
    return pa.array(seconds * 1_000_000, mask=missing).cast(pa.timestamp("us"))


def table(name: str, columns: dict[str, Any]) -> pa.Table:
    """Columns in the order and types of the lake."""
    schema = SCHEMAS[name]
    arrays = [pa.array(columns[each.name]).cast(each.type) if isinstance(columns[each.name],
              np.ndarray) else columns[each.name] for each in schema]  # fmt: skip
    return pa.Table.from_arrays(arrays, schema=schema)


# ------------------------------------------------------------------ what is measured


def paths(folder: Path) -> list[str]:
    """The specimen files of the year, as strings."""
    return [str(path) for path in read_files(folder).paths(SPECIMENS, None)]


def ours(folder: Path) -> Callable[[], list[Any]]:
    """Our expression of one indicator."""
    from cubital.indicators.ask import counts, open_lake
    from cubital.indicators.engine import duckdb_engine

    lake = open_lake(folder, shipped(), duckdb_engine())
    return lambda: [(*c.key, c.bad, c.of) for c in counts(lake, [ONE])]


def by_hand(folder: Path) -> Callable[[], list[Any]]:
    """The same table as somebody writes it for DuckDB."""
    import duckdb

    con = duckdb.connect()
    con.execute("SET memory_limit = '700MB'")
    files = paths(folder)
    query = """
        SELECT month, site,
               count(*) FILTER (contains(reasons, ';haemolysed;') OR contains(reasons, ';RH;')),
               count(*)
        FROM read_parquet(?)
        WHERE chemistry AND received_at IS NOT NULL
        GROUP BY month, site
    """
    return lambda: sorted(con.execute(query, [files]).fetchall())


def by_polars(folder: Path) -> Callable[[], list[Any]]:
    """The same in polars, streaming."""
    import polars as pl

    files = paths(folder)

    def run() -> list[Any]:
        bad = pl.col("reasons").str.contains(";haemolysed;", literal=True) | pl.col(
            "reasons"
        ).str.contains(";RH;", literal=True)
        found = (
            pl.scan_parquet(files, hive_partitioning=False)
            .filter(pl.col("chemistry") & pl.col("received_at").is_not_null())
            .group_by("month", "site")
            .agg(bad.sum().alias("bad"), pl.len().alias("of"))
            .sort("month", "site")
            .collect(engine="streaming")
        )
        return found.rows()

    return run


def by_pandas(folder: Path) -> Callable[[], list[Any]]:
    """The same in pandas, strings and all held by Arrow."""
    import pandas as pd
    import pyarrow.parquet as pq

    files = paths(folder)
    columns = ["month", "site", "reasons", "chemistry", "received_at"]

    def run() -> list[Any]:
        read = pa.concat_tables(
            [pq.read_table(f, columns=columns, partitioning=None) for f in files]
        )
        frame = read.to_pandas(types_mapper=pd.ArrowDtype)
        frame = frame[frame["chemistry"] & frame["received_at"].notna()]
        reasons = frame["reasons"].str
        frame["bad"] = reasons.contains(";haemolysed;", regex=False) | reasons.contains(
            ";RH;", regex=False
        )
        found = frame.groupby(["month", "site"])["bad"].agg(["sum", "count"]).reset_index()
        return sorted(map(tuple, found.astype(object).to_numpy().tolist()))

    return run


def everything(folder: Path) -> Callable[[], list[Any]]:
    """All indicators for the year by month and place."""
    from cubital.indicators.ask import counts, open_lake, quantiles, sums
    from cubital.indicators.engine import duckdb_engine

    lake = open_lake(folder, shipped(), duckdb_engine())
    return lambda: [*counts(lake), *sums(lake), *quantiles(lake)]


WAYS: dict[str, tuple[str, Callable[[Path], Callable[[], list[Any]]]]] = {
    "ours": ("our expression, DuckDB", ours),
    "hand": ("written by hand, DuckDB", by_hand),
    "polars": ("polars, streaming", by_polars),
    "pandas": ("pandas, Arrow types", by_pandas),
}


def measure_here(name: str, folder: Path) -> None:
    """Run one way in this process and print what it took."""
    prepare = everything if name == "all" else WAYS[name][1]
    begun = time.perf_counter()
    run = prepare(folder)
    opened = time.perf_counter() - begun
    seconds, cpu = [], []
    for _ in range(TIMES):
        begun, used = time.perf_counter(), time.process_time()
        found = run()
        seconds.append(time.perf_counter() - begun)
        cpu.append(time.process_time() - used)
    shown = found if name != "all" else len(found)
    answer = {"opened": opened, "seconds": seconds, "cpu": cpu, "mb": peak_mb(), "found": shown}
    print(json.dumps(answer))


def peak_mb() -> float:
    """
    The most memory that this process held, in MB.

    Not ``ru_maxrss``: on Linux a child begins with that of the process which started it.
    """
    status = Path("/proc/self/status")
    if status.exists():
        line = next(one for one in status.read_text().splitlines() if one.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def measure(name: str, folder: Path) -> dict[str, Any]:
    """Run one way in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.indicators", "--one", name, "--lake", str(folder)],
        check=True, capture_output=True, text=True, env={**os.environ},
    )  # fmt: skip
    answer: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return answer


# ------------------------------------------------------------------ the page


HEAD = (
    "| | seconds, median of 3 | first | processor seconds | opening | peak MB |\n"
    "|---|--:|--:|--:|--:|--:|"
)


def middle(found: dict[str, Any], what: str = "seconds") -> float:
    """The median of a measure."""
    return statistics.median(found[what])


def line(label: str, found: dict[str, Any]) -> str:
    """A row of the table."""
    return (
        f"| {label} | {middle(found):.2f} | {found['seconds'][0]:.2f} | {middle(found, 'cpu'):.2f}"
        f" | {found['opened']:.2f} | {found['mb']:,.0f} |"
    )


def verdict(*, reached: bool) -> str:
    """What became of a goal."""
    return "reached" if reached else "missed"


def page(rows: int, made: float, size_mb: float, found: dict[str, dict[str, Any]]) -> str:
    """The results as a page."""
    ratio = middle(found["ours"]) / middle(found["hand"])
    cpu = middle(found["ours"], "cpu") / middle(found["hand"], "cpu")
    tables = [[tuple(map(float, row[2:])) for row in found[name]["found"]] for name in WAYS]
    agree = all(each == tables[0] for each in tables)
    versions = ", ".join(
        f"{name} {version(name)}" for name in ("duckdb", "ibis-framework", "polars", "pandas")
    )
    took = f", made in {made:.0f} s" if made > 1 else ""
    made_of = (
        f"{rows:,} specimens and {-(-rows // TUBES_A_DRAW):,} draws of an invented year at"
        f" {len(SITES)} places ({size_mb:,.0f} MB of Parquet{took}). Each line ran"
        " in a process of its own, after the files were in the system's cache; peak memory is that"
        " of the process with everything it imports. `python -m benchmarks.indicators` makes this"
        " page."
    )
    one = (
        f"All four give the same table: {'yes' if agree else 'NO'}. Ours takes {ratio:.2f} times"
        f" the query written by hand ({cpu:.2f} times its processor time); the goal of"
        f" {GOAL_RATIO} is {verdict(reached=ratio <= GOAL_RATIO)}."
    )
    whole = (
        f"The goal of {GOAL_SECONDS:.0f} s is"
        f" {verdict(reached=middle(found['all']) <= GOAL_SECONDS)}, that of {GOAL_MB:,} MB is"
        f" {verdict(reached=found['all']['mb'] <= GOAL_MB)}."
    )
    machine = (
        f"Python {platform.python_version()}, {versions}; {os.cpu_count()} cores, shared with other"
        f" work: a load of {os.getloadavg()[0]:.1f} at the end."
    )
    first = [line(label, found[name]) for name, (label, _) in WAYS.items()]
    parts = [
        "# Indicators over a lake",
        made_of,
        f"One indicator ({ONE}) by month and place:",
        "\n".join([HEAD, *first]),
        one,
        "All indicators by month and place:",
        "\n".join([HEAD, line(f"{found['all']['found']:,} figures", found["all"])]),
        whole,
        machine,
    ]
    return "\n\n".join(parts) + "\n"


def run(lake: Path, rows: int) -> str:
    """Make the lake unless it is there, measure, and give the page."""
    begun = time.perf_counter()
    if not lake.exists():
        make_lake(lake, rows)
    made = time.perf_counter() - begun
    size_mb = sum(path.stat().st_size for path in lake.rglob("*.parquet")) / 1e6
    measure("hand", lake)  # the files come into the system's cache
    found = {name: measure(name, lake) for name in ("all", *WAYS)}
    return page(rows, made, size_mb, found)


def main(arguments: list[str] | None = None) -> None:
    """Make the lake, measure, print and keep the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=ROWS)
    parser.add_argument("--lake", type=Path, help="where it is kept")
    parser.add_argument("--one", choices=[*WAYS, "all"], help=argparse.SUPPRESS)
    asked = parser.parse_args(arguments)
    if asked.one:
        measure_here(asked.one, asked.lake)
        return
    with tempfile.TemporaryDirectory() as folder:
        text = run(asked.lake or Path(folder) / "lake", asked.rows)
    print(text)
    if asked.rows == ROWS:
        RESULTS.parent.mkdir(exist_ok=True)
        RESULTS.write_text(text, "utf-8")


if __name__ == "__main__":
    main()
