"""No module outgrows a reader."""

from pathlib import Path

import cubital

SRC = Path(cubital.__file__).parent
MOST_LINES = 500
COMFORTABLE_LINES = 300


def sizes() -> dict[str, int]:
    """Lines of every module; tables and migrations are data."""
    return {
        str(path.relative_to(SRC)): len(path.read_text("utf-8").splitlines())
        for path in SRC.rglob("*.py")
        if "migrations" not in path.parts
    }


def test_no_module_is_too_long():
    """At most 500 lines."""
    found = sizes()
    assert len(found) > 50
    assert {name: lines for name, lines in found.items() if lines > MOST_LINES} == {}


def test_most_modules_are_comfortable():
    """Nine of ten stay under 300 lines."""
    lines = sorted(sizes().values())
    assert lines[len(lines) * 9 // 10] < COMFORTABLE_LINES
