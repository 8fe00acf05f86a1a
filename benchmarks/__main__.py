"""Every benchmark in turn: ``python -m benchmarks``; the pages land in ``benchmarks/results``."""

from __future__ import annotations

from importlib import import_module

MODULES = ("choose", "batch", "runs", "events", "reception", "indicators")
"""Each has a ``main()`` that prints its table."""


def main() -> None:
    """Run them one after another, so that none disturbs another."""
    for name in MODULES:
        print(f"== {name}", flush=True)
        import_module(f"benchmarks.{name}").main()


if __name__ == "__main__":
    main()
