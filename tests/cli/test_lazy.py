"""The command line starts fast and ends with the right code: real processes."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from cubital.cli import COMMANDS, main


def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run cubital as a person does."""
    start = "from cubital.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-c", start, *map(str, words)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_help_lists_every_command_without_loading_one():
    """Names and lines come from the register."""
    done = run("--help")
    assert done.returncode == 0
    for name, (_, line) in COMMANDS.items():
        assert name in done.stdout
        assert line in done.stdout


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_is_where_the_register_says(name: str):
    """And answers to --help."""
    done = run(name, "--help")
    assert done.returncode == 0
    assert f"Usage: cubital {name}" in done.stdout or "Usage:" in done.stdout


def test_an_unknown_command_is_refused():
    """With its name."""
    done = run("plant")
    assert done.returncode == 2
    assert "plant" in done.stderr


def test_planning_loads_neither_the_desk_nor_the_labels(requisition: Path):
    """A cold start pays for what it needs only."""
    look = (
        "import sys; from cubital.cli import main; main(sys.argv[1:], standalone_mode=False); "
        "print([m for m in ('django', 'reportlab', 'multiprocessing', 'jsonschema')"
        " if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", look, "plan", str(requisition), "--json"],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert done.stdout.splitlines()[-1] == "[]"
    assert json.loads("".join(done.stdout.splitlines()[:-1]))["schema"] == "cubital.plan/1"


def test_bad_input_ends_with_code_2_and_one_sentence(tmp_path: Path):
    """On standard error, without a trace."""
    path = tmp_path / "empty.json"
    path.write_bytes(b"")
    done = run("plan", path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr == (
        "cubital: empty.json: the file is empty. Give a requisition in JSON or CSV.\n"
    )


def test_good_input_ends_with_code_0(requisition: Path):
    """And a plan on standard output."""
    done = run("plan", requisition)
    assert done.returncode == 0
    assert done.stderr == ""
    assert "R-2026-0007" in done.stdout


def test_the_register_is_sorted():
    """As the help shows it."""
    assert list(main.lazy) == sorted(main.lazy)


@pytest.mark.parametrize("words", [(), ("--json",)])
def test_a_full_disk_is_one_sentence(requisition: Path, words: tuple[str, ...]):
    """And no trace."""
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = started("plan", str(requisition), *words, stdout=full)
    assert done.returncode == 1
    assert "the output: it cannot be used (No space left on device)." in done.stderr
    assert "Traceback" not in done.stderr


def test_a_terminal_that_claims_ascii_still_gets_the_plan(requisition: Path):
    """In UTF-8: a sign that cannot be written would lose the plan."""
    ascii_only = {"PYTHONIOENCODING": "ascii", "LC_ALL": "C", "PYTHONUTF8": "0"}
    done = started("plan", str(requisition), env={**os.environ, **ascii_only})
    assert done.returncode == 0
    assert "██" in done.stdout


def started(*words: str, **options: Any) -> subprocess.CompletedProcess[str]:
    """Run cubital as a person does, with streams or settings of their own."""
    streams = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **options}
    start = "from cubital.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-c", start, *words],
        encoding="utf-8",
        timeout=60,
        check=False,
        **streams,
    )
