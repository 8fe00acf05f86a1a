"""The core rooms are pure: no clock, no chance, no Django, and no file but the catalogue's."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import cubital

SRC = Path(cubital.__file__).parent
SHELLS = ("desk", "cli")
MAY_OPEN_FILES = ("catalogue", "labels", "indicators")
"""
The catalogue reads its tables, labels read their fonts, and the lake of the indicators is files
(``tests/indicators/test_lake.py`` proves that only one module there touches them).
"""

SHUT_MODULES = frozenset(
    ("asyncio", "click", "django", "ftplib", "http", "logging", "multiprocessing", "ninja", "os",
     "psycopg", "random", "requests", "rich", "secrets", "shutil", "signal", "smtplib", "socket",
     "sqlite3", "subprocess", "sys", "tempfile", "threading", "time", "urllib")
)  # fmt: skip
CLOCK_AND_CHANCE = frozenset(
    ("now", "utcnow", "today", "localtime", "gmtime", "perf_counter", "monotonic", "uuid1", "uuid4",
     "getnode", "urandom")
)  # fmt: skip
FILES = frozenset(
    ("open", "read_text", "read_bytes", "write_text", "write_bytes", "iterdir", "glob", "rglob",
     "unlink", "mkdir", "touch", "rename")
)  # fmt: skip


def core_files() -> list[Path]:
    """Every module outside the two shells."""
    return [
        path
        for path in sorted(SRC.rglob("*.py"))
        if path.relative_to(SRC).parts[0] not in SHELLS
    ]  # fmt: skip


def impurities(source: str, *, may_open: bool) -> Iterator[str]:
    """What in a module's text is not pure, with its line."""
    shut_calls = CLOCK_AND_CHANCE if may_open else CLOCK_AND_CHANCE | FILES
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, (ast.Import, ast.ImportFrom)):
            yield from _imported(node)
        elif isinstance(node, ast.Call) and _called(node) in shut_calls:
            yield f"line {node.lineno}: calls {_called(node)}()"
        elif isinstance(node, ast.Global):
            yield f"line {node.lineno}: global {', '.join(node.names)}"


def _imported(node: ast.Import | ast.ImportFrom) -> Iterator[str]:
    names = [alias.name for alias in node.names]
    modules = names if isinstance(node, ast.Import) else [node.module or ""]
    for module in modules:
        if module.partition(".")[0] in SHUT_MODULES:
            yield f"line {node.lineno}: imports {module}"
    for name in names:
        if name in CLOCK_AND_CHANCE:
            yield f"line {node.lineno}: imports {name}"


def _called(node: ast.Call) -> str:
    if isinstance(node.func, ast.Attribute):
        return node.func.attr
    return node.func.id if isinstance(node.func, ast.Name) else ""


def test_the_core_is_found():
    """The walk below looks at every room, not at nothing."""
    rooms = {path.relative_to(SRC).parts[0] for path in core_files()}
    assert {"catalogue", "requisition", "draw", "labels", "custody", "chair"} <= rooms
    assert not rooms & set(SHELLS)


@pytest.mark.parametrize("path", core_files(), ids=lambda path: str(path.relative_to(SRC)))
def test_a_core_module_is_pure(path: Path):
    """Time is an argument, chance does not exist, files are read by whoever calls."""
    may_open = path.relative_to(SRC).parts[0] in MAY_OPEN_FILES
    assert list(impurities(path.read_text("utf-8"), may_open=may_open)) == []


@pytest.mark.parametrize(
    "source",
    [
        "import random",
        "import time",
        "from time import time",
        "from uuid import uuid4",
        "import django.db.models",
        "from django.db import models",
        "import os.path",
        "from datetime import datetime\nx = datetime.now()",
        "import datetime\nx = datetime.date.today()",
        "import uuid\nx = uuid.uuid4()",
        "open('x')",
        "from pathlib import Path\nPath('x').read_text()",
        "def f():\n    global x\n    x = 1",
    ],
)
def test_the_walk_sees_what_it_must(source: str):
    """Each way to be impure is caught."""
    assert list(impurities(source, may_open=False))


def test_the_walk_lets_pure_code_pass():
    """An argument called now, a method called time, a UUID that was given."""
    source = "def f(now, uuid):\n    return now.time(), now.date(), uuid.hex, now - now"
    assert list(impurities(source, may_open=False)) == []


def test_files_are_let_through_where_they_may_be():
    """Tables and fonts."""
    assert list(impurities("p.read_bytes()", may_open=True)) == []
