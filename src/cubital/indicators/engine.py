"""
What runs the expressions: DuckDB in this process, or Spark where the lake has outgrown it.

Both read the same Parquet files and get the same expressions.  Spark is an extra: it wants
``pyspark`` 4.0 and Java.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ibis

from cubital.errors import InputError

DUCKDB, SPARK = "duckdb", "spark"
MEMORY_MB = 700
"""What DuckDB may take before it spills to disk."""


@dataclass(frozen=True, slots=True)
class Engine:
    """
    An open engine; ``close`` it, or use it in a ``with``.

    Args:
        name: ``duckdb`` or ``spark``.
        backend: of Ibis.
    """

    name: str
    backend: Any

    def table(self, files: Sequence[Path]) -> Any:
        """The rows of Parquet files of one schema, as an Ibis table."""
        names = [str(path) for path in files]
        if self.name == DUCKDB:
            return self.backend.read_parquet(names, hive_partitioning=False)
        frame = self.backend._session.read.parquet(*(f"file://{path.resolve()}" for path in files))
        view = f"cubital_{abs(hash(tuple(names))):x}"
        frame.createOrReplaceTempView(view)
        return self.backend.table(view)

    def rows(self, expression: Any) -> list[dict[str, Any]]:
        """Run an expression and give its rows."""
        return list(self.backend.to_pyarrow(expression).to_pylist())

    def close(self) -> None:
        """Let go of what the engine holds; a Spark session ends."""
        if self.name == SPARK:
            self.backend._session.stop()
        else:
            self.backend.disconnect()

    def __enter__(self) -> Engine:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def duckdb_engine(
    *, memory_mb: int = MEMORY_MB, threads: int | None = None, spill: Path | None = None
) -> Engine:
    """
    Open DuckDB in memory; it never loads an extension from elsewhere.

    Args:
        memory_mb: before it spills.
        threads: None for as many as the machine has cores.
        spill: folder for what does not fit; None for DuckDB's own choice.
    """
    options: dict[str, Any] = {
        "memory_limit": f"{memory_mb}MB",
        "autoinstall_known_extensions": False,
        "preserve_insertion_order": False,
    }
    if threads is not None:
        options["threads"] = threads
    if spill is not None:
        options["temp_directory"] = str(spill)
    return Engine(DUCKDB, ibis.duckdb.connect(**options))


def spark_engine(work: Path, *, master: str = "local[2]") -> Engine:
    """
    Open a Spark session on this machine, or on the master that is named.

    Args:
        work: an empty folder for its warehouse.
        master: of the cluster.

    Raises:
        InputError: pyspark is not installed.
    """
    try:
        from pyspark.sql import SparkSession
    except ImportError:
        raise InputError(
            "Spark is not installed", "--engine spark", "Install pyspark 4.0 and Java 17."
        ) from None
    options = {
        "spark.ui.enabled": "false",
        "spark.ui.showConsoleProgress": "false",
        "spark.sql.shuffle.partitions": "2",
        "spark.sql.session.timeZone": "UTC",
        "spark.sql.warehouse.dir": str(work),
    }
    if master.startswith("local"):
        options |= {"spark.driver.host": "127.0.0.1", "spark.driver.bindAddress": "127.0.0.1"}
    builder = SparkSession.builder.master(master)
    for key, value in options.items():
        builder = builder.config(key, value)
    return Engine(SPARK, ibis.pyspark.connect(builder.getOrCreate()))
