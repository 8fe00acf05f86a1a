"""The page on events names every kind as the code has it."""

from __future__ import annotations

from pathlib import Path

from cubital.cli.events import kinds_table

PAGE = Path(__file__).parents[2] / "docs" / "events.md"


def test_the_page_holds_the_table_of_kinds() -> None:
    """``cubital events kinds --markdown`` gives the table; put it at the end of docs/events.md."""
    assert PAGE.read_text(encoding="utf-8").endswith(f"\n{kinds_table()}\n")
